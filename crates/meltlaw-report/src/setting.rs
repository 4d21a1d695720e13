//! A setting as people read it: which quantities, in which words, to how many places.
//!
//! Terminal, page and the page's script all read [`QUANTITIES`], so that they print the same digits.

use meltlaw::heat::THERMAL_EFFICIENCY;
use meltlaw::line::Node;
use meltlaw::record::LineRecord;
use serde::Serialize;

use crate::columns::column;
use crate::composing;
use crate::numbers::{confidence, fixed, interval};

/// Whether a quantity is set on the machine or follows from what is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Part {
    /// A decision: it is set.
    Set,
    /// What the setting does.
    Does,
}

/// A quantity of a setting.
#[derive(Debug, Clone, Serialize)]
pub struct Quantity {
    /// The contract's name.
    pub key: &'static str,
    /// What it is called.
    pub name: &'static str,
    /// Unit as shown.
    pub unit: &'static str,
    /// From the unit of `key` to the one shown.
    pub factor: f64,
    /// Digits after the decimal point.
    pub places: i32,
    /// Set or followed.
    pub part: Part,
    /// What stands beside the value.
    pub beside: &'static [Beside],
}

/// What stands beside a value.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Beside {
    /// Words alone.
    Words(&'static str),
    /// An interval at the line's confidence, from `KEY_low` to `KEY_high`.
    Interval {
        /// What the interval is of; may be empty.
        words: &'static str,
        /// Name of the interval without `_low` and `_high`.
        key: &'static str,
        /// Digits after the decimal point; by the interval's half width where there is none.
        places: Option<i32>,
    },
    /// A share, as per cent with two decimals.
    Share {
        /// What it is.
        words: &'static str,
        /// Its name.
        key: &'static str,
    },
    /// The value over the wire's diameter.
    TimesTheWire,
}

const fn set(key: &'static str, name: &'static str, unit: &'static str, places: i32) -> Quantity {
    Quantity { key, name, unit, factor: 1.0, places, part: Part::Set, beside: &[] }
}

const fn does(
    key: &'static str,
    name: &'static str,
    unit: &'static str,
    places: i32,
    beside: &'static [Beside],
) -> Quantity {
    Quantity { key, name, unit, factor: 1.0, places, part: Part::Does, beside }
}

const fn within(words: &'static str, key: &'static str) -> Beside {
    Beside::Interval { words, key, places: None }
}

/// Every quantity in the order in which it is read.
pub const QUANTITIES: [Quantity; 17] = [
    set("pulse_current_a", "pulse current", "A", 1),
    Quantity { beside: &[Beside::Words("width at half height")], ..set("pulse_time_ms", "pulse time", "ms", 3) },
    set("pulse_frequency_hz", "pulse frequency", "Hz", 1),
    Quantity {
        beside: &[within("balances the melting within", "balancing_background_current_a")],
        ..set("background_current_a", "background current", "A", 1)
    },
    set("background_time_ms", "background time", "ms", 2),
    set("rise_a_per_ms", "rise of the current", "A/ms", 0),
    set("fall_a_per_ms", "fall of the current", "A/ms", 0),
    does("current_mean_a", "mean current", "A", 1, &[within("next weld", "next_weld_current_mean_a")]),
    does("current_rms_a", "RMS current", "A", 1, &[]),
    does(
        "voltage_mean_v",
        "voltage (tip to work)",
        "V",
        2,
        &[within("mean", "voltage_mean_v"), within("next weld", "next_weld_voltage_mean_v")],
    ),
    does(
        "power_mean_w",
        "power",
        "W",
        0,
        &[within("mean", "power_mean_w"), within("next weld", "next_weld_power_mean_w")],
    ),
    does("drop_diameter_mm", "drop diameter", "mm", 3, &[Beside::TimesTheWire]),
    does(
        "melting_rate_kg_h",
        "melting rate",
        "kg/h",
        3,
        &[
            Beside::Share { words: "standard error", key: "melting_rate_relative_se" },
            Beside::Share { words: "on the same bench", key: "melting_rate_relative_se_same_bench" },
        ],
    ),
    Quantity {
        factor: 100.0,
        ..does(
            "one_drop_probability",
            "one drop per pulse",
            "%",
            1,
            &[Beside::Interval { words: "", key: "one_drop_probability", places: Some(1) }],
        )
    },
    does("arc_energy_kj_mm", "arc energy", "kJ/mm", 3, &[within("", "arc_energy_kj_mm")]),
    does("heat_input_kj_mm", "heat input", "kJ/mm", 3, &[within("", "heat_input_kj_mm"), Beside::Words(EFFICIENCY)]),
    does(
        "energy_per_melted_wire_mj_kg",
        "energy per melted wire",
        "MJ/kg",
        2,
        &[within("", "energy_per_melted_wire_mj_kg")],
    ),
];

/// [`THERMAL_EFFICIENCY`] in words.
const EFFICIENCY: &str = "thermal efficiency 0.8";
const _: () = assert!(THERMAL_EFFICIENCY == 0.8);

/// A quantity at one feed, ready to print.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The contract's name.
    pub key: &'static str,
    /// What it is called.
    pub name: &'static str,
    /// Set or followed.
    pub part: Part,
    /// Rounded value.
    pub value: String,
    /// Its unit.
    pub unit: &'static str,
    /// Whether the study fixes it here.
    pub pinned: bool,
    /// What stands beside it; may be empty.
    pub beside: String,
}

/// The setting's quantities, without those that the line does not know.
pub fn rows(record: &LineRecord, node: &Node) -> Vec<Row> {
    QUANTITIES.iter().filter_map(|quantity| row(record, node, quantity)).collect()
}

fn row(record: &LineRecord, node: &Node, q: &Quantity) -> Option<Row> {
    let value = column(node, q.key)?;
    let beside: Vec<String> = q.beside.iter().filter_map(|b| beside(record, node, q, value, b)).collect();
    Some(Row {
        key: q.key,
        name: q.name,
        part: q.part,
        value: fixed(q.factor * value, q.places),
        unit: q.unit,
        pinned: composing::mark(node, q.key).is_some(),
        beside: beside.join("; "),
    })
}

fn beside(record: &LineRecord, node: &Node, q: &Quantity, value: f64, beside: &Beside) -> Option<String> {
    let led = |words: &str, text: String| if words.is_empty() { text } else { format!("{words} {text}") };
    Some(match *beside {
        Beside::Words(words) => words.to_owned(),
        Beside::Interval { words, key, places } => {
            let end = |side: &str| Some(q.factor * column(node, &format!("{key}_{side}"))?);
            let (low, high) = (end("low")?, end("high")?);
            let ends = match places {
                Some(places) => format!("{} to {}", fixed(low, places), fixed(high, places)),
                None => interval(low, high),
            };
            led(words, format!("{ends} ({})", confidence(record.confidence)))
        }
        Beside::Share { words, key } => led(words, format!("{}\u{a0}%", fixed(100.0 * column(node, key)?, 2))),
        Beside::TimesTheWire => format!("{} times the wire", fixed(value / record.wire.diameter_mm, 3)),
    })
}

//! What a comparison of laws says in words.

use super::settle::Settled;
use super::spots::Quantity;
use super::statement::Asked;
use super::{BandPlace, BatchSpread, Instruments, LikelihoodRatio, PlaceOfLaw, Verdict, WireLaws};
use crate::laws::{FittedLaw, Reading};
use crate::record::LawsRecord;
use crate::study::CalibrationTerm;

/// Wire and gas, such as `carbon-steel 1.2 mm, ISO 14341-A: G3Si1, 92 % Ar + 8 % CO2 (ISO 14175 M20)`.
pub(super) fn wire(record: &LawsRecord) -> String {
    let wire = &record.wire;
    let gas = record.gas.as_ref().map_or("gas not stated".to_owned(), crate::gas::Gas::text_and_group);
    format!("{} {:?} mm, {}, {gas}", wire.material.word(), wire.diameter_mm, wire.designation)
}

/// What the instruments share and what no interval covers.
pub(super) fn instruments(wires: &[WireLaws<'_>], same: &[CalibrationTerm]) -> Instruments {
    let all = || wires.iter().flat_map(|w| &w.batches);
    let stated = |term: CalibrationTerm| all().all(|l| l.record.calibration.iter().any(|c| c.name == term.name()));
    let not_covered: Vec<String> = CalibrationTerm::ALL
        .into_iter()
        .filter(|t| !stated(*t) && !same.contains(t))
        .map(|t| t.name().to_owned())
        .collect();
    let shared: Vec<String> = same.iter().map(|t| t.name().to_owned()).collect();
    let plain = |names: &[String]| {
        let said = |n: &String| {
            let bare = ["_relative", "_v", "_mm"].iter().find_map(|unit| n.strip_suffix(unit)).unwrap_or(n);
            bare.replace('_', " ")
        };
        names.iter().map(said).collect::<Vec<_>>().join(", ")
    };
    let first = if shared.is_empty() {
        "no instrument is stated to be the same: calibration errors of each wire count in full".to_owned()
    } else {
        format!("stated to be of the same instruments in all files, so that their errors cancel: {}", plain(&shared))
    };
    let rest = if not_covered.is_empty() {
        String::new()
    } else {
        format!("; not stated in every file, so that no interval covers them: {}", plain(&not_covered))
    };
    Instruments { same: shared, not_covered, words: first + &rest }
}

/// Why a law of a wire takes no part.
pub(super) fn not_usable(law: &str, name: &str, records: &[&FittedLaw]) -> String {
    let law_words = law.replace('_', " ");
    match records.iter().find(|l| !l.ended.usable) {
        Some(l) => format!("{law_words} of {name} could not be fitted: {}", l.ended.reason),
        None => format!("the record of {law_words} of {name} is incomplete: fit the study again"),
    }
}

/// What is asked.
pub(super) fn expected(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::WireFeed => "at equal current and extension both wires melt at the same feed, within the margin",
        Quantity::OneDrop => {
            "at equal pulse current both wires let go of a drop at the same pulse time, within the margin"
        }
        Quantity::MoreDrops => {
            "at equal pulse current both wires let go of a second drop at the same pulse time, within the margin"
        }
        Quantity::Voltage => {
            "at equal current, arc length and extension both wires have the same voltage, within the margin"
        }
    }
}

/// A place in the words of the bench.
pub(super) fn place(at: &PlaceOfLaw) -> String {
    let mut parts: Vec<String> = Vec::new();
    if let Some(i) = at.pulse_current_a {
        parts.push(format!("{i:.0} A pulse current"));
    }
    if let Some(i) = at.current_mean_a {
        parts.push(format!("{i:.0} A mean current"));
    }
    if let Some(h) = at.extension_rms_squared_mm_a2 {
        parts.push(format!("{:.2} mm kA² of extension times RMS current squared", h / 1e6));
    }
    if let Some(a) = at.arc_length_mm {
        parts.push(format!("{a:.1} mm arc length"));
    }
    if let Some(l) = at.extension_mm {
        parts.push(format!("{l:.1} mm extension"));
    }
    parts.join(" and ")
}

fn value(place: &BandPlace, unit: &str) -> String {
    let [low, high] = place.interval;
    match unit {
        "V" => format!("{:+.2} V ({low:+.2} to {high:+.2} V), margin {:.2} V", place.difference, place.margin),
        _ => {
            let per_cent = |v: f64| 100.0 * v / place.first;
            format!(
                "{:+.1} % ({:+.1} to {:+.1} %), margin {:.1} %",
                per_cent(place.difference),
                per_cent(low),
                per_cent(high),
                per_cent(place.margin)
            )
        }
    }
}

/// The verdict as a reading.
pub(super) fn statement(asked: &Asked<'_>, verdict: Verdict, at: &BandPlace, settled: Option<Settled>) -> Reading {
    let seen = format!(
        "{}: {} against {}, {} at {}",
        verdict.word(),
        asked.names[1],
        asked.names[0],
        value(at, asked.quantity.unit()),
        place(&at.at)
    );
    let action = match verdict {
        Verdict::Alike => "nothing: one law serves both within the margin".to_owned(),
        Verdict::Different => "compose a line of its own for each; a line of one would be off on the other".to_owned(),
        Verdict::Undecided => settle(asked, settled, at),
    };
    Reading::new(expected(asked.quantity), seen, action)
}

/// The trials that would settle it.
pub(super) fn settle(asked: &Asked<'_>, settled: Option<Settled>, at: &BandPlace) -> String {
    let near = place(&at.at);
    match settled {
        None => "it is settled".to_owned(),
        Some(Settled::By(more)) => {
            let each = if more == 1 { "one more trial".to_owned() } else { format!("{more} more trials") };
            let spread = match asked.quantity {
                Quantity::OneDrop | Quantity::MoreDrops => {
                    "pulse times swept across the threshold as in the first trials"
                }
                _ => "spread over the range as the first ones",
            };
            format!("{each} of each wire would settle it in four of five cases: {spread}, most of them near {near}")
        }
        Some(Settled::NotByTrials) => {
            "no number of trials settles it: what the instruments do not share is too wide. Weld both with the same \
             instruments and say so with --same-instruments, or calibrate them"
                .to_owned()
        }
        Some(Settled::TooNear) => {
            format!(
                "even a thousand trials would hardly settle it: near {near} the difference lies at the margin itself; state another margin if the job allows one"
            )
        }
    }
}

const RATIO_EXPECTED: &str = "one law describes both wires as well as a law for each";

/// A likelihood ratio in words.
pub(super) fn ratio(law: &str, names: [&str; 2], statistic: f64, p_value: f64, degrees: usize) -> LikelihoodRatio {
    let seen = format!(
        "twice the log of the likelihood ratio is {statistic:.2} with {degrees} coefficients saved; where both follow one law so much or more is seen in {:.1} % of cases",
        100.0 * p_value
    );
    let action = "nothing by this alone: a small difference found for certain may lie within the margin, and a large one may not be found; the verdict above tells which";
    LikelihoodRatio {
        wire: names[1].to_owned(),
        law: law.to_owned(),
        statistic: Some(statistic),
        degrees_of_freedom: degrees,
        p_value: Some(p_value),
        p_value_from: format!("{} pairs drawn that follow one law", super::likelihood_ratio::DRAWS),
        reason: None,
        reading: Reading::new(RATIO_EXPECTED, seen, action),
    }
}

/// A ratio that cannot be had.
pub(super) fn no_ratio(law: &str, wire: &str, reason: &str) -> LikelihoodRatio {
    LikelihoodRatio {
        wire: wire.to_owned(),
        law: law.to_owned(),
        statistic: None,
        degrees_of_freedom: 0,
        p_value: None,
        p_value_from: "not had".to_owned(),
        reason: Some(reason.to_owned()),
        reading: Reading::new(
            RATIO_EXPECTED,
            format!("not tested: {reason}"),
            "nothing: the verdicts stand without it",
        ),
    }
}

const fn spread_unit(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Voltage => "V",
        _ => "1",
    }
}

fn spread_value(quantity: Quantity, value: f64) -> String {
    if quantity == Quantity::Voltage { format!("{value:.2} V") } else { format!("{:.1} %", 100.0 * value) }
}

fn spread_expected(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::WireFeed => "batches of one specification melt at nearly the same feed",
        Quantity::OneDrop => "batches of one specification let go of a drop at nearly the same pulse time",
        Quantity::MoreDrops => "batches of one specification let go of a second drop at nearly the same pulse time",
        Quantity::Voltage => "batches of one specification have nearly the same voltage",
    }
}

/// How far batches scatter, in words.
pub(super) fn spread(
    wire: &WireLaws<'_>,
    law: &str,
    quantity: Quantity,
    estimate: Option<f64>,
    interval: [Option<f64>; 2],
    batches_off: Vec<(String, f64)>,
) -> BatchSpread {
    let batches = wire.batches.len();
    let end = |place: usize| interval[place].map_or("?".to_owned(), |v| spread_value(quantity, v));
    let (seen, action) = match estimate {
        Some(h) => (
            format!(
                "standard deviation between {batches} batches {} (95 %: {} to {})",
                spread_value(quantity, h),
                end(0),
                end(1)
            ),
            "nothing; more batches narrow it. `meltlaw extend --any-batch` makes laws whose intervals hold it",
        ),
        None => (
            format!(
                "two batches cannot tell how far batches scatter: the standard deviation is below {} at 95 %",
                end(1)
            ),
            "weld a third batch, better a fourth, before one line serves any batch",
        ),
    };
    BatchSpread {
        wire: wire.name.clone(),
        law: law.to_owned(),
        quantity: quantity.name().to_owned(),
        unit: spread_unit(quantity).to_owned(),
        standard_deviation: estimate,
        interval,
        batches,
        batches_off,
        reading: Reading::new(spread_expected(quantity), seen, action),
        reason: estimate.is_none().then(|| "two batches give a bound only: weld a third".to_owned()),
    }
}

/// A spread that cannot be told.
pub(super) fn no_spread(wire: &WireLaws<'_>, law: &str, quantity: Quantity) -> BatchSpread {
    let reason = format!("{} could not be fitted in every batch, or its forms differ", law.replace('_', " "));
    BatchSpread {
        wire: wire.name.clone(),
        law: law.to_owned(),
        quantity: quantity.name().to_owned(),
        unit: spread_unit(quantity).to_owned(),
        standard_deviation: None,
        interval: [None, None],
        batches: wire.batches.len(),
        batches_off: Vec::new(),
        reading: Reading::new(
            spread_expected(quantity),
            format!("not told: {reason}"),
            "fit all batches with the same form",
        ),
        reason: Some(reason),
    }
}

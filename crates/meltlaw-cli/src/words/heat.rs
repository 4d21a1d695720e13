//! Transition current and the comparison with constant voltage in lines for the terminal.

use meltlaw::constant_voltage::Compared;
use meltlaw::record::LineRecord;
use meltlaw_report::numbers::{feed, fixed, places_for, signed};

use crate::told::Told;

/// The current that pulse and background lie about, from where to where.
pub(super) fn transition_range(record: &LineRecord) -> Option<String> {
    let [low, high] = record.transition_current.as_ref()?.band_a;
    Some(format!("{}–{}", fixed(low, 0), fixed(high, 0)))
}

/// What pulsing changes beside each constant-voltage weld of the study.
pub(super) fn beside_lines(record: &LineRecord) -> Vec<Told> {
    let mut lines = Vec::new();
    for beside in &record.beside_constant_voltage {
        let changes: Vec<String> = beside.quantities.iter().filter_map(change).collect();
        let start = format!("  beside {}  ", beside.trial);
        let text = format!(
            "constant voltage at {} m/min; pulsing changes {} (± standard error)",
            feed(beside.wire_feed_m_min),
            changes.join(", ")
        );
        let indent = " ".repeat(start.chars().count());
        lines.push(Told::new(start, text));
        lines.extend(beside.notes.iter().map(|note| Told::new(indent.as_str(), note.as_str())));
    }
    lines
}

fn change(compared: &Compared) -> Option<String> {
    let name = match compared.quantity.as_str() {
        "current_mean_a" => "mean current",
        "voltage_mean_v" => "voltage",
        "power_mean_w" => "power",
        "heat_input_kj_mm" => "heat input",
        // Both go with the power.
        _ => return None,
    };
    let (places, error) = match compared.standard_error {
        Some(se) => (places_for(se), format!(" ± {}", fixed(se, places_for(se)))),
        None => (3, String::new()),
    };
    Some(format!("{name} {}{error} {}", signed(compared.difference, places), compared.unit))
}

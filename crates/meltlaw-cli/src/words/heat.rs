//! Heat, melting and transition current in lines for the terminal.

use meltlaw::constant_voltage::Compared;
use meltlaw::heat::{THERMAL_EFFICIENCY, energy_per_melted_mass_mj_kg};
use meltlaw::line::Node;
use meltlaw::record::LineRecord;
use meltlaw_report::numbers::{confidence, feed, fixed, interval, places_for, signed};

use super::wrapped;

/// A row of a setting: name, value, unit, what more is to be said.
pub(super) type Row<'a> = &'a dyn Fn(&str, String, &str, String) -> String;

/// What a setting spends, and the current that its pulse and background lie about.
pub(super) fn node_lines(record: &LineRecord, node: &Node, row: Row<'_>) -> Vec<String> {
    let known = |ends: Option<[f64; 2]>| {
        ends.map_or(String::new(), |[low, high]| format!("{} {}", confidence(record.confidence), interval(low, high)))
    };
    let mut lines = Vec::new();
    if let (Some(energy), Some(heat)) = (node.arc_energy_kj_mm, node.heat_input_kj_mm) {
        lines.push(row("arc energy", fixed(energy, 3), "kJ/mm", known(node.arc_energy_kj_mm_interval)));
        let mut more = vec![known(node.heat_input_kj_mm_interval), format!("thermal efficiency {THERMAL_EFFICIENCY}")];
        more.retain(|part| !part.is_empty());
        lines.push(row("heat input", fixed(heat, 3), "kJ/mm", more.join(", ")));
    }
    let spent = |power_w: f64| energy_per_melted_mass_mj_kg(power_w, node.melting_rate_kg_h);
    let ends = node.power_mean_w_interval.map(|ends| ends.map(spent));
    lines.push(row("energy per melted wire", fixed(spent(node.power_mean_w), 2), "MJ/kg", known(ends)));
    if let Some(band) = &record.transition_current {
        let [low, high] = band.band_a;
        let range = format!("{}–{}", fixed(low, 0), fixed(high, 0));
        lines.push(row("transition current", range, "A", "pulse above it, background below".to_owned()));
    }
    lines
}

/// What pulsing changes beside each constant-voltage weld of the study.
pub(super) fn beside_lines(record: &LineRecord) -> Vec<String> {
    let mut lines = Vec::new();
    for beside in &record.beside_constant_voltage {
        let changes: Vec<String> = beside.quantities.iter().filter_map(change).collect();
        let start = format!("  beside {}  ", beside.trial);
        let text = format!(
            "constant voltage at {} m/min; pulsing changes {} (± standard error)",
            feed(beside.wire_feed_m_min),
            changes.join(", ")
        );
        lines.extend(wrapped(&start, &text));
        let indent = " ".repeat(start.chars().count());
        lines.extend(beside.notes.iter().flat_map(|note| wrapped(&indent, note)));
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

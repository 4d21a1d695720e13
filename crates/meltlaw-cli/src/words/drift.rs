//! How far each setting of a node may drift alone, for the terminal.

use meltlaw::line::{DriftRange, Node};
use meltlaw_report::numbers::fixed;

use crate::told::Told;

/// A line for each; nothing between nodes, where it is not known.
pub(super) fn node_lines(node: &Node) -> Vec<Told> {
    let Some(drift) = &node.drift else { return Vec::new() };
    let each = [
        ("pulse current", "A", 0, &drift.pulse_current_a),
        ("pulse time", "ms", 2, &drift.pulse_time_ms),
        ("pulse frequency", "Hz", 1, &drift.pulse_frequency_hz),
        ("background current", "A", 0, &drift.background_current_a),
        ("wire feed", "m/min", 2, &drift.wire_feed_m_min),
    ];
    let mut lines = vec![Told::line("  how far each may drift alone, and what goes wrong then")];
    lines.extend(each.map(|(name, unit, places, range)| {
        let (low, high) = (fixed(range.low, places), fixed(range.high, places));
        Told::new(format!("    {name:<22} {low:>7} to {high:<5} {unit:<6} "), ends(range))
    }));
    lines
}

fn ends(range: &DriftRange) -> String {
    let [below, above] = [&range.fails_below, &range.fails_above].map(|word| word.replace('_', " "));
    if below == above { format!("{below} beyond") } else { format!("{below} below, {above} above") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ends_are_named_once_where_they_are_the_same() {
        let range = |above: &str| DriftRange {
            low: 388.0,
            fails_below: "arc_short".to_owned(),
            high: 421.0,
            fails_above: above.to_owned(),
        };
        assert_eq!(ends(&range("arc_unknown")), "arc short below, arc unknown above");
        assert_eq!(ends(&range("arc_short")), "arc short beyond");
    }
}

//! Pinned feeds are the expert's own: where they make a line turn back, it is said at the pin.

use crate::line::Node;

/// Notes at pinned nodes towards or from which frequency or background falls with rising feed.
pub(super) fn tell_falls(nodes: &mut [Node]) {
    for i in 1..nodes.len() {
        let (before, after) = nodes.split_at_mut(i);
        let (low, high) = (&mut before[i - 1], &mut after[0]);
        for (name, unit, from, to) in [
            ("frequency", "Hz", low.pulse_frequency_hz, high.pulse_frequency_hz),
            ("background", "A", low.background_current_a, high.background_current_a),
        ] {
            if to < from * (1.0 - 1e-6) {
                let note = format!(
                    "because of the pin the {name} falls from {from:.1} to {to:.1} {unit} between {} and {} m/min",
                    low.wire_feed_m_min, high.wire_feed_m_min
                );
                for node in [&mut *low, &mut *high] {
                    if !node.pinned.is_empty() {
                        node.notes.push(note.clone());
                    }
                }
            }
        }
    }
}

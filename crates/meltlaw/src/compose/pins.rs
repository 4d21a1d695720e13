//! Pinned feeds are the expert's own: where they make a line turn back, it is said at the pin.

use crate::line::Node;
use crate::short_number::short_number;

/// Where a setting falls with rising feed.
struct Fall {
    /// The node before; the fall ends at the next one.
    from: usize,
    name: &'static str,
    unit: &'static str,
    values: [f64; 2],
}

/// Neighbouring nodes between which frequency or background falls.
fn falls(nodes: &[Node]) -> Vec<Fall> {
    let mut all = Vec::new();
    for (from, pair) in nodes.windows(2).enumerate() {
        for (name, unit, of) in [
            ("frequency", "Hz", (|n| n.pulse_frequency_hz) as fn(&Node) -> f64),
            ("background", "A", |n| n.background_current_a),
        ] {
            let values = [of(&pair[0]), of(&pair[1])];
            if values[1] < values[0] * (1.0 - 1e-6) {
                all.push(Fall { from, name, unit, values });
            }
        }
    }
    all
}

/// Notes at pinned nodes towards or from which frequency or background falls with rising feed.
pub(super) fn tell_falls(nodes: &mut [Node]) {
    for Fall { from, name, unit, values: [high, low] } in falls(nodes) {
        let note = format!(
            "because of the pin the {name} falls from {high:.1} to {low:.1} {unit} between {} and {} m/min",
            nodes[from].wire_feed_m_min,
            nodes[from + 1].wire_feed_m_min
        );
        for node in &mut nodes[from..=from + 1] {
            if !node.pinned.is_empty() {
                node.notes.push(note.clone());
            }
        }
    }
}

/// What stands behind a promise that nothing falls: the pins that break it, or the feeds where no pin does. Empty where
/// the promise holds.
pub(super) fn but_where_it_falls(nodes: &[Node]) -> String {
    let (mut pins, mut between) = (Vec::new(), Vec::new());
    for fall in falls(nodes) {
        let ends = [&nodes[fall.from], &nodes[fall.from + 1]];
        let pinned: Vec<f64> = ends.iter().filter(|n| !n.pinned.is_empty()).map(|n| n.wire_feed_m_min).collect();
        if pinned.is_empty() {
            let [low, high] = ends.map(|n| short_number(n.wire_feed_m_min));
            between.push(format!("between {low} and {high} m/min"));
        }
        pins.extend(pinned);
    }
    pins.sort_by(f64::total_cmp);
    pins.dedup();
    between.dedup();
    let pins: Vec<String> = pins.into_iter().map(short_number).collect();
    let exceptions: Vec<String> = match &pins[..] {
        [] => between,
        [one] => [vec![format!("for the pin at {one} m/min")], between].concat(),
        [most @ .., last] => [vec![format!("for the pins at {} and {last} m/min", most.join(", "))], between].concat(),
    };
    if exceptions.is_empty() { String::new() } else { format!(" but {}", exceptions.join(" and ")) }
}

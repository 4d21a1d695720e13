//! Notes between two nodes: a number that belongs to a node is worked out again for the feed, or the note names its node.

use crate::line::Node;
use crate::record::LineRecord;

/// A pulse this far off the best one, on the logarithm of its time, is told at its node.
pub const NOTABLY_OFF: f64 = 0.01;

/// What a note says of a pulse off the best one, before and after the per cent of its time.
pub const OFF_BEST_PULSE: [&str; 2] = ["the pulse is ", " % of its time off the surest place in the one-drop window"];

/// What two neighbouring nodes note of the feeds between them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotesBetween {
    /// Whether a node notes how far its pulse lies off the best one: [`off_best_pulse`] says it for the feed.
    pub off_best_pulse: bool,
    /// All other notes; one that only one node has names its feed.
    pub others: Vec<String>,
}

/// How far a pulse lies off the line's best pulse in the one-drop window, as the logarithm of its time; `None` where the
/// line file does not tell the best pulse.
///
/// ```text
/// n·ln(I_p/I_best) + ln(t_p/t_best)
/// ```
pub fn off_best_pulse(record: &LineRecord, pulse_current_a: f64, pulse_time_ms: f64) -> Option<f64> {
    let best = &record.line.composing.as_ref()?.best_pulse;
    let exponent = record.laws.detachment.coefficients.get("exponent")?.value?;
    Some(exponent * (pulse_current_a / best.pulse_current_a).ln() + (pulse_time_ms / best.pulse_time_ms).ln())
}

/// What a node notes of a pulse that is off the best one.
pub(crate) fn off_best_pulse_note(off: f64) -> String {
    let [before, after] = OFF_BEST_PULSE;
    format!("{before}{:+.1}{after}", 100.0 * off.exp_m1())
}

/// What is noted between two neighbouring nodes.
pub fn notes_between(record: &LineRecord, lower: &Node, upper: &Node) -> NotesBetween {
    let is_of_pulse = |node: &Node, note: &str| {
        off_best_pulse(record, node.pulse_current_a, node.pulse_time_ms)
            .is_some_and(|off| note == off_best_pulse_note(off))
    };
    let mut found = NotesBetween { off_best_pulse: false, others: Vec::new() };
    for (node, neighbour) in [(lower, upper), (upper, lower)] {
        for note in &node.notes {
            let of_node = format!("{} m/min", node.wire_feed_m_min);
            let told = if is_of_pulse(node, note) {
                found.off_best_pulse = true;
                continue;
            } else if neighbour.notes.contains(note) || note.contains(&of_node) {
                note.clone()
            } else {
                format!("at {of_node}: {note}")
            };
            if !found.others.contains(&told) {
                found.others.push(told);
            }
        }
    }
    found
}

/// All notes for a pulse at a feed between two neighbouring nodes.
pub(crate) fn notes_at(
    record: &LineRecord,
    lower: &Node,
    upper: &Node,
    pulse_current_a: f64,
    pulse_time_ms: f64,
) -> Vec<String> {
    let between = notes_between(record, lower, upper);
    let off = off_best_pulse(record, pulse_current_a, pulse_time_ms)
        .filter(|off| between.off_best_pulse && off.abs() > NOTABLY_OFF);
    off.map(off_best_pulse_note).into_iter().chain(between.others).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
    use super::*;
    use crate::line::{BestPulse, Composing};
    use crate::line_at::at;

    /// Nodes at 4 and 6 m/min whose pulses lie 2.2 % below and 1.6 % above the time of the best pulse.
    fn record() -> LineRecord {
        let mut record: LineRecord =
            serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap();
        let best = BestPulse { pulse_current_a: 400.0, pulse_time_ms: 2.0, one_drop_bound: 0.9 };
        record.line.composing = Some(Composing {
            rule: "optimised".to_owned(),
            meaning: String::new(),
            weights: None,
            best_pulse: best,
            smallest_one_drop_bound: None,
            usable_m_min: 0.0,
            midpoint: None,
        });
        for (node, off) in [(0, -0.022), (1, 0.016)] {
            let node = &mut record.line.nodes[node];
            node.pulse_current_a = 400.0;
            node.pulse_time_ms = 2.0 * (1.0 + off);
            node.notes = vec![off_best_pulse_note(f64::ln_1p(off)), "all trials at one distance".to_owned()];
        }
        record
    }

    #[test]
    fn between_two_nodes_the_pulse_is_told_once_for_the_feed_and_not_for_both_nodes() {
        let record = record();
        let notes = |feed: f64| at(&record, feed).unwrap().notes;
        let [low, high] = [0, 1].map(|i| record.line.nodes[i].wire_feed_m_min);
        assert!(notes(low)[0].contains("is -2.2 % of its time off"), "{:?}", notes(low));
        assert!(notes(high)[0].contains("is +1.6 % of its time off"), "{:?}", notes(high));
        // A quarter of the way from −2.2 to +1.6 %: −1.25 %.
        let quarter = notes(low + 0.25 * (high - low));
        assert_eq!(quarter.len(), 2, "{quarter:?}");
        assert!(quarter[0].contains("is -1.2 % of its time off") || quarter[0].contains("is -1.3 %"), "{quarter:?}");
        assert_eq!(quarter[1], "all trials at one distance");
        // In the middle, −0.3 %, there is nothing to tell.
        assert_eq!(notes(f64::midpoint(low, high)), ["all trials at one distance"]);
    }

    #[test]
    fn between_two_nodes_a_note_of_one_of_them_names_it() {
        let mut record = record();
        let pinned = "pinned by the study at 4 m/min: pulse_current_a".to_owned();
        record.line.nodes[0].notes = vec![pinned.clone(), "frequency 90 Hz".to_owned()];
        record.line.nodes[1].notes = vec!["frequency 85 Hz".to_owned()];
        assert_eq!(
            at(&record, 5.0).unwrap().notes,
            [pinned, "at 4 m/min: frequency 90 Hz".to_owned(), "at 6 m/min: frequency 85 Hz".to_owned()]
        );
        // Without the best pulse its note is one of a node, too.
        record.line.composing = None;
        record.line.nodes[1].notes = vec![off_best_pulse_note(0.016)];
        assert!(at(&record, 5.0).unwrap().notes[2].starts_with("at 6 m/min: the pulse is +1.6 %"));
    }
}

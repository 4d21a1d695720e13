//! Confirmation welds: which settings to weld before the line is used, and what the meters should show.

use maud::{Markup, html};
use meltlaw::line::{NextWeld, Node};

use super::parts;
use crate::ReportInput;
use crate::embedded::{csv, number};
use crate::numbers::{self, feed};

/// Lowest, middle and highest node that trials cover, or of the line where they cover none.
pub(crate) fn to_confirm(nodes: &[Node]) -> Vec<&Node> {
    let covered: Vec<&Node> = nodes.iter().filter(|n| n.support == "covered").collect();
    let inside = if covered.is_empty() { nodes.iter().collect() } else { covered };
    let mut places = vec![0, inside.len() / 2, inside.len().saturating_sub(1)];
    places.dedup();
    places.into_iter().filter_map(|place| inside.get(place).copied()).collect()
}

/// What the meters read: name, unit, range for a single weld.
type Meter = (&'static str, &'static str, fn(&NextWeld) -> [f64; 2]);

const METERS: [Meter; 3] = [
    ("mean current", "A", |next| next.current_mean_a),
    ("mean voltage", "V", |next| next.voltage_mean_v),
    ("mean power", "W", |next| next.power_mean_w),
];

/// The settings to weld first, with what the meters should show; nothing without nodes.
pub(crate) fn part(input: &ReportInput<'_>) -> Markup {
    let nodes = to_confirm(&input.line.line.nodes);
    if nodes.is_empty() {
        return html! {};
    }
    let confidence = numbers::confidence(input.line.confidence);
    let data = csv(
        &[
            "wire_feed_m_min",
            "pulse_current_a",
            "pulse_time_ms",
            "pulse_frequency_hz",
            "background_current_a",
            "current_mean_a_low",
            "current_mean_a_high",
            "voltage_mean_v_low",
            "voltage_mean_v_high",
            "power_mean_w_low",
            "power_mean_w_high",
        ],
        nodes.iter().map(|n| {
            let next = &n.next_weld;
            let pairs = [next.current_mean_a, next.voltage_mean_v, next.power_mean_w];
            let set =
                [n.wire_feed_m_min, n.pulse_current_a, n.pulse_time_ms, n.pulse_frequency_hz, n.background_current_a];
            set.into_iter().chain(pairs.into_iter().flatten()).map(number).collect()
        }),
    );
    let pinned = parts::any_pinned(&nodes);
    let places =
        |of: fn(&NextWeld) -> [f64; 2]| parts::places_by(nodes.iter().map(|n| parts::half_width(of(&n.next_weld))), 1);
    let head = html! { tr {
        (parts::head("wire feed", "m/min")) (parts::head("pulse current", "A")) (parts::head("pulse time", "ms"))
        (parts::head("frequency", "Hz")) (parts::head("background", "A"))
        @for (name, unit, _) in METERS {
            (parts::head(&format!("{name} from"), unit)) (parts::head(&format!("{name} to"), unit))
        }
        @if pinned { (parts::pinned_head()) }
    } };
    let body = html! {
        @for n in &nodes {
            tr {
                (parts::at_feed(n))
                (parts::cell(n.pulse_current_a, 1)) (parts::cell(n.pulse_time_ms, 3)) (parts::cell(n.pulse_frequency_hz, 1))
                (parts::cell(n.background_current_a, 1))
                @for (.., of) in METERS { (parts::ends(of(&n.next_weld), places(of))) }
                @if pinned { (parts::pinned(n)) }
            }
        }
    };
    html! {
        h3 { "Confirmation welds" }
        p.lead {
            "Weld these and hold the arc length at " (feed(input.line.conditions.arc_length_mm)) " mm. A single weld's readings should lie in the ranges "
            "given (" (confidence) "); one that does not is a reason to look for the cause before the line is used."
        }
        (parts::table_and_data("Settings to confirm and what the meters should show", &head, &body, "confirmation_welds", &data))
    }
}

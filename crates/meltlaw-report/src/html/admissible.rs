//! How far a setting may move alone.

use maud::{Markup, html};
use meltlaw::line::{Drift, DriftRange, Node};

use super::parts::{self, head};
use crate::numbers::{feed, fixed};
use crate::words;

/// A setting's name, unit, decimals and drift.
type Moved = (&'static str, &'static str, i32, fn(&Drift) -> &DriftRange);

const MOVED: [Moved; 5] = [
    ("pulse current", "A", 0, |d| &d.pulse_current_a),
    ("pulse time", "ms", 2, |d| &d.pulse_time_ms),
    ("frequency", "Hz", 1, |d| &d.pulse_frequency_hz),
    ("background current", "A", 0, |d| &d.background_current_a),
    ("wire feed", "m/min", 2, |d| &d.wire_feed_m_min),
];

/// How far each setting may move alone, at the nodes where it is known.
pub(crate) fn drifts(nodes: &[Node]) -> Markup {
    let known: Vec<(&Node, &Drift)> = nodes.iter().filter_map(|n| Some((n, n.drift.as_ref()?))).collect();
    let head = html! { tr {
        (head("at wire feed", "m/min")) @for (name, unit, ..) in MOVED { (head(name, unit)) }
    } };
    let body = html! {
        @for (node, drift) in &known {
            tr class=[(node.support != "measured").then_some("extended")] {
                th scope="row" { (feed(node.wire_feed_m_min)) }
                @for (_, _, places, of) in MOVED {
                    @let range = of(drift);
                    td.number {
                        (fixed(range.low, places)) " to " (fixed(range.high, places)) br;
                        span.small { (ends(range)) }
                    }
                }
            }
        }
    };
    html! {
        @if !known.is_empty() {
            h3 { "How far a setting may drift alone" }
            p {
                "All other settings held, no arc control. Below each range: what fails first beyond its lower and its upper end. "
                "The arc length moves until the extension melts what is fed; it counts as moved as far as the trials cannot exclude. "
                "Arc unknown: it would leave the lengths that the trials reach; arc short: the wire would touch the pool; burn back: it would melt up to the contact tip; arc unstable: nothing is known to bring it back."
            }
            (parts::table("Drift of single settings", &head, &body))
        }
    }
}

fn ends(range: &DriftRange) -> String {
    let [below, above] = [&range.fails_below, &range.fails_above].map(|w| words::plain(w));
    if below == above { below } else { format!("{below} / {above}") }
}

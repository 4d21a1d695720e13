//! How far a setting may move alone.

use maud::{Markup, html};
use meltlaw::line::{Drift, DriftRange, Node};

use super::parts::{self, head};
use crate::embedded::{csv, number, text};
use crate::words;

/// A setting's name, name in files, unit, decimals and drift.
type Moved = (&'static str, &'static str, &'static str, i32, fn(&Drift) -> &DriftRange);

const MOVED: [Moved; 5] = [
    ("pulse current", "pulse_current_a", "A", 0, |d| &d.pulse_current_a),
    ("pulse time", "pulse_time_ms", "ms", 2, |d| &d.pulse_time_ms),
    ("frequency", "pulse_frequency_hz", "Hz", 1, |d| &d.pulse_frequency_hz),
    ("background", "background_current_a", "A", 0, |d| &d.background_current_a),
    ("feed", "wire_feed_m_min", "m/min", 2, |d| &d.wire_feed_m_min),
];

/// How far each setting may move alone, at the nodes where it is known.
pub(crate) fn drifts(nodes: &[Node]) -> Markup {
    let known: Vec<(&Node, &Drift)> = nodes.iter().filter_map(|n| Some((n, n.drift.as_ref()?))).collect();
    let from_to = html! { tr {
        (head("at wire feed", "m/min"))
        @for (name, _, unit, ..) in MOVED { (head(&format!("{name} from"), unit)) (head(&format!("{name} to"), unit)) }
    } };
    let ranges = html! {
        @for (node, drift) in &known {
            tr class=[parts::row_class(node)] {
                (parts::at_feed(node))
                @for (.., places, of) in MOVED { @let range = of(drift); (parts::ends([range.low, range.high], places)) }
            }
        }
    };
    let heads = html! { tr { (head("at wire feed", "m/min")) @for (name, ..) in MOVED { (parts::words_head(name)) } } };
    let failures = html! {
        @for (node, drift) in &known {
            tr class=[parts::row_class(node)] {
                (parts::at_feed(node))
                @for (.., of) in MOVED { td.text { (fails(of(drift))) } }
            }
        }
    };
    html! {
        @if !known.is_empty() {
            h3 { "How far a setting may drift alone" }
            p {
                "All other settings held, no arc control. The second table says what fails first below / above each range. "
                "The arc length moves until the extension melts what is fed; it counts as moved as far as the trials cannot exclude. "
                "Arc unknown: it would leave the lengths that the trials reach; arc short: the wire would touch the pool; burn back: it would melt up to the contact tip; arc unstable: nothing is known to bring it back."
            }
            (parts::table("Drift of single settings", &from_to, &ranges))
            (parts::table_and_data("What fails first beyond each range", &heads, &failures, "drift", &data(&known)))
        }
    }
}

fn fails(range: &DriftRange) -> String {
    let [below, above] = [&range.fails_below, &range.fails_above].map(|w| words::limit_in_short(w));
    if below == above { below } else { format!("{below} / {above}") }
}

fn data(known: &[(&Node, &Drift)]) -> String {
    let header = ["wire_feed_m_min", "setting", "low", "high", "fails_below", "fails_above"];
    let rows = known.iter().flat_map(|(node, drift)| {
        MOVED.iter().map(|(_, key, .., of)| {
            let range = of(drift);
            let [feed, low, high] = [node.wire_feed_m_min, range.low, range.high].map(number);
            vec![feed, (*key).to_owned(), low, high, text(&range.fails_below), text(&range.fails_above)]
        })
    });
    csv(&header, rows)
}

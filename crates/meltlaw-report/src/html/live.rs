//! The line at any wire feed: a number field with a range control, the setting, its waveform to scale.
//!
//! Without scripts it shows one node, and the tables below hold the rest. With scripts the page evaluates the
//! embedded nodes by the rule of the line file.

use maud::{Markup, PreEscaped, html};
use meltlaw::laws::Reading;
use meltlaw::line::Node;
use meltlaw::record::LineRecord;

use super::confirmation::to_confirm;
use super::live_data::live_data;
use super::parts;
use crate::composing::PINNED;
use crate::figures::feed_view::FeedView;
use crate::figures::waveform::{self, WaveformDrawing};
use crate::numbers::{feed, fixed};
use crate::setting::{self, Part, Row};
use crate::spans::{self, Support};

/// The page's script; the content-security policy lets nothing else run.
pub(crate) const SCRIPT: &str = concat!(
    "\"use strict\";\n(() => {\n",
    include_str!("live/numbers.js"),
    include_str!("live/line.js"),
    include_str!("live/page.js"),
    "})();\n"
);

/// Whether there is a panel, and so something for the script to read.
pub(crate) fn is_shown(record: &LineRecord) -> bool {
    shown_first(record).is_some()
}

/// The panel; nothing where the line has no node that may be used.
pub(crate) fn panel(record: &LineRecord) -> Markup {
    let (Some(view), Some(node)) = (FeedView::of(record), shown_first(record)) else { return html! {} };
    let drawing = waveform::draw(&record.line.nodes, node);
    let [from, to] = view.asked();
    html! {
        h3 { "At any wire feed" }
        div #setting {
            div.controls hidden {
                div.entry {
                    label for="feed" { "wire feed" }
                    input #feed type="number" step="0.01" inputmode="decimal" value=(node.wire_feed_m_min) aria-describedby="setting-status";
                    span { "m/min" }
                    span.soft #feed-inches { }
                }
                input #feed-range type="range" min=(from) max=(to) step="0.01" value=(node.wire_feed_m_min) aria-label="wire feed, m/min";
                (strip(record, [from, to]))
            }
            p.at { strong #setting-feed { (feed(node.wire_feed_m_min)) " m/min" } " – " output #setting-status for="feed feed-range" data-support=(node.support) { (support_words(&node.support)) } }
            ul #setting-limits hidden { }
            div.side-by-side {
                (values(&setting::rows(record, node)))
                (wave(&drawing))
            }
            noscript { p.small { "Shown is one setting. With scripts allowed, this part shows the setting at any wire feed; the tables below hold all nodes, and " code { "meltlaw at" } " reads the line anywhere." } }
        }
        script #line-data type="application/json" { (PreEscaped(live_data(record, drawing.scale, view.scale()))) }
    }
}

/// What a support means at the machine.
pub(crate) fn support_words(support: &str) -> &'static str {
    match Support::from_word(support) {
        Some(Support::Covered) => "covered: inside the ranges of the trials",
        Some(Support::Extended) => "extended: a little beyond the ranges of the trials, to be confirmed first",
        Some(Support::Carried) | None => {
            "carried: nobody has welded this wire, gas or distance; confirm every setting before use"
        }
    }
}

/// Where the page opens: the middle one of the nodes to confirm, else the first; never one that must not be used.
fn shown_first(record: &LineRecord) -> Option<&Node> {
    let may = |node: &&Node| record.line.standing_at(node.wire_feed_m_min).refuses().is_none();
    let confirm: Vec<&Node> = to_confirm(&record.line.nodes).into_iter().filter(may).collect();
    confirm.get(confirm.len() / 2).copied().or_else(|| record.line.nodes.iter().find(may))
}

/// How well the trials support each feed, and which have no setting, under the range control.
fn strip(record: &LineRecord, [from, to]: [f64; 2]) -> Markup {
    let across = |feed: f64| 1000.0 * (feed - from) / (to - from).max(f64::MIN_POSITIVE);
    html! {
        svg.strip viewBox="0 0 1000 12" preserveAspectRatio="none" aria-hidden="true" {
            line x1="0" y1="11.5" x2="1000" y2="11.5" stroke="var(--soft)" stroke-width="1" {}
            @for span in spans::spans(&record.line) {
                @let (left, right) = (across(span.from_m_min), across(span.to_m_min));
                @let (top, colour) = match span.support { Support::Covered => (0, "var(--deep)"), Support::Extended => (6, "var(--sand)"), Support::Carried => (9, "var(--sand)") };
                rect x=(fixed(left, 1)) y=(top) width=(fixed((right - left).max(2.0), 1)) height=(12 - top) fill=(colour) {}
            }
        }
        p.small.soft { "High bar: covered by trials. Half bar: extended. Quarter bar: carried, nobody welded it. No bar: no setting." }
    }
}

fn values(rows: &[Row]) -> Markup {
    let part = |part: Part| rows.iter().filter(move |r| r.part == part);
    html! {
        div.scroll tabindex="0" role="group" aria-label="The setting" {
            table #setting-values aria-label="The setting" {
                @for (of, title) in [(Part::Set, "to set"), (Part::Does, "what it does")] {
                    tbody {
                        tr { th.part scope="rowgroup" colspan="5" { (title) } }
                        @for row in part(of) {
                            tr data-key=(row.key) {
                                th.text scope="row" { (row.name) }
                                td.value { (row.value) }
                                td.pin { @if row.pinned { (PINNED) } }
                                td.unit { (row.unit) }
                                td.beside.text { (row.beside) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn wave(drawing: &WaveformDrawing) -> Markup {
    let curves = format!(
        "<polyline id=\"waveform-mean\" points=\"{}\"/><polyline id=\"waveform-current\" points=\"{}\"/></svg>",
        drawing.mean, drawing.current
    );
    let svg = parts::inline(&drawing.svg).replacen("</svg>", &curves, 1);
    let reading = Reading::new(
        "a flat top longer than the ramps, a background that runs on between the pulses",
        drawing.seen.clone(),
        "compare with a recording at the machine: the same shape within the source's tolerance",
    );
    html! {
        figure #figure-waveform {
            p.figure-title { "Current over time" }
            div.drawing { (PreEscaped(svg)) }
            figcaption {
                p { "Two pulses at least, on the same scale at every wire feed: higher, longer or denser pulses are higher, longer or denser here." }
                dl.reading {
                    dt { "expected" } dd { (reading.expected) }
                    dt { "seen" } dd #waveform-seen { (reading.seen) }
                    dt { "do" } dd { (reading.action) }
                }
                p { (parts::download_as("waveform", "waveform-data", &drawing.csv)) }
            }
        }
    }
}

//! Why the line ends where it ends, and why it has gaps: in a few words, then in full.

use maud::{Markup, html};
use meltlaw::line::{Line, RangeEnd, Unsupported};

use super::parts;
use super::verdict::sentence;
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::numbers::feed;
use crate::spans;
use crate::words;

/// One item for each range without a setting and for each end that the study asked for.
pub(crate) fn in_short(input: &ReportInput<'_>) -> Markup {
    let line = &input.line.line;
    let asked = input.line.request.as_ref().map(|r| r.wire_feed_m_min);
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    html! {
        div {
            h3 { @if line.nodes.is_empty() { "What stands in the way" } @else { "Why it ends there" } }
            ul {
                @for gap in gaps(line) {
                    li {
                        "No setting from " (feed(gap.wire_feed_m_min[0])) " to " (feed(gap.wire_feed_m_min[1])) " m/min: " (limits(gap)) "."
                        @if line.nodes.is_empty() { " " (sentence(&gap.reason)) }
                    }
                }
                @if let (Some([low, high]), Some(first), Some(last)) = (asked, line.nodes.first(), line.nodes.last()) {
                    @if near(low, first.wire_feed_m_min) { li { "The lower end, " (feed(low)) " m/min, is where the study asked it to begin." } }
                    @if near(high, last.wire_feed_m_min) { li { "The upper end, " (feed(high)) " m/min, is where the study asked it to end." } }
                }
                @if line.unsupported.is_empty() && asked.is_none() { li { "No limit was met." } }
            }
            @if !by_data(line).is_empty() { p.small.goto { a href="#ends" { "Which trial would move the ends" } } }
        }
    }
}

/// What the limits say and what would lift them.
fn limits(gap: &Unsupported) -> String {
    let each: Vec<String> = gap
        .limits
        .iter()
        .map(|name| {
            let (says, cure) = words::limit(name);
            format!("{says} ({cure} would help)")
        })
        .collect();
    if each.is_empty() { gap.reason.clone() } else { each.join("; ") }
}

fn gaps(line: &Line) -> Vec<&Unsupported> {
    let mut gaps: Vec<&Unsupported> = line.unsupported.iter().collect();
    gaps.sort_by(|a, b| a.wire_feed_m_min[0].total_cmp(&b.wire_feed_m_min[0]));
    gaps
}

/// Every range with its reason, and where a limit holds the settings without ending the line.
pub(crate) fn in_full(input: &ReportInput<'_>) -> Markup {
    let line = &input.line.line;
    let (gaps, held) = (gaps(line), spans::binding(line));
    if line.nodes.is_empty() || gaps.is_empty() && held.is_empty() {
        return html! {};
    }
    let head = html! { tr {
        (parts::head("from", "m/min")) (parts::head("to", "m/min")) th.text scope="col" { "setting" } th.text scope="col" { "because" }
    } };
    let held_because = |name: &str| format!("{}; the setting gives way there, but holds", words::limit(name).0);
    let body = html! {
        @for gap in &gaps {
            tr { td { (feed(gap.wire_feed_m_min[0])) } td { (feed(gap.wire_feed_m_min[1])) } td.text { "none" } td.text { (sentence(&gap.reason)) } }
        }
        @for (name, from, to) in &held {
            tr { td { (feed(*from)) } td { (feed(*to)) } td.text { "at a limit" } td.text { (sentence(&held_because(name))) } }
        }
    };
    let rows = gaps
        .iter()
        .map(|g| vec![number(g.wire_feed_m_min[0]), number(g.wire_feed_m_min[1]), "none".to_owned(), text(&g.reason)])
        .chain(held.iter().map(|(name, from, to)| {
            vec![number(*from), number(*to), "at a limit".to_owned(), text(&held_because(name))]
        }));
    let data = csv(&["from_m_min", "to_m_min", "setting", "because"], rows);
    html! {
        details {
            summary { "Every range without a setting or at a limit, with its reason" }
            (parts::table("Ranges of wire feed without a setting or at a limit", &head, &body))
            p.small { (parts::download("ranges_and_limits", &data)) }
        }
    }
}

/// Where data end the line: which trial sets the end, and which would move it.
pub(crate) fn movers(line: &Line) -> Markup {
    let by_data = by_data(line);
    html! {
        @if !by_data.is_empty() {
            h3 id="ends" { "What ends the line, and which trial would move the end" }
            ul {
                @for end in by_data {
                    li { strong { (feed(end.wire_feed_m_min)) " m/min, " (if end.side == "low" { "lower" } else { "upper" }) " end: " } (end.reason) "." }
                }
            }
        }
    }
}

fn by_data(line: &Line) -> Vec<&RangeEnd> {
    line.range_ends.iter().filter(|end| end.trial.is_some() || end.variable.is_some()).collect()
}

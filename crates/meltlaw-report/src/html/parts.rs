//! Pieces that several sections use: figures, tables, readings.

use maud::{Markup, PreEscaped, html};
use meltlaw::laws::Reading;
use meltlaw::line::Node;

use crate::ReportInput;
use crate::colours::Colour;
use crate::embedded;
use crate::figures::Drawn;
use crate::numbers;
use crate::words;

/// Wire, gas and conditions in one line.
pub(crate) fn subject(input: &ReportInput<'_>) -> Markup {
    let line = input.line;
    let conditions = &line.conditions;
    html! {
        (line.wire.designation)
        " · " (line.wire.material.word().replace('-', " ")) ", " (numbers::feed(line.wire.diameter_mm)) " mm · "
        @match &line.gas {
            Some(gas) => { (gas.text_and_group()) }
            None => { "gas not stated" }
        }
        " · contact-tip-to-work distance " (numbers::feed(conditions.ctwd_mm)) " mm, arc length " (numbers::feed(conditions.arc_length_mm))
        " mm, extension " (numbers::feed(conditions.extension_mm)) " mm"
    }
}

/// Figures side by side as far as there is room; `large` ones are wider.
pub(crate) fn figures(drawn: &[Drawn], large: bool) -> Markup {
    html! {
        @if !drawn.is_empty() {
            div class={ "figures" @if large { " large" } } {
                @for figure in drawn {
                    figure id={ "figure-" (figure.name) } data-over=[over(figure)] {
                        p.figure-title { (figure.title) }
                        div.drawing tabindex=[large.then_some("0")] { (PreEscaped(inline(&figure.svg))) }
                        figcaption {
                            p { (figure.caption) }
                            (reading(&figure.reading))
                            p { (download(figure.name, &figure.csv)) }
                        }
                    }
                }
            }
        }
    }
}

/// What a figure's data run over, where the page's script marks a place on it.
fn over(figure: &Drawn) -> Option<&'static str> {
    (figure.name.starts_with("line_") || figure.name.starts_with("budget_")).then_some("wire_feed_m_min")
}

/// A link that saves data as CSV.
pub(crate) fn download(name: &str, csv: &str) -> Markup {
    html! { a download={ (name) ".csv" } href=(embedded::link(csv)) { "Data of " (name.replace('_', " ")) " (CSV)" } }
}

/// The same with a name by which the page's script finds it.
pub(crate) fn download_as(name: &str, id: &str, csv: &str) -> Markup {
    html! { a id=(id) download={ (name) ".csv" } href=(embedded::link(csv)) { "Data of " (name.replace('_', " ")) " (CSV)" } }
}

/// The drawing for the page: colours that follow the scheme, no name space (HTML knows it).
pub(crate) fn inline(svg: &str) -> String {
    Colour::by_variable(svg).replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1)
}

/// A table in a box of its own that scrolls where the page is narrow.
///
/// It must paste cleanly into a spreadsheet: one row of heads, one value a cell, and in each column either
/// words (class `text`, in the head too) or nothing but numbers ([`cell`]) and empty cells.
pub(crate) fn table(caption: &str, head: &Markup, body: &Markup) -> Markup {
    html! {
        div.scroll tabindex="0" role="group" aria-label=(caption) {
            table {
                caption { (caption) }
                thead { (head) }
                tbody { (body) }
            }
        }
    }
}

/// A table with its numbers in full, one click away under `name`.
pub(crate) fn table_and_data(caption: &str, head: &Markup, body: &Markup, name: &str, csv: &str) -> Markup {
    html! {
        (table(caption, head, body))
        p.small { (download(name, csv)) }
    }
}

/// A cell with a number, empty where there is none.
pub(crate) fn cell(value: impl Into<Option<f64>>, places: i32) -> Markup {
    html! { td { (numbers::in_cell(value, places)) } }
}

/// Two cells with the ends of an interval.
pub(crate) fn ends(ends: impl Into<Option<[f64; 2]>>, places: i32) -> Markup {
    let ends = ends.into();
    html! { (cell(ends.map(|e| e[0]), places)) (cell(ends.map(|e| e[1]), places)) }
}

/// Digits after the decimal point for a column of values with these errors (half widths of intervals, or
/// standard errors): two digits on the middle one, so that a column has one number of places.
pub(crate) fn places_by(errors: impl IntoIterator<Item = f64>, otherwise: i32) -> i32 {
    let mut errors: Vec<f64> = errors.into_iter().filter(|e| e.is_finite() && *e > 0.0).collect();
    errors.sort_by(f64::total_cmp);
    errors.get(errors.len() / 2).map_or(otherwise, |error| numbers::places_for(*error))
}

/// Half the width of an interval.
pub(crate) fn half_width([low, high]: [f64; 2]) -> f64 {
    (high - low).abs() / 2.0
}

/// The head of a node's row: its feed.
pub(crate) fn at_feed(node: &Node) -> Markup {
    html! { th scope="row" { (numbers::in_cell(node.wire_feed_m_min, 2)) } }
}

/// Whether the study fixes any setting; a table of settings then has a column that says which.
pub(crate) fn any_pinned(nodes: &[&Node]) -> bool {
    nodes.iter().any(|n| !n.pinned.is_empty())
}

/// The head of that column.
pub(crate) fn pinned_head() -> Markup {
    html! { (words_head("pinned by the study")) }
}

/// The settings that the study fixes at a node.
pub(crate) fn pinned(node: &Node) -> Markup {
    html! { td.text { (words::listed(&node.pinned.iter().map(|p| words::setting(p).to_owned()).collect::<Vec<_>>())) } }
}

/// What pinned values are.
pub(crate) fn pinned_legend() -> Markup {
    html! { p.small { "A pinned value is the study’s own decision: " a href="#composing" { "how the settings were chosen" } "." } }
}

/// The head of a column of words.
pub(crate) fn words_head(name: &str) -> Markup {
    html! { th.text scope="col" { (name) } }
}

/// The head of a column of short words, which takes no more room than they need.
pub(crate) fn short_head(name: &str) -> Markup {
    html! { th.text.short scope="col" { (name) } }
}

/// The head of a column of numbers with its unit below.
pub(crate) fn head(name: &str, unit: &str) -> Markup {
    html! { th scope="col" { (name) @if !unit.is_empty() { " " span.unit { (unit) } } } }
}

/// The class of a node's row in a table, where trials do not cover the node.
pub(crate) fn row_class(node: &Node) -> Option<&'static str> {
    (node.support != "covered").then_some("extended")
}

/// Expected, seen, do.
pub(crate) fn reading(reading: &Reading) -> Markup {
    html! {
        dl.reading {
            dt { "expected" } dd { (reading.expected) }
            dt { "seen" } dd { (reading.seen) }
            dt { "do" } dd.act[reading.asks()] { (reading.action) }
        }
    }
}

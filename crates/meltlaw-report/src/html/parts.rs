//! Pieces that several sections use: figures, tables, readings.

use maud::{Markup, PreEscaped, html};
use meltlaw::laws::Reading;
use meltlaw::line::Node;

use crate::ReportInput;
use crate::colours::Colour;
use crate::composing;
use crate::embedded;
use crate::figures::Drawn;
use crate::numbers;

/// Wire, gas and conditions in one line.
pub(crate) fn subject(input: &ReportInput<'_>) -> Markup {
    let line = input.line;
    let conditions = &line.conditions;
    html! {
        (line.wire.designation)
        " · " (line.wire.material.word().replace('-', " ")) ", " (numbers::feed(line.wire.diameter_mm)) " mm · "
        @match &line.gas {
            Some(gas) => { (gas.text()) }
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
pub(crate) fn table(caption: &str, head: &Markup, body: &Markup) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(caption) {
            table {
                caption { (caption) }
                thead { (head) }
                tbody { (body) }
            }
        }
    }
}

/// A setting with the mark of pinned values where the study fixes it.
pub(crate) fn set(node: &Node, setting: &str, value: f64, places: i32) -> Markup {
    html! { (numbers::fixed(value, places)) @if let Some(mark) = composing::mark(node, setting) { (mark) } }
}

/// The feed of a node, marked where the study fixes a setting there.
pub(crate) fn node_feed(node: &Node) -> Markup {
    html! { (numbers::feed(node.wire_feed_m_min)) @if !node.pinned.is_empty() { (composing::PINNED) } }
}

/// What the mark of pinned values means.
pub(crate) fn pinned_legend() -> Markup {
    html! { p.small { (composing::PINNED) " pinned by the study: " a href="#composing" { "how the settings were chosen" } "." } }
}

/// A column's head with its unit below.
pub(crate) fn head(name: &str, unit: &str) -> Markup {
    html! { th scope="col" { (name) " " span.unit { (unit) } } }
}

/// Expected, seen, do.
pub(crate) fn reading(reading: &Reading) -> Markup {
    html! {
        dl.reading {
            dt { "expected" } dd { (reading.expected) }
            dt { "seen" } dd { (reading.seen) }
            dt { "do" } dd { (reading.action) }
        }
    }
}

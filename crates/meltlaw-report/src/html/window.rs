//! One drop per pulse: where it happens, where on it the line lies and why, what else would do.

use maud::{Markup, html};

use super::{admissible, composing, parts};
use crate::ReportInput;
use crate::figures::Figures;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    let nodes = &input.line.line.nodes;
    html! {
        p.lead {
            "A pulse that is too short or too weak leaves the drop on the wire; one that is too long or too strong sends a second after it. "
            "Between the two lies the window of one drop per pulse. Coefficients and equation stand with " a href="#law-detachment" { "the detachment law" } "."
        }
        (parts::figures(&figures.detachment, true))
        @if !figures.admissible.is_empty() {
            h3 { "What else would do" }
            (parts::figures(&figures.admissible, true))
        }
        (admissible::drifts(nodes))
        @if !nodes.is_empty() {
            h3 id="composing" { "How the settings were chosen" }
            (composing::section(input))
        }
    }
}

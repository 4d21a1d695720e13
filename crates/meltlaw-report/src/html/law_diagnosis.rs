//! One law against its trials: pictures, other forms, the refit that single trials cannot pull.

use maud::{Markup, html};
use meltlaw::laws::{Candidate, FittedLaw};

use super::parts::{self, head};
use crate::ReportInput;
use crate::figures::{Drawn, Figures, candidate_forms};
use crate::numbers::{self, feed, fixed, signed, significant};
use crate::words;

/// Each law that has anything to show.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    html! {
        @for ((name, law), drawn) in input.laws.laws.by_name().into_iter().zip(&figures.diagnosis) {
            @if shows_anything(law, drawn) {
                h3 id={ "diagnosis-" (name) } { "The " (words::law(name)) " against its trials" }
                (parts::figures(drawn, true))
                (forms(law))
                (blocks(law))
                (robust(law))
            }
        }
    }
}

/// Whether a law has a part of the page; who points at it asks first.
pub(crate) fn shows_anything(law: &FittedLaw, drawn: &[Drawn]) -> bool {
    !drawn.is_empty() || !law.candidates.is_empty() || law.robust.is_some() || law.between_blocks.is_some()
}

fn forms(law: &FittedLaw) -> Markup {
    if law.candidates.is_empty() {
        return html! {};
    }
    let head = html! { tr {
        th.text scope="col" { "form" } th scope="col" { "AICc, less is better" } th scope="col" { "gain for a left-out weld" } (head("left-out welds missed by", "%"))
        (head("upper range foretold from the lower: missed by", "%")) th scope="col" { "over what was expected" }
        th.text scope="col" { "what it would do to the line" } th.text scope="col" { "remark" }
    } };
    let shown = |value: Option<f64>, places: i32| value.map_or("–".to_owned(), |v| fixed(v, places));
    let body = html! {
        @for c in &law.candidates {
            tr {
                th.text scope="row" { (words::form(&c.form)) @if c.form == law.form { " (used)" } br; span.small.soft { (c.form) } }
                td { (shown(c.aicc, 1)) }
                td { @if let Some(gain) = candidate_forms::gains(law, c)[1] { (signed(gain, 3)) } @else { "–" } }
                td { (c.leave_one_out_relative.map_or("–".to_owned(), |l| significant(100.0 * l, 3))) }
                td { (c.held_out_range.as_ref().map_or("–".to_owned(), |h| significant(100.0 * h.rms_relative, 2))) }
                td { (c.held_out_range.as_ref().map_or("–".to_owned(), |h| format!("{} times", significant(h.standardised, 2)))) }
                td.text { (effect(c, c.form == law.form)) }
                td.text { (c.reason.as_deref().unwrap_or("")) }
            }
        }
    };
    html! {
        (parts::table("Forms tried beside; shown, never chosen by the program", &head, &body))
        p.small {
            "AICc charges the fit for each coefficient; a difference under 2 is none. ‘Upper range’: fitted to the lower three fifths of the range only, held against the rest; "
            "about 1 time what was expected is good, 2 means that the form bends away there. Another form is used only where "
            code { "[laws]" } " in the study names it: picking the best-looking one by these trials would make the stated intervals too narrow."
        }
    }
}

fn effect(candidate: &Candidate, used: bool) -> String {
    match &candidate.line_effect {
        Some(e) => {
            let errors =
                e.standard_errors.map_or(String::new(), |s| format!(" ({} standard errors)", significant(s, 2)));
            format!("up to {} {} at {} m/min{errors}", signed_significant(e.value), e.unit, feed(e.at_wire_feed_m_min))
        }
        None if used => "it is the line".to_owned(),
        None => "–".to_owned(),
    }
}

fn signed_significant(value: f64) -> String {
    let text = significant(value, 2);
    if value > 0.0 { format!("+{text}") } else { text }
}

fn blocks(law: &FittedLaw) -> Markup {
    html! {
        @if let Some(blocks) = &law.between_blocks {
            p {
                strong { "Scatter between blocks: " } (significant(blocks.effect, 2)) " " (words::unit(&blocks.effect_unit)) ", from " (blocks.blocks)
                " blocks. It is in the intervals."
            }
            (parts::reading(&blocks.reading))
        }
    }
}

fn robust(law: &FittedLaw) -> Markup {
    let Some(refit) = &law.robust else { return html! {} };
    let head = html! { tr {
        th.text scope="col" { "coefficient" } th scope="col" { "fit" } th scope="col" { "refit" } th scope="col" { "moved by (standard errors)" }
    } };
    let body = html! {
        @for key in law.coefficient_order.iter().filter(|k| refit.coefficients.contains_key(*k)) {
            tr {
                th.text scope="row" { (words::coefficient(key).0) " " span.soft { (key) } }
                td { (law.coefficients.get(key).and_then(|c| c.value).map_or("–".to_owned(), |v| significant(v, 4))) }
                td { (significant(refit.coefficients[key], 4)) }
                td { (refit.shift.get(key).map_or("–".to_owned(), |s| signed(*s, 2))) }
            }
        }
    };
    let largest = refit.shift.values().map(|s| s.abs()).fold(0.0, f64::max);
    html! {
        details open[largest > 1.0] {
            summary { "Refitted so that single welds cannot pull it: moved by at most " (numbers::significant(largest, 2)) " standard errors" }
            p.small { (super::verdict::sentence(&refit.method)) }
            (parts::table("Fit and refit", &head, &body))
            @if !refit.downweighted.is_empty() {
                p.small {
                    "Counted for less than half: "
                    (words::listed(&refit.downweighted.iter().take(15).map(|(t, w)| format!("{t} ({})", numbers::percent(*w))).collect::<Vec<_>>()))
                    @if refit.downweighted.len() > 15 { " and " (refit.downweighted.len() - 15) " more" } "."
                }
            }
            (parts::reading(&refit.reading))
        }
    }
}

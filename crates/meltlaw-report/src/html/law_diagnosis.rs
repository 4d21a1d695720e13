//! One law against its trials: pictures, other forms, the refit that single trials cannot pull.

use maud::{Markup, html};
use meltlaw::factors::Factor;
use meltlaw::laws::{BetweenBlocks, Coefficient, FittedLaw};

use super::laws::{scale, unit};
use super::parts::{self, cell, head, short_head, words_head};
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::figures::{Drawn, Figures, candidate_forms};
use crate::numbers::{self, significant};
use crate::words;

/// Each law that has anything to show.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    html! {
        @for ((name, law), drawn) in input.laws.laws.by_name().into_iter().zip(&figures.diagnosis) {
            @if shows_anything(law, drawn) {
                h3 id={ "diagnosis-" (name) } { "The " (words::law(name)) " against its trials" }
                (parts::figures(drawn, true))
                (forms(name, law))
                (effects(name, law))
                (blocks(law))
                (robust(name, law))
            }
        }
    }
}

/// Whether a law has a part of the page; who points at it asks first.
pub(crate) fn shows_anything(law: &FittedLaw, drawn: &[Drawn]) -> bool {
    !drawn.is_empty() || !law.candidates.is_empty() || law.robust.is_some() || law.between_blocks.is_some()
}

fn forms(name: &str, law: &FittedLaw) -> Markup {
    if law.candidates.is_empty() {
        return html! {};
    }
    let remarks = law.candidates.iter().any(|c| c.reason.is_some());
    let head = html! { tr {
        (words_head("form")) (words_head("name in the study")) (short_head("used")) (head("AICc, less is better", ""))
        (head("gain for a left-out weld", "")) (head("left-out welds missed by", "%"))
        (head("upper range missed by", "%")) (head("of what was expected", "times"))
        @if remarks { (words_head("remark")) }
    } };
    let body = html! {
        @for c in &law.candidates {
            @let held_out = c.held_out_range.as_ref();
            tr {
                th.text scope="row" { (words::form(&c.form)) }
                td.text { code { (c.form) } }
                td.text.short { @if c.form == law.form { "yes" } @else { "no" } }
                (cell(c.aicc, 1)) (cell(candidate_forms::gains(law, c)[1], 3))
                (digits(c.leave_one_out_relative.map(|l| 100.0 * l), 3))
                (digits(held_out.map(|h| 100.0 * h.rms_relative), 2)) (digits(held_out.map(|h| h.standardised), 2))
                @if remarks { td.text { (c.reason.as_deref().unwrap_or("")) } }
            }
        }
    };
    html! {
        (parts::table_and_data("Forms tried beside; shown, never chosen by the program", &head, &body, &format!("forms_tried_{name}"), &forms_data(law)))
        p.small {
            "AICc charges the fit for each coefficient; a difference under 2 is none. ‘Upper range’: fitted to the lower three fifths of the range only, held against the rest; "
            "about 1 time what was expected is good, 2 means that the form bends away there. Another form is used only where "
            code { "[laws]" } " in the study names it: picking the best-looking one by these trials would make the stated intervals too narrow."
        }
    }
}

/// What the line would do under each other form, where that is known.
fn effects(name: &str, law: &FittedLaw) -> Markup {
    let known: Vec<_> = law.candidates.iter().filter_map(|c| Some((c, c.line_effect.as_ref()?))).collect();
    if known.is_empty() {
        return html! {};
    }
    let head = html! { tr {
        (words_head("form")) (head("the line would move by at most", "")) (short_head("unit"))
        (head("at wire feed", "m/min")) (head("that is", "standard errors"))
    } };
    let body = html! {
        @for (c, effect) in &known {
            tr {
                th.text scope="row" { (words::form(&c.form)) }
                (digits(Some(effect.value), 2))
                td.text.unit { (effect.unit) }
                (cell(effect.at_wire_feed_m_min, 2)) (digits(effect.standard_errors, 2))
            }
        }
    };
    let rows = known.iter().map(|(c, effect)| {
        let [value, feed] = [effect.value, effect.at_wire_feed_m_min].map(number);
        vec![text(&c.form), value, text(&effect.unit), feed, number(effect.standard_errors)]
    });
    let data = csv(&["form", "line_moves_by", "unit", "at_wire_feed_m_min", "standard_errors"], rows);
    parts::table_and_data(
        "What another form would do to the line",
        &head,
        &body,
        &format!("forms_and_line_{name}"),
        &data,
    )
}

/// A cell with so many significant digits.
fn digits(value: Option<f64>, digits: i32) -> Markup {
    cell(value, numbers::places_of(value.unwrap_or(0.0), digits))
}

fn forms_data(law: &FittedLaw) -> String {
    let columns = [
        "form",
        "used",
        "aicc",
        "log_density_gain",
        "leave_one_out_relative",
        "held_out_rms_relative",
        "held_out_standardised",
        "remark",
    ];
    let rows = law.candidates.iter().map(|c| {
        let held_out = c.held_out_range.as_ref();
        let gain = candidate_forms::gains(law, c)[1];
        let of_range = [held_out.map(|h| h.rms_relative), held_out.map(|h| h.standardised)];
        let numbers = [c.aicc, gain, c.leave_one_out_relative].into_iter().chain(of_range).map(number);
        let used = if c.form == law.form { "yes" } else { "no" };
        let words = [text(&c.form), used.to_owned()];
        words.into_iter().chain(numbers).chain([text(c.reason.as_deref().unwrap_or(""))]).collect()
    });
    csv(&columns, rows)
}

/// What the scatter lies between, in words.
fn levels(blocks: &BetweenBlocks) -> String {
    let factors: Vec<&str> =
        blocks.factors.iter().filter_map(|name| Factor::from_name(name)).map(Factor::levels).collect();
    if factors.is_empty() { Factor::Block.levels().to_owned() } else { factors.join(" and ") }
}

fn blocks(law: &FittedLaw) -> Markup {
    html! {
        @if let Some(blocks) = &law.between_blocks {
            p {
                strong { "Scatter between " (levels(blocks)) ": " } (significant(blocks.effect, 2)) " " (words::unit(&blocks.effect_unit)) ", from " (blocks.blocks)
                " " (levels(blocks)) ". It is in the intervals."
            }
            (parts::reading(&blocks.reading))
        }
    }
}

fn robust(name: &str, law: &FittedLaw) -> Markup {
    let Some(refit) = &law.robust else { return html! {} };
    let head = html! { tr {
        (words_head("coefficient")) (short_head("unit")) (head("fit", "")) (head("refit", "")) (head("moved by", "standard errors"))
    } };
    let known: Vec<(&String, &Coefficient, f64)> = law
        .coefficient_order
        .iter()
        .filter_map(|key| Some((key, law.coefficients.get(key)?, *refit.coefficients.get(key)?)))
        .collect();
    let body = html! {
        @for (key, c, again) in &known {
            @let (power, places) = scale(c);
            @let shown = |value: Option<f64>| cell(value.map(|v| v / 10f64.powi(power)), places);
            tr {
                th.text scope="row" { (words::coefficient(key).0) " " span.soft { (key) } }
                td.text.unit { (unit(&c.unit, power)) }
                (shown(c.value)) (shown(Some(*again))) (cell(refit.shift.get(*key).copied(), 2))
            }
        }
    };
    let rows = known.iter().map(|(key, c, again)| {
        let numbers = [c.value, Some(*again), refit.shift.get(*key).copied()].map(number);
        [text(key), text(&c.unit)].into_iter().chain(numbers).collect()
    });
    let data = csv(&["coefficient", "unit", "fit", "refit", "moved_by_standard_errors"], rows);
    let largest = refit.shift.values().map(|s| s.abs()).fold(0.0, f64::max);
    html! {
        details open[largest > 1.0] {
            summary { "Refitted so that single welds cannot pull it: moved by at most " (numbers::significant(largest, 2)) " standard errors" }
            p.small { (super::verdict::sentence(&refit.method)) }
            (parts::table_and_data("Fit and refit", &head, &body, &format!("refit_{name}"), &data))
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

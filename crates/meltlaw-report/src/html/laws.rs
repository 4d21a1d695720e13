//! Each law: how its fit ended, its coefficients, its figures, the forms tried beside.

use maud::{Markup, html};
use meltlaw::laws::{Coefficient, FittedLaw};

use super::equations::equations;
use super::law_diagnosis;
use super::parts::{self, head};
use super::verdict::sentence;
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::figures::{Drawn, Figures};
use crate::numbers::{self, fixed, power_of_ten, significant};
use crate::words;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    let drawn: [&[Drawn]; 3] = [&figures.burn_off, &[], &figures.arc_voltage];
    html! {
        @for (((name, law), drawn), diagnosis) in input.laws.laws.by_name().into_iter().zip(drawn).zip(&figures.diagnosis) {
            h3 id={ "law-" (name) } { (sentence(words::law(name)).trim_end_matches('.')) }
            (equations(name, law))
            (ended(name, law))
            (coefficients(name, law, input.laws.confidence))
            (stated_beforehand(law))
            (parts::figures(drawn, true))
            @if name == "detachment" && !figures.detachment.is_empty() {
                p { a href="#window" { "The map of the window and the trials on it" } "." }
            }
            (constants(law))
            @if law_diagnosis::shows_anything(law, diagnosis) {
                p.small { a href={ "#diagnosis-" (name) } { "Residuals, influence and other forms of this law" } }
            }
            @for note in &law.notes { p { (sentence(note)) } }
            (trials(name, law))
        }
    }
}

fn ended(name: &str, law: &FittedLaw) -> Markup {
    let used = law.trials_used.len();
    html! {
        p {
            @if law.ended.usable {
                "Usable: " (words::ended(&law.ended.how)) " with " (used) @if used == 1 { " trial" } @else { " trials" }
                " and " (law.degrees_of_freedom) " degrees of freedom. "
            } @else {
                strong { "Not usable: " } (words::ended(&law.ended.how)) ". "
            }
            (sentence(&law.ended.reason))
        }
        @if !law.coefficients.is_empty() {
            p.small {
                "Standard errors rest on " (words::covariance_from(law.covariance_from)) ". "
                @match (law.chi_squared_per_degree, &law.chi_squared_per_degree_reason) {
                    (Some(ratio), _) => { "Scatter against the stated errors: chi-squared per degree of freedom " (significant(ratio, 2)) " (1 means that the stated errors explain it all). " }
                    (None, Some(reason)) => { "No chi-squared per degree of freedom: " (reason) ". " }
                    (None, None) => {}
                }
                @match (law.residual_standard_deviation, &law.residual_standard_deviation_reason) {
                    (Some(spread), _) => { "Spread of the residuals: " (significant(spread, 2)) " " (words::law_unit(name, &law.residual_unit)) "." }
                    (None, Some(reason)) => { "No residual spread: " (reason) "." }
                    (None, None) => {}
                }
            }
        }
    }
}

/// The power of ten that a row of numbers shares, and the places that the error leaves.
fn scale(c: &Coefficient) -> (i32, i32) {
    let error = c.standard_error_with_calibration.or(c.standard_error).unwrap_or(f64::NAN);
    let power = numbers::rounded(c.value.unwrap_or(f64::NAN), error).power;
    let places = if error > 0.0 { numbers::places_for(error / 10f64.powi(power)) } else { 3 };
    (power, places)
}

fn coefficients(name: &str, law: &FittedLaw, confidence: f64) -> Markup {
    if law.coefficients.is_empty() {
        return html! { p { "It has no coefficients." } };
    }
    let head = html! { tr {
        th.text scope="col" { "coefficient" } th.text scope="col" { "unit" } th scope="col" { "value" }
        th scope="col" { "standard error from the trials" } th scope="col" { "with calibration" }
        th scope="col" { (numbers::confidence(confidence)) " interval" } th.text scope="col" { "method" }
    } };
    let body = html! {
        @for (key, c) in ordered(law) {
            @let (symbol, meaning) = words::coefficient(key);
            @let (power, places) = scale(c);
            @let shown = |value: Option<f64>| value.map_or("unknown".to_owned(), |v| fixed(v / 10f64.powi(power), places));
            tr {
                th.text scope="row" { (symbol) " " span.soft { (key) } @if !meaning.is_empty() { br; span.small { (meaning) } } }
                td.text.unit { @if power != 0 { (power_of_ten(power)) " " } (words::unit(&c.unit)) }
                td { (shown(c.value)) }
                td { (shown(c.standard_error)) }
                td { (shown(c.standard_error_with_calibration)) }
                td.number {
                    @match c.interval {
                        [Some(low), Some(high)] => { (shown(Some(low))) " to " (shown(Some(high))) }
                        [Some(low), None] => { "above " (shown(Some(low))) }
                        [None, Some(high)] => { "below " (shown(Some(high))) }
                        [None, None] => { "open" }
                    }
                }
                td.text { (c.interval_method) @if let Some(reason) = &c.reason { " – " (reason) } }
            }
        }
    };
    let rows = ordered(law).into_iter().map(|(key, c)| {
        let numbers =
            [c.value, c.standard_error, c.standard_error_with_calibration, c.interval[0], c.interval[1]].map(number);
        [key.to_owned(), c.unit.clone()].into_iter().chain(numbers).chain([text(&c.interval_method)]).collect()
    });
    let columns = [
        "coefficient",
        "unit",
        "value",
        "standard_error",
        "standard_error_with_calibration",
        "low",
        "high",
        "interval_method",
    ];
    html! {
        (parts::table(&format!("Coefficients of the {}", words::law(name)), &head, &body))
        p.small { (parts::download(&format!("coefficients_{name}"), &csv(&columns, rows))) }
    }
}

/// Prior knowledge that the study states, beside what the trials alone say.
fn stated_beforehand(law: &FittedLaw) -> Markup {
    let stated: Vec<_> = ordered(law).into_iter().filter_map(|(key, c)| Some((key, c, c.prior.as_ref()?))).collect();
    if stated.is_empty() {
        return html! {};
    }
    let head = html! { tr {
        th.text scope="col" { "coefficient" } th.text scope="col" { "unit" } th scope="col" { "stated" }
        th scope="col" { "trials alone" } th scope="col" { "together" } (head("share of the statement", "%"))
        th scope="col" { "apart, standard errors" } th.text scope="col" { "what to do" } th.text scope="col" { "stated from" }
    } };
    let with_error = |value: Option<f64>, error: Option<f64>| match (value, error) {
        (Some(v), Some(e)) => format!("{} ± {}", significant(v, 4), significant(e, 2)),
        (Some(v), None) => significant(v, 4),
        (None, _) => "not determined".to_owned(),
    };
    let body = html! {
        @for (key, c, p) in stated {
            tr {
                th.text scope="row" { (words::coefficient(key).0) }
                td.text { (words::unit(&c.unit)) }
                td { (with_error(Some(p.mean), Some(p.standard_deviation))) }
                td { (with_error(p.without, p.without_standard_error)) }
                td { (with_error(c.value, c.standard_error)) }
                td { (fixed(100.0 * p.share, 0)) }
                td { (p.distance.map_or("–".to_owned(), |d| numbers::signed(d, 1))) }
                td.text { (p.reading.action) }
                td.text { (p.source) }
            }
        }
    };
    html! { (parts::table("Knowledge stated in the study that takes part in the fit (value ± standard error)", &head, &body)) }
}

/// Coefficients in the law's order, then any that the order does not name.
fn ordered(law: &FittedLaw) -> Vec<(&str, &Coefficient)> {
    let named = law.coefficient_order.iter().filter_map(|name| law.coefficients.get_key_value(name));
    let rest = law.coefficients.iter().filter(|(name, _)| !law.coefficient_order.contains(name));
    named.chain(rest).map(|(name, c)| (name.as_str(), c)).collect()
}

fn constants(law: &FittedLaw) -> Markup {
    html! {
        @if let Some(d) = &law.d {
            p.small {
                "As Ipⁿ·tp = D: half of the pulses detach a drop at D = " (significant(d.one_drop.value, 4)) " " (words::unit(&d.one_drop.unit))
                ", and more than one at D = " (significant(d.more_drops.value, 4)) " " (words::unit(&d.more_drops.unit)) "."
            }
        }
        @if let Some(power) = &law.power {
            p.small {
                @match power.instant_resistance_ohm {
                    Some(ohm) => {
                        "Power: measured instant resistance "
                        (numbers::rounded(ohm, power.instant_resistance_ohm_se.unwrap_or(f64::NAN)).to_string()) " Ω; "
                    }
                    None => { "Power: no measured instant resistance" @if let Some(reason) = &power.reason { " (" (reason) ")" } "; " }
                }
                @if power.rule == "law" { "the voltage law read at each instant is used." } @else { "the measured one is used, because power disagrees with the law." }
            }
        }
    }
}

fn trials(name: &str, law: &FittedLaw) -> Markup {
    if law.diagnostics.is_empty() {
        return html! {};
    }
    let places = if name == "detachment" { 3 } else { 2 };
    let unit = words::law_unit(name, &law.residual_unit);
    let head = html! { tr {
        th.text scope="col" { "trial" } (head("measured", unit)) (head("fitted", unit)) (head("difference", unit))
        th scope="col" { "studentised" } th scope="col" { "leverage" } th scope="col" { "Cook’s distance" } th.text scope="col" { "stands out" }
    } };
    let shown = |value: Option<f64>, places: i32| value.map_or("–".to_owned(), |v| fixed(v, places));
    let body = html! {
        @for d in &law.diagnostics {
            tr {
                th.text scope="row" { (d.trial) }
                td { (fixed(d.fitted + d.residual, places)) }
                td { (fixed(d.fitted, places)) }
                td { (numbers::signed(d.residual, places)) }
                td { (shown(d.studentised_residual, 2)) }
                td { (shown(d.leverage, 3)) }
                td { (shown(d.cooks_distance, 3)) }
                td.text { (d.flags.join("; ")) }
            }
        }
    };
    let reasons: std::collections::BTreeSet<&str> =
        law.diagnostics.iter().filter_map(|d| d.reason.as_deref()).collect();
    html! {
        details {
            summary { "All " (law.diagnostics.len()) " trials against the " (words::law(name)) }
            (parts::table(&format!("Trials against the {}", words::law(name)), &head, &body))
            @for reason in reasons { p.small { "Where numbers are missing: " (reason) "." } }
        }
    }
}

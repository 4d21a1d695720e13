//! Each law: how its fit ended, its coefficients, its figures, the forms tried beside.

use maud::{Markup, html};
use meltlaw::laws::{Coefficient, FittedLaw};

use super::equations::equations;
use super::law_diagnosis;
use super::parts::{self, cell, head, short_head, words_head};
use super::verdict::sentence;
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::figures::{Drawn, Figures};
use crate::numbers::{self, power_of_ten, significant};
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
            (stated_beforehand(name, law))
            (parts::figures(drawn, true))
            @if name == "detachment" && !figures.detachment.is_empty() {
                p.goto { a href="#window" { "The map of the window and the trials on it" } "." }
            }
            (constants(law))
            @if law_diagnosis::shows_anything(law, diagnosis) {
                p.small.goto { a href={ "#diagnosis-" (name) } { "Residuals, influence and other forms of this law" } }
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
                "Usable: " (words::ended(&law.ended.how))
                @if !law.is_extended() { " with " (used) @if used == 1 { " trial" } @else { " trials" } }
                " and " (law.degrees_of_freedom) " degrees of freedom. "
            } @else {
                strong { "Not usable: " } (words::ended(&law.ended.how)) ". "
            }
            (sentence(&law.ended.reason))
        }
        @if !law.coefficients.is_empty() && !law.is_extended() {
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
pub(super) fn scale(c: &Coefficient) -> (i32, i32) {
    let error = c.standard_error_with_calibration.or(c.standard_error).unwrap_or(f64::NAN);
    let power = numbers::rounded(c.value.unwrap_or(f64::NAN), error).power;
    let places = if error > 0.0 { numbers::places_for(error / 10f64.powi(power)) } else { 3 };
    (power, places)
}

fn coefficients(name: &str, law: &FittedLaw, confidence: f64) -> Markup {
    if law.coefficients.is_empty() {
        return html! { p { "It has no coefficients." } };
    }
    let level = numbers::confidence(confidence);
    let head = html! { tr {
        (words_head("coefficient")) (words_head("meaning")) (short_head("unit")) (head("value", ""))
        (head("standard error from the trials", "")) (head("with calibration", ""))
        (head(&format!("{level} low"), "")) (head(&format!("{level} high"), "")) (words_head("interval by"))
    } };
    let body = html! {
        @for (key, c) in ordered(law) {
            @let (symbol, meaning) = words::coefficient(key);
            @let (power, places) = scale(c);
            @let shown = |value: Option<f64>| cell(value.map(|v| v / 10f64.powi(power)), places);
            tr {
                th.text scope="row" { (symbol) " " span.soft { (key) } }
                td.text { (meaning) }
                td.text.unit { (unit(&c.unit, power)) }
                (shown(c.value)) (shown(c.standard_error)) (shown(c.standard_error_with_calibration))
                (shown(c.interval[0])) (shown(c.interval[1]))
                td.text {
                    (c.interval_method)
                    @match c.interval {
                        [Some(_), Some(_)] => {}
                        [Some(_), None] => { ", open above" }
                        [None, Some(_)] => { ", open below" }
                        [None, None] => { ", open" }
                    }
                    @if let Some(reason) = &c.reason { " – " (reason) }
                }
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
    let caption = format!("Coefficients of the {}", words::law(name));
    parts::table_and_data(&caption, &head, &body, &format!("coefficients_{name}"), &csv(&columns, rows))
}

/// A unit with the power of ten that was taken out of the numbers.
pub(super) fn unit(of: &str, power: i32) -> String {
    let unit = words::unit(of);
    if power == 0 { unit } else { format!("{} {unit}", power_of_ten(power)) }
}

/// Prior knowledge that the study states, beside what the trials alone say.
fn stated_beforehand(name: &str, law: &FittedLaw) -> Markup {
    let stated: Vec<_> = ordered(law).into_iter().filter_map(|(key, c)| Some((key, c, c.prior.as_ref()?))).collect();
    if stated.is_empty() {
        return html! {};
    }
    let head = html! { tr {
        (words_head("coefficient")) (short_head("unit")) (head("stated", "")) (head("its standard deviation", ""))
        (head("trials alone", "")) (head("their standard error", "")) (head("together", "")) (head("share of the statement", "%"))
        (head("apart", "standard errors")) (words_head("what to do")) (words_head("stated from"))
    } };
    let body = html! {
        @for (key, c, p) in &stated {
            @let (power, places) = scale(c);
            @let of = |value: Option<f64>| value.map(|v| v / 10f64.powi(power));
            @let (stated_error, alone_error) = (of(Some(p.standard_deviation)), of(p.without_standard_error));
            @let [stated_places, alone_places] = [stated_error, alone_error].map(|e| e.map_or(places, numbers::places_for));
            tr {
                th.text scope="row" { (words::coefficient(key).0) " " span.soft { (key) } }
                td.text.unit { (unit(&c.unit, power)) }
                (cell(of(Some(p.mean)), stated_places)) (cell(stated_error, stated_places))
                (cell(of(p.without), alone_places)) (cell(alone_error, alone_places))
                (cell(of(c.value), places)) (cell(100.0 * p.share, 0)) (cell(p.distance, 1))
                td.text { (p.reading.action) @if let Some(reason) = &p.reason { " – " (reason) } }
                td.text { (p.source) }
            }
        }
    };
    let columns =
        ["coefficient", "unit", "stated", "stated_sd", "trials_alone", "trials_alone_se", "share", "distance"];
    let rows = stated.iter().map(|(key, c, p)| {
        let stated = [Some(p.mean), Some(p.standard_deviation), p.without, p.without_standard_error];
        let numbers = stated.into_iter().chain([Some(p.share), p.distance]).map(number);
        [text(key), text(&c.unit)].into_iter().chain(numbers).collect()
    });
    let caption = "Knowledge stated in the study that takes part in the fit";
    parts::table_and_data(caption, &head, &body, &format!("stated_{name}"), &csv(&columns, rows))
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
    let usual = if name == "detachment" { 3 } else { 2 };
    let places = law.residual_standard_deviation.map_or(usual, numbers::places_for);
    let unit = words::law_unit(name, &law.residual_unit);
    let head = html! { tr {
        (words_head("trial")) (head("measured", unit)) (head("fitted", unit)) (head("difference", unit))
        (head("studentised", "")) (head("leverage", "")) (head("Cook’s distance", "")) (words_head("stands out"))
    } };
    let body = html! {
        @for d in &law.diagnostics {
            tr {
                th.text scope="row" { (d.trial) }
                (cell(d.fitted + d.residual, places)) (cell(d.fitted, places)) (cell(d.residual, places))
                (cell(d.studentised_residual, 2)) (cell(d.leverage, 3)) (cell(d.cooks_distance, 3))
                td.text { (d.flags.join("; ")) }
            }
        }
    };
    let columns =
        ["trial", "measured", "fitted", "residual", "studentised_residual", "leverage", "cooks_distance", "flags"];
    let rows = law.diagnostics.iter().map(|d| {
        let values = [Some(d.fitted + d.residual), Some(d.fitted), Some(d.residual)];
        let numbers = values.into_iter().chain([d.studentised_residual, d.leverage, d.cooks_distance]).map(number);
        std::iter::once(text(&d.trial)).chain(numbers).chain([text(&d.flags.join("; "))]).collect()
    });
    let data = csv(&columns, rows);
    let reasons: std::collections::BTreeSet<&str> =
        law.diagnostics.iter().filter_map(|d| d.reason.as_deref()).collect();
    html! {
        details {
            summary { "All " (law.diagnostics.len()) " trials against the " (words::law(name)) }
            (parts::table_and_data(&format!("Trials against the {}", words::law(name)), &head, &body, &format!("trials_{name}"), &data))
            @for reason in reasons { p.small { "Where numbers are missing: " (reason) "." } }
        }
    }
}

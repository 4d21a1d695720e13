//! Measured against fitted, and what the law leaves: the spread against the stated errors, the trial farthest
//! off, how many lie outside the band.

use meltlaw::in_words::probability;
use meltlaw::laws::{FittedLaw, Reading, TrialDiagnostic};

use super::super::diagnosed::shortened;
use super::super::measured_fitted::What;
use super::{asked, counted, made, name_list, nothing, said};
use crate::numbers::{fixed, places_for, signed, significant};
use crate::words;

/// Share of normal residuals beyond twice their spread: 2·(1 − Φ(2)).
const BEYOND_TWO_SPREADS: f64 = 0.0455;
/// Tests of what the residuals show along the range.
const ALONG: [&str; 4] = ["outliers", "heteroscedasticity", "lack_of_fit", "normality"];

/// Points along the line of agreement.
pub(in crate::figures) fn against(law: &FittedLaw, trials: &[&TrialDiagnostic], what: &What) -> Reading {
    let expected = "the points lie along the line on both sides of it, no farther off than the stated errors let them";
    let farthest = farthest(trials, |d| what.factor * d.residual).map_or(String::new(), |(trial, off)| {
        format!("; farthest off is {trial} with {} {}", signed(off, places(off)), what.unit)
    });
    if let Some(seen) = nothing_left(law, trials) {
        return Reading::new(expected, seen, "weld more trials");
    }
    let spread = match (law.residual_standard_deviation, &law.residual_standard_deviation_reason) {
        (Some(s), _) if s.is_finite() => {
            format!("scatter about the line by {} {}", significant(what.factor * s, 2), what.unit)
        }
        (_, Some(reason)) => format!("have no known spread ({reason})"),
        _ => "have no known spread".to_owned(),
    };
    let tested = made(law, "stated_errors");
    let ratio = tested.and_then(|t| t.effect).or_else(|| law.chi_squared_per_degree.map(f64::sqrt));
    let stated = match (ratio.filter(|r| r.is_finite()), &law.chi_squared_per_degree_reason) {
        (Some(ratio), _) => {
            let p = tested.and_then(|t| t.p_value).map_or(String::new(), |p| format!(", {}", held_together(p)));
            let per_degree = format!("chi-squared per degree of freedom {}", significant(ratio * ratio, 2));
            format!("{} times what the stated errors alone would make them ({per_degree}{p})", fixed(ratio, 2))
        }
        (None, Some(reason)) => format!("not held against stated errors: {reason}"),
        (None, None) => "not held against stated errors".to_owned(),
    };
    let [low, high] = ends(trials.iter().map(|d| what.factor * (d.fitted + d.residual)));
    let seen = format!(
        "{} from {} to {} {} {spread}; the residuals are {stated}{farthest}",
        counted(trials.len()),
        fixed(low, 1),
        fixed(high, 1),
        what.unit
    );
    let action = if law.ended.usable {
        asked(law, &["stated_errors"]).unwrap_or_else(|| nothing(law, &["stated_errors"]))
    } else {
        format!("do not use this law: {}", law.ended.reason)
    };
    Reading::new(expected, seen, action)
}

/// Residuals along the range, with the band of twice their spread.
pub(in crate::figures) fn residuals(law: &FittedLaw, trials: &[&TrialDiagnostic], what: &What, spread: f64) -> Reading {
    let expected = "the points lie around zero without slope, bend or funnel, about one in twenty outside the band";
    if let Some(seen) = nothing_left(law, trials) {
        return Reading::new(expected, seen, "weld more trials");
    }
    let outside = trials.iter().filter(|d| (what.residual)(d).abs() > 2.0 * spread).count();
    let mut parts = vec![format!(
        "{outside} of {} trials {} outside the band; chance alone brings {}",
        trials.len(),
        if outside == 1 { "lies" } else { "lie" },
        by_chance(BEYOND_TWO_SPREADS * trials.len() as f64)
    )];
    parts.extend(farthest(trials, what.residual).map(|(trial, off)| {
        let size = format!("{} {}", signed(off, places(off)), what.residual_unit);
        format!("farthest off is {trial} with {size}{}", in_trade_units(trials, &trial, what))
    }));
    if let Some(funnel) = made(law, "heteroscedasticity") {
        parts.push(said(law, funnel));
    }
    for name in ["outliers", "lack_of_fit", "normality"] {
        parts.extend(
            made(law, name).filter(|t| t.reading.asks()).map(|t| format!("{}: {}", words::test(name), said(law, t))),
        );
    }
    let flagged: Vec<&str> = trials.iter().filter(|d| !d.flags.is_empty()).map(|d| d.trial.as_str()).collect();
    if !flagged.is_empty() && made(law, "outliers").is_none_or(|t| !t.reading.asks()) {
        parts.push(format!("flagged: {}", name_list(flagged)));
    }
    Reading::new(expected, parts.join("; "), asked(law, &ALONG).unwrap_or_else(|| nothing(law, &ALONG)))
}

/// Where the law has taken up all that the trials can say.
fn nothing_left(law: &FittedLaw, trials: &[&TrialDiagnostic]) -> Option<String> {
    (law.degrees_of_freedom == 0).then(|| {
        format!(
            "with {} and {} coefficients no degree of freedom is left, so how near the points lie says nothing of the law",
            counted(trials.len()),
            law.coefficient_order.len()
        )
    })
}

/// The trial with the largest of what `of` gives, and that.
fn farthest(trials: &[&TrialDiagnostic], of: impl Fn(&TrialDiagnostic) -> f64) -> Option<(String, f64)> {
    let largest = trials.iter().max_by(|a, b| of(a).abs().total_cmp(&of(b).abs()))?;
    Some((shortened(&largest.trial, 40), of(largest)))
}

/// ` (−0.19 m/min)`, where the residual is shown in another unit than the quantity.
fn in_trade_units(trials: &[&TrialDiagnostic], name: &str, what: &What) -> String {
    let trial = trials.iter().find(|d| shortened(&d.trial, 40) == name).filter(|_| what.unit != what.residual_unit);
    trial.map_or(String::new(), |d| {
        let off = what.factor * d.residual;
        format!(" ({} {})", signed(off, places(off)), what.unit)
    })
}

fn places(off: f64) -> i32 {
    places_for(off.abs()).clamp(0, 3)
}

fn ends(values: impl Iterator<Item = f64>) -> [f64; 2] {
    values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [low.min(v), high.max(v)])
}

/// How many chance brings, in words where it is less than two.
fn by_chance(expected: f64) -> String {
    match expected {
        e if e < 0.5 => "none as a rule".to_owned(),
        e if e < 1.5 => "about one".to_owned(),
        e => format!("about {}", fixed(e, 0)),
    }
}

fn held_together(p: f64) -> String {
    probability(p).replace(' ', "\u{a0}")
}

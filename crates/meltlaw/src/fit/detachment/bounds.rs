//! What the counts say where they cannot determine the law: bounds at best, always with the reason and the trial
//! that would cure it.

use nalgebra::DMatrix;

use super::select::CountedSelection;
use super::{Outcome, seen};
use crate::fit::ordered_logit::CountedTrial;
use crate::fit::separation::Seen;

/// What the data say where there is no fit.
#[derive(Debug, Clone, Default)]
pub struct Bounds {
    /// How it ended, one word.
    pub how: &'static str,
    /// Why, and the trial that would cure it.
    pub reason: String,
    /// n, k where a single threshold could be fitted.
    pub single: Option<SingleThreshold>,
    /// Pulse time at I₀ between which the first threshold lies.
    pub one_drop_from_ms: [Option<f64>; 2],
    /// Pulse time at I₀ between which the second threshold lies.
    pub more_drops_from_ms: [Option<f64>; 2],
}

/// A law with one of its thresholds.
#[derive(Debug, Clone)]
pub struct SingleThreshold {
    /// (n, ln k, s, –, ln τ).
    pub q: [f64; 5],
    /// Covariance of (n, ln k, s).
    pub covariance_q: DMatrix<f64>,
    /// Whether it is the first threshold.
    pub first: bool,
    /// Trials less three.
    pub degrees_of_freedom: usize,
}

pub(super) fn too_few_trials(n: usize, more: usize) -> Outcome {
    bounded(
        "too_few_trials",
        &format!(
            "{n} counted trial(s) cannot determine four coefficients and their scatter: count the drops of at least {more} more, across both thresholds"
        ),
    )
}

pub(super) fn bounded(how: &'static str, reason: &str) -> Outcome {
    Outcome::Bounded(Box::new(Bounds { how, reason: reason.to_owned(), ..Bounds::default() }))
}

pub(super) fn one_class_only(selection: &CountedSelection, any: Seen) -> Option<Outcome> {
    let times: Vec<f64> = selection.read.iter().map(|r| r.log_time.exp()).collect();
    let [shortest, longest] = crate::statistics::range(times);
    let tested = format!("pulse times from {shortest:.2} to {longest:.2} ms");
    let reason = match (any.none, any.one, any.more) {
        (false, true, false) => format!(
            "every counted pulse detached one drop ({tested}): both thresholds lie outside what was tried; weld shorter pulses until some detach none and longer ones until some detach two"
        ),
        (true, false, false) => format!(
            "no counted pulse detached a drop ({tested}): weld longer pulses until all detach one and some detach two"
        ),
        (false, false, true) => format!(
            "every counted pulse detached more than one drop ({tested}): weld shorter pulses until some detach none"
        ),
        (true, false, true) => format!(
            "no counted pulse detached exactly one drop ({tested}): weld pulse times between those without a drop and those with more"
        ),
        _ => return None,
    };
    Some(bounded("one_class", &reason))
}

/// Exponents with which pulse times are carried to I₀ where the counts do not tell n: the band of the literature
/// (from memory; see the plausibility of the exponent).
const USUAL_EXPONENTS: [f64; 3] = [1.5, 2.0, 2.5];

/// Bounds where the classes hardly overlap: each threshold lies between settings on whose side no pulse
/// disagrees.
pub(super) fn separated_outcome(trials: &[CountedTrial], any: Seen) -> Outcome {
    let pure = |keep: &dyn Fn(Seen) -> bool, exponent: f64| -> Vec<f64> {
        trials.iter().filter(|t| keep(seen(t.count))).map(|t| exponent * t.log_current + t.log_time).collect()
    };
    let gap = |below: &dyn Fn(Seen) -> bool, above: &dyn Fn(Seen) -> bool| -> [Option<f64>; 2] {
        let ends = USUAL_EXPONENTS.map(|n| {
            let low = pure(below, n).into_iter().max_by(f64::total_cmp);
            let high = pure(above, n).into_iter().min_by(f64::total_cmp);
            match (low, high) {
                (Some(l), Some(h)) if l > h => (Some(h), Some(l)),
                other => other,
            }
        });
        let low = ends.iter().filter_map(|e| e.0).min_by(f64::total_cmp);
        let high = ends.iter().filter_map(|e| e.1).max_by(f64::total_cmp);
        [low.map(f64::exp), high.map(f64::exp)]
    };
    let one = if any.none {
        gap(&|s| s.none && !s.one && !s.more, &|s| !s.none)
    } else {
        [None, gap(&|_| false, &|s| !s.none)[1]]
    };
    let more = if any.more {
        gap(&|s| !s.more, &|s| s.more && !s.one && !s.none)
    } else {
        [gap(&|s| !s.more, &|_| false)[0], None]
    };
    let text = |name: &str, [low, high]: [Option<f64>; 2]| match (low, high) {
        (Some(l), Some(h)) => format!("{name} between {l:.2} and {h:.2} ms"),
        (None, Some(h)) => format!("{name} below {h:.2} ms"),
        (Some(l), None) => format!("{name} above {l:.2} ms"),
        (None, None) => format!("{name} unknown"),
    };
    let middle = [one, more]
        .iter()
        .filter_map(|[l, h]| Some(format!("{:.2} ms", (l.as_ref()? * h.as_ref()?).sqrt())))
        .collect::<Vec<_>>()
        .join(" and ");
    Outcome::Bounded(Box::new(Bounds {
        how: "separated",
        reason: format!(
            "hardly a setting shows two kinds of pulses side by side, so the steepness cannot be told. At the reference current (carried there with exponents of 1.5 to 2.5): {}; {}. Weld two settings between these times{}, 100 pulses each",
            text("one drop from", one),
            text("more drops from", more),
            if middle.is_empty() { String::new() } else { format!(", near {middle}") }
        ),
        single: None,
        one_drop_from_ms: one,
        more_drops_from_ms: more,
    }))
}

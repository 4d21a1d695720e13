//! The detachment law from counted drops: `select` chooses the trials, `bounds` says what stands in the way of a
//! fit, `single` fits one threshold where a class was never seen.

mod bounds;
mod select;
mod single;

pub use bounds::{Bounds, SingleThreshold};
pub use select::{CountedSelection, select};

use nalgebra::DMatrix;

use super::newton::{CurvedMinimum, minimise};
use super::ordered_logit::{Count, CountedTrial, Likelihood};
use super::prior_on_counts::{
    EXPONENT, MORE_DROPS, ONE_DROP, PriorOnCounts, SCATTER, STEEPNESS, WithPrior, about, coefficients_stated, penalty,
};
use super::prior_rows::FEWEST_DEGREES;
use super::reliability::correct;
use super::scatter::ScatterProfile;
use super::separation::{Seen, separated};
use crate::statistics::{GaussHermite, quantile};
use crate::study::ScatterFrom;
use bounds::{bounded, one_class_only, separated_outcome, too_few_trials};
use single::fit_single;

/// Points of the adaptive quadrature: the worked example keeps its tolerances of 1e-6 with a margin of a thousand.
pub const QUADRATURE_POINTS: usize = 21;

/// A fitted detachment law.
#[derive(Debug, Clone)]
pub struct DetachmentFit {
    /// (n, ln k, s1, ln(s2 − s1), ln τ); ln τ = −∞ where τ is at its boundary.
    pub q: [f64; 5],
    /// Covariance of q by the observed information; zero for ln τ at the boundary.
    pub covariance_q: DMatrix<f64>,
    /// Covariance of (n, ln k, s1, ln(s2 − s1)) by counting alone.
    pub counting_covariance_q: DMatrix<f64>,
    /// Trials less four; with prior knowledge, less what of the four rests on the trials, rounded down.
    pub degrees_of_freedom: usize,
    /// Likelihood ratio of τ against 0.
    pub scatter_likelihood_ratio: f64,
    /// How τ was estimated.
    pub scatter_from: ScatterFrom,
    /// Where Wald's interval of τ fails: its upper limit by the profile, `None` inside where the counts do not
    /// bound it.
    pub scatter_upper: Option<Option<f64>>,
    /// The trials as the likelihood sees them.
    pub trials: Vec<CountedTrial>,
    /// Prior knowledge that took part.
    pub prior: Vec<PriorOnCounts>,
}

/// The outcome of a fit.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// All coefficients.
    Fitted(Box<DetachmentFit>),
    /// Bounds at best.
    Bounded(Box<Bounds>),
}

/// Fits the law, or says what stands in the way.
///
/// # Source
/// Marginal maximum likelihood of the ordered logit with normal trial scatter; see
/// [`super::ordered_logit`].
pub fn fit(selection: &CountedSelection, confidence: f64, from: ScatterFrom, start: Option<&[f64; 5]>) -> Outcome {
    let n = selection.used.len();
    if n == 0 {
        return bounded(
            "no_counts",
            "no trial has counted drops with pulse current and pulse time: count the drops of at least eight trials that sweep the pulse time across both thresholds at two or more pulse currents",
        );
    }
    let seen: Vec<Seen> = selection.counts.iter().map(|c| seen(*c)).collect();
    let any = seen.iter().fold(Seen::default(), |a, s| Seen {
        none: a.none || s.none,
        one: a.one || s.one,
        more: a.more || s.more,
    });
    if let Some(outcome) = one_class_only(selection, any) {
        return outcome;
    }
    let prior = &selection.prior;
    if n + prior.len() < 5 {
        return too_few_trials(n, 5 - n - prior.len());
    }
    let corrected = correct(&selection.read);
    // Below a true spread of 1 % the exponent would rest on the current's own error.
    if corrected.true_current_variance.sqrt() < 0.01 && about(prior, EXPONENT).is_none() {
        return bounded(
            "one_pulse_current",
            "the pulse current hardly varies over the counted trials, so the exponent cannot be told: repeat the sweep of the pulse time at a pulse current 15 % lower or higher",
        );
    }
    let trials: Vec<CountedTrial> = corrected
        .settings
        .iter()
        .zip(&selection.counts)
        .map(|(s, &count)| CountedTrial { log_current: s.log_current, log_time: s.log_time, unknown: s.unknown, count })
        .collect();
    let settings: Vec<(f64, f64)> = selection.read.iter().map(|r| (r.log_current, r.log_time)).collect();
    let both = any.none && any.more;
    // Where no pulse failed to detach a drop, one against more is the only threshold that counts speak of.
    let classes: Vec<Seen> =
        if any.none { seen } else { seen.iter().map(|s| Seen { none: s.one, one: s.more, more: false }).collect() };
    let rule = GaussHermite::new(QUADRATURE_POINTS);
    let separated = separated(&settings, &classes, both);
    if separated && about(prior, STEEPNESS).is_none() {
        return separated_outcome(&trials, any);
    }
    let one_known = any.none || about(prior, ONE_DROP).is_some();
    let more_known = any.more || about(prior, MORE_DROPS).is_some();
    let outcome = if one_known && more_known {
        fit_both(trials.clone(), prior, any, &rule, confidence, from, start)
    } else {
        fit_single(&trials, prior, &rule, any, confidence)
    };
    match outcome {
        Outcome::Bounded(b) if separated && b.how == "not_converged" => separated_outcome(&trials, any),
        other => other,
    }
}

pub(super) fn seen(count: Count) -> Seen {
    match count {
        Count::Classes { none, one, more } => Seen { none: none > 0.0, one: one > 0.0, more: more > 0.0 },
        Count::Totals { drops, pulses } => {
            Seen { none: drops < pulses, one: drops > 0.0 && drops < 2.0 * pulses, more: drops > pulses }
        }
    }
}

/// Pooled starting values: thresholds where the pooled shares of classes put them.
fn start_values(trials: &[CountedTrial]) -> [f64; 5] {
    let mut none = 0.0;
    let mut more = 0.0;
    let mut all = 0.0;
    let mut positions: Vec<f64> = trials.iter().map(|t| 2.0 * t.log_current + t.log_time).collect();
    for t in trials {
        let [n0, _, n2] = shares(t.count);
        none += n0;
        more += n2;
        all += 1.0;
    }
    let s1 = quantile(&mut positions, (none / all).clamp(0.05, 0.95));
    let s2 = quantile(&mut positions, (1.0 - more / all).clamp(0.05, 0.95));
    [2.0, 5.0_f64.ln(), s1, (s2 - s1).max(0.2).ln(), f64::NEG_INFINITY]
}

/// The same, but a threshold that no count brackets starts where it is stated.
fn start_values_with(trials: &[CountedTrial], prior: &[PriorOnCounts], any: Seen) -> [f64; 5] {
    let mut q = start_values(trials);
    if let Some(s) = about(prior, STEEPNESS) {
        q[1] = s.centre;
    }
    if let Some(s) = about(prior, ONE_DROP).filter(|_| !any.none) {
        q[2] = s.centre;
    }
    if let Some(s) = about(prior, MORE_DROPS).filter(|_| !any.more) {
        q[3] = (s.centre - q[2]).max(0.2).ln();
    }
    q
}

fn shares(count: Count) -> [f64; 3] {
    match count {
        Count::Classes { none, one, more } => {
            let all = none + one + more;
            [none / all, one / all, more / all]
        }
        Count::Totals { drops, pulses } => {
            let mean = drops / pulses;
            if mean <= 1.0 { [1.0 - mean, mean, 0.0] } else { [0.0, 2.0 - mean, mean - 1.0] }
        }
    }
}

fn fit_both(
    trials: Vec<CountedTrial>,
    prior: &[PriorOnCounts],
    any: Seen,
    rule: &GaussHermite,
    confidence: f64,
    from: ScatterFrom,
    start: Option<&[f64; 5]>,
) -> Outcome {
    let profile = ScatterProfile { trials: &trials, rule, from, prior };
    let with_prior = |likelihood: &Likelihood<'_>, start: &[f64], longest: f64| {
        minimise(&WithPrior { likelihood, prior }, start, longest)
    };
    let begin = start.copied().unwrap_or_else(|| start_values_with(&trials, prior, any));
    let still = with_scatter(begin, f64::NEG_INFINITY);
    let first =
        best_of_starts(&profile.likelihood(vec![0, 1, 2, 3], still, true), &begin[..4], start.is_none(), &with_prior);
    let without = first.converged.then(|| profile.at(f64::NEG_INFINITY, &first.x)).flatten();
    let Some(without) = without else {
        return bounded(
            "not_converged",
            "the likelihood of the counts has no maximum that could be found: look at the counts for a swapped column, and count more pulses near the thresholds",
        );
    };
    let flat = || bounded("not_converged", "the likelihood is flat: count more pulses near the thresholds");
    let counting = with_prior(&profile.likelihood(vec![0, 1, 2, 3], still, false), &without.best.x, 1.0);
    let Some(counting_covariance_q) = counting.inverse_hessian() else { return flat() };
    let interior = profile.minimum(&without, start.map(|s| s[4]).filter(|log_tau| log_tau.is_finite()));
    let scatter_stated = about(prior, SCATTER);
    if interior.is_none() && scatter_stated.is_some() {
        return bounded(
            "not_converged",
            "the counts and the stated trial_scatter contradict each other so far that no maximum was found: look at the statement's unit",
        );
    }
    let ratio = interior.as_ref().map_or(0.0, |m| {
        let of_scatter = scatter_stated.map_or(0.0, |s| penalty(&[s], &profile.full(m)));
        2.0 * (without.value - m.value + of_scatter).max(0.0)
    });
    let best = interior.unwrap_or(without);
    let q = profile.full(&best);
    let mut covariance_q = DMatrix::zeros(5, 5);
    let whole = if q[4].is_finite() { profile.covariance(&best) } else { None };
    match whole {
        Some(c) => covariance_q.copy_from(&c),
        // τ at its boundary, or so near that the likelihood no longer curves: the others at this τ.
        None => {
            let Some(c) = best.best.inverse_hessian() else { return flat() };
            covariance_q.view_mut((0, 0), (4, 4)).copy_from(&c);
        }
    }
    let log_tau_se = covariance_q[(4, 4)].sqrt();
    let weak = !(log_tau_se > 0.0 && log_tau_se <= WALD_FAILS_ABOVE) && scatter_stated.is_none();
    let scatter_upper = weak.then(|| profile.upper_limit(&best, confidence));
    let degrees = trials.len() as f64 - 4.0 + coefficients_stated(prior, &q, &covariance_q);
    if degrees < FEWEST_DEGREES {
        return too_few_trials(trials.len(), 1);
    }
    Outcome::Fitted(Box::new(DetachmentFit {
        q,
        covariance_q,
        counting_covariance_q,
        // 1e-6: what rounding may leave below a whole number.
        degrees_of_freedom: (degrees + 1e-6).floor().max(1.0) as usize,
        scatter_likelihood_ratio: ratio,
        scatter_from: from,
        scatter_upper,
        prior: prior.to_vec(),
        trials,
    }))
}

/// Standard error of ln τ above which its normal approximation means nothing: at 0.5 the two-sided 95 %
/// interval already spans a factor of 7.
pub const WALD_FAILS_ABOVE: f64 = 0.5;

fn with_scatter(mut q: [f64; 5], log_tau: f64) -> [f64; 5] {
    q[4] = log_tau;
    q
}

/// The lowest of several descents: the likelihood without scatter has one maximum for classes, but
/// totals can have more.
fn best_of_starts(
    likelihood: &Likelihood<'_>,
    begin: &[f64],
    several: bool,
    minimise: &impl Fn(&Likelihood<'_>, &[f64], f64) -> CurvedMinimum,
) -> CurvedMinimum {
    let mut best = minimise(likelihood, begin, 1.0);
    let totals = likelihood.trials.iter().any(|t| matches!(t.count, Count::Totals { .. }));
    if !several || (best.converged && !totals) {
        return best;
    }
    for (n, k) in [(1.5, 10.0), (2.5, 10.0), (2.0, 20.0), (2.0, 2.0)] {
        let mut start = begin.to_vec();
        start[0] = n;
        start[1] = f64::ln(k);
        let other = minimise(likelihood, &start, 0.5);
        if other.converged && (!best.converged || other.value < best.value - 1e-9) {
            best = other;
        }
    }
    best
}

/// ln τ from which to descend, or `None` where every trial value is less likely than no scatter.
pub(super) fn scatter_start(
    likelihood: &Likelihood<'_>,
    q: [f64; 5],
    without: f64,
    start: Option<&[f64; 5]>,
) -> Option<f64> {
    if let Some(start) = start.filter(|s| s[4].is_finite()) {
        return Some(start[4]);
    }
    [3e-4, 3e-3, 0.01, 0.02, 0.04, 0.08, 0.15, 0.3, 0.6]
        .into_iter()
        .map(|tau: f64| (tau.ln(), likelihood.value(&with_scatter(q, tau.ln()))))
        .filter(|(_, value)| *value > without)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(log_tau, _)| log_tau)
}

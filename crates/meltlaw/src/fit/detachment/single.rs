//! One threshold fitted alone where a class was never seen.

use super::bounds::{Bounds, SingleThreshold, bounded};
use super::{Outcome, scatter_start, start_values};
use crate::fit::newton::minimise;
use crate::fit::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use crate::fit::prior_on_counts::{PriorOnCounts, SCATTER, WithPrior, about, for_one_threshold, penalty};
use crate::fit::scatter::SMALLEST_SCATTER;
use crate::fit::separation::Seen;
use crate::statistics::{GaussHermite, normal_quantile};

/// One class never seen: the other threshold is fitted alone, the missing one is bounded from one side.
pub(super) fn fit_single(
    trials: &[CountedTrial],
    prior: &[PriorOnCounts],
    rule: &GaussHermite,
    any: Seen,
    confidence: f64,
) -> Outcome {
    let first = any.none;
    let prior = for_one_threshold(prior, first);
    let minimise = |likelihood: &Likelihood<'_>, start: &[f64], longest: f64| {
        minimise(&WithPrior { likelihood, prior: &prior }, start, longest)
    };
    let binary: Vec<CountedTrial> = trials
        .iter()
        .map(|t| {
            let (no, yes) = match (t.count, first) {
                (Count::Classes { none, one, more }, true) => (none, one + more),
                (Count::Classes { none, one, more }, false) => (none + one, more),
                (Count::Totals { drops, pulses }, true) => (pulses - drops, drops),
                (Count::Totals { drops, pulses }, false) => (2.0 * pulses - drops, drops - pulses),
            };
            CountedTrial { count: Count::Classes { none: no, one: yes, more: 0.0 }, ..*t }
        })
        .collect();
    let begin = start_values(&binary);
    let problem = |free: Vec<usize>, fixed: [f64; 5]| Likelihood {
        trials: &binary,
        rule,
        thresholds: Thresholds::Single,
        with_unknown: true,
        free,
        fixed,
    };
    let without = minimise(&problem(vec![0, 1, 2], begin), &begin[..3], 1.0);
    let missing = if first { "detached more than one drop" } else { "failed to detach a drop" };
    let Some(mut covariance_q) = without.inverse_hessian().filter(|_| without.converged) else {
        return bounded(
            "not_converged",
            &format!(
                "no counted pulse {missing}, and the counts do not determine the other threshold either: count more pulses near it"
            ),
        );
    };
    let mut q = [without.x[0], without.x[1], without.x[2], 0.0, f64::NEG_INFINITY];
    let scatter_stated = about(&prior, SCATTER);
    let log_tau = scatter_start(&problem(vec![], q), q, penalty(&prior, &q) - without.value, None);
    if let Some(log_tau) = log_tau.or_else(|| scatter_stated.map(|s| s.centre)) {
        let with = minimise(&problem(vec![0, 1, 2, 4], q), &[q[0], q[1], q[2], log_tau], 1.0);
        if let Some(c) = with.inverse_hessian().filter(|_| with.converged && with.x[3].exp() > SMALLEST_SCATTER) {
            q = [with.x[0], with.x[1], with.x[2], 0.0, with.x[3]];
            covariance_q = c;
        }
    }
    let bound = missing_threshold(&binary, &q, first, confidence);
    let (one, more) =
        if first { ([Some(q[2].exp()); 2], [Some(bound), None]) } else { ([None, Some(bound)], [Some(q[2].exp()); 2]) };
    let cure = if first {
        "weld longer pulses until some detach two drops"
    } else {
        "weld shorter pulses until some detach none"
    };
    Outcome::Bounded(Box::new(Bounds {
        how: "one_threshold",
        reason: format!(
            "no counted pulse {missing}, so that threshold is only bounded ({} {bound:.2} ms at the reference current): {cure}",
            if first { "above" } else { "below" }
        ),
        single: Some(SingleThreshold {
            q,
            covariance_q: covariance_q.view((0, 0), (3, 3)).into_owned(),
            first,
            degrees_of_freedom: trials.len().saturating_sub(3).max(1),
        }),
        one_drop_from_ms: one,
        more_drops_from_ms: more,
    }))
}

/// One-sided bound of the threshold that was never crossed: where the counts would be as unlikely as the
/// confidence allows, the other coefficients held.
fn missing_threshold(trials: &[CountedTrial], q: &[f64; 5], first: bool, confidence: f64) -> f64 {
    let z = normal_quantile(confidence);
    let k = q[1].exp();
    let positions: Vec<(f64, f64)> = trials
        .iter()
        .map(|t| {
            let pulses = match t.count {
                Count::Classes { none, one, more } => {
                    if first {
                        one
                    } else {
                        none + one + more
                    }
                }
                Count::Totals { pulses, .. } => pulses,
            };
            (q[0] * t.log_current + t.log_time, pulses)
        })
        .collect();
    let loss = |s: f64| -> f64 {
        positions
            .iter()
            .map(|(at, pulses)| {
                let a = if first { k * (at - s) } else { k * (s - at) };
                pulses * a.exp().ln_1p()
            })
            .sum()
    };
    let [low, high] = crate::statistics::range(positions.iter().map(|p| p.0));
    let (mut near, mut far) = if first { (low - 3.0, high + 6.0) } else { (high + 3.0, low - 6.0) };
    for _ in 0..80 {
        let middle = f64::midpoint(near, far);
        if loss(middle) > z * z / 2.0 { near = middle } else { far = middle }
    }
    f64::midpoint(near, far).exp()
}

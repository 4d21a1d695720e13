//! The detachment law from counted drops.

use nalgebra::DMatrix;

use super::newton::{CurvedMinimum, minimise};
use super::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use super::prior_on_counts::{
    EXPONENT, MORE_DROPS, ONE_DROP, PriorOnCounts, SCATTER, STEEPNESS, WithPrior, about, coefficients_stated,
    for_one_threshold, penalty, stated,
};
use super::prior_rows::FEWEST_DEGREES;
use super::reliability::{ReadSetting, correct};
use super::scatter::{SMALLEST_SCATTER, ScatterProfile};
use super::selection::{gain_se, user_says_no};
use super::separation::{Seen, separated};
use crate::laws::{Counts, TrialLeftOut};
use crate::statistics::{GaussHermite, normal_quantile, quantile};
use crate::study::{ScatterFrom, Study};
use crate::trials::{Column, Mode, Trial, Trials};

/// Points of the adaptive quadrature: the worked example keeps its tolerances of 1e-6 with a margin of a thousand.
pub const QUADRATURE_POINTS: usize = 21;

/// Counted trials and their settings as read.
#[derive(Debug, Clone)]
pub struct CountedSelection {
    /// Rows of the table, in order.
    pub used: Vec<usize>,
    /// Settings as read.
    pub read: Vec<ReadSetting>,
    /// Counts.
    pub counts: Vec<Count>,
    /// The others and why.
    pub left_out: Vec<TrialLeftOut>,
    /// What the study states of the coefficients.
    pub prior: Vec<PriorOnCounts>,
}

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

/// The outcome of a fit.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// All coefficients.
    Fitted(Box<DetachmentFit>),
    /// Bounds at best.
    Bounded(Box<Bounds>),
}

impl CountedSelection {
    /// Whether classes were counted in some trial.
    pub fn kind(&self) -> Counts {
        if self.counts.iter().any(|c| matches!(c, Count::Classes { .. })) || self.counts.is_empty() {
            Counts::Classes
        } else {
            Counts::Totals
        }
    }
}

/// Trials with counted drops and a pulse, in the law's units.
pub fn select(study: &Study, trials: &Trials) -> CountedSelection {
    let mut selection = CountedSelection {
        used: Vec::new(),
        read: Vec::new(),
        counts: Vec::new(),
        left_out: Vec::new(),
        prior: stated(study),
    };
    selection.left_out.extend(trials.rows.iter().filter_map(user_says_no));
    for (index, trial) in trials.rows.iter().enumerate().filter(|(_, t)| t.use_it) {
        match counted(study, trial) {
            Ok((read, count)) => {
                selection.used.push(index);
                selection.read.push(read);
                selection.counts.push(count);
            }
            Err(reason) => {
                selection.left_out.push(TrialLeftOut { trial: trial.name.clone(), reason: reason.to_owned() })
            }
        }
    }
    selection
}

fn counted(study: &Study, trial: &Trial) -> Result<(ReadSetting, Count), &'static str> {
    if trial.mode != Mode::Pulsed {
        return Err("not a pulsed trial");
    }
    let classes = [Column::WithoutDrop, Column::OneDrop, Column::MoreDrops].map(|c| trial.get(c));
    let count = match (classes, trial.get(Column::Drops), trial.get(Column::Pulses)) {
        ([Some(none), Some(one), Some(more)], _, _) => Count::Classes { none, one, more },
        (_, Some(drops), Some(pulses)) => Count::Totals { drops, pulses },
        ([None, None, None], None, _) => return Err("drops not counted"),
        ([None, None, None], Some(_), None) => return Err("drops without pulses: the number of pulses is missing"),
        _ => return Err("the counts are incomplete: all three classes, or drops with pulses, are needed"),
    };
    let counted_pulses = match count {
        Count::Classes { none, one, more } => none + one + more,
        Count::Totals { drops, pulses } if drops <= 2.0 * pulses => pulses,
        Count::Totals { .. } => return Err("more than two drops per pulse in the totals"),
    };
    if counted_pulses <= 0.0 {
        return Err("no pulse counted");
    }
    let current = trial.get(Column::PulseCurrent).filter(|v| *v > 0.0).ok_or("no pulse_current_a")?;
    let time = trial.get(Column::PulseTime).filter(|v| *v > 0.0).ok_or("no pulse_time_ms")?;
    let gain = gain_se(study, trial);
    let own = trial.stated_se(Column::PulseCurrent).map_or(0.0, |se| se / current);
    let time_se = trial.stated_se(Column::PulseTime).map_or(study.bench.pulse_time_relative_se, |se| se / time);
    Ok((
        ReadSetting {
            log_current: (current / study.reference_current_a()).ln(),
            log_time: time.ln(),
            current_variance: gain * gain + own * own,
            time_variance: time_se * time_se,
        },
        count,
    ))
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

fn too_few_trials(n: usize, more: usize) -> Outcome {
    bounded(
        "too_few_trials",
        &format!(
            "{n} counted trial(s) cannot determine four coefficients and their scatter: count the drops of at least {more} more, across both thresholds"
        ),
    )
}

fn bounded(how: &'static str, reason: &str) -> Outcome {
    Outcome::Bounded(Box::new(Bounds { how, reason: reason.to_owned(), ..Bounds::default() }))
}

pub(super) fn seen(count: Count) -> Seen {
    match count {
        Count::Classes { none, one, more } => Seen { none: none > 0.0, one: one > 0.0, more: more > 0.0 },
        Count::Totals { drops, pulses } => {
            Seen { none: drops < pulses, one: drops > 0.0 && drops < 2.0 * pulses, more: drops > pulses }
        }
    }
}

fn one_class_only(selection: &CountedSelection, any: Seen) -> Option<Outcome> {
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
fn separated_outcome(trials: &[CountedTrial], any: Seen) -> Outcome {
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

/// One class never seen: the other threshold is fitted alone, the missing one is bounded from one side.
fn fit_single(
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

//! The record of the detachment law: coefficients as the trade reads them, from the fit's own scale.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::assemble::{
    CommonErrors, coefficient, degrees_with_blocks, method_with_blocks, name_outliers, rows, unusable, with_blocks,
};
use super::detachment::{Bounds, CountedSelection, DetachmentFit, Outcome, QUADRATURE_POINTS};
use super::diagnosis::{self, Diagnosis, WARNS_BELOW};
use super::ordered_logit::{Count, CountedTrial, Derivatives, Likelihood, Thresholds};
use super::prior_on_counts::information;
use super::profile;
use crate::in_words::probability;
use crate::laws::{
    Coefficient, Counts, DETACHMENT_COEFFICIENTS, Detachment, DetachmentConstants, FitTest, FittedLaw, Reading,
    TrialCloud, TrialDiagnostic, ValueWithUnit, logistic,
};
use crate::statistics::{GaussHermite, chi_squared_above, mean, normal_above, range, student_t_two_sided};
use crate::study::{CovarianceFrom, ScatterFrom, Study};
use crate::trials::Trials;

const UNIT: &str = "drops per pulse";

impl DetachmentFit {
    /// The law with its coefficients.
    pub fn law(&self) -> Detachment {
        law_of(&self.q)
    }

    /// (n, k, e^{s1}, e^{s2}, τ).
    pub fn natural(&self) -> [f64; 5] {
        let law = self.law();
        [law.exponent, law.steepness, law.one_drop_s.exp(), law.more_drops_s.exp(), law.trial_scatter]
    }

    /// ∂(n, k, e^{s1}, e^{s2}, τ)/∂q.
    pub fn natural_by_q(&self) -> DMatrix<f64> {
        natural_by_q(&self.q)
    }
}

/// The law at q.
pub fn law_of(q: &[f64; 5]) -> Detachment {
    Detachment {
        exponent: q[0],
        steepness: q[1].exp(),
        one_drop_s: q[2],
        more_drops_s: q[2] + q[3].exp(),
        trial_scatter: q[4].exp(),
    }
}

/// ∂(n, k, e^{s1}, e^{s2}, τ)/∂q.
pub fn natural_by_q(q: &[f64; 5]) -> DMatrix<f64> {
    let gap = q[3].exp();
    let (one, more) = (q[2].exp(), (q[2] + gap).exp());
    let mut jacobian = DMatrix::from_diagonal(&DVector::from_vec(vec![1.0, q[1].exp(), one, more * gap, q[4].exp()]));
    jacobian[(3, 2)] = more;
    jacobian
}

/// The record of the law from the outcome of its fit.
pub fn record(
    study: &Study,
    trials: &Trials,
    selection: &CountedSelection,
    outcome: &Outcome,
    common: &CommonErrors,
) -> FittedLaw {
    let used: Vec<String> = selection.used.iter().map(|&i| trials.rows[i].name.clone()).collect();
    let start = |how: &str, reason: &str| {
        let mut law = unusable(
            "ordered_logit",
            Detachment::EQUATION,
            UNIT,
            how,
            reason,
            used.clone(),
            selection.left_out.clone(),
            CovarianceFrom::ObservedInformation,
        );
        law.chi_squared_per_degree_reason = Some("the spread of the counts is in trial_scatter".to_owned());
        law.reference_current_a = Some(study.reference_current_a());
        law.counts = Some(selection.kind());
        if selection.kind() == Counts::Totals {
            law.notes.push("only totals of drops were counted: they cannot tell the middle of the window from missed and double drops cancelling, so no node is better than extended; counting pulses by number of drops would cure it".to_owned());
        }
        law
    };
    match outcome {
        Outcome::Bounded(bounds) => bounded(study, start(bounds.how, &bounds.reason), bounds),
        Outcome::Fitted(fit) => {
            let covariance_q = fit.covariance_q.view((0, 0), (4, 4)).into_owned();
            let diagnosis = diagnosis::counted_drops(trials, selection, fit, &covariance_q);
            fitted(study, selection, fit, common, diagnosis, start("converged", ""))
        }
    }
}

fn bounded(study: &Study, mut law: FittedLaw, bounds: &Bounds) -> FittedLaw {
    let open = |interval: [Option<f64>; 2], unit: &str, method: &str| Coefficient {
        value: None,
        unit: unit.to_owned(),
        standard_error: None,
        standard_error_with_calibration: None,
        interval,
        interval_method: method.to_owned(),
        reason: Some(bounds.reason.clone()),
        prior: None,
    };
    let any_bound = bounds.one_drop_from_ms.iter().chain(&bounds.more_drops_from_ms).any(Option::is_some);
    if bounds.single.is_none() && !any_bound {
        return law;
    }
    let method = match bounds.how {
        "separated" => "between tried settings, carried to the reference current with exponents of 1.5 to 2.5",
        _ => "one-sided from the likelihood, the other coefficients held",
    };
    let mut put = |name: &str, c: Coefficient| {
        law.coefficients.insert(name.to_owned(), c);
    };
    put("exponent", open([None, None], "1", "none"));
    put("steepness", open([None, None], "1", "none"));
    put("one_drop_from_ms", open(bounds.one_drop_from_ms, "ms", method));
    put("more_drops_from_ms", open(bounds.more_drops_from_ms, "ms", method));
    put("trial_scatter", open([None, None], "1", "none"));
    if let Some(single) = &bounds.single {
        let (q, c) = (&single.q, &single.covariance_q);
        let degrees = single.degrees_of_freedom as f64;
        let confidence = study.numerics.confidence;
        put("exponent", coefficient(q[0], "1", c[(0, 0)], 0.0, degrees, confidence, false));
        let k = q[1].exp();
        put("steepness", coefficient(k, "1", k * k * c[(1, 1)], 0.0, degrees, confidence, true));
        let t = q[2].exp();
        let name = if single.first { "one_drop_from_ms" } else { "more_drops_from_ms" };
        put(name, coefficient(t, "ms", t * t * c[(2, 2)], 0.0, degrees, confidence, true));
        law.degrees_of_freedom = single.degrees_of_freedom;
    }
    law.coefficient_order = DETACHMENT_COEFFICIENTS.iter().map(|c| c.name.to_owned()).collect();
    law
}

fn fitted(
    study: &Study,
    selection: &CountedSelection,
    fit: &DetachmentFit,
    common: &CommonErrors,
    mut diagnosis: Diagnosis,
    mut law: FittedLaw,
) -> FittedLaw {
    let natural = fit.natural();
    let jacobian = fit.natural_by_q();
    let trials_only = &jacobian * &fit.covariance_q * jacobian.transpose();
    let corner = jacobian.view((0, 0), (4, 4)).into_owned();
    // Scatter between blocks was found by q; τ has no part in it.
    if let Some(between) = &mut diagnosis.between_blocks {
        let by_q = DMatrix::from_fn(4, 4, |i, j| between.covariance[i][j]);
        let mut natural = DMatrix::zeros(5, 5);
        natural.view_mut((0, 0), (4, 4)).copy_from(&(&corner * by_q * corner.transpose()));
        between.covariance = rows(&natural);
    }
    let between = diagnosis.between_blocks.as_ref();
    let covariance = with_blocks(&trials_only, between);
    let degrees = fit.degrees_of_freedom as f64;
    let confidence = study.numerics.confidence;
    // What comes from a statement is known without limit (Welch and Satterthwaite).
    let of_prior = &fit.covariance_q * information(&fit.prior, &fit.q) * &fit.covariance_q;
    let of_prior = &jacobian * of_prior * jacobian.transpose();
    let degrees_of = |i: usize| {
        let (all, stated) = (trials_only[(i, i)], of_prior[(i, i)]);
        if stated > 0.0 { degrees * (all / (all - stated).max(0.0)).powi(2) } else { degrees }
    };
    for (i, name) in DETACHMENT_COEFFICIENTS.iter().enumerate() {
        let extra = common.0.iter().map(|(u, e)| (u * e[i]).powi(2)).sum();
        let degrees = if i < 4 { degrees_with_blocks(i, &trials_only, degrees_of(i), between) } else { degrees_of(i) };
        let mut c = coefficient(natural[i], name.unit, covariance[(i, i)], extra, degrees, confidence, i > 0);
        c.interval_method = method_with_blocks(c.interval_method, between);
        if fit.scatter_from == ScatterFrom::AdjustedLikelihood {
            c.interval_method.push_str(", trial scatter by the adjusted likelihood");
        }
        if i == 4 {
            scatter_interval(&mut c, fit);
        }
        law.coefficients.insert(name.name.to_owned(), c);
    }
    law.ended.usable = true;
    law.coefficient_order = DETACHMENT_COEFFICIENTS.iter().map(|c| c.name.to_owned()).collect();
    law.covariance = rows(&covariance);
    let mut counting = DMatrix::zeros(5, 5);
    counting.view_mut((0, 0), (4, 4)).copy_from(&(&corner * &fit.counting_covariance_q * corner.transpose()));
    law.counting_covariance = Some(rows(&counting));
    law.degrees_of_freedom = fit.degrees_of_freedom;
    let reference = law.reference_current_a.unwrap_or_default();
    let unit = "A^n ms".to_owned();
    let constant = |ms: f64| ValueWithUnit { value: ms * reference.powf(natural[0]), unit: unit.clone() };
    law.d = Some(DetachmentConstants { one_drop: constant(natural[2]), more_drops: constant(natural[3]) });
    let s: Vec<f64> = selection.read.iter().map(|r| natural[0] * r.log_current + r.log_time).collect();
    let log_current: Vec<f64> = selection.read.iter().map(|r| r.log_current).collect();
    law.range.insert("detachment_s".to_owned(), range(s.iter().copied()));
    law.range.insert("log_pulse_current".to_owned(), range(log_current.iter().copied()));
    law.mean_log_pulse_current = Some(mean(&log_current));
    law.cloud =
        Some(TrialCloud::new(&law.trials_used, &[("detachment_s", s), ("log_pulse_current", log_current)], &[]));
    open_beyond_tried(&mut law);
    law.diagnostics = diagnostics(fit, &law.trials_used);
    name_outliers(&mut law.diagnostics, &diagnosis.outliers);
    for (d, root) in law.diagnostics.iter_mut().zip(&diagnosis.likelihood_roots) {
        let spare = 1.0 - d.leverage.unwrap_or(0.0);
        d.surprise = Some(student_t_two_sided(root / spare.sqrt(), degrees)).filter(|p| p.is_finite());
    }
    law.tests = diagnosis.tests;
    law.between_blocks = diagnosis.between_blocks;
    law.profiles = profile::profiles(fit, confidence);
    let squares: f64 = law.diagnostics.iter().map(|d| d.residual * d.residual).sum();
    law.residual_standard_deviation = Some((squares / degrees).sqrt());
    law.residual_standard_deviation_reason = None;
    law.tests.insert("overdispersion".to_owned(), scatter_test(fit));
    law.tests.insert("parallel_thresholds".to_owned(), parallel_thresholds(fit));
    law
}

/// A threshold beyond every setting tried is placed by the common steepness alone: its interval is open on that
/// side.
fn open_beyond_tried(law: &mut FittedLaw) {
    let Some(&[low, high]) = law.range.get("detachment_s") else { return };
    for (name, cure) in [
        (
            "one_drop_from_ms",
            ["weld shorter pulses until half of them detach none", "weld longer pulses until nearly all detach a drop"],
        ),
        (
            "more_drops_from_ms",
            ["weld shorter pulses until nearly none detach two", "weld longer pulses until half of them detach two"],
        ),
    ] {
        let Some(c) = law.coefficients.get_mut(name) else { continue };
        let Some(s) = c.value.map(f64::ln) else { continue };
        let side = if s < low {
            0
        } else if s > high {
            1
        } else {
            continue;
        };
        c.interval[side] = None;
        c.interval_method.push_str(", open beyond the settings tried");
        let reason = format!(
            "no setting was tried at or {} this threshold ({:.2} to {:.2} ms at the reference current), so only the steepness of the other one places it: {}",
            ["below", "above"][side],
            low.exp(),
            high.exp(),
            cure[side]
        );
        law.notes.push(format!("{name}: {reason}"));
        c.reason = Some(reason);
    }
}

fn scatter_interval(c: &mut Coefficient, fit: &DetachmentFit) {
    let Some(upper) = fit.scatter_upper else { return };
    c.interval = [Some(0.0), upper];
    c.interval_method = format!("profile of {}, the lower end is its limit 0", likelihood_words(fit.scatter_from));
    if upper.is_none() {
        c.reason = Some("the counted trials are too few to bound the scatter from above: count the drops of more trials, some of them repeats".to_owned());
    }
    if fit.covariance_q[(4, 4)] == 0.0 {
        c.standard_error = None;
        c.standard_error_with_calibration = None;
        let open = c.reason.take().map_or(String::new(), |r| format!("; {r}"));
        c.reason = Some("the counts scatter no more than counting and the stated errors explain, so the scatter lies at or near its lower limit 0 and has no standard error; repeated trials at one setting would show how small it is".to_owned() + &open);
    }
}

/// How τ was estimated, in words for methods.
fn likelihood_words(from: ScatterFrom) -> &'static str {
    match from {
        ScatterFrom::AdjustedLikelihood => "the likelihood adjusted for the fitted coefficients",
        ScatterFrom::Likelihood => "the likelihood",
    }
}

fn likelihood<'a>(trials: &'a [CountedTrial], rule: &'a GaussHermite) -> Likelihood<'a> {
    Likelihood { trials, rule, thresholds: Thresholds::Both, with_unknown: true, free: vec![], fixed: [0.0; 5] }
}

/// Residuals in drops per pulse at the corrected setting, averaged over τ² and what stays unknown.
/// Leverage is the trial's share in the information, Cook's distance the one-step change of q when the
/// trial is left out.
fn diagnostics(fit: &DetachmentFit, names: &[String]) -> Vec<TrialDiagnostic> {
    let rule = GaussHermite::new(QUADRATURE_POINTS);
    let problem = likelihood(&fit.trials, &rule);
    let law = fit.law();
    let free = if fit.q[4] == f64::NEG_INFINITY { 4 } else { 5 };
    let information = fit.covariance_q.view((0, 0), (free, free)).into_owned().try_inverse();
    fit.trials
        .iter()
        .zip(names)
        .map(|(trial, name)| {
            let (expected, variance) = expected_drops(&law, trial, &rule);
            let seen = seen_drops(trial);
            let d = problem.trial(&fit.q, trial);
            let mut leverage = 0.0;
            let mut cook = 0.0;
            for i in 0..free {
                for j in 0..free {
                    leverage -= d.hessian[i][j] * fit.covariance_q[(j, i)];
                    cook += d.gradient[i] * fit.covariance_q[(i, j)] * d.gradient[j];
                }
            }
            let leverage = leverage.clamp(0.0, 0.999);
            let cook = cook / (free as f64 * (1.0 - leverage).powi(2));
            let residual = seen - expected;
            let studentised = residual / (variance * (1.0 - leverage)).sqrt();
            let mut flags = Vec::new();
            if cook > 1.0 {
                flags.push(format!("moves the law: Cook's distance {cook:.1}"));
            }
            let finite = studentised.is_finite();
            TrialDiagnostic {
                trial: name.clone(),
                fitted: expected,
                residual,
                studentised_residual: finite.then_some(studentised),
                leverage: Some(leverage),
                cooks_distance: Some(cook),
                surprise: None,
                without_it: information.as_ref().and_then(|i| without(fit, i, &d)).unwrap_or_default(),
                flags,
                reason: (!finite).then(|| "no spread is expected at this setting".to_owned()),
            }
        })
        .collect()
}

/// Change of the coefficients without a trial, by one Newton step from the full fit with the exact Hessian of
/// the others.
fn without(fit: &DetachmentFit, information: &DMatrix<f64>, trial: &Derivatives) -> Option<BTreeMap<String, f64>> {
    let size = information.nrows();
    let others = DMatrix::from_fn(size, size, |i, j| information[(i, j)] + trial.hessian[i][j]);
    let gradient = DVector::from_fn(size, |i, _| trial.gradient[i]);
    let step = -others.cholesky()?.solve(&gradient);
    let mut q = fit.q;
    for (value, s) in q.iter_mut().zip(step.iter()) {
        *value += s.clamp(-1.0, 1.0);
    }
    let law = law_of(&q);
    let after = [law.exponent, law.steepness, law.one_drop_s.exp(), law.more_drops_s.exp(), law.trial_scatter];
    let before = fit.natural();
    Some(DETACHMENT_COEFFICIENTS.iter().enumerate().map(|(i, c)| (c.name.to_owned(), after[i] - before[i])).collect())
}

/// Drops per pulse as counted.
pub(super) fn seen_drops(trial: &CountedTrial) -> f64 {
    match trial.count {
        Count::Classes { none, one, more } => (one + 2.0 * more) / (none + one + more),
        Count::Totals { drops, pulses } => drops / pulses,
    }
}

/// Mean drops per pulse at a trial's corrected setting and the variance of the observed mean.
pub(super) fn expected_drops(law: &Detachment, trial: &CountedTrial, rule: &GaussHermite) -> (f64, f64) {
    let n = law.exponent;
    let [cc, ct, tt] = trial.unknown;
    let spread = (law.trial_scatter.powi(2) + (n * n * cc + 2.0 * n * ct + tt).max(0.0)).sqrt();
    let s = law.s(trial.log_current, trial.log_time);
    let pulses = trial.count.pulses();
    let (mut mean, mut square, mut within) = (0.0, 0.0, 0.0);
    for (z, w) in rule.points.iter().zip(&rule.weights) {
        let at = s + spread * z;
        let p1 = logistic(law.steepness * (at - law.one_drop_s));
        let p2 = logistic(law.steepness * (at - law.more_drops_s));
        let m = p1 + p2;
        mean += w * m;
        square += w * m * m;
        within += w * (p1 + 3.0 * p2 - m * m);
    }
    (mean, within / pulses + (square - mean * mean).max(0.0))
}

fn scatter_test(fit: &DetachmentFit) -> FitTest {
    let ratio = fit.scatter_likelihood_ratio;
    let tau = fit.q[4].exp();
    // τ = 0 is the edge of its range: half the weight of χ² with one degree (Self and Liang 1987, JASA 82, 605–610).
    let p = if ratio > 0.0 { chi_squared_above(ratio, 1.0) / 2.0 } else { 1.0 };
    // Below a twelfth of the pulse time scatter is the common state of a bench (common practice).
    let warns = p < WARNS_BELOW && tau > 0.08;
    FitTest {
        statistic: Some(ratio),
        p_value: Some(p),
        effect: Some(tau),
        unit: "1".to_owned(),
        reading: Reading::new(
            "counts scatter no more than counting and the stated errors explain",
            format!(
                "trials scatter by {:.1} % of the pulse time beyond counting and stated errors (trial scatter {tau:.3}, likelihood ratio {ratio:.1})",
                100.0 * tau
            ),
            if warns {
                "settings that should be alike are not: look for what is not held from trial to trial (tip, wire cast, arc length, gas), then repeat a few of them; the intervals allow for it"
            } else if p < 0.05 {
                "the intervals allow for it; repeat a few settings to learn its cause"
            } else {
                "nothing"
            },
        ),
        warns,
        trials: Vec::new(),
        reason: None,
    }
}

/// Steepness at each threshold from two logits fitted apart.
fn parallel_thresholds(fit: &DetachmentFit) -> FitTest {
    let expected = "the same steepness at both thresholds";
    let classes: Option<Vec<[f64; 3]>> = fit
        .trials
        .iter()
        .map(|t| match t.count {
            Count::Classes { none, one, more } => Some([none, one, more]),
            Count::Totals { .. } => None,
        })
        .collect();
    let Some(classes) = classes else {
        return FitTest::not_made(
            "1",
            expected,
            "only totals were counted in some trials",
            "count pulses by number of drops",
        );
    };
    let rule = GaussHermite::new(QUADRATURE_POINTS);
    let apart = |first: bool| {
        let binary: Vec<CountedTrial> = fit
            .trials
            .iter()
            .zip(&classes)
            .map(|(t, [none, one, more])| {
                let (no, yes) = if first { (*none, one + more) } else { (none + one, *more) };
                CountedTrial { count: Count::Classes { none: no, one: yes, more: 0.0 }, ..*t }
            })
            .collect();
        let mut fixed = fit.q;
        fixed[2] = if first { fit.q[2] } else { fit.q[2] + fit.q[3].exp() };
        let problem = Likelihood {
            trials: &binary,
            rule: &rule,
            thresholds: Thresholds::Single,
            with_unknown: true,
            free: vec![0, 1, 2],
            fixed,
        };
        let m = super::newton::minimise(&problem, &fixed[..3], 1.0);
        m.inverse_hessian().filter(|_| m.converged).map(|c| (m.x[1], c[(1, 1)]))
    };
    let (Some((k1, v1)), Some((k2, v2))) = (apart(true), apart(false)) else {
        return FitTest::not_made(
            "1",
            expected,
            "one threshold alone does not determine its steepness",
            "count more pulses on both sides of each threshold",
        );
    };
    let z = (k2 - k1) / (v1 + v2).sqrt();
    let p = 2.0 * normal_above(z.abs());
    let effect = (k2 - k1).exp() - 1.0;
    FitTest {
        statistic: Some(z),
        p_value: Some(p),
        effect: Some(effect),
        unit: "1".to_owned(),
        reading: Reading::new(
            expected,
            format!(
                "{:.0} % at more drops against {:.0} % at one drop, steepness {:+.0} % ({})",
                100.0 * (1.0 + effect),
                100.0,
                100.0 * effect,
                probability(p)
            ),
            if p < WARNS_BELOW {
                "the probability mid-window leans on the common steepness: count more pulses near both thresholds and keep to the middle"
            } else {
                "nothing"
            },
        ),
        warns: p < WARNS_BELOW,
        trials: Vec::new(),
        reason: None,
    }
}

//! Forms of the detachment law: as used, with the background current, with the drop's size.

use nalgebra::DVector;

use super::counted_form::{CountedForm, FittedCounts};
use super::form_test::{Extra, form_test, not_made};
use super::over_the_line::feeds_m_min;
use super::{Forms, aicc, held_out_range, lower_part, not_tried};
use crate::compose::balancing_background_a;
use crate::fit::detachment::{CountedSelection, DetachmentFit};
use crate::fit::detachment_law::seen_drops;
use crate::fit::ordered_logit::CountedTrial;
use crate::laws::{Candidate, FitTest, HeldOutRange, LineEffect, logistic};
use crate::statistics::{GaussHermite, mean, range, student_t_two_sided};
use crate::study::Study;
use crate::trials::{Column, Trial, Trials};
use meltlaw_line::{Waveform, drop_frequency_hz};

/// Words of the forms.
const USED: &str = "ordered_logit";
const BACKGROUND: &str = "with_background_current";
const DROP_SIZE: &str = "with_drop_size";

/// Points of the quadrature: adaptive, so that 15 points agree with the law's own 31 to 1e-6 of a table's
/// log-likelihood at 5 % trial scatter and to 1e-4 at 20 %, far below what tells two forms apart.
const POINTS: usize = 15;

/// Standard deviation of a covariate over the trials below which it says nothing: 2 %, about what its own
/// reading error is.
const LEAST_SPREAD: f64 = 0.02;

/// The candidates of the detachment law.
///
/// ```text
/// with_background_current: s + c·ln(I_b/mean I_b)
/// with_drop_size:          s + c·ln(drop/wire), drop from feed and frequency: f·(π/6)·drop³ = A·w
/// ```
///
/// Both covariates are centred on the trials' mean and taken as read. More background between pulses heats
/// and stretches the drop; a larger drop hangs heavier: in both cases c > 0 is what one expects. AICc and
/// log density use the marginal likelihood, with τ counted as free; the density is the probability of a left
/// out trial's counts.
///
/// The held-out range fits the trials at lower wire feeds (lower pulse currents, where feeds are not given)
/// and predicts the others: a cut by position s would leave one threshold out of the fit. Its misses are in
/// drops per pulse, that is relative to the one drop wanted; a miss relative to the drops counted has no
/// meaning where none were, so there is no `leave_one_out_relative`.
///
/// The effect on the line is in ms, on the middle of the window (geometric mean of both thresholds) at the
/// trials' mean pulse current: with the line's own drop size, and with the background that the burn-off law
/// asks for there, kept inside the trials' range.
pub fn detachment_forms(
    study: &Study,
    trials: &Trials,
    selection: &CountedSelection,
    fit: &DetachmentFit,
    burn_off: Option<&[f64]>,
) -> Forms {
    let rule = GaussHermite::new(POINTS);
    let rows: Vec<&Trial> = selection.used.iter().map(|&i| &trials.rows[i]).collect();
    let bench = Bench { fit, rule: &rule, keys: keys(&rows) };
    let used = bench.used();
    let covariates = [
        (BACKGROUND, covariate(&rows, "background_current_a", |t| t.get(Column::BackgroundCurrent))),
        (DROP_SIZE, covariate(&rows, "wire_feed_m_min with pulse_frequency_hz", |t| drop_to_wire(study, t))),
    ];
    let line = Line::new(study, fit, burn_off, &rows);
    let ((own, first), second) = rayon::join(
        || rayon::join(|| bench.candidate(USED, &used, None).0, || bench.form(&covariates[0], &used, &line)),
        || bench.form(&covariates[1], &used, &line),
    );
    let test = covariate_test(study, fit, &line, &[&first, &second]);
    Forms { candidates: vec![own, first.candidate, second.candidate], test }
}

/// A covariate as ln of its value over the mean of ln, or why there is none.
struct Covariate {
    x: Vec<f64>,
    /// Mean of the logarithms.
    centre: f64,
}

fn covariate(rows: &[&Trial], needs: &str, value: impl Fn(&Trial) -> Option<f64>) -> Result<Covariate, String> {
    let logs: Vec<f64> = rows.iter().filter_map(|t| value(t).filter(|v| *v > 0.0).map(f64::ln)).collect();
    let lacking = rows.len() - logs.len();
    if lacking > 0 {
        return Err(format!(
            "{lacking} of the {} counted trials lack {needs}: note it for every counted trial",
            rows.len()
        ));
    }
    let centre = mean(&logs);
    let x: Vec<f64> = logs.iter().map(|l| l - centre).collect();
    let spread = (x.iter().map(|v| v * v).sum::<f64>() / (x.len() as f64 - 1.0).max(1.0)).sqrt();
    if spread < LEAST_SPREAD {
        return Err(format!("it hardly varies over the counted trials ({:.1} %): vary it", 100.0 * spread));
    }
    Ok(Covariate { x, centre })
}

/// Drop diameter over wire diameter where each pulse of a trial carries one drop.
fn drop_to_wire(study: &Study, trial: &Trial) -> Option<f64> {
    let w = trial.get(Column::WireFeed)? / 0.06;
    let hz = trial.get(Column::PulseFrequency).filter(|hz| *hz > 0.0)?;
    Some(meltlaw_line::drop_diameter_mm(study.wire.section_mm2(), w, hz) / study.wire.diameter_mm)
}

/// By what the held-out range goes.
fn keys(rows: &[&Trial]) -> Vec<f64> {
    let by = |column: Column| rows.iter().map(|t| t.get(column)).collect::<Option<Vec<f64>>>();
    by(Column::WireFeed).or_else(|| by(Column::PulseCurrent)).unwrap_or_default()
}

/// A form with a covariate as tried.
struct Tried {
    candidate: Candidate,
    /// c, its standard error, the fit.
    found: Option<(f64, f64)>,
}

/// What every form is fitted to.
struct Bench<'a> {
    fit: &'a DetachmentFit,
    rule: &'a GaussHermite,
    keys: Vec<f64>,
}

impl Bench<'_> {
    /// The used law in the coordinates of the forms.
    fn used(&self) -> FittedCounts {
        let q = self.fit.q;
        let free: Vec<usize> = (0..if q[4].is_finite() { 5 } else { 4 }).collect();
        let form = CountedForm { trials: &self.fit.trials, x: None, rule: self.rule };
        FittedCounts {
            theta: [q[0], q[1], q[2], q[3], q[4], 0.0],
            covariance: self.fit.covariance_q.view((0, 0), (free.len(), free.len())).into_owned(),
            log_likelihood: form.log_likelihood(&[q[0], q[1], q[2], q[3], q[4], 0.0]),
            free,
        }
    }

    fn form(&self, (word, x): &(&str, Result<Covariate, String>), used: &FittedCounts, line: &Line) -> Tried {
        let covariate = match x {
            Ok(covariate) => covariate,
            Err(reason) => return Tried { candidate: not_tried(word, reason.as_str()), found: None },
        };
        let form = CountedForm { trials: &self.fit.trials, x: Some(&covariate.x), rule: self.rule };
        let all: Vec<usize> = (0..self.fit.trials.len()).collect();
        let Some(fitted) = form.fit(&all, &used.theta).filter(|_| all.len() > 6) else {
            return Tried { candidate: not_tried(word, "these trials do not determine this form"), found: None };
        };
        let (mut candidate, last) = self.candidate(word, &fitted, Some(&covariate.x));
        let standard_error = fitted.covariance[(last, last)].sqrt();
        candidate.line_effect = line.largest_change(*word == BACKGROUND, used, &fitted, covariate);
        Tried { candidate, found: Some((fitted.theta[5], standard_error)) }
    }

    /// The numbers of a fitted form; second, the place of its last free entry.
    fn candidate(&self, word: &str, fitted: &FittedCounts, x: Option<&[f64]>) -> (Candidate, usize) {
        let n = self.fit.trials.len() as f64;
        let free = if x.is_some() { 6.0 } else { 5.0 };
        let form = CountedForm { trials: &self.fit.trials, x, rule: self.rule };
        let aicc = aicc(-2.0 * fitted.log_likelihood, n, free);
        let density = form.leave_one_out(fitted).map(|d| d.iter().sum::<f64>() / n);
        let held_out_range = self.held_out(&form, fitted);
        let mut reasons = vec!["a miss relative to the drops counted has no meaning where none were"];
        if aicc.is_none() || density.is_none() {
            reasons.push("too few trials");
        }
        if held_out_range.is_none() {
            reasons.push("the trials at the lower feeds alone do not determine this form");
        }
        let candidate = Candidate {
            form: word.to_owned(),
            aicc,
            leave_one_out_relative: None,
            leave_one_out_log_density: density,
            held_out_range,
            line_effect: None,
            reason: Some(reasons.join("; ")),
        };
        (candidate, fitted.free.len() - 1)
    }

    fn held_out(&self, form: &CountedForm<'_>, fitted: &FittedCounts) -> Option<HeldOutRange> {
        if self.keys.len() != self.fit.trials.len() {
            return None;
        }
        let (lower, upper) = lower_part(&self.keys);
        if upper.is_empty() || lower.len() < fitted.free.len() + 2 {
            return None;
        }
        let part = form.fit(&lower, &fitted.theta)?;
        let misses: Vec<(f64, f64)> = upper
            .iter()
            .map(|&i| {
                let (seen, expected, variance) = drops(form, &part, i);
                let miss = seen - expected;
                (miss, miss * miss / variance)
            })
            .collect();
        held_out_range(lower.len(), &misses)
    }
}

/// Drops per pulse of a trial as counted and as predicted, with the variance of the difference: counting,
/// trial scatter and what is unknown of setting and coefficients.
fn drops(form: &CountedForm<'_>, fitted: &FittedCounts, i: usize) -> (f64, f64, f64) {
    let trial: &CountedTrial = &form.trials[i];
    let x = form.x.map_or(0.0, |x| x[i]);
    let theta = &fitted.theta;
    let (n, k) = (theta[0], theta[1].exp());
    let [cc, ct, tt] = trial.unknown;
    let known = (n * n * cc + 2.0 * n * ct + tt).max(0.0);
    let spread = ((2.0 * theta[4]).exp() + known).sqrt();
    let s = n * trial.log_current + trial.log_time + theta[5] * x;
    let (s1, gap) = (theta[2], theta[3].exp());
    let (seen, pulses) = (seen_drops(trial), trial.count.pulses());
    let (mut mean, mut square, mut within) = (0.0, 0.0, 0.0);
    let mut by = [0.0; 6];
    for (z, w) in form.rule.points.iter().zip(&form.rule.weights) {
        let at = s + spread * z;
        let (a1, a2) = (k * (at - s1), k * (at - s1 - gap));
        let (p1, p2) = (logistic(a1), logistic(a2));
        let m = p1 + p2;
        mean += w * m;
        square += w * m * m;
        within += w * (p1 + 3.0 * p2 - m * m);
        let (d1, d2) = (p1 * logistic(-a1), p2 * logistic(-a2));
        by[0] += w * k * trial.log_current * (d1 + d2);
        by[1] += w * (a1 * d1 + a2 * d2);
        by[2] -= w * k * (d1 + d2);
        by[3] -= w * k * gap * d2;
        by[5] += w * k * x * (d1 + d2);
    }
    let gradient = DVector::from_iterator(fitted.free.len(), fitted.free.iter().map(|&j| by[j]));
    let of_law = gradient.dot(&(&fitted.covariance * &gradient));
    (seen, mean, within / pulses + (square - mean * mean).max(0.0) + of_law)
}

/// The line asked for, as the forms see it.
struct Line {
    /// ln(I_p/I₀) at which the forms are compared.
    log_current: f64,
    /// Feed, ln I_b there where it is known, ln of the drop-to-wire ratio.
    points: Vec<(f64, Option<f64>, f64)>,
}

impl Line {
    fn new(study: &Study, fit: &DetachmentFit, burn_off: Option<&[f64]>, rows: &[&Trial]) -> Self {
        let log_current = mean(&fit.trials.iter().map(|t| t.log_current).collect::<Vec<_>>());
        let time = middle_ms(&[fit.q[0], fit.q[1], fit.q[2], fit.q[3], fit.q[4], 0.0], log_current, 0.0);
        let ratio = study.line.drop_to_wire_ratio;
        let [least, most] = range(rows.iter().filter_map(|t| t.get(Column::BackgroundCurrent)));
        let background = |feed: f64| {
            let w = feed / 0.06;
            let hz = drop_frequency_hz(study.wire.section_mm2(), w, ratio * study.wire.diameter_mm);
            let wave = Waveform {
                pulse_current_a: study.reference_current_a() * log_current.exp(),
                pulse_time_ms: time,
                background_current_a: f64::midpoint(least, most),
                pulse_frequency_hz: hz,
                rise_a_per_ms: study.source.rise_a_per_ms,
                fall_a_per_ms: study.source.fall_a_per_ms,
            };
            let found = balancing_background_a(burn_off?, study.conditions().extension_mm, w, &wave);
            Some(found.clamp(least, most).ln()).filter(|v| v.is_finite())
        };
        let points = feeds_m_min(study)
            .into_iter()
            .map(|feed| (feed, if least <= most { background(feed) } else { None }, ratio.ln()))
            .collect();
        Self { log_current, points }
    }

    fn largest_change(
        &self,
        by_background: bool,
        used: &FittedCounts,
        other: &FittedCounts,
        covariate: &Covariate,
    ) -> Option<LineEffect> {
        let before = middle_ms(&used.theta, self.log_current, 0.0);
        let variance = |fit: &FittedCounts, x: f64| {
            let by = [-self.log_current, 0.0, 1.0, 0.5 * fit.theta[3].exp(), 0.0, -x];
            let gradient = DVector::from_iterator(fit.free.len(), fit.free.iter().map(|&j| by[j]));
            gradient.dot(&(&fit.covariance * &gradient))
        };
        self.points
            .iter()
            .filter_map(|(feed, background, drop)| {
                let x = if by_background { (*background)? } else { *drop } - covariate.centre;
                let after = middle_ms(&other.theta, self.log_current, x);
                // Nested forms: the variance of the change is the difference of the variances (Hausman 1978,
                // Econometrica 46, 1251–1271).
                let spread = (variance(other, x) - variance(used, 0.0)).abs().sqrt();
                Some(LineEffect {
                    value: after - before,
                    unit: "ms".to_owned(),
                    at_wire_feed_m_min: *feed,
                    standard_errors: Some((after / before).ln().abs() / spread).filter(|s| s.is_finite()),
                })
            })
            .filter(|e| e.value.is_finite())
            .max_by(|a, b| a.value.abs().total_cmp(&b.value.abs()))
    }
}

/// Pulse time in the middle of the window: geometric mean of both thresholds.
fn middle_ms(theta: &[f64; 6], log_current: f64, x: f64) -> f64 {
    (theta[2] + 0.5 * theta[3].exp() - theta[0] * log_current - theta[5] * x).exp()
}

/// The covariate that the trials ask for most; its probability is doubled, as two are looked at.
fn covariate_test(study: &Study, fit: &DetachmentFit, line: &Line, tried: &[&Tried]) -> FitTest {
    let degrees = (fit.trials.len() as f64 - 5.0).max(1.0);
    let found: Vec<(&Candidate, f64, f64, f64)> = tried
        .iter()
        .filter_map(|t| {
            let (c, se) = t.found.filter(|(_, se)| *se > 0.0)?;
            Some((&t.candidate, c, c / se, student_t_two_sided(c / se, degrees)))
        })
        .collect();
    let Some((candidate, c, statistic, p)) = found.iter().min_by(|a, b| a.3.total_cmp(&b.3)).copied() else {
        let reason = tried.iter().find_map(|t| t.candidate.reason.clone()).unwrap_or_default();
        return not_made("ms", reason);
    };
    let Some(effect) = &candidate.line_effect else {
        return not_made("ms", "without a burn-off law the background over the line is not known");
    };
    let before = middle_ms(&[fit.q[0], fit.q[1], fit.q[2], fit.q[3], fit.q[4], 0.0], line.log_current, 0.0);
    let margin = study.compare.detachment_relative;
    form_test(&Extra {
        form: &candidate.form,
        what: &format!("coefficient {c:+.2}, {:.1} standard errors", statistic.abs()),
        statistic,
        p_value: (found.len() as f64 * p).min(1.0),
        effect,
        exceeds: effect.value.abs() > margin * before,
        margin: format!("{:.1} % of the pulse time", 100.0 * margin),
        action: "count drops at settings of the line itself (its backgrounds and drop sizes), the slowest and fastest feed first: the law without this term places the window wrongly where they differ from the trials'",
    })
}

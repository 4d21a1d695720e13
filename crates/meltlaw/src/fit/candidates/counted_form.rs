//! The detachment law with, where asked for, one covariate more in the position of the pulse:
//!
//! ```text
//! s = n·ln(I_p/I₀) + ln(t_p/1 ms) + c·x
//! ```
//!
//! A covariate moves a trial along s as its pulse time does and the thresholds the other way, so every
//! derivative by c is one by s1 times −x: the likelihood and its exact Hessian come from the law's own.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use crate::fit::newton::{Curved, minimise};
use crate::fit::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use crate::fit::scatter::SMALLEST_SCATTER;
use crate::statistics::GaussHermite;

/// Step, in standard errors of the full fit, above which a left-out trial is refitted by descent instead of
/// one Newton step.
const LONG_STEP: f64 = 0.6;

/// Entries of the free vector at most: q and c.
const MOST: usize = 6;

/// A form of the law over a set of trials; θ = (q, c).
#[derive(Debug, Clone)]
pub(super) struct CountedForm<'a> {
    pub(super) trials: &'a [CountedTrial],
    /// The covariate of each trial, or no covariate.
    pub(super) x: Option<&'a [f64]>,
    pub(super) rule: &'a GaussHermite,
}

/// A fitted form.
#[derive(Debug, Clone)]
pub(super) struct FittedCounts {
    /// (n, ln k, s1, ln(s2 − s1), ln τ, c).
    pub(super) theta: [f64; MOST],
    /// Which entries were free.
    pub(super) free: Vec<usize>,
    /// Inverse Hessian over the free entries.
    pub(super) covariance: DMatrix<f64>,
    /// Log-likelihood without multinomial coefficients.
    pub(super) log_likelihood: f64,
}

/// One trial's log-likelihood with its derivatives by θ.
struct Part {
    value: f64,
    gradient: [f64; MOST],
    hessian: [[f64; MOST]; MOST],
}

impl CountedForm<'_> {
    fn likelihood(&self) -> Likelihood<'_> {
        Likelihood {
            trials: self.trials,
            rule: self.rule,
            thresholds: Thresholds::Both,
            with_unknown: true,
            free: Vec::new(),
            fixed: [0.0; 5],
        }
    }

    fn shifted(&self, theta: &[f64; MOST], i: usize) -> (f64, CountedTrial) {
        let x = self.x.map_or(0.0, |x| x[i]);
        let trial = &self.trials[i];
        (x, CountedTrial { log_time: trial.log_time + theta[5] * x, ..*trial })
    }

    fn part(&self, theta: &[f64; MOST], i: usize) -> Part {
        let (x, trial) = self.shifted(theta, i);
        let d = self.likelihood().trial(&first_five(theta), &trial);
        let mut part = Part { value: d.value, gradient: [0.0; MOST], hessian: [[0.0; MOST]; MOST] };
        part.gradient[..5].copy_from_slice(&d.gradient);
        part.gradient[5] = -x * d.gradient[2];
        for (a, row) in d.hessian.iter().enumerate() {
            part.hessian[a][..5].copy_from_slice(row);
            part.hessian[a][5] = -x * row[2];
            part.hessian[5][a] = -x * row[2];
        }
        part.hessian[5][5] = x * x * d.hessian[2][2];
        part
    }

    /// Log-likelihood of all trials, without multinomial coefficients.
    pub(super) fn log_likelihood(&self, theta: &[f64; MOST]) -> f64 {
        (0..self.trials.len()).map(|i| self.part(theta, i).value).sum()
    }

    /// Marginal log-likelihood of one trial's counts as a probability of exactly those counts.
    fn log_probability(&self, theta: &[f64; MOST], i: usize) -> f64 {
        let (_, trial) = self.shifted(theta, i);
        self.likelihood().trial(&first_five(theta), &trial).value + ways(trial.count)
    }

    /// Fits the trials in `members` from `start`; ln τ = −∞ there holds τ at zero.
    pub(super) fn fit(&self, members: &[usize], start: &[f64; MOST]) -> Option<FittedCounts> {
        let covariate = self.x.map(|_| 5);
        if start[4].is_finite() {
            let free: Vec<usize> = (0..5).chain(covariate).collect();
            let found = self.descend(members, start, free);
            if let Some(found) = found.filter(|f| f.theta[4].exp() > SMALLEST_SCATTER) {
                return Some(found);
            }
        }
        let mut still = *start;
        still[4] = f64::NEG_INFINITY;
        self.descend(members, &still, (0..4).chain(covariate).collect())
    }

    fn descend(&self, members: &[usize], start: &[f64; MOST], free: Vec<usize>) -> Option<FittedCounts> {
        let problem = Descent { form: self, members, free: &free, fixed: *start };
        let begin: Vec<f64> = free.iter().map(|&i| start[i]).collect();
        let (x, value, covariance) = newton_nearby(&problem, begin.clone()).or_else(|| {
            let m = minimise(&problem, &begin, 1.0);
            Some((m.x.clone(), m.value, m.inverse_hessian().filter(|_| m.converged)?))
        })?;
        Some(FittedCounts { theta: problem.full(&x), covariance, log_likelihood: -value, free })
    }

    /// Log probability of each trial's counts at the law fitted to the others.
    ///
    /// One Newton step from the full fit with the exact Hessian less the trial's own; where it is longer than
    /// 0.6 standard errors, the trial is left out by a refit. The correction of the settings for their
    /// reliability is that of all trials.
    pub(super) fn leave_one_out(&self, fit: &FittedCounts) -> Option<Vec<f64>> {
        let parts: Vec<Part> = (0..self.trials.len()).into_par_iter().map(|i| self.part(&fit.theta, i)).collect();
        let p = fit.free.len();
        let own = |part: &Part| DMatrix::from_fn(p, p, |a, b| -part.hessian[fit.free[a]][fit.free[b]]);
        let total = parts.iter().fold(DMatrix::zeros(p, p), |sum, part| sum + own(part));
        let errors = fit.covariance.diagonal().map(f64::sqrt);
        (0..self.trials.len())
            .into_par_iter()
            .map(|i| {
                let gradient = DVector::from_iterator(p, fit.free.iter().map(|&a| parts[i].gradient[a]));
                let step = (&total - own(&parts[i])).cholesky().map(|c| -c.solve(&gradient));
                let short = step.filter(|s| s.component_div(&errors).amax() <= LONG_STEP);
                let theta = match short {
                    Some(step) => moved(&fit.theta, &fit.free, &step),
                    None => {
                        let rest: Vec<usize> = (0..self.trials.len()).filter(|j| *j != i).collect();
                        self.fit(&rest, &fit.theta)?.theta
                    }
                };
                Some(self.log_probability(&theta, i)).filter(|v| v.is_finite())
            })
            .collect()
    }
}

/// Plain Newton steps from a start that is nearly the minimum (the law in use, less a few trials or plus a
/// small term): three or four evaluations. `None` where a step does not go as promised; the damped descent of
/// [`minimise`] then finds the way.
fn newton_nearby(problem: &Descent<'_>, mut x: Vec<f64>) -> Option<(Vec<f64>, f64, DMatrix<f64>)> {
    let p = x.len();
    let (mut gradient, mut hessian) = (DVector::zeros(p), DMatrix::zeros(p, p));
    let mut last = f64::INFINITY;
    for _ in 0..8 {
        let value = problem.evaluate(&x, gradient.as_mut_slice(), &mut hessian);
        if !(value <= last) {
            return None;
        }
        last = value;
        let factor = hessian.clone().cholesky()?;
        let step = -factor.solve(&gradient);
        if !(step.amax() <= 1.0) {
            return None;
        }
        let gain = -0.5 * gradient.dot(&step);
        for (v, s) in x.iter_mut().zip(step.iter()) {
            *v += s;
        }
        // The step just made gains this much; the next would gain its square.
        if gain < 1e-6 {
            return Some((x, value - gain, factor.inverse()));
        }
    }
    None
}

fn first_five(theta: &[f64; MOST]) -> [f64; 5] {
    [theta[0], theta[1], theta[2], theta[3], theta[4]]
}

fn moved(theta: &[f64; MOST], free: &[usize], step: &DVector<f64>) -> [f64; MOST] {
    let mut moved = *theta;
    for (&i, s) in free.iter().zip(step.iter()) {
        moved[i] += s;
    }
    moved
}

/// Log of the number of ways in which the pulses of the classes can be ordered; totals carry it already.
fn ways(count: Count) -> f64 {
    let ln_factorial = |n: f64| crate::statistics::ln_gamma(n + 1.0);
    match count {
        Count::Classes { none, one, more } => {
            ln_factorial(none + one + more) - ln_factorial(none) - ln_factorial(one) - ln_factorial(more)
        }
        Count::Totals { .. } => 0.0,
    }
}

struct Descent<'a> {
    form: &'a CountedForm<'a>,
    members: &'a [usize],
    free: &'a [usize],
    fixed: [f64; MOST],
}

impl Descent<'_> {
    fn full(&self, free: &[f64]) -> [f64; MOST] {
        let mut theta = self.fixed;
        for (&i, v) in self.free.iter().zip(free) {
            theta[i] = *v;
        }
        theta
    }
}

impl Curved for Descent<'_> {
    fn evaluate(&self, free: &[f64], gradient: &mut [f64], hessian: &mut DMatrix<f64>) -> f64 {
        let theta = self.full(free);
        let mut value = 0.0;
        gradient.fill(0.0);
        hessian.fill(0.0);
        for &member in self.members {
            let part = self.form.part(&theta, member);
            value -= part.value;
            for (a, &i) in self.free.iter().enumerate() {
                gradient[a] -= part.gradient[i];
                for (b, &j) in self.free.iter().enumerate() {
                    hessian[(a, b)] -= part.hessian[i][j];
                }
            }
        }
        value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trials() -> Vec<CountedTrial> {
        (0..24)
            .map(|i| {
                let u = f64::from(i);
                let (log_current, log_time) = (0.12 * (1.7 * u).sin(), -0.2 + 0.095 * u);
                let s = 1.9 * log_current + log_time + 0.04 * (2.9 * u).cos();
                let chance = |at: f64| 1.0 / (1.0 + (-8.0 * (s - at)).exp());
                let (any, more) = (chance(0.56), chance(1.39));
                let count = Count::Classes {
                    none: (120.0 * (1.0 - any)).round(),
                    one: (120.0 * (any - more)).round(),
                    more: (120.0 * more).round(),
                };
                CountedTrial { log_current, log_time, unknown: [6e-5, 0.0, 1e-4], count }
            })
            .collect()
    }

    #[test]
    fn derivatives_by_the_covariate_are_those_of_differences() {
        let (trials, rule) = (trials(), GaussHermite::new(31));
        let x: Vec<f64> = (0..24).map(|i| 0.3 * (0.7 * f64::from(i)).cos()).collect();
        let form = CountedForm { trials: &trials, x: Some(&x), rule: &rule };
        let theta = [1.9, 2.0, 0.55, -0.2, -3.0, 0.2];
        for i in [3, 9, 17] {
            let exact = form.part(&theta, i);
            for a in 0..MOST {
                let side = |h: f64| {
                    let mut t = theta;
                    t[a] += h;
                    form.part(&t, i)
                };
                // Central differences of step 1e-5: third derivatives of some hundreds leave 1e-8 of them.
                let (low, high) = (side(-1e-5), side(1e-5));
                assert!(((high.value - low.value) / 2e-5 - exact.gradient[a]).abs() < 1e-5, "trial {i} by {a}");
                for b in 0..MOST {
                    let slope = (high.gradient[b] - low.gradient[b]) / 2e-5;
                    assert!((slope - exact.hessian[a][b]).abs() < 1e-4 * exact.hessian[a][b].abs().max(1.0));
                }
            }
        }
    }

    #[test]
    fn fifteen_points_agree_with_the_laws_thirty_one() {
        let (trials, coarse, fine) = (trials(), GaussHermite::new(15), GaussHermite::new(31));
        // Wide scatter bends the integrand away from the normal shape that the rule is made for.
        for (scatter, allowed) in [(0.01_f64, 1e-6), (0.05, 1e-6), (0.2, 1e-4)] {
            let theta = [1.9, 2.0, 0.55, -0.2, scatter.ln(), 0.0];
            let at = |rule| CountedForm { trials: &trials, x: None, rule }.log_likelihood(&theta);
            assert!((at(&coarse) - at(&fine)).abs() < allowed, "{scatter}: {} {}", at(&coarse), at(&fine));
        }
    }

    #[test]
    fn one_newton_step_leaves_a_trial_out_as_a_refit_does() {
        let (trials, rule) = (trials(), GaussHermite::new(31));
        let form = CountedForm { trials: &trials, x: None, rule: &rule };
        let all: Vec<usize> = (0..24).collect();
        let fit = form.fit(&all, &[2.0, 2.0, 0.5, -0.2, -3.0, 0.0]).expect("a maximum");
        let quick = form.leave_one_out(&fit).expect("every trial");
        let full: Vec<f64> = (0..24)
            .map(|i| {
                let rest: Vec<usize> = all.iter().copied().filter(|j| *j != i).collect();
                form.log_probability(&form.fit(&rest, &fit.theta).expect("a maximum").theta, i)
            })
            .collect();
        let mean = |v: &[f64]| v.iter().sum::<f64>() / 24.0;
        assert!((mean(&quick) - mean(&full)).abs() < 1e-3, "{} {}", mean(&quick), mean(&full));
    }

    #[test]
    fn the_covariates_standard_error_is_the_curvature_of_its_profile() {
        let (trials, rule) = (trials(), GaussHermite::new(31));
        let x: Vec<f64> = (0..24).map(|i| 0.3 * (0.7 * f64::from(i)).cos()).collect();
        let form = CountedForm { trials: &trials, x: Some(&x), rule: &rule };
        let all: Vec<usize> = (0..24).collect();
        let fit = form.fit(&all, &[2.0, 2.0, 0.5, -0.2, -3.0, 0.0]).expect("a maximum");
        let c = fit.theta[5];
        // The law itself on trials whose time is shifted by c·x, the other coefficients at their best.
        let profile = |c: f64| {
            let shifted: Vec<CountedTrial> =
                trials.iter().zip(&x).map(|(t, x)| CountedTrial { log_time: t.log_time + c * x, ..*t }).collect();
            let law = CountedForm { trials: &shifted, x: None, rule: &rule };
            law.fit(&all, &fit.theta).expect("a maximum").log_likelihood
        };
        let h = 0.02;
        let curvature = (2.0 * profile(c) - profile(c - h) - profile(c + h)) / (h * h);
        let last = fit.free.len() - 1;
        // The next even derivative over the step: 1 %.
        assert!((curvature * fit.covariance[(last, last)] - 1.0).abs() < 0.01);
    }
}

//! The trial scatter τ of the detachment law from a likelihood that allows for the coefficients fitted
//! beside it.
//!
//! ```text
//! A(ln τ) = −l(θ̂(τ), τ) + ½·ln|J_θθ(θ̂(τ), τ)|,  θ = (n, ln k, s1, ln(s2 − s1))
//! ```
//!
//! Maximum likelihood spreads the trials about thresholds that were bent towards them and so finds too little
//! scatter: a quarter of a standard error on 30 invented trials, two thirds on 10. The determinant counts what
//! the four coefficients took up, as N − p does for a residual variance.

use nalgebra::DMatrix;

use super::newton::{Curved, CurvedMinimum, minimise};
use super::ordered_logit::{CountedTrial, Likelihood, Thresholds};
use super::prior_on_counts::{PriorOnCounts, SCATTER, WithPrior, about};
use crate::statistics::{GaussHermite, student_t_quantile};
use crate::study::ScatterFrom;

/// τ below which the likelihood no longer tells it from zero, in the unit of s (0.01 % of pulse time).
pub(in crate::fit) const SMALLEST_SCATTER: f64 = 1e-4;

/// τ tried before descending: the function may have one minimum at zero and one inside.
const TRIED: [f64; 10] = [3e-4, 3e-3, 0.01, 0.02, 0.04, 0.08, 0.15, 0.3, 0.6, 1.2];

/// Half step of the central difference of the log determinant by ln τ; its error, of second order, moves τ by
/// less than 1e-6 of itself.
const STEP: f64 = 1e-3;

/// The coefficients at their best for one τ.
#[derive(Debug, Clone)]
pub(super) struct AtScatter {
    /// ln τ; −∞ for none.
    pub(super) log_tau: f64,
    /// Minimum over θ.
    pub(super) best: CurvedMinimum,
    /// A, or −l for maximum likelihood.
    pub(super) value: f64,
}

/// A(ln τ) of a set of counted trials.
///
/// # Source
/// Adjusted profile likelihood: Cox and Reid (1987), J. R. Statist. Soc. B 49, 1–39.
#[derive(Debug, Clone, Copy)]
pub(super) struct ScatterProfile<'a> {
    pub(super) trials: &'a [CountedTrial],
    pub(super) rule: &'a GaussHermite,
    pub(super) from: ScatterFrom,
    /// What the study states of the coefficients.
    pub(super) prior: &'a [PriorOnCounts],
}

impl<'a> ScatterProfile<'a> {
    pub(super) fn likelihood(&self, free: Vec<usize>, fixed: [f64; 5], with_unknown: bool) -> Likelihood<'a> {
        Likelihood { trials: self.trials, rule: self.rule, thresholds: Thresholds::Both, with_unknown, free, fixed }
    }

    /// θ at its best for one τ, from `start`.
    pub(super) fn at(&self, log_tau: f64, start: &[f64]) -> Option<AtScatter> {
        let problem = self.likelihood(vec![0, 1, 2, 3], [start[0], start[1], start[2], start[3], log_tau], true);
        let best = minimise(&WithPrior { likelihood: &problem, prior: self.prior }, start, 1.0);
        let value = best.value + self.half_log_determinant(&best)?;
        best.converged.then_some(AtScatter { log_tau, best, value })
    }

    fn half_log_determinant(&self, best: &CurvedMinimum) -> Option<f64> {
        match self.from {
            ScatterFrom::Likelihood => Some(0.0),
            ScatterFrom::AdjustedLikelihood => {
                let factor = best.hessian.clone().cholesky()?;
                Some(factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum())
            }
        }
    }

    /// ∂A/∂ln τ: the likelihood's part exactly (θ̂ is at its best), the determinant's by differences.
    fn slope(&self, point: &AtScatter) -> Option<f64> {
        let by_likelihood = self.derivatives(point).0[4];
        if self.from == ScatterFrom::Likelihood {
            return Some(by_likelihood);
        }
        let [low, high] = [-STEP, STEP].map(|step| {
            let near = self.at(point.log_tau + step, &point.best.x)?;
            self.half_log_determinant(&near.best)
        });
        Some(by_likelihood + (high? - low?) / (2.0 * STEP))
    }

    /// All of q at a point.
    pub(super) fn full(&self, point: &AtScatter) -> [f64; 5] {
        let x = &point.best.x;
        [x[0], x[1], x[2], x[3], point.log_tau]
    }

    /// The minimum over τ inside its range; `None` where no scatter is at least as good. A `start` near the
    /// minimum saves the search.
    pub(super) fn minimum(&self, without: &AtScatter, start: Option<f64>) -> Option<AtScatter> {
        // A narrow statement hides between the values tried.
        let start = start.or_else(|| about(self.prior, SCATTER).map(|p| p.centre));
        if let Some(found) = start.and_then(|log_tau| self.descend_from(log_tau, &without.best.x)) {
            return Some(found).filter(|f| self.is_better(f, without));
        }
        let found = self.search(without)?;
        Some(found).filter(|f| self.is_better(f, without))
    }

    /// The lowest of the minima between the values tried.
    fn search(&self, without: &AtScatter) -> Option<AtScatter> {
        let mut tried: Vec<AtScatter> = Vec::with_capacity(TRIED.len());
        for tau in TRIED {
            let start = tried.last().map_or(without.best.x.clone(), |t| t.best.x.clone());
            let Some(point) = self.at(tau.ln(), &start) else { continue };
            let lowest = tried.iter().map(|t| t.value).fold(without.value, f64::min);
            let far_above = point.value > lowest + 5.0;
            tried.push(point);
            if far_above {
                break;
            }
        }
        let best = (0..tried.len()).min_by(|&a, &b| tried[a].value.total_cmp(&tried[b].value))?;
        let low = tried[best.saturating_sub(1)].clone();
        let high = tried[(best + 1).min(tried.len() - 1)].clone();
        Some(self.root_between(low, high).unwrap_or_else(|| tried[best].clone()))
    }

    /// Root of the slope between two points, by the Illinois form of regula falsi; `None` where the slope does
    /// not change sign from falling to rising.
    fn root_between(&self, mut low: AtScatter, mut high: AtScatter) -> Option<AtScatter> {
        let (mut f_low, mut f_high) = (self.slope(&low)?, self.slope(&high)?);
        if !(f_low < 0.0 && f_high > 0.0) {
            return None;
        }
        let mut side = 0;
        for _ in 0..60 {
            let width = high.log_tau - low.log_tau;
            let next = (low.log_tau * f_high - high.log_tau * f_low) / (f_high - f_low);
            let point = self.at(next, &low.best.x)?;
            let f = self.slope(&point)?;
            if f == 0.0 || width < 1e-10 || (next - low.log_tau).min(high.log_tau - next) < 1e-11 {
                return Some(point);
            }
            if f < 0.0 {
                (low, f_low) = (point, f);
                if side == -1 {
                    f_high *= 0.5;
                }
                side = -1;
            } else {
                (high, f_high) = (point, f);
                if side == 1 {
                    f_low *= 0.5;
                }
                side = 1;
            }
        }
        Some(low)
    }

    /// Secant steps from a value that is nearly right.
    fn descend_from(&self, log_tau: f64, theta: &[f64]) -> Option<AtScatter> {
        let mut last = self.at(log_tau, theta)?;
        let mut f_last = self.slope(&last)?;
        let mut now = self.at(log_tau + 1e-4, &last.best.x)?;
        let mut f_now = self.slope(&now)?;
        for _ in 0..12 {
            let step = -f_now * (now.log_tau - last.log_tau) / (f_now - f_last);
            if !(step.abs() < 0.5) {
                return None;
            }
            let next = self.at(now.log_tau + step, &now.best.x)?;
            if step.abs() < 1e-11 {
                return Some(next);
            }
            (last, f_last) = (now, f_now);
            f_now = self.slope(&next)?;
            now = next;
            if f_now == f_last {
                return Some(now);
            }
        }
        (f_now.abs() < 1e-6).then_some(now)
    }

    /// Inverse of the whole Hessian by q at a point, where it is positive definite.
    pub(super) fn covariance(&self, point: &AtScatter) -> Option<DMatrix<f64>> {
        self.derivatives(point).1.cholesky().map(|c| c.inverse())
    }

    /// Gradient and Hessian of −l by all of q.
    fn derivatives(&self, point: &AtScatter) -> ([f64; 5], DMatrix<f64>) {
        let q = self.full(point);
        let problem = self.likelihood(vec![0, 1, 2, 3, 4], q, true);
        let (mut gradient, mut hessian) = ([0.0; 5], DMatrix::zeros(5, 5));
        WithPrior { likelihood: &problem, prior: self.prior }.evaluate(&q, &mut gradient, &mut hessian);
        (gradient, hessian)
    }

    /// Whether a minimum inside is better than no scatter; a statement on ln τ excludes τ = 0 by itself.
    fn is_better(&self, found: &AtScatter, without: &AtScatter) -> bool {
        about(self.prior, SCATTER).is_some() || (found.value <= without.value && found.log_tau.exp() > SMALLEST_SCATTER)
    }

    /// Upper limit of τ: where A has risen by half the squared two-sided quantile of Student's t; `None` where
    /// it does not rise so far.
    ///
    /// Two-sided although the lower end is 0: labs whose scatter comes out larger have two ends, and the miss
    /// below is spent there. With the one-sided quantile 8 % of invented labs with a small scatter missed it.
    pub(super) fn upper_limit(&self, best: &AtScatter, confidence: f64) -> Option<f64> {
        let t = student_t_quantile(0.5 + confidence / 2.0, self.trials.len().saturating_sub(4).max(1) as f64);
        let wanted = best.value + t * t / 2.0;
        let value = |log_tau: f64| self.at(log_tau, &best.best.x).map_or(f64::INFINITY, |p| p.value);
        let mut low = if best.log_tau.is_finite() { best.log_tau } else { SMALLEST_SCATTER.ln() };
        let mut high = low.max(-4.0);
        while value(high) < wanted {
            // A scatter by a factor of e² is no scatter of one setting any more: the counts do not bound it.
            if high >= 2.0 {
                return None;
            }
            high += 0.5;
        }
        for _ in 0..12 {
            let middle = f64::midpoint(low, high);
            if value(middle) < wanted { low = middle } else { high = middle }
        }
        Some(high.exp())
    }
}

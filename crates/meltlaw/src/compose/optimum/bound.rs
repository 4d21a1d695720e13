//! The lower bound of the one-drop probability as a smooth function of the pulse.
//!
//! To first order on the logit scale,
//!
//! ```text
//! bound(x, s) = ℓ(s) − t·√(A(s) + B(s)·x + C(s)·x²),   ℓ = ln(P/(1 − P)),   x = ln(I_p/I₀)
//! ```
//!
//! since P depends on s alone and, at a given s, the pulse current enters P's derivatives through the exponent
//! only. ℓ, A, B and C are cubic splines in s.

use nalgebra::{DMatrix, DVector};

use super::super::laws_at_work::LawsAtWork;
use super::jet::Jet;
use super::spline::Spline;
use crate::laws::logistic;
use crate::statistics::{GaussHermite, student_t_quantile};

/// Points of the splines.
const POINTS: usize = 121;

/// Steepnesses of the logistic that the splines reach beyond either threshold: there P is below e⁻⁸.
const BEYOND: f64 = 8.0;

/// Ratio of two risks up to which their pulses count as equally sure.
const EQUALLY_SURE: f64 = 1.02;

/// Chance of not one drop below which two pulses count as equally sure.
const SURE_ENOUGH: f64 = 0.01;

/// Lower bound of the one-drop probability by pulse.
#[derive(Debug, Clone)]
pub(in crate::compose) struct Bound {
    /// ℓ, A, B, C.
    splines: [Spline; 4],
    quantile: f64,
    /// ln(I_p/I₀) and s of the surest pulse.
    pub(in crate::compose) best: [f64; 2],
    /// 1 − bound there, or what counts as sure enough.
    pub(in crate::compose) least_risk: f64,
}

impl Bound {
    /// The bound at the stated confidence; the surest pulse is looked for between two log currents.
    pub(in crate::compose) fn new(
        laws: &LawsAtWork,
        confidence: f64,
        log_currents: [f64; 2],
        preferred: f64,
        rule: &GaussHermite,
    ) -> Self {
        let d = &laws.detachment;
        let scatter = d.law.trial_scatter;
        // With scatter the flanks of the averaged probability are less steep.
        let reach = BEYOND / d.law.steepness + 3.0 * scatter;
        let (low, high) = (d.law.one_drop_s - reach, d.law.more_drops_s + reach);
        let mut covariance = d.covariance_q.clone();
        for (e, c) in d.effects_q.iter().zip(&laws.common) {
            let e = DVector::from_row_slice(e) * c.standard_uncertainty;
            covariance += &e * e.transpose();
        }
        let mut values = [(); 4].map(|()| Vec::with_capacity(POINTS));
        for i in 0..POINTS {
            let s = low + (high - low) * i as f64 / (POINTS - 1) as f64;
            let at = at_position(laws, s, &covariance, rule);
            values.iter_mut().zip(at).for_each(|(v, a)| v.push(a));
        }
        let splines = values.map(|v| Spline::new(low, high, v));
        let quantile = student_t_quantile(0.5 + confidence / 2.0, d.degrees_of_freedom);
        let mut bound = Self { splines, quantile, best: [0.0; 2], least_risk: 1.0 };
        let window = [d.law.one_drop_s, d.law.more_drops_s];
        let risk = |[x, s]: [f64; 2]| 1.0 - bound.probability(x, s);
        let surest = bound.surest(log_currents, window);
        // Over pulse currents the bound is flat where the exponent is known well: of equally sure pulses the one at the
        // current that the trials know best.
        let [low, high] = log_currents;
        let known = preferred.max(low).min(high.max(low));
        let known = bound.surest([known; 2], window);
        let best = if risk(known) <= EQUALLY_SURE * risk(surest) { known } else { surest };
        let least_risk = risk(surest).max(SURE_ENOUGH);
        (bound.best, bound.least_risk) = (best, least_risk);
        bound
    }

    /// The bound itself.
    pub(super) fn probability(&self, x: f64, s: f64) -> f64 {
        logistic(self.logit(Jet::constant(x), Jet::constant(s)).value)
    }

    /// ln(bound/(1 − bound)).
    pub(super) fn logit(&self, x: Jet, s: Jet) -> Jet {
        let [logit, a, b, c] = self.splines.each_ref().map(|spline| {
            let [value, first, second] = spline.at(s.value);
            s.chain(value, first, second)
        });
        let mut variance = a + x * (b + c * x);
        // Between the points of a spline rounding may leave less than nothing of a variance near zero.
        if !(variance.value > 1e-18) {
            variance = Jet::constant(1e-18);
        }
        let sd = variance.value.sqrt();
        logit - variance.chain(sd, 0.5 / sd, -0.25 / (sd * variance.value)) * self.quantile
    }

    /// ln(bound/(1 − bound)) and its derivative by s.
    pub(in crate::compose) fn logit_and_slope(&self, x: f64, s: f64) -> [f64; 2] {
        let [logit, a, b, c] = self.splines.each_ref().map(|spline| spline.at(s));
        let [variance, by_s] = [0, 1].map(|i| a[i] + x * (b[i] + c[i] * x));
        // As above.
        let (variance, by_s) = if variance > 1e-18 { (variance, by_s) } else { (1e-18, 0.0) };
        let sd = variance.sqrt();
        [logit[0] - self.quantile * sd, logit[1] - self.quantile * by_s / (2.0 * sd)]
    }

    /// Positions that the splines span.
    pub(in crate::compose) fn positions(&self) -> [f64; 2] {
        self.splines[0].ends()
    }

    /// The pulse with the highest bound.
    fn surest(&self, [low, high]: [f64; 2], [one, more]: [f64; 2]) -> [f64; 2] {
        let current = |s: f64| {
            let [b, c] = [2, 3].map(|i| self.splines[i].at(s)[0]);
            let least = if c > 0.0 { -0.5 * b / c } else { 0.0 };
            least.max(low).min(high.max(low))
        };
        let at = |s: f64| self.logit(Jet::constant(current(s)), Jet::constant(s)).value;
        let step = (more - one) / 64.0;
        let coarse = (0..=64)
            .map(|i| one + step * f64::from(i))
            .max_by(|a, b| at(*a).total_cmp(&at(*b)))
            .unwrap_or(f64::midpoint(one, more));
        let (mut a, mut b) = (coarse - step, coarse + step);
        for _ in 0..60 {
            let (c, d) = (a + (b - a) / 3.0, b - (b - a) / 3.0);
            if at(c) < at(d) { a = c } else { b = d }
        }
        let s = f64::midpoint(a, b);
        [current(s), s]
    }
}

/// ℓ, A, B and C at one position.
fn at_position(laws: &LawsAtWork, s: f64, covariance: &DMatrix<f64>, rule: &GaussHermite) -> [f64; 4] {
    let law = &laws.detachment.law;
    let p = law.one_drop_probability(s, rule).clamp(1e-12, 1.0 - 1e-12);
    // At the reference current the exponent does not enter; at e·I₀ its derivative is what x multiplies.
    let free = law.one_drop_gradient(0.0, s, rule);
    let exponent = law.one_drop_gradient(1.0, law.log_pulse_time(s, 1.0), rule)[0];
    let per_logit = 1.0 / (p * (1.0 - p));
    let form = |g: &[f64; 5], h: &[f64; 5]| {
        let mut sum = 0.0;
        for (i, a) in g.iter().enumerate() {
            for (j, b) in h.iter().enumerate() {
                sum += a * covariance[(i, j)] * b;
            }
        }
        sum * per_logit * per_logit
    };
    let by_exponent = [exponent, 0.0, 0.0, 0.0, 0.0];
    [(p / (1.0 - p)).ln(), form(&free, &free), 2.0 * form(&free, &by_exponent), form(&by_exponent, &by_exponent)]
}

//! The one-drop window: its middle and how far from it the probability keeps its floor.

use nalgebra::DVector;

use super::super::laws_at_work::LawsAtWork;
use crate::statistics::{GaussHermite, student_t_quantile};

/// Positions s between which the lower bound of the one-drop probability keeps its floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::compose) struct Window {
    /// (s1 + s2)/2.
    pub(super) middle: f64,
    /// Lowest position; the middle where not even that keeps the floor.
    pub(super) low: f64,
    /// Highest position.
    pub(super) high: f64,
}

impl Window {
    /// The window at pulse current I₀·eˣ for a floor on the lower bound.
    ///
    /// The bound is taken to first order on the logit scale; what is composed with it is judged by the
    /// draws afterwards.
    pub(in crate::compose) fn new(
        laws: &LawsAtWork,
        log_current: f64,
        floor: f64,
        confidence: f64,
        rule: &GaussHermite,
    ) -> Self {
        let law = &laws.detachment.law;
        let middle = f64::midpoint(law.one_drop_s, law.more_drops_s);
        let keeps = |s: f64| lower_bound(laws, log_current, s, confidence, rule) >= floor;
        let edge = |far: f64| {
            if !keeps(middle) {
                return middle;
            }
            let (mut inside, mut outside) = (middle, far);
            for _ in 0..40 {
                let at = f64::midpoint(inside, outside);
                if keeps(at) { inside = at } else { outside = at }
            }
            inside
        };
        Self { middle, low: edge(law.one_drop_s), high: edge(law.more_drops_s) }
    }
}

/// First-order lower bound of the one-drop probability, on the logit scale.
fn lower_bound(laws: &LawsAtWork, log_current: f64, s: f64, confidence: f64, rule: &GaussHermite) -> f64 {
    let d = &laws.detachment;
    let p = d.law.one_drop_probability(s, rule);
    let gradient =
        DVector::from_row_slice(&d.law.one_drop_gradient(log_current, d.law.log_pulse_time(s, log_current), rule));
    let mut variance = (gradient.transpose() * &d.covariance_q * &gradient)[(0, 0)];
    for (e, c) in d.effects_q.iter().zip(&laws.common) {
        let effect: f64 = e.iter().zip(gradient.iter()).map(|(e, g)| e * g).sum();
        variance += (effect * c.standard_uncertainty).powi(2);
    }
    let half = student_t_quantile(0.5 + confidence / 2.0, d.degrees_of_freedom) * variance.sqrt() / (p * (1.0 - p));
    crate::laws::logistic((p / (1.0 - p)).ln() - half)
}

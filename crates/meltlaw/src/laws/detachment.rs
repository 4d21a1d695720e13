//! When a drop lets go.

use super::CoefficientName;
use crate::statistics::GaussHermite;

/// Names and units, in the order of the file's covariance.
pub const DETACHMENT_COEFFICIENTS: [CoefficientName; 5] = [
    CoefficientName { name: "exponent", unit: "1" },
    CoefficientName { name: "steepness", unit: "1" },
    CoefficientName { name: "one_drop_from_ms", unit: "ms" },
    CoefficientName { name: "more_drops_from_ms", unit: "ms" },
    CoefficientName { name: "trial_scatter", unit: "1" },
];

/// The detachment law with its coefficients: ordered logit of drops per pulse.
///
/// ```text
/// s = n·ln(I_p/I₀) + ln(t_p/1 ms)
/// P(≥1) = σ(k(s − s1)),  P(≥2) = σ(k(s − s2)),  σ(x) = 1/(1 + e⁻ˣ)
/// ```
///
/// The true s of a trial scatters about its setting with standard deviation τ.
///
/// # Source
/// Form I_pⁿ·t_p = D: usual in the literature of pulsed arc welding (common practice). Ordered logit:
/// McCullagh (1980), J. R. Statist. Soc. B 42, 109–142.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Detachment {
    /// n.
    pub exponent: f64,
    /// k.
    pub steepness: f64,
    /// s1 = ln(one_drop_from_ms).
    pub one_drop_s: f64,
    /// s2 = ln(more_drops_from_ms).
    pub more_drops_s: f64,
    /// τ.
    pub trial_scatter: f64,
}

/// σ(x) = 1/(1 + e⁻ˣ).
pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

impl Detachment {
    /// The equation in words.
    pub const EQUATION: &'static str = "ordered logit in s = n*ln(Ip/I0) + ln(tp/ms)";

    /// s of a setting.
    pub fn s(&self, log_pulse_current: f64, log_pulse_time: f64) -> f64 {
        self.exponent * log_pulse_current + log_pulse_time
    }

    /// ln t_p of the setting with a given s.
    pub fn log_pulse_time(&self, s: f64, log_pulse_current: f64) -> f64 {
        s - self.exponent * log_pulse_current
    }

    /// Probability that a pulse detaches exactly one drop, averaged over the trial scatter.
    ///
    /// ```text
    /// P(=1) = ∫ [σ(k(s + τz − s1)) − σ(k(s + τz − s2))] φ(z) dz
    /// ```
    pub fn one_drop_probability(&self, s: f64, rule: &GaussHermite) -> f64 {
        let k = self.steepness;
        if self.trial_scatter == 0.0 {
            return logistic(k * (s - self.one_drop_s)) - logistic(k * (s - self.more_drops_s));
        }
        let sum: f64 = rule
            .points
            .iter()
            .zip(&rule.weights)
            .map(|(z, w)| {
                let at = s + self.trial_scatter * z;
                w * (logistic(k * (at - self.one_drop_s)) - logistic(k * (at - self.more_drops_s)))
            })
            .sum();
        sum.clamp(0.0, 1.0)
    }

    /// Derivatives of [`Self::one_drop_probability`] by (n, ln k, s1, ln(s2 − s1), ln τ).
    pub fn one_drop_gradient(&self, log_pulse_current: f64, log_pulse_time: f64, rule: &GaussHermite) -> [f64; 5] {
        let k = self.steepness;
        let s = self.s(log_pulse_current, log_pulse_time);
        let gap = self.more_drops_s - self.one_drop_s;
        let mut out = [0.0; 5];
        for (z, w) in rule.points.iter().zip(&rule.weights) {
            let at = s + self.trial_scatter * z;
            let (a1, a2) = (k * (at - self.one_drop_s), k * (at - self.more_drops_s));
            let (d1, d2) = (logistic(a1) * logistic(-a1), logistic(a2) * logistic(-a2));
            out[0] += w * k * log_pulse_current * (d1 - d2);
            out[1] += w * (a1 * d1 - a2 * d2);
            out[2] -= w * k * (d1 - d2);
            out[3] += w * k * gap * d2;
            out[4] += w * k * self.trial_scatter * z * (d1 - d2);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAW: Detachment =
        Detachment { exponent: 1.9, steepness: 8.0, one_drop_s: 0.56, more_drops_s: 1.386, trial_scatter: 0.05 };

    #[test]
    fn mid_window_the_probability_is_that_of_two_logits() {
        let rule = GaussHermite::new(31);
        let law = Detachment { trial_scatter: 0.0, ..LAW };
        // k·(s2 − s1)/2 = 8·0.413 = 3.304: σ(3.304) − σ(−3.304) = tanh(1.652)
        assert!((law.one_drop_probability(0.973, &rule) - 1.652_f64.tanh()).abs() < 1e-12);
    }

    #[test]
    fn derivatives_of_the_probability_agree_with_differences() {
        let rule = GaussHermite::new(31);
        let (x, y) = (0.1, 0.8);
        let at = |q: [f64; 5]| {
            let law = Detachment {
                exponent: q[0],
                steepness: q[1].exp(),
                one_drop_s: q[2],
                more_drops_s: q[2] + q[3].exp(),
                trial_scatter: q[4].exp(),
            };
            law.one_drop_probability(law.s(x, y), &rule)
        };
        let q = [
            LAW.exponent,
            LAW.steepness.ln(),
            LAW.one_drop_s,
            (LAW.more_drops_s - LAW.one_drop_s).ln(),
            LAW.trial_scatter.ln(),
        ];
        let analytic = LAW.one_drop_gradient(x, y, &rule);
        for i in 0..5 {
            let (mut up, mut down) = (q, q);
            up[i] += 1e-5;
            down[i] -= 1e-5;
            assert!(((at(up) - at(down)) / 2e-5 - analytic[i]).abs() < 1e-9, "{i}");
        }
    }
}

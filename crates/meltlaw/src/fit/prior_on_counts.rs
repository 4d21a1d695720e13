//! Prior knowledge in the fit of counted drops: each statement is a parabola on the fit's own scale
//! q = (n, ln k, s1, ln(s2 − s1), ln τ).
//!
//! ```text
//! −ln L + Σ ½·((x − m)/sd)²,   x = n, ln k, s1, s2 = s1 + e^{q₃}, ln τ
//! ```
//!
//! n is stated as it is; the others on the logarithm, with median `mean` and sd = `standard_deviation/mean`.

use nalgebra::DMatrix;

use super::newton::Curved;
use super::ordered_logit::Likelihood;
use crate::laws::DETACHMENT_COEFFICIENTS;
use crate::study::Study;

/// What is stated of one coefficient, on the fit's own scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PriorOnCounts {
    /// Its place among [`DETACHMENT_COEFFICIENTS`].
    pub place: usize,
    /// m.
    pub centre: f64,
    /// sd.
    pub spread: f64,
}

/// Places among the coefficients.
pub const EXPONENT: usize = 0;
/// k.
pub const STEEPNESS: usize = 1;
/// First threshold.
pub const ONE_DROP: usize = 2;
/// Second threshold.
pub const MORE_DROPS: usize = 3;
/// τ.
pub const SCATTER: usize = 4;

/// What the study states of the detachment law.
pub fn stated(study: &Study) -> Vec<PriorOnCounts> {
    study
        .prior_of("detachment")
        .filter_map(|p| {
            let place = DETACHMENT_COEFFICIENTS.iter().position(|c| c.name == p.coefficient)?;
            Some(if place == EXPONENT {
                PriorOnCounts { place, centre: p.mean, spread: p.standard_deviation }
            } else {
                PriorOnCounts { place, centre: p.mean.ln(), spread: p.standard_deviation / p.mean }
            })
        })
        .collect()
}

/// The statement about one coefficient.
pub fn about(prior: &[PriorOnCounts], place: usize) -> Option<PriorOnCounts> {
    prior.iter().copied().find(|p| p.place == place)
}

/// What holds where only one threshold is fitted, which then stands third.
pub fn for_one_threshold(prior: &[PriorOnCounts], first: bool) -> Vec<PriorOnCounts> {
    let (seen, unseen) = if first { (ONE_DROP, MORE_DROPS) } else { (MORE_DROPS, ONE_DROP) };
    let of_one = |p: &PriorOnCounts| if p.place == seen { PriorOnCounts { place: ONE_DROP, ..*p } } else { *p };
    prior.iter().filter(|p| p.place != unseen).map(of_one).collect()
}

impl PriorOnCounts {
    /// (x − m)/sd and the derivatives of x by q; `None` where ln τ = −∞, of which a statement on the
    /// logarithm says nothing.
    fn at(&self, q: &[f64; 5]) -> Option<(f64, [f64; 5])> {
        let mut by_q = [0.0; 5];
        by_q[self.place] = 1.0;
        let x = if self.place == MORE_DROPS {
            let gap = q[3].exp();
            (by_q[ONE_DROP], by_q[MORE_DROPS]) = (1.0, gap);
            q[2] + gap
        } else {
            q[self.place]
        };
        x.is_finite().then(|| ((x - self.centre) / self.spread, by_q))
    }
}

/// Σ ½·((x − m)/sd)².
pub fn penalty(prior: &[PriorOnCounts], q: &[f64; 5]) -> f64 {
    prior.iter().filter_map(|p| p.at(q)).map(|(z, _)| z * z / 2.0).sum()
}

/// Information that the statements bring about q.
pub fn information(prior: &[PriorOnCounts], q: &[f64; 5]) -> DMatrix<f64> {
    let mut sum = DMatrix::zeros(5, 5);
    for p in prior {
        if let Some((_, by_q)) = p.at(q) {
            for i in 0..5 {
                for j in 0..5 {
                    sum[(i, j)] += by_q[i] * by_q[j] / (p.spread * p.spread);
                }
            }
        }
    }
    sum
}

/// Share of each of (n, ln k, s1, s2) that a statement brings, summed: so many coefficients fewer rest on
/// the trials.
pub fn coefficients_stated(prior: &[PriorOnCounts], q: &[f64; 5], covariance_q: &DMatrix<f64>) -> f64 {
    prior
        .iter()
        .filter(|p| p.place != SCATTER)
        .filter_map(|p| Some((p, p.at(q)?.1)))
        .map(|(p, by_q)| {
            let mut variance = 0.0;
            for i in 0..4 {
                for j in 0..4 {
                    variance += by_q[i] * covariance_q[(i, j)] * by_q[j];
                }
            }
            (variance / (p.spread * p.spread)).clamp(0.0, 1.0)
        })
        .sum()
}

/// A likelihood with what is stated beside it.
#[derive(Debug)]
pub struct WithPrior<'a> {
    /// The counts.
    pub likelihood: &'a Likelihood<'a>,
    /// The statements.
    pub prior: &'a [PriorOnCounts],
}

impl Curved for WithPrior<'_> {
    fn evaluate(&self, free: &[f64], gradient: &mut [f64], hessian: &mut DMatrix<f64>) -> f64 {
        let mut value = self.likelihood.evaluate(free, gradient, hessian);
        if self.prior.is_empty() {
            return value;
        }
        let q = self.likelihood.full(free);
        for p in self.prior {
            let Some((z, by_q)) = p.at(&q) else { continue };
            value += z * z / 2.0;
            for (a, &i) in self.likelihood.free.iter().enumerate() {
                gradient[a] += z * by_q[i] / p.spread;
                for (b, &j) in self.likelihood.free.iter().enumerate() {
                    hessian[(a, b)] += by_q[i] * by_q[j] / (p.spread * p.spread);
                }
                // s2 = s1 + e^{q₃} bends by q₃ alone, by e^{q₃} again.
                if p.place == MORE_DROPS && i == MORE_DROPS {
                    hessian[(a, a)] += z * by_q[MORE_DROPS] / p.spread;
                }
            }
        }
        value
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::ordered_logit::{Count, CountedTrial, Thresholds};
    use crate::statistics::GaussHermite;

    #[test]
    fn derivatives_with_statements_agree_with_differences() {
        let trials: Vec<CountedTrial> = [(0.1, 0.4, [30.0, 60.0, 10.0]), (-0.2, 0.9, [12.0, 70.0, 18.0])]
            .iter()
            .map(|&(log_current, log_time, [none, one, more])| CountedTrial {
                log_current,
                log_time,
                unknown: [1e-4, 0.0, 1e-4],
                count: Count::Classes { none, one, more },
            })
            .collect();
        let rule = GaussHermite::new(31);
        let likelihood = Likelihood {
            trials: &trials,
            rule: &rule,
            thresholds: Thresholds::Both,
            with_unknown: true,
            free: vec![0, 1, 2, 3, 4],
            fixed: [0.0; 5],
        };
        let prior: Vec<PriorOnCounts> = (0..5)
            .map(|place| PriorOnCounts { place, centre: [2.0, 2.1, 0.6, 1.3, -3.0][place], spread: 0.2 })
            .collect();
        let function = WithPrior { likelihood: &likelihood, prior: &prior };
        let at = |x: &[f64]| {
            let (mut g, mut h) = (vec![0.0; 5], DMatrix::zeros(5, 5));
            (function.evaluate(x, &mut g, &mut h), g, h)
        };
        let x = [1.8, 2.0, 0.5, -0.1, -2.5];
        let (_, gradient, hessian) = at(&x);
        for i in 0..5 {
            let (mut up, mut down) = (x, x);
            up[i] += 1e-5;
            down[i] -= 1e-5;
            let ((high, g_high, _), (low, g_low, _)) = (at(&up), at(&down));
            // Central differences of a value near 200 at this step leave 200·1e-16/1e-5 and the third
            // derivative times 1e-10.
            assert!(((high - low) / 2e-5 - gradient[i]).abs() < 1e-6 * (1.0 + gradient[i].abs()), "{i}");
            for j in 0..5 {
                let difference = (g_high[j] - g_low[j]) / 2e-5;
                assert!((difference - hessian[(i, j)]).abs() < 1e-5 * (1.0 + hessian[(i, j)].abs()), "{i} {j}");
            }
        }
    }
}

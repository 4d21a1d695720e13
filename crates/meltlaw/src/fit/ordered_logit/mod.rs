//! The marginal likelihood of counted drops: ordered logit whose position scatters from trial to trial,
//! with exact first and second derivatives.
//!
//! ```text
//! Lᵢ(q) = ∫ Π_c p_c(u)^{N_ic} φ(z) dz,  u = n·xᵢ + yᵢ + sdᵢ·z,  sdᵢ² = τ² + known(n)
//! q = (n, ln k, s1, ln(s2 − s1), ln τ)
//! ```
//!
//! The integral is taken by adaptive Gauss–Hermite quadrature about each trial's most likely z, so that
//! 100 000 counted pulses cost what 10 cost. Derivatives follow from averages over z (Fisher's and
//! Louis's identities): they are exact to the quadrature's own error.

mod averages;
mod chances;

use super::newton::Curved;
use crate::statistics::GaussHermite;
use averages::Averages;
use chances::Chances;

/// Drops counted in one trial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Count {
    /// Pulses by number of drops.
    Classes {
        /// Pulses without a drop.
        none: f64,
        /// Pulses with one drop.
        one: f64,
        /// Pulses with more.
        more: f64,
    },
    /// Totals only; more than one drop means two.
    Totals {
        /// Drops in all.
        drops: f64,
        /// Pulses in all.
        pulses: f64,
    },
}

impl Count {
    /// Pulses counted.
    pub fn pulses(self) -> f64 {
        match self {
            Self::Classes { none, one, more } => none + one + more,
            Self::Totals { pulses, .. } => pulses,
        }
    }
}

/// One counted trial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountedTrial {
    /// ln(I_p/I₀), corrected for its reliability.
    pub log_current: f64,
    /// ln(t_p/1 ms), corrected for its reliability.
    pub log_time: f64,
    /// What stays unknown of the two: variances and covariance (current, both, time).
    pub unknown: [f64; 3],
    /// The counts.
    pub count: Count,
}

/// Which thresholds the counts speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Thresholds {
    /// Both.
    Both,
    /// Only one: `one` and `more` count alike, q has three free entries and τ.
    Single,
}

/// The likelihood over q for a set of trials; entries of q not in `free` stay as in `fixed`.
#[derive(Debug, Clone)]
pub struct Likelihood<'a> {
    /// The trials.
    pub trials: &'a [CountedTrial],
    /// Quadrature.
    pub rule: &'a GaussHermite,
    /// Thresholds spoken of.
    pub thresholds: Thresholds,
    /// Whether the readings' unknown part is added to τ².
    pub with_unknown: bool,
    /// Indices of the free entries of q.
    pub free: Vec<usize>,
    /// q with the fixed entries; ln τ = −∞ is τ = 0.
    pub fixed: [f64; 5],
}

/// Value, gradient and Hessian of a trial's or a table's log-likelihood over all five entries of q.
#[derive(Debug, Clone, Copy)]
pub struct Derivatives {
    /// Log-likelihood, without multinomial coefficients.
    pub value: f64,
    /// By q.
    pub gradient: [f64; 5],
    /// By q twice.
    pub hessian: [[f64; 5]; 5],
}

impl Derivatives {
    const ZERO: Self = Self { value: 0.0, gradient: [0.0; 5], hessian: [[0.0; 5]; 5] };
}

impl Likelihood<'_> {
    /// All entries of q from the free ones.
    pub fn full(&self, free: &[f64]) -> [f64; 5] {
        let mut q = self.fixed;
        for (&i, &v) in self.free.iter().zip(free) {
            q[i] = v;
        }
        q
    }

    /// Sum over trials.
    pub fn derivatives(&self, q: &[f64; 5]) -> Derivatives {
        let mut sum = Derivatives::ZERO;
        for trial in self.trials {
            let d = self.trial(q, trial);
            sum.value += d.value;
            for i in 0..5 {
                sum.gradient[i] += d.gradient[i];
                for j in 0..5 {
                    sum.hessian[i][j] += d.hessian[i][j];
                }
            }
        }
        sum
    }

    /// One trial's log-likelihood and its derivatives.
    ///
    /// Every point of the quadrature enters through its position a₁ = m + k·sd·z and κ alone, so nine averages
    /// over z carry the whole gradient and Hessian by q.
    pub fn trial(&self, q: &[f64; 5], trial: &CountedTrial) -> Derivatives {
        let spread = Spread::new(q, trial, self.with_unknown);
        let k = q[1].exp();
        let kappa = match self.thresholds {
            Thresholds::Both => k * q[3].exp(),
            Thresholds::Single => f64::INFINITY,
        };
        let mean = k * (q[0] * trial.log_current + trial.log_time - q[2]);
        let chances = Chances::new(kappa, trial.count);
        let averages = if spread.sd == 0.0 {
            Averages::at_one_point(&chances.at(mean))
        } else {
            Averages::over_scatter(&chances, mean, k * spread.sd, self.rule)
        };
        derivatives_by_q(&averages, k, kappa, mean, &spread, trial)
    }

    /// Log-likelihood alone.
    pub fn value(&self, q: &[f64; 5]) -> f64 {
        self.trials.iter().map(|t| self.trial(q, t).value).sum()
    }
}

impl Curved for Likelihood<'_> {
    fn evaluate(&self, free: &[f64], gradient: &mut [f64], hessian: &mut nalgebra::DMatrix<f64>) -> f64 {
        let d = self.derivatives(&self.full(free));
        for (a, &i) in self.free.iter().enumerate() {
            gradient[a] = -d.gradient[i];
            for (b, &j) in self.free.iter().enumerate() {
                hessian[(a, b)] = -d.hessian[i][j];
            }
        }
        -d.value
    }
}

/// Standard deviation of a trial's position and its derivatives by n and ln τ.
struct Spread {
    sd: f64,
    by_n: f64,
    by_tau: f64,
    by_nn: f64,
    by_nt: f64,
    by_tt: f64,
}

impl Spread {
    fn new(q: &[f64; 5], trial: &CountedTrial, with_unknown: bool) -> Self {
        let n = q[0];
        let tau2 = (2.0 * q[4]).exp();
        let [cc, ct, tt] = if with_unknown { trial.unknown } else { [0.0; 3] };
        let known = n * n * cc + 2.0 * n * ct + tt;
        let sd = (tau2 + known.max(0.0)).sqrt();
        if sd == 0.0 {
            return Self { sd, by_n: 0.0, by_tau: 0.0, by_nn: 0.0, by_nt: 0.0, by_tt: 0.0 };
        }
        let by_n = (n * cc + ct) / sd;
        let by_tau = tau2 / sd;
        Self {
            sd,
            by_n,
            by_tau,
            by_nn: cc / sd - by_n * by_n / sd,
            by_nt: -by_n * by_tau / sd,
            by_tt: 2.0 * tau2 / sd - by_tau * by_tau / sd,
        }
    }
}

/// Gradient and Hessian by q from averages over z: chain rule through a₁ = m + k·sd(n, τ)·z and κ.
fn derivatives_by_q(
    averages: &Averages,
    k: f64,
    kappa: f64,
    mean: f64,
    spread: &Spread,
    trial: &CountedTrial,
) -> Derivatives {
    let finite_kappa = if kappa.is_finite() { kappa } else { 0.0 };
    // ∂a₁/∂q = at_zero + by_z·z, ∂κ/∂q = by_kappa.
    let at_zero = [k * trial.log_current, mean, -k, 0.0, 0.0];
    let by_z = [k * spread.by_n, k * spread.sd, 0.0, 0.0, k * spread.by_tau];
    let by_kappa = [0.0, finite_kappa, 0.0, finite_kappa, 0.0];
    let Averages { log, position: [g0, g1], kappa: gk, position_twice: [h0, h1, h2], mixed: [m0, m1], kappa_twice: hk } =
        *averages;
    let mut d = Derivatives { value: log, ..Derivatives::ZERO };
    for i in 0..5 {
        d.gradient[i] = g0 * at_zero[i] + g1 * by_z[i] + gk * by_kappa[i];
    }
    for i in 0..5 {
        for j in 0..=i {
            d.hessian[i][j] = h0 * at_zero[i] * at_zero[j]
                + h1 * (at_zero[i] * by_z[j] + by_z[i] * at_zero[j])
                + h2 * by_z[i] * by_z[j]
                + m0 * (at_zero[i] * by_kappa[j] + by_kappa[i] * at_zero[j])
                + m1 * (by_z[i] * by_kappa[j] + by_kappa[i] * by_z[j])
                + hk * by_kappa[i] * by_kappa[j]
                - d.gradient[i] * d.gradient[j];
        }
    }
    // Second derivatives of a₁ and κ themselves.
    d.hessian[0][0] += g1 * k * spread.by_nn;
    d.hessian[1][0] += g0 * at_zero[0] + g1 * by_z[0];
    d.hessian[1][1] += g0 * at_zero[1] + g1 * by_z[1] + gk * finite_kappa;
    d.hessian[2][1] -= g0 * k;
    d.hessian[3][1] += gk * finite_kappa;
    d.hessian[3][3] += gk * finite_kappa;
    d.hessian[4][0] += g1 * k * spread.by_nt;
    d.hessian[4][1] += g1 * by_z[4];
    d.hessian[4][4] += g1 * k * spread.by_tt;
    for i in 0..5 {
        for j in 0..i {
            d.hessian[j][i] = d.hessian[i][j];
        }
    }
    d
}

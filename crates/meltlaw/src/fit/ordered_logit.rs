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

use super::newton::Curved;
use crate::laws::logistic;
use crate::statistics::GaussHermite;

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
    pub fn trial(&self, q: &[f64; 5], trial: &CountedTrial) -> Derivatives {
        let spread = Spread::new(q, trial, self.with_unknown);
        let k = q[1].exp();
        let kappa = match self.thresholds {
            Thresholds::Both => k * q[3].exp(),
            Thresholds::Single => f64::INFINITY,
        };
        let mean = k * (q[0] * trial.log_current + trial.log_time - q[2]);
        let at = |z: f64| Chance::at(mean + k * spread.sd * z, kappa, trial.count);
        if spread.sd == 0.0 {
            let chance = at(0.0);
            return one_point(k, kappa, mean, 0.0, &spread, trial, &chance);
        }
        let (mode, width) = most_likely(k * spread.sd, &at);
        let mut nodes = [(0.0, 0.0); 64];
        let count = self.rule.points.len().min(64);
        let mut top = f64::NEG_INFINITY;
        for (node, (x, w)) in nodes.iter_mut().zip(self.rule.points.iter().zip(&self.rule.weights)) {
            let z = mode + width * x;
            let log_weight = w.ln() + width.ln() + (x * x - z * z) / 2.0 + at(z).log;
            *node = (z, log_weight);
            top = top.max(log_weight);
        }
        let total: f64 = nodes[..count].iter().map(|(_, l)| (l - top).exp()).sum();
        let mut sum = Derivatives::ZERO;
        for &(z, log_weight) in &nodes[..count] {
            let share = (log_weight - top).exp() / total;
            if share < 1e-18 {
                continue;
            }
            let chance = at(z);
            let d = one_point(k, kappa, mean + k * spread.sd * z, z, &spread, trial, &chance);
            for i in 0..5 {
                sum.gradient[i] += share * d.gradient[i];
                for j in 0..=i {
                    sum.hessian[i][j] += share * (d.hessian[i][j] + d.gradient[i] * d.gradient[j]);
                }
            }
        }
        for i in 0..5 {
            for j in 0..=i {
                sum.hessian[i][j] -= sum.gradient[i] * sum.gradient[j];
                sum.hessian[j][i] = sum.hessian[i][j];
            }
        }
        sum.value = top + total.ln();
        sum
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

/// Log chance of the counts at one position a₁ = k(u − s1) and its derivatives by a₁, a₂ = a₁ − κ and κ.
struct Chance {
    log: f64,
    first: [f64; 3],
    second: [f64; 3],
    /// Variance of the unseen number of double drops (totals only) and the direction it acts in.
    hidden: f64,
    hidden_direction: [f64; 3],
}

fn log_logistic(x: f64) -> f64 {
    if x > 0.0 { -(-x).exp().ln_1p() } else { x - x.exp().ln_1p() }
}

/// weight · log, where no count makes the log irrelevant even if infinite.
fn times(weight: f64, log: f64) -> f64 {
    if weight == 0.0 { 0.0 } else { weight * log }
}

impl Chance {
    fn at(a1: f64, kappa: f64, count: Count) -> Self {
        let a2 = a1 - kappa;
        let (up1, down1) = (logistic(a1), logistic(-a1));
        let (up2, down2) = (logistic(a2), logistic(-a2));
        let between = (-(-kappa).exp()).ln_1p();
        let grow = 1.0 / kappa.exp_m1();
        let (log, none, one, more, hidden) = match count {
            Count::Classes { none, one, more } => {
                let log = times(none, log_logistic(-a1))
                    + times(one, log_logistic(a1) + log_logistic(-a2) + between)
                    + times(more, log_logistic(a2));
                (log, none, one, more, 0.0)
            }
            Count::Totals { drops, pulses } => totals(
                drops,
                pulses,
                [log_logistic(-a1), log_logistic(a1) + log_logistic(-a2) + between, log_logistic(a2)],
            ),
        };
        Self {
            log,
            first: [-none * up1 + one * down1, -one * up2 + more * down2, one * grow],
            second: [
                -(none + one) * up1 * down1,
                -(one + more) * up2 * down2,
                if grow.is_finite() && grow > 0.0 { -one * grow * (1.0 + grow) } else { 0.0 },
            ],
            hidden,
            hidden_direction: [-up1 - 2.0 * down1, 2.0 * up2 + down2, -2.0 * grow],
        }
    }
}

/// Log chance of `drops` in `pulses`, the expected classes given the total, and the variance of the
/// number of double drops. Terms are summed outwards from the largest until they no longer count.
fn totals(drops: f64, pulses: f64, log_p: [f64; 3]) -> (f64, f64, f64, f64, f64) {
    let first = (drops - pulses).max(0.0).ceil();
    let last = (drops / 2.0).floor().max(first);
    let term = |j: f64| {
        let (none, one) = (pulses - drops + j, drops - 2.0 * j);
        times(none, log_p[0]) + times(one, log_p[1]) + times(j, log_p[2])
            - ln_factorial(none)
            - ln_factorial(one)
            - ln_factorial(j)
    };
    // The terms are log-concave in j: bisect for the largest.
    let (mut low, mut high) = (first, last);
    while high - low > 0.5 {
        let middle = ((low + high) / 2.0).floor();
        if term(middle + 1.0) > term(middle) { low = middle + 1.0 } else { high = middle }
    }
    let top = term(low);
    let (mut weight, mut sum, mut squares) = (0.0, 0.0, 0.0);
    let mut add = |j: f64| {
        let w = (term(j) - top).exp();
        weight += w;
        sum += w * j;
        squares += w * j * j;
        w > 1e-17
    };
    let mut j = low;
    while j <= last && add(j) {
        j += 1.0;
    }
    j = low - 1.0;
    while j >= first && add(j) {
        j -= 1.0;
    }
    let mean = sum / weight;
    let log = top + weight.ln() + ln_factorial(pulses);
    (log, pulses - drops + mean, drops - 2.0 * mean, mean, (squares / weight - mean * mean).max(0.0))
}

fn ln_factorial(n: f64) -> f64 {
    statrs::function::gamma::ln_gamma(n + 1.0)
}

/// The most likely z of a trial and the width of the integrand there.
fn most_likely(step: f64, at: &impl Fn(f64) -> Chance) -> (f64, f64) {
    let mut z = 0.0;
    let mut curvature = 1.0;
    // Between two steep flanks a Newton step jumps from one to the other and back: once both have been seen,
    // a step that leaves the space between them halves it instead.
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for _ in 0..100 {
        let chance = at(z);
        let slope = step * (chance.first[0] + chance.first[1]) - z;
        let hidden = chance.hidden_direction[0] + chance.hidden_direction[1];
        let bend = step * step * (chance.second[0] + chance.second[1] + chance.hidden * hidden * hidden);
        curvature = (1.0 - bend).max(0.25);
        let newton = (slope / curvature).clamp(-2.0, 2.0);
        if newton.abs() < 1e-9 {
            z += newton;
            break;
        }
        if slope > 0.0 {
            low = z
        } else {
            high = z
        }
        let next = z + newton;
        z = if next > low && next < high { next } else { f64::midpoint(low, high) };
    }
    (z, 1.0 / curvature.sqrt())
}

/// Derivatives by q at one z: chain rule through a₁ and κ.
#[allow(clippy::too_many_arguments, reason = "intermediate values of one formula")]
fn one_point(
    k: f64,
    kappa: f64,
    a1: f64,
    z: f64,
    spread: &Spread,
    trial: &CountedTrial,
    chance: &Chance,
) -> Derivatives {
    let kz = k * z;
    let finite_kappa = if kappa.is_finite() { kappa } else { 0.0 };
    let by_a1 = [k * (trial.log_current + spread.by_n * z), a1, -k, 0.0, kz * spread.by_tau];
    let by_kappa = [0.0, finite_kappa, 0.0, finite_kappa, 0.0];
    let mut by_a2 = by_a1;
    for (a, b) in by_a2.iter_mut().zip(&by_kappa) {
        *a -= b;
    }
    let (first, second) = (chance.first, chance.second);
    let mut d = Derivatives { value: chance.log, ..Derivatives::ZERO };
    let kappa_first = if kappa.is_finite() { first[2] } else { 0.0 };
    let on_a1 = first[0] + first[1];
    let on_kappa = kappa_first - first[1];
    let direction = chance.hidden_direction;
    for i in 0..5 {
        d.gradient[i] = first[0] * by_a1[i] + first[1] * by_a2[i] + kappa_first * by_kappa[i];
        for j in 0..=i {
            let mut value = second[0] * by_a1[i] * by_a1[j] + second[1] * by_a2[i] * by_a2[j];
            if kappa.is_finite() {
                value += second[2] * by_kappa[i] * by_kappa[j];
            }
            if chance.hidden > 0.0 {
                let along = |m: usize| direction[0] * by_a1[m] + direction[1] * by_a2[m] + direction[2] * by_kappa[m];
                value += chance.hidden * along(i) * along(j);
            }
            d.hessian[i][j] = value;
        }
    }
    // Second derivatives of a₁ (and of a₂ = a₁ − κ) and of κ.
    d.hessian[0][0] += on_a1 * kz * spread.by_nn;
    d.hessian[1][0] += on_a1 * by_a1[0];
    d.hessian[1][1] += on_a1 * a1 + on_kappa * finite_kappa;
    d.hessian[2][1] -= on_a1 * k;
    d.hessian[3][1] += on_kappa * finite_kappa;
    d.hessian[3][3] += on_kappa * finite_kappa;
    d.hessian[4][0] += on_a1 * kz * spread.by_nt;
    d.hessian[4][1] += on_a1 * by_a1[4];
    d.hessian[4][4] += on_a1 * kz * spread.by_tt;
    for i in 0..5 {
        for j in 0..i {
            d.hessian[j][i] = d.hessian[i][j];
        }
    }
    d
}

//! Log chance of a trial's counts at one position and its derivatives by position and by the distance of the
//! thresholds.

use super::Count;

/// What all positions of one trial share.
pub(super) struct Chances {
    kappa: f64,
    count: Count,
    /// ln(1 − e^{−κ})
    between: f64,
    /// 1/(e^κ − 1)
    grow: f64,
    /// Of [`Self::grow`] by κ, negative.
    grow_by_kappa: f64,
}

/// Log chance at one position a₁ = k(u − s1), with a₂ = a₁ − κ.
pub(super) struct Chance {
    /// Log chance, without multinomial coefficients.
    pub(super) log: f64,
    /// By a₁.
    pub(super) position: f64,
    /// By κ.
    pub(super) kappa: f64,
    /// By a₁ twice.
    pub(super) position_twice: f64,
    /// By a₁ and κ.
    pub(super) mixed: f64,
    /// By κ twice.
    pub(super) kappa_twice: f64,
}

/// σ(x), σ(−x) and their logs from one exponential.
struct Side {
    up: f64,
    down: f64,
    log_up: f64,
    log_down: f64,
}

impl Side {
    fn at(x: f64) -> Self {
        if x == f64::NEG_INFINITY {
            return Self { up: 0.0, down: 1.0, log_up: f64::NEG_INFINITY, log_down: 0.0 };
        }
        let e = (-x.abs()).exp();
        // ln(1 + e) without ln_1p: what it loses is 1e-16 for each pulse counted, and it costs a third.
        let near = 1.0 / (1.0 + e);
        let (log, far) = ((1.0 + e).ln(), e * near);
        if x > 0.0 {
            Self { up: near, down: far, log_up: -log, log_down: -x - log }
        } else {
            Self { up: far, down: near, log_up: x - log, log_down: -log }
        }
    }
}

/// weight · log, where no count makes the log irrelevant even if infinite.
fn times(weight: f64, log: f64) -> f64 {
    if weight == 0.0 { 0.0 } else { weight * log }
}

impl Chances {
    pub(super) fn new(kappa: f64, count: Count) -> Self {
        let grow = 1.0 / kappa.exp_m1();
        let grow_by_kappa = if grow.is_finite() && grow > 0.0 { -grow * (1.0 + grow) } else { 0.0 };
        Self { kappa, count, between: (-(-kappa).exp()).ln_1p(), grow, grow_by_kappa }
    }

    pub(super) fn at(&self, a1: f64) -> Chance {
        let first = Side::at(a1);
        let second = Side::at(a1 - self.kappa);
        let (log, none, one, more, hidden) = match self.count {
            Count::Classes { none, one, more } => {
                let log = times(none, first.log_down)
                    + times(one, first.log_up + second.log_down + self.between)
                    + times(more, second.log_up);
                (log, none, one, more, 0.0)
            }
            Count::Totals { drops, pulses } => {
                totals(drops, pulses, [first.log_down, first.log_up + second.log_down + self.between, second.log_up])
            }
        };
        // By a₁ alone, by a₂ alone, and by κ alone; a₂ = a₁ − κ carries κ once more.
        let by_a1 = one * first.down - none * first.up;
        let by_a2 = more * second.down - one * second.up;
        let twice_a1 = -(none + one) * first.up * first.down;
        let twice_a2 = -(one + more) * second.up * second.down;
        let mut chance = Chance {
            log,
            position: by_a1 + by_a2,
            kappa: one * self.grow - by_a2,
            position_twice: twice_a1 + twice_a2,
            mixed: -twice_a2,
            kappa_twice: twice_a2 + one * self.grow_by_kappa,
        };
        if hidden > 0.0 {
            let along_a2 = 2.0 * second.up + second.down;
            let along = along_a2 - first.up - 2.0 * first.down;
            let along_kappa = -2.0 * self.grow - along_a2;
            chance.position_twice += hidden * along * along;
            chance.mixed += hidden * along * along_kappa;
            chance.kappa_twice += hidden * along_kappa * along_kappa;
        }
        chance
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
    crate::statistics::ln_gamma(n + 1.0)
}

//! Counted drops redrawn around a fitted detachment law.
//!
//! Classes of N pulses are multinomial, drawn as two binomials: first the likelier of 'none' and 'more', then the
//! other among the pulses that are left. Where the chances are the same in every replicate the first comes
//! from a table of its distribution, the second by adding up its terms, which are few.

use crate::fit::ordered_logit::{Count, CountedTrial};
use crate::laws::logistic;
use crate::statistics::DrawStream;

/// Chances below this of the likeliest count are left out of a table: a uniform number of 53 bits cannot tell
/// the whole rest from nothing.
const NEGLIGIBLE: f64 = 1e-20;

/// Mean number of terms up to which adding them up beats the general method.
const FEW_TERMS: f64 = 25.0;

/// 1/i: dividing would take longest in the innermost loop.
const RECIPROCALS: [f64; 64] = {
    let mut all = [f64::INFINITY; 64];
    let mut i = 1;
    while i < 64 {
        all[i] = 1.0 / i as f64;
        i += 1;
    }
    all
};

/// Chances of a trial's classes at a position a₁ = k(s − s1) with κ = k(s2 − s1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chances {
    pub(super) none: f64,
    pub(super) one: f64,
    pub(super) more: f64,
}

impl Chances {
    pub(super) fn at(a1: f64, kappa: f64) -> Self {
        let (none, more) = (logistic(-a1), logistic(a1 - kappa));
        // σ(a1) − σ(a1 − κ) without cancellation.
        Self { none, one: logistic(a1) * logistic(kappa - a1) * -(-kappa).exp_m1(), more }
    }

    /// Chances of the two draws: of the first class, and of the second among what is left; whether the first
    /// is 'none'.
    fn two_draws(self) -> (f64, f64, bool) {
        let none_first = self.none >= self.more;
        let (first, second) = if none_first { (self.none, self.more) } else { (self.more, self.none) };
        let left = self.one + second;
        (first, if left > 0.0 { second / left } else { 0.0 }, none_first)
    }
}

/// A trial whose counts are redrawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Redrawn {
    pulses: u64,
    totals: bool,
}

impl Redrawn {
    /// The trial's pulses, rounded to whole ones, and how they were counted.
    pub(super) fn new(trial: &CountedTrial) -> Self {
        match trial.count {
            Count::Classes { none, one, more } => {
                Self { pulses: (none + one + more).round().max(0.0) as u64, totals: false }
            }
            Count::Totals { pulses, .. } => Self { pulses: pulses.round().max(0.0) as u64, totals: true },
        }
    }

    /// Counts at the chances given.
    pub(super) fn draw(self, chances: Chances, stream: &mut DrawStream) -> Count {
        let (first_chance, second_chance, none_first) = chances.two_draws();
        let first = stream.binomial(self.pulses, first_chance);
        let second = stream.binomial(self.pulses - first, second_chance);
        let one = (self.pulses - first - second) as f64;
        let (none, more) = if none_first { (first as f64, second as f64) } else { (second as f64, first as f64) };
        if self.totals {
            // More than one drop means two.
            Count::Totals { drops: one + 2.0 * more, pulses: self.pulses as f64 }
        } else {
            Count::Classes { none, one, more }
        }
    }
}

/// The distribution of one trial's classes, ready to be drawn from many times.
#[derive(Debug, Clone)]
pub(super) struct Table {
    pulses: u32,
    none_first: bool,
    /// Smallest count of the first class in the table.
    lowest: u32,
    /// Chance of a count up to each place.
    up_to: Vec<f64>,
    /// Place at which to begin for a uniform number, by its first bits.
    guide: Vec<u32>,
    /// The second class: its chance, or that of the rest where that is smaller.
    second: f64,
    second_is_rest: bool,
    log_without: f64,
    odds: f64,
}

impl Table {
    pub(super) fn new(trial: Redrawn, chances: Chances) -> Self {
        let (p, second, none_first) = chances.two_draws();
        let n = trial.pulses as f64;
        let mode = ((n + 1.0) * p).floor().min(n);
        let odds = p / (1.0 - p);
        let mut below = vec![1.0];
        let mut at = mode;
        while at > 0.0 && below[below.len() - 1] > NEGLIGIBLE {
            below.push(below[below.len() - 1] * at / ((n - at + 1.0) * odds));
            at -= 1.0;
        }
        let lowest = at;
        below.reverse();
        let mut terms = below;
        at = mode;
        while at < n && odds.is_finite() && terms[terms.len() - 1] > NEGLIGIBLE {
            terms.push(terms[terms.len() - 1] * (n - at) * odds / (at + 1.0));
            at += 1.0;
        }
        let total: f64 = terms.iter().sum();
        let mut sum = 0.0;
        let mut up_to: Vec<f64> = terms
            .iter()
            .map(|t| {
                sum += t;
                sum / total
            })
            .collect();
        *up_to.last_mut().expect("the mode is in the table") = 1.0;
        let size = terms.len().next_power_of_two().max(16) * 2;
        let mut place = 0;
        let guide = (0..size)
            .map(|i| {
                while up_to[place] <= i as f64 / size as f64 {
                    place += 1;
                }
                place as u32
            })
            .collect();
        let second_is_rest = second > 0.5;
        let q = if second_is_rest { 1.0 - second } else { second };
        Self {
            pulses: u32::try_from(trial.pulses).unwrap_or(u32::MAX),
            none_first,
            lowest: lowest as u32,
            up_to,
            guide,
            second: q,
            second_is_rest,
            log_without: (-q).ln_1p(),
            odds: q / (1.0 - q),
        }
    }

    /// Pulses without a drop, with one and with more.
    #[inline]
    pub(super) fn draw(&self, stream: &mut DrawStream) -> [f64; 3] {
        let u = stream.uniform();
        let mut place = self.guide[(u * self.guide.len() as f64) as usize] as usize;
        while self.up_to[place] <= u {
            place += 1;
        }
        let first = self.lowest + place as u32;
        let left = self.pulses - first;
        let mut second = self.second_of(left, stream);
        if self.second_is_rest {
            second = left - second;
        }
        let one = f64::from(left - second);
        let (first, second) = (f64::from(first), f64::from(second));
        if self.none_first { [first, one, second] } else { [second, one, first] }
    }

    /// Binomial among what is left, by adding up the terms (Kachitvichyanukul and Schmeiser 1988, Comm. ACM 31,
    /// 216–222, algorithm BINV, whose steps are from memory).
    #[inline]
    fn second_of(&self, left: u32, stream: &mut DrawStream) -> u32 {
        let n = f64::from(left);
        let mean = n * self.second;
        if mean > FEW_TERMS {
            return stream.binomial(u64::from(left), self.second) as u32;
        }
        let mut u = stream.uniform();
        // (1 − q)ⁿ ≥ 1 − n·q.
        if u < 1.0 - mean {
            return 0;
        }
        let mut term = (n * self.log_without).exp();
        let mut count = 0.0;
        while u >= term && count < n {
            u -= term;
            count += 1.0;
            let place = count as usize;
            let part = if place < RECIPROCALS.len() { RECIPROCALS[place] } else { 1.0 / count };
            term *= (n - count + 1.0) * (part * self.odds);
        }
        count as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::Purpose;

    #[test]
    fn chances_sum_to_one_also_far_out() {
        for a1 in [-30.0, -2.0, 0.0, 3.0, 9.0, 40.0] {
            let c = Chances::at(a1, 6.6);
            assert!((c.none + c.one + c.more - 1.0).abs() < 1e-15, "{a1}: {c:?}");
        }
    }

    #[test]
    fn tables_and_general_draws_have_the_moments_of_the_multinomial() {
        let trial = Redrawn { pulses: 150, totals: false };
        for (a1, kappa) in [(0.3, 6.6), (3.3, 6.6), (6.9, 6.6), (0.5, 1.0), (-12.0, 6.6)] {
            let chances = Chances::at(a1, kappa);
            let table = Table::new(trial, chances);
            let mut stream = DrawStream::new(5, Purpose::Resampling, 0);
            let count = 40_000;
            for by_table in [true, false] {
                let (mut sum, mut squares) = ([0.0; 3], [0.0; 3]);
                for _ in 0..count {
                    let drawn = if by_table {
                        table.draw(&mut stream)
                    } else {
                        match trial.draw(chances, &mut stream) {
                            Count::Classes { none, one, more } => [none, one, more],
                            Count::Totals { .. } => [f64::NAN; 3],
                        }
                    };
                    assert_eq!(drawn.iter().sum::<f64>(), 150.0);
                    for i in 0..3 {
                        sum[i] += drawn[i];
                        squares[i] += drawn[i] * drawn[i];
                    }
                }
                for (i, p) in [chances.none, chances.one, chances.more].into_iter().enumerate() {
                    let n = f64::from(count);
                    let (mean, expected, variance) = (sum[i] / n, 150.0 * p, 150.0 * p * (1.0 - p));
                    // Five standard errors of a mean; the variance's own relative one is √(2/n) plus the
                    // fourth moment's 1/variance.
                    assert!((mean - expected).abs() < 5.0 * (variance / n).sqrt() + 1e-9, "{a1} {kappa} {i}: {mean}");
                    let found = squares[i] / n - mean * mean;
                    let band = 5.0 * ((2.0 + 1.0 / variance.max(1e-12)) / n).sqrt() * variance;
                    assert!((found - variance).abs() < band + 1e-9, "{a1} {kappa} {i}: {found} {variance}");
                }
            }
        }
    }

    #[test]
    fn a_table_holds_the_whole_distribution() {
        // Binomial of 4 pulses with chance σ(0) = 1/2: 1, 4, 6, 4, 1 sixteenths.
        let table = Table::new(Redrawn { pulses: 4, totals: false }, Chances::at(0.0, 800.0));
        let expected = [1.0, 5.0, 11.0, 15.0, 16.0].map(|v| v / 16.0);
        assert_eq!(table.up_to.len(), 5);
        assert!(table.up_to.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-15));
    }
}

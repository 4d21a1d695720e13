//! The interval of a difference from the two intervals alone, when draws of both together are not at hand.
//!
//! Half widths below and above are kept apart, since intervals need not lie evenly about their value. With `l`, `u` the
//! distances from a value to its lower and upper end, the difference of second minus first lies between
//!
//! ```text
//! errors of their own:  d − √(l₂² + u₁²)  and  d + √(u₂² + l₁²)
//! errors that may be shared:  d − (l₂ + u₁)  and  d + (u₂ + l₁)
//! ```
//!
//! The first is the recovery of variances from both intervals (G. Y. Zou, A. Donner, Statistics in Medicine 27 (2008)
//! 1693–1702) and holds the level for independent errors. The second is never narrower, whatever the
//! errors share: the spread of a difference is at most the sum of the spreads.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::statistics::{f_quantile, student_t_quantile};

/// How two errors are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ErrorRule {
    /// Root of the sum of squares: errors of their own.
    Independent,
    /// Sum of the half widths: whatever the errors share.
    Bounded,
}

/// A value with how far the truth may lie below and above it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reach {
    pub(super) value: f64,
    pub(super) below: f64,
    pub(super) above: f64,
}

impl Reach {
    /// From an interval, widened by a factor.
    pub(super) fn of(value: f64, [low, high]: [f64; 2], factor: f64) -> Self {
        Self { value, below: factor * (value - low).max(0.0), above: factor * (high - value).max(0.0) }
    }

    /// The same for a probability, widened on its log odds so that it stays one.
    pub(super) fn of_probability(value: f64, interval: [f64; 2], factor: f64) -> Self {
        // A certainty has no odds; a thousandth of a millionth off it has.
        let inside = |p: f64| p.clamp(1e-9, 1.0 - 1e-9);
        let odds = |p: f64| (inside(p) / (1.0 - inside(p))).ln();
        let (at, [low, high]) = (odds(value), interval.map(odds));
        let back = |odds: f64| 1.0 / (1.0 + (-odds).exp());
        let ends = [back(at - factor * (at - low).max(0.0)), back(at + factor * (high - at).max(0.0))];
        Self::of(value, ends, 1.0)
    }
}

impl ErrorRule {
    /// The interval of second minus first.
    pub(super) fn difference(self, first: Reach, second: Reach) -> [f64; 2] {
        let together = |a: f64, b: f64| match self {
            Self::Independent => a.hypot(b),
            Self::Bounded => a + b,
        };
        let difference = second.value - first.value;
        [difference - together(second.below, first.above), difference + together(second.above, first.below)]
    }
}

/// How many intervals are to hold together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Looks {
    /// So many values are looked at …
    pub(super) places: usize,
    /// … all of which, to first order, are sums of so many coefficients with weights of their own.
    pub(super) coefficients: usize,
}

impl Looks {
    /// Standard errors that two-sided intervals need to hold together at a confidence.
    ///
    /// The smaller of two bounds that hold whatever the correlations: Bonferroni's, the chance to miss shared out
    /// evenly over all places, and Scheffé's √(p·F(p, ν)), which holds for every weighted sum of p coefficients at once
    /// and so does not grow with the number of places. However densely a line's nodes lie, its few coefficients can go
    /// wrong in few ways only.
    pub(super) fn quantile(self, confidence: f64, degrees_of_freedom: f64) -> f64 {
        let missed = (1.0 - confidence) / self.places.max(1) as f64;
        let bonferroni = student_t_quantile(1.0 - missed / 2.0, degrees_of_freedom);
        let p = self.coefficients.max(1) as f64;
        let scheffe = (p * f_quantile(confidence, p, degrees_of_freedom)).sqrt();
        // A quantile that cannot be had is NaN, which min leaves out.
        bonferroni.min(scheffe)
    }

    /// By how much a half width at one confidence grows so that all hold together at another.
    pub(super) fn widening(self, confidence: f64, together: f64, degrees_of_freedom: f64) -> f64 {
        let single = student_t_quantile(0.5 + confidence / 2.0, degrees_of_freedom);
        self.quantile(together, degrees_of_freedom) / single
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_errors_add_by_squares_and_shared_ones_at_most_in_full() {
        let first = Reach::of(100.0, [97.0, 104.0], 1.0);
        let second = Reach::of(105.0, [101.0, 108.0], 1.0);
        // Below: 4 of the second with 4 above the first; above: 3 of the second with 3 below the first.
        let [low, high] = ErrorRule::Independent.difference(first, second);
        assert!((low - (5.0 - 32f64.sqrt())).abs() < 1e-12 && (high - (5.0 + 18f64.sqrt())).abs() < 1e-12);
        assert_eq!(ErrorRule::Bounded.difference(first, second), [-3.0, 11.0]);
    }

    #[test]
    fn many_looks_widen_by_the_smaller_of_two_bounds() {
        let looks = |places, coefficients| Looks { places, coefficients };
        assert!((looks(1, 2).widening(0.95, 0.95, f64::INFINITY) - 1.0).abs() < 1e-9);
        // Bonferroni; normal quantiles of 0.9975 and 0.975 by Python's statistics.NormalDist: 2.807 034 and 1.959 964.
        assert!((looks(10, 4).widening(0.95, 0.95, f64::INFINITY) - 2.8070 / 1.9600).abs() < 1e-4);
        // Student's t with 5 degrees, its density integrated by Simpson's rule: 4.773 341 and 2.570 582.
        assert!((looks(10, 9).widening(0.95, 0.95, 5.0) - 4.7733 / 2.5706).abs() < 1e-4);
        // Scheffé; χ² with 2 degrees at 0.95 is −2·ln 0.05, F with 2 and 10 degrees
        // 5·(0.05^(−1/5) − 1) = 4.102 821: its distribution is 1 − (1 + 2x/10)⁻⁵.
        assert!((looks(36, 2).quantile(0.95, f64::INFINITY) - (-2.0 * 0.05f64.ln()).sqrt()).abs() < 1e-9);
        assert!((looks(1000, 2).quantile(0.95, 10.0) - (2.0 * 4.1028f64).sqrt()).abs() < 1e-4);
    }

    #[test]
    fn a_probability_widened_stays_one() {
        let wide = Reach::of_probability(0.97, [0.9, 0.99], 5.0);
        assert!(wide.value - wide.below > 0.0 && wide.value + wide.above < 1.0);
        let same = Reach::of_probability(0.97, [0.9, 0.99], 1.0);
        assert!((same.below - 0.07).abs() < 1e-12 && (same.above - 0.02).abs() < 1e-12);
        let certain = Reach::of_probability(1.0, [0.8, 1.0], 2.0);
        assert!(certain.above.abs() < 1e-8 && certain.below.is_finite());
    }
}

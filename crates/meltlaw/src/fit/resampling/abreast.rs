//! Arithmetic on four trials at once, written so that the compiler turns it into vector instructions of
//! whatever width there is. Each lane keeps its own sums: the result does not depend on that width.

use std::ops::{Add, AddAssign, Div, Index, IndexMut, Mul, Sub};

/// Trials worked on at once.
pub(super) const LANES: usize = 4;

/// One quantity of four trials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lanes(pub(super) [f64; LANES]);

/// Zero in all lanes.
pub(super) const ZERO: Lanes = Lanes([0.0; LANES]);

impl Lanes {
    /// The same in all lanes.
    #[inline(always)]
    pub(super) const fn all(value: f64) -> Self {
        Self([value; LANES])
    }

    #[inline(always)]
    fn with(self, other: Self, operation: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = [0.0; LANES];
        for k in 0..LANES {
            out[k] = operation(self.0[k], other.0[k]);
        }
        Self(out)
    }

    /// All lanes as one sum.
    #[inline(always)]
    pub(super) fn total(self) -> f64 {
        let [a, b, c, d] = self.0;
        (a + c) + (b + d)
    }
}

/// Writes e^min(max(a·x + b·y + c, −300), 300) for each pair.
#[inline(always)]
pub(super) fn exponentials(x: &[f64], y: &[f64], [a, b, c]: [f64; 3], out: &mut [f64]) {
    for ((x, y), out) in x.iter().zip(y).zip(out) {
        *out = exp((c + a * x + b * y).clamp(-300.0, 300.0));
    }
}

/// eˣ for |x| ≤ 700 to 1e-14: x = m·ln 2 + r with |r| ≤ ln 2/2, the series of e^r to r¹¹ (what is left out is
/// below 0.3466¹²/12! = 6e-15) and 2^m put into the exponent's bits.
#[inline(always)]
fn exp(x: f64) -> f64 {
    // Adding 1.5·2⁵² leaves the rounded number in the lowest bits; 1023 is the exponent's bias.
    const ROUND: f64 = 6_755_399_441_055_744.0 + 1023.0;
    // ln 2 in two parts: products of the first with whole numbers below 2¹¹ are exact.
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let shifted = x * std::f64::consts::LOG2_E + ROUND;
    let m = shifted - ROUND;
    let r = (x - m * LN2_HIGH) - m * LN2_LOW;
    let r2 = r * r;
    let r4 = r2 * r2;
    let pair = |k: usize| TAYLOR[k] + TAYLOR[k + 1] * r;
    let low = pair(0) + pair(2) * r2;
    let middle = pair(4) + pair(6) * r2;
    let high = pair(8) + pair(10) * r2;
    (low + r4 * (middle + r4 * high)) * f64::from_bits(shifted.to_bits() << 52)
}

/// Coefficients 1/k! of e^r.
const TAYLOR: [f64; 12] = [
    1.0,
    1.0,
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
];

macro_rules! lane_by_lane {
    ($trait:ident, $method:ident, $operation:tt) => {
        impl $trait for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                self.with(other, |a, b| a $operation b)
            }
        }
        impl $trait<f64> for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: f64) -> Self {
                self.with(Self::all(other), |a, b| a $operation b)
            }
        }
    };
}
lane_by_lane!(Add, add, +);
lane_by_lane!(Sub, sub, -);
lane_by_lane!(Mul, mul, *);
lane_by_lane!(Div, div, /);

impl AddAssign for Lanes {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Index<usize> for Lanes {
    type Output = f64;
    fn index(&self, lane: usize) -> &f64 {
        &self.0[lane]
    }
}

impl IndexMut<usize> for Lanes {
    fn index_mut(&mut self, lane: usize) -> &mut f64 {
        &mut self.0[lane]
    }
}

/// Blocks that hold `count` trials.
pub(super) const fn blocks(count: usize) -> usize {
    count.div_ceil(LANES)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exponential_agrees_with_the_library_to_its_stated_error() {
        let mut worst: f64 = 0.0;
        for i in -700_000..=700_000 {
            let x = f64::from(i) / 1000.0;
            worst = worst.max((exp(x) / x.exp() - 1.0).abs());
        }
        assert!(worst < 1e-14, "{worst}");
    }

    #[test]
    fn exponents_are_held_within_range() {
        let mut out = [0.0; 3];
        exponentials(&[1.0, 2.0, 3.0], &[0.0, 1.0, 0.0], [1.0, -1e9, 0.5], &mut out);
        assert!((out[0] / 1.5_f64.exp() - 1.0).abs() < 1e-14);
        assert!((out[1] / (-300.0_f64).exp() - 1.0).abs() < 1e-14);
    }

    #[test]
    fn lanes_are_summed() {
        assert_eq!(Lanes([1.0, 2.0, 4.0, 8.0]).total(), 15.0);
    }
}

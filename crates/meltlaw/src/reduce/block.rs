//! Sums over a block of samples.

use pulp::{Arch, Simd, WithSimd};

use super::lanes::{count, range, sum};

/// Sums over samples; a sample without a number in either channel takes no part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sums {
    /// Samples that took part.
    pub(super) count: u64,
    /// Samples without a number.
    pub(super) bad: u64,
    /// Σi, A.
    pub(super) current: f64,
    /// Σi², A².
    pub(super) square: f64,
    /// Σu, V.
    pub(super) voltage: f64,
    /// Σu·i, W.
    pub(super) power: f64,
    /// Smallest and largest current.
    pub(super) current_range: [f32; 2],
    /// Smallest and largest voltage.
    pub(super) voltage_range: [f32; 2],
    /// How many samples lie at the ends of both ranges: smallest and largest current, then voltage. Of blocks that are added
    /// in order, an end that an earlier block exceeds is not counted: it could be no end of both.
    pub(super) at_ends: [u64; 4],
}

impl Default for Sums {
    fn default() -> Self {
        let none = [f32::INFINITY, f32::NEG_INFINITY];
        Self {
            count: 0,
            bad: 0,
            current: 0.0,
            square: 0.0,
            voltage: 0.0,
            power: 0.0,
            current_range: none,
            voltage_range: none,
            at_ends: [0; 4],
        }
    }
}

impl Sums {
    /// Of both channels.
    pub(super) fn of(current: &[f32], voltage: &[f32]) -> Self {
        let fast = Arch::new().dispatch(Channels { current, voltage });
        if fast.square.is_finite() && fast.power.is_finite() && fast.voltage.is_finite() {
            return fast;
        }
        // Rare: some sample is no number.
        let (i, u): (Vec<f32>, Vec<f32>) =
            current.iter().zip(voltage).filter(|(i, u)| i.is_finite() && u.is_finite()).unzip();
        let bad = (current.len() - i.len()) as u64;
        Self { bad, ..Arch::new().dispatch(Channels { current: &i, voltage: &u }) }
    }

    /// Counts what lies at the ends, where they reach as far as those of all blocks before.
    pub(super) fn count_ends(&mut self, current: &[f32], voltage: &[f32], furthest: &mut [f32; 4]) {
        let ([least_a, most_a], [least_v, most_v]) = (self.current_range, self.voltage_range);
        for (place, (samples, end)) in
            [(current, least_a), (current, most_a), (voltage, least_v), (voltage, most_v)].into_iter().enumerate()
        {
            let before = &mut furthest[place];
            if if place % 2 == 0 { end <= *before } else { end >= *before } {
                *before = end;
                self.at_ends[place] = Arch::new().dispatch(Times(samples, end));
            }
        }
    }

    /// Both together.
    pub(super) fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.bad += other.bad;
        self.current += other.current;
        self.square += other.square;
        self.voltage += other.voltage;
        self.power += other.power;
        let mut end = |place: usize, mine: &mut f32, theirs: f32, larger: bool| {
            if if larger { theirs > *mine } else { theirs < *mine } {
                (*mine, self.at_ends[place]) = (theirs, other.at_ends[place]);
            } else if theirs == *mine {
                self.at_ends[place] += other.at_ends[place];
            }
        };
        let (i, u) = (other.current_range, other.voltage_range);
        end(0, &mut self.current_range[0], i[0], false);
        end(1, &mut self.current_range[1], i[1], true);
        end(2, &mut self.voltage_range[0], u[0], false);
        end(3, &mut self.voltage_range[1], u[1], true);
    }

    pub(super) fn mean_current(&self) -> f64 {
        if self.count > 0 { self.current / self.count as f64 } else { 0.0 }
    }

    pub(super) fn mean_voltage(&self) -> f64 {
        if self.count > 0 { self.voltage / self.count as f64 } else { 0.0 }
    }
}

/// A block's samples; its sums are compiled for the widest vectors that the processor has.
struct Channels<'a> {
    current: &'a [f32],
    voltage: &'a [f32],
}

impl WithSimd for Channels<'_> {
    type Output = Sums;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Sums {
        self.sums(simd)
    }
}

impl Channels<'_> {
    #[inline(always)]
    fn sums<S: Simd>(&self, simd: S) -> Sums {
        let (i, u) = (self.current, self.voltage);
        let (current_range, voltage_range) = (range(simd, i), range(simd, u));
        Sums {
            count: i.len() as u64,
            bad: 0,
            current: sum(i, u, |i, _| i),
            square: sum(i, u, |i, _| i * i),
            voltage: sum(i, u, |_, u| u),
            power: sum(i, u, |i, u| i * u),
            current_range,
            voltage_range,
            at_ends: [0; 4],
        }
    }
}

/// How often a value stands among samples.
struct Times<'a>(&'a [f32], f32);

impl WithSimd for Times<'_> {
    type Output = u64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> u64 {
        count(self.0, |x| x == self.1) as u64
    }
}

//! The two states of a pulsed current by the modes of its histogram.

use crate::statistics::median;

/// Bins of the histogram.
const BINS: usize = 256;
/// At most so many samples tell the levels.
const MOST_SAMPLES: usize = 8192;
/// Least part of the samples near each level.
const LEAST_SHARE: f64 = 0.02;
/// A step is at least so many amperes and so many standard deviations of the noise.
const LEAST_STEP_A: f64 = 10.0;
const LEAST_STEP_NOISE: f64 = 8.0;

/// Current in the pause and in the pulse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Levels {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Levels {
    pub(super) fn step(self) -> f64 {
        self.high - self.low
    }

    /// At a share of the step.
    pub(super) fn at(self, share: f64) -> f32 {
        (self.low + share * self.step()) as f32
    }
}

/// `None` where the current has one state only.
pub(super) fn levels(samples: &[f32]) -> Option<Levels> {
    let stride = samples.len().div_ceil(MOST_SAMPLES).max(1);
    let some: Vec<f64> = samples.iter().step_by(stride).filter(|x| x.is_finite()).map(|x| f64::from(*x)).collect();
    if some.len() < 32 {
        return None;
    }
    let (least, most) = some.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(*x), b.max(*x)));
    let width = (most - least) / BINS as f64;
    if !(width > 0.0) {
        return None;
    }
    let mut counts = [0_u32; BINS];
    for x in &some {
        counts[(((x - least) / width) as usize).min(BINS - 1)] += 1;
    }
    // The upper and the lower state, each where the histogram is highest on its side of the middle.
    let mode = |bins: std::ops::Range<usize>| {
        let best = bins.clone().max_by_key(|b| (counts[*b], std::cmp::Reverse(*b))).unwrap_or(bins.start);
        least + (best as f64 + 0.5) * width
    };
    let modes = [mode(0..BINS / 2), mode(BINS / 2..BINS)];
    let near = 0.15 * (modes[1] - modes[0]);
    let refined = modes.map(|m| {
        let mut close: Vec<f64> = some.iter().copied().filter(|x| (x - m).abs() <= near).collect();
        let share = close.len() as f64 / some.len() as f64;
        let level = if close.is_empty() { m } else { median(&mut close) };
        let mut off: Vec<f64> = close.iter().map(|x| (x - level).abs()).collect();
        // Median absolute deviation to a standard deviation of normal noise.
        let noise = if off.is_empty() { 0.0 } else { 1.4826 * median(&mut off) };
        (level, share, noise)
    });
    let [(low, below, quiet), (high, above, loud)] = refined;
    let step = high - low;
    let told = step >= LEAST_STEP_A && step >= LEAST_STEP_NOISE * quiet.max(loud).min(near / 2.0);
    let both = below >= LEAST_SHARE && above >= LEAST_SHARE;
    // Two states leave a valley: between them lies less than near the rarer of them.
    let between = some.iter().filter(|x| (**x - (low + 0.5 * step)).abs() <= 0.15 * step).count() as f64;
    let valley = between / (some.len() as f64) < 0.8 * below.min(above);
    (told && both && valley).then_some(Levels { low, high })
}

//! Drops that the voltage tells: when a drop leaves, the arc begins at the wire's tip anew and is longer by about a drop, so
//! the voltage rises for a fraction of a millisecond by what the current does not explain (common practice).
//!
//! In every pulse, what is left of the voltage beside a straight line through both states' means is looked at where the
//! current is steady: a mean over a short stretch less those on both sides of it. Late in the pause no drop leaves any more
//! (common practice), so what is found there is what noise makes. From both a threshold follows, and how often it errs.
//! A drop that leaves while the current falls is not seen: such pulses count as without a sign. Two that leave within half a
//! millisecond show as one.

use std::f64::consts::SQRT_2;

use statrs::function::erf::erfc;

use super::thinned::Thinned;
use crate::statistics::median;

/// Length of the stretch that a sign fills.
const SIGN_S: f64 = 0.15e-3;
/// From the middle of one stretch to the next, in stretches.
const APART: f64 = 1.5;
/// Fewer samples in a stretch tell nothing.
const FEWEST_SAMPLES: usize = 3;
/// Part of the pause in which drops are looked for; the rest tells the noise.
const EARLY: f64 = 0.6;
/// Signs of a lesser part of the pulses, or of fewer pulses, are no population.
const LEAST_SHARE: f64 = 0.02;
const FEWEST_PULSES: u64 = 30;
/// Beyond this rate of errors the voltage does not tell.
const MOST_ERRORS: f64 = 0.1;
/// Bins of what is found, and their width.
const BINS: usize = 500;
const BIN_V: f64 = 0.02;

/// What one pulse shows, V.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Signs {
    /// The largest sign.
    largest: f32,
    /// The largest other one.
    second: f32,
    /// The largest late in the pause.
    late: f32,
    /// How many places the first was looked for in, for each of the last.
    places: f32,
}

/// One pulse's samples and what is known of them; positions count in these samples.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cycle<'a> {
    pub(super) current: &'a [f32],
    pub(super) voltage: &'a [f32],
    /// Voltage at no current and per ampere, from the means of both states.
    pub(super) line: [f64; 2],
    /// Where the current is steady in the pulse, from its middle on.
    pub(super) plateau: [usize; 2],
    /// Where it is steady in the pause.
    pub(super) pause: [usize; 2],
}

/// Finds signs pulse by pulse.
#[derive(Debug)]
pub(super) struct SignFinder {
    samples: usize,
    /// Below this voltage the wire touches: such a pulse tells nothing.
    touches_below_v: f32,
    sums: Vec<f64>,
    found: Vec<f32>,
}

impl SignFinder {
    /// None where the samples are too far apart.
    pub(super) fn new(rate_hz: f64, touches_below_v: f64) -> Option<Self> {
        let samples = (SIGN_S * rate_hz).round() as usize;
        let touches_below_v = touches_below_v as f32;
        (samples >= FEWEST_SAMPLES).then(|| Self { samples, touches_below_v, sums: Vec::new(), found: Vec::new() })
    }

    pub(super) fn find(&mut self, cycle: Cycle<'_>) -> Option<Signs> {
        let [from, to] = cycle.pause;
        // Edges so long that they leave no pause.
        if from >= to {
            return None;
        }
        let [begin, end] = [cycle.plateau[0].min(from), to];
        let voltage = cycle.voltage.get(begin..end)?;
        if voltage.iter().any(|u| *u < self.touches_below_v) {
            return None;
        }
        let mut sum = 0.0;
        self.sums.clear();
        self.sums.push(0.0);
        for (i, u) in cycle.current[begin..end].iter().zip(voltage) {
            sum += f64::from(*u) - cycle.line[0] - cycle.line[1] * f64::from(*i);
            self.sums.push(sum);
        }
        let late = from + (EARLY * (to - from) as f64) as usize;
        self.found.clear();
        if cycle.plateau[0] < cycle.plateau[1] && cycle.plateau[1] <= from {
            self.look(cycle.plateau.map(|at| at - begin));
        }
        self.look([from - begin, late - begin]);
        let (largest, place) = best(&self.found, |_| true)?;
        // A stretch beside a sign still holds part of it.
        let beside = self.samples + self.step();
        let second = best(&self.found, |at| at.abs_diff(place) > beside).map_or(f32::NEG_INFINITY, |(v, _)| v);
        let places = self.found.len() as f32;
        self.found.clear();
        self.look([late - begin, to - begin]);
        let (late, _) = best(&self.found, |_| true)?;
        Some(Signs { largest, second, late, places: places / self.found.len() as f32 })
    }

    fn step(&self) -> usize {
        (APART * self.samples as f64).round() as usize
    }

    /// Every place of a stretch whose neighbours still lie within.
    fn look(&mut self, [from, to]: [usize; 2]) {
        let (long, step) = (self.samples, self.step());
        let mean = |at: usize| (self.sums[at + long] - self.sums[at]) / long as f64;
        let last = to.saturating_sub(step + long);
        self.found.extend((from + step..last).map(|at| (mean(at) - 0.5 * (mean(at - step) + mean(at + step))) as f32));
    }
}

fn best(found: &[f32], is: impl Fn(usize) -> bool) -> Option<(f32, usize)> {
    let some = found.iter().copied().enumerate().filter(|(at, _)| is(*at));
    some.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(at, v)| (v, at))
}

/// How often each size was found.
#[derive(Debug, Clone, PartialEq)]
struct Sizes([u64; BINS]);

impl Default for Sizes {
    fn default() -> Self {
        Self([0; BINS])
    }
}

impl Sizes {
    fn push(&mut self, size_v: f32) {
        self.0[((f64::from(size_v) / BIN_V) as usize).min(BINS - 1)] += 1;
    }

    fn from(&self, bin: usize) -> u64 {
        self.0[bin..].iter().sum()
    }
}

/// Signs of all pulses.
#[derive(Debug, Clone, Default)]
pub(super) struct Drops {
    pulses: u64,
    largest: Sizes,
    second: Sizes,
    late: Sizes,
    places: f64,
    some: Thinned<f32>,
}

/// Pulses by the drops that the voltage shows.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct DropSigns {
    /// Pulses without a sign, with one, with more.
    pub pulses: [u64; 3],
    /// From which rise of the voltage a sign counts.
    pub threshold_v: f64,
    /// The usual rise.
    pub usual_v: f64,
    /// Share of pulses that are told wrongly, by how far noise and signs lie apart. Not in it: drops that leave while the
    /// current falls, and two within half a millisecond.
    pub error_rate: f64,
}

impl Drops {
    pub(super) fn push(&mut self, signs: Signs) {
        self.pulses += 1;
        self.largest.push(signs.largest);
        self.second.push(signs.second);
        self.late.push(signs.late);
        self.places += f64::from(signs.places);
        self.some.push(signs.largest);
    }

    /// None where the voltage does not tell.
    pub(super) fn told(&self) -> Option<DropSigns> {
        let n = self.pulses as f64;
        if self.pulses < FEWEST_PULSES {
            return None;
        }
        let places = self.places / n;
        // Of so many places as were looked at, one at least is that large by noise alone.
        // Half a pulse more: what was not seen in n pulses is not impossible.
        let false_alarms = |bin: usize| {
            let late = (self.late.from(bin) as f64 + 0.5) / (n + 1.0);
            1.0 - (1.0 - late).max(0.0).powf(places)
        };
        let beyond_noise = (0..BINS).find(|bin| false_alarms(*bin) < 0.01)?;
        let mut signs: Vec<f64> =
            self.some.kept().iter().map(|v| f64::from(*v)).filter(|v| *v >= beyond_noise as f64 * BIN_V).collect();
        let there = self.largest.from(beyond_noise);
        if there < FEWEST_PULSES || (there as f64) < LEAST_SHARE * n || signs.len() < 10 {
            return None;
        }
        let usual_v = median(&mut signs);
        let mut off: Vec<f64> = signs.iter().map(|v| (v - usual_v).abs()).collect();
        // Median absolute deviation to a standard deviation.
        let scatter_v = (1.4826 * median(&mut off)).max(0.5 * BIN_V);
        // Normal about the usual one, and again half a pulse.
        let missed =
            |bin: usize| 0.5 * erfc((usual_v - bin as f64 * BIN_V) / (scatter_v * SQRT_2)) + 0.5 / (there as f64 + 1.0);
        let most = ((usual_v / BIN_V) as usize).min(BINS - 1);
        let threshold =
            (0..=most).min_by(|a, b| (false_alarms(*a) + missed(*a)).total_cmp(&(false_alarms(*b) + missed(*b))))?;
        let (one, two) = (self.largest.from(threshold), self.second.from(threshold));
        let with = one as f64 / n;
        let error_rate = with * missed(threshold) + (1.0 - with) * false_alarms(threshold);
        let told = DropSigns {
            pulses: [self.pulses - one, one - two.min(one), two],
            threshold_v: threshold as f64 * BIN_V,
            usual_v,
            error_rate,
        };
        (false_alarms(threshold) + missed(threshold) < MOST_ERRORS).then_some(told)
    }
}

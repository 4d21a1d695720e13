//! What pictures of a log are drawn from, kept in a fixed number of bins whatever the length.

use serde::Serialize;

use super::block::Sums;

/// Most columns of an overview.
const COLUMNS: usize = 1200;
/// Bins along a period, of current and of voltage.
const TIMES: usize = 240;
const CURRENTS: usize = 192;
const VOLTAGES: usize = 128;

/// A stretch of the log.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OverviewColumn {
    /// Its beginning.
    pub start_s: f64,
    /// Its end.
    pub end_s: f64,
    /// Smallest, mean and largest current.
    pub current_a: [f64; 3],
    /// Smallest, mean and largest voltage.
    pub voltage_v: [f64; 3],
}

/// Current and voltage over the whole log.
#[derive(Debug, Default)]
pub(super) struct Overview {
    columns: Vec<(f64, f64, Sums)>,
    blocks_each: usize,
    blocks: usize,
}

impl Overview {
    pub(super) fn push(&mut self, start_s: f64, end_s: f64, sums: &Sums) {
        let each = self.blocks_each.max(1);
        if self.blocks.is_multiple_of(each) {
            if self.columns.len() == COLUMNS {
                self.columns = self
                    .columns
                    .chunks(2)
                    .map(|pair| {
                        let mut joined = pair[0];
                        for next in &pair[1..] {
                            joined.1 = next.1;
                            joined.2.add(&next.2);
                        }
                        joined
                    })
                    .collect();
                self.blocks_each = 2 * each;
                self.blocks = 0;
            }
            self.columns.push((start_s, end_s, *sums));
        } else if let Some(open) = self.columns.last_mut() {
            open.1 = end_s;
            open.2.add(sums);
        }
        self.blocks += 1;
    }

    /// Its columns from the beginning.
    fn columns(&self) -> Vec<OverviewColumn> {
        let three = |range: [f32; 2], mean: f64| [f64::from(range[0]), mean, f64::from(range[1])];
        self.columns
            .iter()
            .filter(|(_, _, s)| s.count > 0)
            .map(|(start_s, end_s, s)| OverviewColumn {
                start_s: *start_s,
                end_s: *end_s,
                current_a: three(s.current_range, s.mean_current()),
                voltage_v: three(s.voltage_range, s.mean_voltage()),
            })
            .collect()
    }
}

/// All periods laid over each other, and current against voltage.
#[derive(Debug)]
pub(super) struct Folded {
    rate_hz: f64,
    /// Longest time shown and the ends of both scales; set by the first pulse.
    scales: Option<(f64, [f64; 2], [f64; 2])>,
    current: Vec<u32>,
    voltage: Vec<u32>,
    against: Vec<u32>,
}

/// Quantiles of all periods at a time after the rise.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FoldedTime {
    /// Time after the rise.
    pub time_ms: f64,
    /// 5 %, 50 % and 95 % of the current.
    pub current_a: [f64; 3],
    /// 5 %, 50 % and 95 % of the voltage.
    pub voltage_v: [f64; 3],
}

impl Folded {
    const fn new(rate_hz: f64) -> Self {
        Self { rate_hz, scales: None, current: Vec::new(), voltage: Vec::new(), against: Vec::new() }
    }

    /// A period from its rise on; levels and length of it set the scales when it is the first.
    pub(super) fn period(&mut self, rise: f64, levels_a: [f64; 2], voltage_v: f64, current: &[f32], voltage: &[f32]) {
        let (longest, amperes, volts) = *self.scales.get_or_insert_with(|| {
            let step = levels_a[1] - levels_a[0];
            let longest = 1.15 * current.len() as f64 / self.rate_hz;
            (longest, [levels_a[0] - 0.35 * step, levels_a[1] + 0.35 * step], [0.0, 2.0 * voltage_v])
        });
        if self.current.is_empty() {
            self.current = vec![0; TIMES * CURRENTS];
            self.voltage = vec![0; TIMES * VOLTAGES];
            self.against = vec![0; CURRENTS * VOLTAGES];
        }
        let bin = |value: f64, [low, high]: [f64; 2], bins: usize| {
            (((value - low) / (high - low) * bins as f64) as usize).min(bins - 1)
        };
        for (k, (i, u)) in current.iter().zip(voltage).enumerate() {
            let seconds = (k as f64 - rise) / self.rate_hz;
            if !(0.0..longest).contains(&seconds) || !i.is_finite() || !u.is_finite() {
                continue;
            }
            let time = bin(seconds, [0.0, longest], TIMES);
            let (a, v) = (bin(f64::from(*i), amperes, CURRENTS), bin(f64::from(*u), volts, VOLTAGES));
            self.current[time * CURRENTS + a] += 1;
            self.voltage[time * VOLTAGES + v] += 1;
            self.against[a * VOLTAGES + v] += 1;
        }
    }

    /// Quantiles over the period.
    fn times(&self) -> Vec<FoldedTime> {
        let Some((longest, amperes, volts)) = self.scales else { return Vec::new() };
        let of = |counts: &[u32], [low, high]: [f64; 2]| {
            let all: f64 = counts.iter().map(|c| f64::from(*c)).sum();
            [0.05, 0.5, 0.95].map(|wanted| {
                let mut sum = 0.0;
                let at = counts.iter().position(|c| {
                    sum += f64::from(*c);
                    sum >= wanted * all
                });
                low + (at.unwrap_or(0) as f64 + 0.5) / counts.len() as f64 * (high - low)
            })
        };
        (0..TIMES)
            .filter(|t| self.current[t * CURRENTS..(t + 1) * CURRENTS].iter().any(|c| *c > 0))
            .map(|t| FoldedTime {
                time_ms: (t as f64 + 0.5) / TIMES as f64 * longest * 1000.0,
                current_a: of(&self.current[t * CURRENTS..(t + 1) * CURRENTS], amperes),
                voltage_v: of(&self.voltage[t * VOLTAGES..(t + 1) * VOLTAGES], volts),
            })
            .collect()
    }

    /// Current, voltage and how many samples lie there, for every place where some do.
    fn against(&self) -> Vec<(f64, f64, u32)> {
        let Some((_, amperes, volts)) = self.scales else { return Vec::new() };
        let middle = |k: usize, bins: usize, [low, high]: [f64; 2]| low + (k as f64 + 0.5) / bins as f64 * (high - low);
        self.against
            .iter()
            .enumerate()
            .filter(|(_, count)| **count > 0)
            .map(|(k, count)| (middle(k / VOLTAGES, CURRENTS, amperes), middle(k % VOLTAGES, VOLTAGES, volts), *count))
            .collect()
    }
}

/// Gathers them while a log is reduced.
#[derive(Debug)]
pub(super) struct Gathered {
    pub(super) overview: Overview,
    pub(super) folded: Folded,
}

impl Gathered {
    pub(super) fn new(rate_hz: f64) -> Self {
        Self { overview: Overview::default(), folded: Folded::new(rate_hz) }
    }

    pub(super) fn pictures(&self, pulses: &[[f32; 4]]) -> Pictures {
        Pictures {
            overview: self.overview.columns(),
            folded: self.folded.times(),
            against: self.folded.against(),
            pulses: pulses.to_vec(),
        }
    }
}

/// Everything that pictures of a log are drawn from.
#[derive(Debug, Clone)]
pub struct Pictures {
    /// The whole log.
    pub overview: Vec<OverviewColumn>,
    /// All periods laid over each other; empty where the current is not pulsed.
    pub folded: Vec<FoldedTime>,
    /// Current, V and number of samples.
    pub against: Vec<(f64, f64, u32)>,
    /// Pulse current, background current, pulse time and period of pulses spread over the weld.
    pub pulses: Vec<[f32; 4]>,
}

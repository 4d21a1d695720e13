//! What of a log belongs to the weld: from the first to the last moment the arc burns, less what is cut off at each end.
//!
//! When the last moment was is known at the end of the log only, so blocks wait until the arc has burned for the cut
//! after them.

use std::collections::VecDeque;

use super::ReduceSettings;
use super::batches::Batches;
use super::block::Sums;
use super::drops::Drops;
use super::hum::{Hum, Phases};
use super::pulses::Pulse;
use super::thinned::Thinned;

/// Blocks without an arc are kept one by one for so long.
const APART_S: f64 = 1.0;
/// A period this many times the usual one holds missed pulses.
const MISSED_FROM: f64 = 1.6;

/// A block that may belong to the weld.
#[derive(Debug, Clone, Default)]
pub(super) struct Record {
    pub(super) start: u64,
    pub(super) end: u64,
    pub(super) sums: Sums,
    pub(super) shorts: u32,
    pub(super) pulses: Vec<Pulse>,
    /// Mean currents of a millisecond each, where the current is not pulsed.
    pub(super) milliseconds: Vec<(f64, f32)>,
}

/// Everything of the weld itself.
#[derive(Debug, Clone, Default)]
pub(super) struct Weld {
    pub(super) sums: Sums,
    pub(super) start: Option<u64>,
    pub(super) end: u64,
    pub(super) current: Batches,
    pub(super) square: Batches,
    pub(super) voltage: Batches,
    pub(super) power: Batches,
    pub(super) shorts: u64,
    pub(super) pulse_current: Batches,
    pub(super) background_current: Batches,
    pub(super) pulse_time: Batches,
    pub(super) background_time: Batches,
    pub(super) period: Batches,
    pub(super) rise: Batches,
    pub(super) fall: Batches,
    pub(super) voltage_lag: Batches,
    pub(super) fewest_samples: usize,
    pub(super) missed: u64,
    usual_period_ms: f64,
    pub(super) hum_pulse: Hum,
    pub(super) hum_current: Hum,
    pub(super) hum_voltage: Hum,
    /// Pulses for histograms: current, background, time, period.
    pub(super) some: Thinned<[f32; 4]>,
    pub(super) drops: Drops,
}

impl Weld {
    fn take(&mut self, record: &Record) {
        let sums = &record.sums;
        self.start.get_or_insert(record.start);
        self.end = record.end;
        self.sums.add(sums);
        self.shorts += u64::from(record.shorts);
        let n = sums.count as f64;
        if sums.count > 0 {
            for (batches, sum) in [
                (&mut self.current, sums.current),
                (&mut self.square, sums.square),
                (&mut self.voltage, sums.voltage),
                (&mut self.power, sums.power),
            ] {
                batches.push(sum / n);
            }
        }
        for pulse in &record.pulses {
            self.pulse(pulse);
        }
        for (at_s, mean) in &record.milliseconds {
            self.hum_current.push(&Phases::at(*at_s), f64::from(*mean));
        }
    }

    fn pulse(&mut self, p: &Pulse) {
        let first = self.period.count() == 0;
        if !first && p.period_ms > MISSED_FROM * self.usual_period_ms {
            self.missed += (p.period_ms / self.usual_period_ms).round() as u64 - 1;
        }
        let usual = self.usual_period_ms;
        // Follows slow changes, not single misses.
        self.usual_period_ms =
            if first { p.period_ms } else { usual + 0.05 * (p.period_ms.clamp(0.7 * usual, 1.3 * usual) - usual) };
        self.fewest_samples = if first { p.samples } else { self.fewest_samples.min(p.samples) };
        for (batches, value) in [
            (&mut self.pulse_current, p.pulse_current_a),
            (&mut self.background_current, p.background_current_a),
            (&mut self.pulse_time, p.pulse_time_ms),
            (&mut self.background_time, p.period_ms - p.pulse_time_ms),
            (&mut self.period, p.period_ms),
            (&mut self.rise, p.rise_a_per_ms),
            (&mut self.fall, p.fall_a_per_ms),
            (&mut self.voltage_lag, p.voltage_lag_s),
        ] {
            batches.push(value);
        }
        if let Some(signs) = p.signs {
            self.drops.push(signs);
        }
        let phases = Phases::at(p.at_s);
        self.hum_pulse.push(&phases, p.pulse_current_a);
        self.hum_voltage.push(&phases, p.voltage_v);
        self.some.push([p.pulse_current_a, p.background_current_a, p.pulse_time_ms, p.period_ms].map(|v| v as f32));
    }
}

/// The window of one log.
#[derive(Debug)]
pub(super) struct Window {
    cut: u64,
    apart: u64,
    /// First sample of the first block with an arc.
    pub(super) first: Option<u64>,
    /// Sample after the last block with an arc.
    pub(super) last: u64,
    /// Samples within the arc's time in which it did not burn.
    pub(super) out: u64,
    pending: VecDeque<Record>,
    weld: Weld,
}

impl Window {
    pub(super) fn new(settings: &ReduceSettings) -> Self {
        let samples = |seconds: f64| (seconds * settings.sample_rate_hz).round() as u64;
        Self {
            cut: samples(settings.cut_ends_s),
            apart: samples(APART_S),
            first: None,
            last: 0,
            out: 0,
            pending: VecDeque::new(),
            weld: Weld::default(),
        }
    }

    /// Tells whether the arc burns in a block; whether the block may belong to the weld.
    pub(super) fn holds(&mut self, start: u64, end: u64, burns: bool) -> bool {
        if burns {
            let since = if self.first.is_some() { start.saturating_sub(self.last) } else { 0 };
            self.out += since;
            self.first.get_or_insert(start);
            self.last = end;
        }
        self.first.is_some_and(|first| start >= first + self.cut)
    }

    /// Keeps a block until it is known to belong to the weld.
    pub(super) fn take(&mut self, record: Record) {
        let idle = |r: &Record| r.start >= self.last;
        match self.pending.back_mut() {
            Some(back) if idle(&record) && idle(back) && record.end - self.last > self.apart => {
                back.end = record.end;
                back.sums.add(&record.sums);
                back.shorts += record.shorts;
            }
            _ => self.pending.push_back(record),
        }
        self.settle();
    }

    fn settle(&mut self) {
        while self.pending.front().is_some_and(|r| r.end + self.cut <= self.last) {
            if let Some(record) = self.pending.pop_front() {
                self.weld.take(&record);
            }
        }
    }

    /// The weld, with pulses that only the end of the log let be told.
    pub(super) fn finish(mut self, pulses: Vec<Pulse>) -> Weld {
        if let Some(last) = self.pending.iter_mut().rfind(|r| r.end + self.cut <= self.last) {
            last.pulses.extend(pulses.iter().copied());
        } else if self.weld.start.is_some() {
            pulses.iter().for_each(|p| self.weld.pulse(p));
        }
        self.settle();
        self.weld
    }
}

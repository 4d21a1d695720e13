//! Invented logs of a pulsed weld whose every parameter is known.

use meltlaw_line::Waveform;

use crate::statistics::{DrawStream, Purpose};

/// What a log is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct LogTruth {
    /// Samples per second.
    pub sample_rate_hz: f64,
    /// Seconds without an arc before the weld.
    pub before_s: f64,
    /// Seconds that the arc burns.
    pub arc_s: f64,
    /// Seconds without an arc after it.
    pub after_s: f64,
    /// Pulse current at the beginning.
    pub pulse_current_a: f64,
    /// Background current.
    pub background_current_a: f64,
    /// Width at half height.
    pub pulse_time_ms: f64,
    /// Pulses per second; 0 for a steady current of `background_current_a`.
    pub pulse_frequency_hz: f64,
    /// Slopes of rise and fall.
    pub slopes_a_per_ms: [f64; 2],
    /// Both currents grow by so much a second.
    pub ramp_a_per_s: f64,
    /// Relative standard deviation of the period.
    pub jitter: f64,
    /// Voltage at no current, and its rise with the current.
    pub voltage: [f64; 2],
    /// Standard deviation of single samples, A and V.
    pub noise: [f64; 2],
    /// Amplitude and frequency of hum on the current.
    pub hum: [f64; 2],
    /// Overshoot of each step that rings: share of the step, frequency in Hz, time constant in ms.
    pub ringing: [f64; 3],
    /// Steps of the recorder, A and V; 0 for none.
    pub steps: [f64; 2],
    /// Largest current that the recorder shows.
    pub largest_a: f64,
    /// Share of pulses that are missing, and of pulses followed by a short circuit of half a millisecond.
    pub missed: f64,
    /// See `missed`.
    pub shorted: f64,
    /// The voltage comes so many samples after the current.
    pub voltage_late: usize,
    /// Rise of the voltage where a drop leaves, V, and how long it lasts, ms; 0 V for none.
    pub drop_sign: [f64; 2],
    /// When drops leave after the middle of the fall, ms: mean and standard deviation.
    pub drop_after_ms: [f64; 2],
    /// Share of pulses without a drop, and with two.
    pub drop_shares: [f64; 2],
}

impl Default for LogTruth {
    fn default() -> Self {
        Self {
            sample_rate_hz: 100_000.0,
            before_s: 0.3,
            arc_s: 6.0,
            after_s: 0.2,
            pulse_current_a: 420.0,
            background_current_a: 60.0,
            pulse_time_ms: 2.0,
            pulse_frequency_hz: 120.0,
            slopes_a_per_ms: [400.0, 400.0],
            ramp_a_per_s: 0.0,
            jitter: 0.02,
            voltage: [15.0, 0.04],
            noise: [4.0, 0.4],
            hum: [0.0, 50.0],
            ringing: [0.0, 4000.0, 0.2],
            steps: [0.0, 0.0],
            largest_a: f64::INFINITY,
            missed: 0.0,
            shorted: 0.0,
            voltage_late: 0,
            drop_sign: [0.0, 0.25],
            drop_after_ms: [1.6, 0.3],
            drop_shares: [0.0, 0.0],
        }
    }
}

/// A log.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// Current, A.
    pub current: Vec<f32>,
    /// Voltage, V.
    pub voltage: Vec<f32>,
    /// Pulses that are missing.
    pub missed: usize,
    /// Short circuits.
    pub shorts: usize,
    /// Pulses without a drop, with one, with two.
    pub drops: [usize; 3],
}

impl LogTruth {
    /// Mean current of the trapezoid, without ramp or hum.
    pub fn current_mean_a(&self) -> f64 {
        self.waveform().moments().mean_a
    }

    /// Mean square of it.
    pub fn mean_square_a2(&self) -> f64 {
        self.waveform().moments().mean_square_a2
    }

    fn waveform(&self) -> Waveform {
        Waveform {
            pulse_current_a: self.pulse_current_a,
            pulse_time_ms: self.pulse_time_ms,
            background_current_a: self.background_current_a,
            pulse_frequency_hz: self.pulse_frequency_hz,
            rise_a_per_ms: self.slopes_a_per_ms[0],
            fall_a_per_ms: self.slopes_a_per_ms[1],
        }
    }

    /// Draws the log.
    pub fn log(&self, seed: u64, number: u64) -> Log {
        let mut stream = DrawStream::new(seed, Purpose::Simulation, number | (7 << 40));
        let rate = self.sample_rate_hz;
        let samples = |s: f64| (s * rate).round() as usize;
        let (before, arc) = (samples(self.before_s), samples(self.arc_s));
        let total = before + arc + samples(self.after_s);
        let mut clean = vec![0.0_f64; total];
        clean[before..before + arc].iter_mut().enumerate().for_each(|(k, i)| {
            *i = self.background_current_a + self.ramp_a_per_s * k as f64 / rate;
        });
        let mut voltage_dips = vec![false; total];
        let (mut missed, mut shorts, mut drops) = (0, 0, [0; 3]);
        let mut rises = vec![0.0; total];
        if self.pulse_frequency_hz > 0.0 {
            let step = self.pulse_current_a - self.background_current_a;
            let [rise_s, fall_s] = self.slopes_a_per_ms.map(|s| step / s * 1e-3);
            let width = self.pulse_time_ms * 1e-3;
            let end = self.before_s + self.arc_s;
            // The time of half height of the rise.
            let mut at = self.before_s + 2e-3 + 0.5 * rise_s;
            while at + width + fall_s < end {
                if stream.uniform() < self.missed {
                    missed += 1;
                } else {
                    self.pulse(&mut clean, at, [rise_s, fall_s], step);
                    if self.drop_sign[0] > 0.0 {
                        drops[self.drops(&mut rises, at + width, &mut stream)] += 1;
                    }
                    if stream.uniform() < self.shorted {
                        shorts += 1;
                        let from = samples(at + width + 0.8e-3);
                        voltage_dips[from.min(total)..(from + samples(0.5e-3)).min(total)].fill(true);
                    }
                }
                at += (1.0 + self.jitter * stream.normal()) / self.pulse_frequency_hz;
            }
        }
        let quantised = |x: f64, step: f64| if step > 0.0 { (x / step).round() * step } else { x };
        let mut log =
            Log { current: Vec::with_capacity(total), voltage: Vec::with_capacity(total), missed, shorts, drops };
        for k in 0..total {
            let burns = (before..before + arc).contains(&k);
            let t = k as f64 / rate;
            let hum = if burns { self.hum[0] * (std::f64::consts::TAU * self.hum[1] * t).sin() } else { 0.0 };
            let i = clean[k] + hum + self.noise[0] * stream.normal();
            let seen = clean[k.saturating_sub(self.voltage_late)];
            let u = match (burns, voltage_dips[k]) {
                (true, true) => 4.0,
                (true, false) => self.voltage[0] + self.voltage[1] * seen + rises[k],
                (false, _) if k < before => 62.0,
                _ => 0.0,
            } + self.noise[1] * stream.normal();
            log.current.push(quantised(i, self.steps[0]).min(self.largest_a) as f32);
            log.voltage.push(quantised(u, self.steps[1]) as f32);
        }
        log
    }

    /// Lets drops leave after a pulse whose fall is half-way at a time; how many.
    fn drops(&self, rises: &mut [f64], fallen_s: f64, stream: &mut DrawStream) -> usize {
        let [none, two] = self.drop_shares;
        let draw = stream.uniform();
        let count = if draw < none { 0 } else { 1 + usize::from(draw < none + two) };
        let [height_v, lasts_ms] = self.drop_sign;
        for drop in 0..count {
            let after_ms = self.drop_after_ms[0] + self.drop_after_ms[1] * stream.normal() + 1.2 * drop as f64;
            let begin = (fallen_s + 1e-3 * after_ms) * self.sample_rate_hz;
            let samples = 1e-3 * lasts_ms * self.sample_rate_hz;
            let places = begin.ceil().max(0.0) as usize..((begin + samples).max(0.0) as usize).min(rises.len());
            for k in places {
                rises[k] += height_v * (std::f64::consts::PI * (k as f64 - begin) / samples).sin();
            }
        }
        count
    }

    fn pulse(&self, clean: &mut [f64], at: f64, [rise_s, fall_s]: [f64; 2], step: f64) {
        let rate = self.sample_rate_hz;
        let width = self.pulse_time_ms * 1e-3;
        let [overshoot, hertz, decay_ms] = self.ringing;
        let first = ((at - rise_s) * rate) as usize;
        let last = ((at + width + fall_s + 10e-3 * f64::from(u8::from(overshoot > 0.0))) * rate) as usize;
        for k in first..last.min(clean.len()) {
            let t = k as f64 / rate;
            let up = ((t - at) / rise_s + 0.5).clamp(0.0, 1.0);
            let down = ((t - at - width) / fall_s + 0.5).clamp(0.0, 1.0);
            let rings = |from: f64| {
                let since = t - from;
                let wave = (std::f64::consts::TAU * hertz * since).sin() * (-since / (decay_ms * 1e-3)).exp();
                if since > 0.0 { overshoot * wave } else { 0.0 }
            };
            let ringing = rings(at + 0.5 * rise_s) - rings(at + width + 0.5 * fall_s);
            clean[k] += step * (up - down + if overshoot > 0.0 { ringing } else { 0.0 });
        }
    }
}

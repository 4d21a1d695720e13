//! One feed as the optimum sees it: what its three free settings make of the process, which fences they must
//! stay inside, and what they cost.
//!
//! Free are pulse current, frequency and background, as x = ln(I_p/I₀), y = ln(f/1 Hz) and v = I_b/I₀. The pulse
//! time follows from the melt balance, which is linear in it, so every point melts exactly what is fed:
//!
//! ```text
//! t_p = [w − offset − α·I_b − β·L·(I_b² − Δ³·(1/rise + 1/fall)·f/6)] / (f·Δ·[α + β·L·(I_p + I_b)]),   Δ = I_p − I_b
//! ```

use meltlaw_line::{Limit, Waveform, drop_frequency_hz};
use nalgebra::{DMatrix, DVector};

use super::super::laws_at_work::LawsAtWork;
use super::super::support::Knowledge;
use super::bound::Bound;
use super::jet::Jet;
use crate::study::{Pin, Study};

/// Departures at which a preference costs its weight.
const DROP_OFF: f64 = 0.1;

/// The same for the pulse current, as a fraction of the trials' range of ln I_p: of evenly spread trials the
/// standard deviation is 0.29 of their range.
const CURRENT_OFF: f64 = 0.25;

/// The least height of a pulse over its current.
pub(in crate::compose) const SMALLEST_PULSE: f64 = 0.05;

/// Risk over the least at which it costs its weight. It grows with the fourth power, so that the worst feed of a
/// line rules: what is maximised is very nearly the smallest lower bound.
const RISK_OFF: f64 = 1.1;

/// What is the same at every feed.
#[derive(Debug, Clone)]
pub(in crate::compose) struct Ground<'a> {
    pub(in crate::compose) study: &'a Study,
    laws: &'a LawsAtWork,
    pub(in crate::compose) bound: Bound,
    /// Preferred ln(I_p/I₀) and the unit of a departure from it.
    pub(super) preferred: [f64; 2],
    /// ln(I_p/I₀) that source and data allow.
    pub(in crate::compose) currents: [(f64, Limit); 2],
    /// Extended ranges of mean current, L·I_rms² and s.
    pub(in crate::compose) reach: [Option<[f64; 2]>; 3],
    /// Covariance of burn-off, common errors among it, padded to (α, β, offset).
    pub(in crate::compose) burn_off_covariance: DMatrix<f64>,
    /// logit of the floor.
    pub(in crate::compose) floor: f64,
    weights: [f64; 3],
}

/// What the free settings make of the process.
#[derive(Debug, Clone, Copy)]
pub(super) struct Process {
    /// x, y, v.
    pub(super) free: [Jet; 3],
    /// ln(t_p/1 ms).
    pub(super) log_time: Jet,
    s: Jet,
    height: Jet,
    mean: Jet,
    square: Jet,
    bound_logit: Jet,
}

impl<'a> Ground<'a> {
    pub(in crate::compose) fn new(
        study: &'a Study,
        laws: &'a LawsAtWork,
        knowledge: &Knowledge<'_>,
        bound: Bound,
        preferred: f64,
        currents: [(f64, Limit); 2],
    ) -> Self {
        let validity = knowledge.validity();
        // A setting that leans on where the data end must not fall beyond by rounding.
        let inside = |[low, high]: [f64; 2]| {
            let margin = 1e-8 * low.abs().max(high.abs());
            [low + margin, high - margin]
        };
        let reach = ["current_mean_a", "extension_rms_squared_mm_a2", "detachment_s"]
            .map(|name| validity.get(name).map(|v| inside(v.extended)));
        let currents = {
            let [low, high] = currents;
            let by_data = |limit: Limit| if matches!(limit, Limit::DataLow | Limit::DataHigh) { 1e-9 } else { 0.0 };
            [(low.0 + by_data(low.1), low.1), (high.0 - by_data(high.1), high.1)]
        };
        let unit = validity.get("log_pulse_current").map_or(0.0, |v| CURRENT_OFF * (v.measured[1] - v.measured[0]));
        let burn = &laws.burn_off;
        let p = burn.b.len();
        let mut covariance = burn.covariance.clone();
        for (e, c) in burn.effects.iter().zip(&laws.common) {
            let e = DVector::from_row_slice(e) * c.standard_uncertainty;
            covariance += &e * e.transpose();
        }
        let floor = study.line.one_drop_floor.clamp(1e-9, 1.0 - 1e-9);
        let w = &study.line.weights;
        Self {
            study,
            laws,
            bound,
            preferred: [preferred, unit.max(0.01)],
            currents,
            reach,
            burn_off_covariance: DMatrix::from_fn(3, 3, |i, j| if i < p && j < p { covariance[(i, j)] } else { 0.0 }),
            floor: (floor / (1.0 - floor)).ln(),
            weights: [w.one_drop, w.drop_size, w.pulse_current],
        }
    }

    pub(in crate::compose) fn reference_a(&self) -> f64 {
        self.laws.detachment.reference_current_a
    }

    pub(in crate::compose) fn burn_off(&self) -> &[f64] {
        &self.laws.burn_off.b
    }

    /// First-order lower bound of the one-drop probability.
    pub(in crate::compose) fn bound_at(&self, x: f64, s: f64) -> f64 {
        self.bound.probability(x, s)
    }

    /// ln(I_p/I₀) and s of the surest pulse.
    pub(in crate::compose) fn best(&self) -> [f64; 2] {
        self.bound.best
    }

    /// The pulse current that the trials know best.
    pub(in crate::compose) fn preferred_current_a(&self) -> f64 {
        self.reference_a() * self.preferred[0].exp()
    }

    pub(in crate::compose) fn exponent(&self) -> f64 {
        self.laws.detachment.law.exponent
    }

    pub(in crate::compose) fn extension_mm(&self) -> f64 {
        self.study.bench.ctwd_mm - self.study.bench.arc_length_mm
    }

    /// ln f of the target drop.
    pub(super) fn target_log_frequency(&self, w: f64) -> f64 {
        self.drop_log_frequency(w, self.study.line.drop_to_wire_ratio)
    }

    pub(in crate::compose) fn drop_log_frequency(&self, w: f64, ratio: f64) -> f64 {
        drop_frequency_hz(self.study.wire.section_mm2(), w, ratio * self.study.wire.diameter_mm).ln()
    }

    /// The process at a feed in mm/s; `None` where no pulse time melts what is fed.
    pub(super) fn process(&self, w: f64, free: [f64; 3]) -> Option<Process> {
        let [x, y, v] = [0, 1, 2].map(|i| Jet::variable(free[i], i));
        let source = &self.study.source;
        let burn = &self.laws.burn_off.b;
        let (alpha, beta) = (burn[0], burn[1] * self.extension_mm());
        let pulse = x.exp() * self.reference_a();
        let background = v * self.reference_a();
        let height = pulse - background;
        // Pulses per ms.
        let f = y.exp() * 1e-3;
        let ramp = 1.0 / source.rise_a_per_ms + 1.0 / source.fall_a_per_ms;
        let cube = height.square() * height * f * (ramp / 6.0);
        let rest =
            -(background * alpha + (background.square() - cube) * beta) + (w - burn.get(2).copied().unwrap_or(0.0));
        let per_ms = f * height * ((pulse + background) * beta + alpha);
        if !(height.value > 0.0 && rest.value > 0.0 && per_ms.value > 0.0) {
            return None;
        }
        let time = rest.over(per_ms);
        let log_time = time.ln();
        let duty = time * f;
        let mean = background + height * duty;
        let square = background.square() + (background * 2.0 + height) * height * duty - cube;
        let s = x * self.laws.detachment.law.exponent + log_time;
        let bound_logit = self.bound.logit(x, s);
        Some(Process { free: [x, y, v], log_time, s, height, mean, square, bound_logit })
    }

    /// Every fence as a number that must not be negative, mostly ln(limit/value).
    pub(super) fn fences(&self, w: f64, at: &Process, mut each: impl FnMut(Limit, Jet)) {
        let (source, line) = (&self.study.source, &self.study.line);
        let [x, y, v] = at.free;
        let [low, high] = self.currents;
        each(low.1, x + -low.0);
        each(high.1, -x + high.0);
        let mut log = |value: Jet, range: Option<[f64; 2]>, low: Limit, high: Limit| {
            if let Some([least, most]) = range {
                if least > 0.0 {
                    each(low, value + -least.ln());
                }
                if most.is_finite() {
                    each(high, -value + most.max(1e-300).ln());
                }
            }
        };
        log(at.log_time, source.pulse_time_ms, Limit::PulseTimeLow, Limit::PulseTimeHigh);
        log(y, source.pulse_frequency_hz, Limit::FrequencyLow, Limit::FrequencyHigh);
        log(
            at.log_time + y,
            source.pulse_duty.map(|d| d.map(|d| 1000.0 * d)),
            Limit::PulseDutyLow,
            Limit::PulseDutyHigh,
        );
        let log_mean = at.mean.ln();
        log(log_mean, source.current_a, Limit::CurrentLow, Limit::CurrentHigh);
        log(log_mean, self.reach[0], Limit::DataLow, Limit::DataHigh);
        let extension = self.extension_mm();
        log(at.square.ln() + extension.max(1e-300).ln(), self.reach[1], Limit::DataLow, Limit::DataHigh);
        let [smallest, largest] = line.drop_to_wire_limits;
        each(Limit::DropLarge, y + -self.drop_log_frequency(w, largest));
        each(Limit::DropSmall, -y + self.drop_log_frequency(w, smallest));
        let [least, most] = source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
        each(Limit::BackgroundLow, v + -(least / self.reference_a()));
        if most.is_finite() {
            each(Limit::BackgroundHigh, -v + most / self.reference_a());
        }
        // A background near the pulse is no pulse: that corner melts too, and nothing detaches there.
        each(Limit::BackgroundHigh, at.height.over(x.exp() * self.reference_a()) + -SMALLEST_PULSE);
        // The ramps must fit into the pulse and into the rest of the period.
        let half_ramps = (1.0 / source.rise_a_per_ms + 1.0 / source.fall_a_per_ms) / 2.0;
        let ramps = at.height * half_ramps;
        let time = at.log_time.exp();
        each(Limit::Slopes, at.log_time - ramps.ln());
        each(Limit::Slopes, -(y + (time + ramps).ln()) + 1000.0_f64.ln());
        if let Some([low, high]) = self.reach[2] {
            each(Limit::DataLow, at.s + -low);
            each(Limit::DataHigh, -at.s + high);
        }
        each(Limit::OneDropLow, at.bound_logit + -self.floor);
        each(Limit::MeltingRateUncertain, self.log_melting_rate_se(w, at));
    }

    /// Limits of x, y and v themselves.
    pub(super) fn own_limits(&self, w: f64) -> [[f64; 2]; 3] {
        let [smallest, largest] = self.study.line.drop_to_wire_limits;
        let source = &self.study.source;
        let [slowest, fastest] = source.pulse_frequency_hz.unwrap_or([0.0, f64::INFINITY]).map(f64::ln);
        let reference = self.reference_a();
        [
            self.currents.map(|c| c.0),
            [self.drop_log_frequency(w, largest).max(slowest), self.drop_log_frequency(w, smallest).min(fastest)],
            source.background_current_a.unwrap_or([0.0, f64::INFINITY]).map(|a| a / reference),
        ]
    }

    /// ln(limit/relative standard error of the melting rate).
    fn log_melting_rate_se(&self, w: f64, at: &Process) -> Jet {
        let c = &self.burn_off_covariance;
        let (mean, length) = (at.mean, at.square * self.extension_mm());
        let variance = mean * (mean * c[(0, 0)] + length * (2.0 * c[(0, 1)]) + 2.0 * c[(0, 2)])
            + length * (length * c[(1, 1)] + 2.0 * c[(1, 2)])
            + (c[(2, 2)] + 1e-300);
        // What leans on it must not fall beyond by rounding.
        variance.ln() * -0.5 + ((w * self.study.line.extended_melting_rate_relative_se).ln() - 1e-8)
    }

    /// What the settings cost: risk, drop size, pulse current, each its weight at its stated departure.
    pub(super) fn cost(&self, w: f64, at: &Process) -> Jet {
        let [of_risk, of_drop, of_current] = self.weights;
        let bound = crate::laws::logistic(at.bound_logit.value);
        let risk = (1.0 - bound) / self.bound.least_risk;
        // d(1 − P)/dℓ = −P(1 − P).
        let first = -bound * risk;
        let second = -bound * (1.0 - 2.0 * bound) * risk;
        let risk = at.bound_logit.chain(risk, first, second);
        let unit = RISK_OFF.powi(4) - 1.0;
        let powered = risk.square().square() * (of_risk / unit);
        let drop = self.log_drop(w, at) * (1.0 / DROP_OFF);
        let current = (at.free[0] + -self.preferred[0]) * (1.0 / self.preferred[1]);
        powered + drop.square() * of_drop + current.square() * of_current
    }

    /// ln of the drop diameter over its target.
    pub(super) fn log_drop(&self, w: f64, at: &Process) -> Jet {
        (at.free[1] + -self.target_log_frequency(w)) * (-1.0 / 3.0)
    }

    /// Departures from pinned values, in their logarithms.
    pub(super) fn off_pins(&self, pin: &Pin, at: &Process, mut each: impl FnMut(Jet)) {
        for (value, pinned) in [
            (at.free[0], pin.pulse_current_a.map(|a| a / self.reference_a())),
            (at.log_time, pin.pulse_time_ms),
            (at.free[1], pin.pulse_frequency_hz),
        ] {
            if let Some(p) = pinned {
                each(value + -p.ln());
            }
        }
    }

    /// The waveform of a point.
    pub(super) fn wave(&self, at: &Process) -> Waveform {
        let [x, y, v] = at.free.map(|j| j.value);
        Waveform {
            pulse_current_a: self.reference_a() * x.exp(),
            pulse_time_ms: at.log_time.value.exp(),
            background_current_a: self.reference_a() * v,
            pulse_frequency_hz: y.exp(),
            rise_a_per_ms: self.study.source.rise_a_per_ms,
            fall_a_per_ms: self.study.source.fall_a_per_ms,
        }
    }

    /// The free settings of a waveform.
    pub(in crate::compose) fn free(&self, wave: &Waveform) -> [f64; 3] {
        [
            (wave.pulse_current_a / self.reference_a()).ln(),
            wave.pulse_frequency_hz.ln(),
            wave.background_current_a / self.reference_a(),
        ]
    }
}

//! One weld of the invented process, and how a laboratory reads it.

use meltlaw_line::Waveform;

use super::faults::Disturbance;
use super::truth::Truth;
use crate::compose::{balancing_background_a, power_w, voltage_v};
use crate::laws::logistic;
use crate::statistics::DrawStream;
use crate::study::{Bench, SourceLimits, Study};
use crate::trials::{Column, Mode, Trial};

/// What the welder sets: the background is what the melt balance then asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// w.
    pub wire_feed_mm_s: f64,
    /// CTWD.
    pub ctwd_mm: f64,
    /// a.
    pub arc_length_mm: f64,
    /// The pulse; `None` welds with constant current.
    pub pulse: Option<Pulse>,
}

/// A pulse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulse {
    /// I_p.
    pub current_a: f64,
    /// t_p at half height.
    pub time_ms: f64,
    /// f.
    pub frequency_hz: f64,
}

/// A steady weld as it truly is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrueWeld {
    /// What was set.
    pub setting: Setting,
    /// L = CTWD − a.
    pub extension_mm: f64,
    /// I_b that balances the melting; for constant current that current.
    pub background_current_a: f64,
    /// Ī.
    pub current_mean_a: f64,
    /// I_rms².
    pub mean_square_a2: f64,
    /// Ū between contact tip and work.
    pub voltage_mean_v: f64,
    /// Mean of u·i.
    pub power_mean_w: f64,
    /// ln(I_p/I₀) of a pulsed weld.
    pub log_pulse_current: Option<f64>,
}

impl TrueWeld {
    /// The weld that a setting comes to, or `None` where no source could weld it steadily.
    ///
    /// ```text
    /// α·Ī(I_b) + β·L·I_rms²(I_b) = w,  Ū = U0 + R·Ī + E·a + r·L·Ī,
    /// P = (U0 + E·a)·Ī + (R + r·L)·I_rms²
    /// ```
    ///
    /// Left out are backgrounds outside the source's limits (20 to 200 A where it has none) or above 0.8·I_p, pulses whose slopes leave no
    /// trapezoid, and constant currents outside 20 to 400 A.
    pub fn new(truth: &Truth, source: &SourceLimits, reference_current_a: f64, setting: Setting) -> Option<Self> {
        let extension_mm = setting.ctwd_mm - setting.arc_length_mm;
        let (background_current_a, current_mean_a, mean_square_a2) = match setting.pulse {
            None => {
                let current = truth.constant_current_a(extension_mm, setting.wire_feed_mm_s);
                if !(20.0..400.0).contains(&current) {
                    return None;
                }
                (current, current, current * current)
            }
            Some(pulse) => {
                let start = waveform(&pulse, 100.0, source);
                let background =
                    balancing_background_a(&truth.burn_off(), extension_mm, setting.wire_feed_mm_s, &start);
                let wave = waveform(&pulse, background, source);
                let [low, high] = source.background_current_a.unwrap_or([20.0, 200.0]);
                if !(low..high).contains(&background)
                    || wave.slope_slack_ms() < 0.0
                    || background > 0.8 * pulse.current_a
                {
                    return None;
                }
                let m = wave.moments();
                (background, m.mean_a, m.mean_square_a2)
            }
        };
        let volt = truth.arc_voltage();
        let arc = setting.arc_length_mm;
        Some(Self {
            setting,
            extension_mm,
            background_current_a,
            current_mean_a,
            mean_square_a2,
            voltage_mean_v: voltage_v(&volt, arc, extension_mm, current_mean_a),
            power_mean_w: power_w(&volt, arc, extension_mm, current_mean_a, mean_square_a2, None),
            log_pulse_current: setting.pulse.map(|p| (p.current_a / reference_current_a).ln()),
        })
    }

    /// The weld as a laboratory reads it whose instruments err as `study.bench` says.
    ///
    /// ```text
    /// currents = true·(1 + e_gain), one e_gain per trial;  power = (P + e_V·Ī)·(1 + e_gain)
    /// feed = w·(1 + e_feed),  arc length = a + e_a,  CTWD = true + e_CTWD,  voltage = Ū + e_V
    /// pulse time = t_p·(1 + e_t);  drops of each pulse at s = n·ln(I_p/I₀) + ln t_p + τ·z, one z per trial
    /// ```
    ///
    /// The errors are independent normal numbers with the bench's standard errors; what a fault or a block
    /// adds comes on top. The frequency is read exactly.
    pub fn read(
        &self,
        study: &Study,
        truth: &Truth,
        disturbance: &Disturbance,
        pulses: usize,
        name: String,
        row: usize,
        stream: &mut DrawStream,
    ) -> Trial {
        let bench: &Bench = &study.bench;
        let counts = self.log_pulse_current.zip(self.setting.pulse).map(|(x, pulse)| {
            let s = truth.exponent * x
                + pulse.time_ms.ln()
                + truth.trial_scatter * stream.normal()
                + disturbance.detachment_s;
            count(truth, s, pulses, stream)
        });
        let gain = 1.0 + bench.current_relative_se * stream.normal() + disturbance.gain_relative;
        let off = bench.voltage_se_v * stream.normal();
        let feed = 1.0 + bench.wire_feed_relative_se * stream.normal() + disturbance.wire_feed_relative;
        let arc = self.setting.arc_length_mm + bench.arc_length_se_mm * stream.normal();
        let mut trial = Trial::new(name, 0, row)
            .with(Column::WireFeed, self.setting.wire_feed_mm_s * 0.06 * feed)
            .with(Column::CurrentMean, self.current_mean_a * gain)
            .with(Column::CurrentRms, self.mean_square_a2.sqrt() * gain)
            .with(Column::ArcLength, arc)
            .with(Column::VoltageMean, self.voltage_mean_v + off)
            .with(Column::PowerMean, gain * (self.power_mean_w + off * self.current_mean_a));
        match self.setting.pulse {
            Some(pulse) => {
                trial.set(Column::PulseCurrent, Some(pulse.current_a * gain));
                let time = pulse.time_ms * (1.0 + bench.pulse_time_relative_se * stream.normal());
                trial.set(Column::PulseTime, Some(time));
                trial.set(Column::BackgroundCurrent, Some(self.background_current_a * gain));
                trial.set(Column::PulseFrequency, Some(pulse.frequency_hz));
            }
            None => trial.mode = Mode::ConstantCurrent,
        }
        if let Some([none, one, more]) = counts {
            trial.set(Column::WithoutDrop, Some(none));
            trial.set(Column::OneDrop, Some(one));
            trial.set(Column::MoreDrops, Some(more));
        }
        let ctwd_off = if bench.ctwd_se_mm > 0.0 { bench.ctwd_se_mm * stream.normal() } else { 0.0 };
        trial.set(Column::Ctwd, Some(self.setting.ctwd_mm + ctwd_off));
        trial
    }
}

/// The waveform of a pulse on a background, with the slopes of the source.
pub(super) fn waveform(pulse: &Pulse, background_current_a: f64, source: &SourceLimits) -> Waveform {
    Waveform {
        pulse_current_a: pulse.current_a,
        pulse_time_ms: pulse.time_ms,
        background_current_a,
        pulse_frequency_hz: pulse.frequency_hz,
        rise_a_per_ms: source.rise_a_per_ms,
        fall_a_per_ms: source.fall_a_per_ms,
    }
}

/// Pulses without, with one and with more drops at one position s.
pub(super) fn count(truth: &Truth, s: f64, pulses: usize, stream: &mut DrawStream) -> [f64; 3] {
    let chance = |ms: f64| logistic(truth.steepness * (s - ms.ln()));
    let (any, more) = (chance(truth.one_drop_from_ms), chance(truth.more_drops_from_ms));
    let mut counts = [0.0; 3];
    for _ in 0..pulses {
        let u = stream.uniform();
        let class = if u < more {
            2
        } else if u < any {
            1
        } else {
            0
        };
        counts[class] += 1.0;
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::Material;
    use crate::statistics::Purpose;
    use crate::virtual_bench::{study, wire};

    #[test]
    fn one_gain_error_moves_all_currents_and_power_alike() {
        let mut study = study(wire(Material::CarbonSteel, 1.2, None));
        study.bench.voltage_se_v = 0.0;
        let setting = Setting {
            wire_feed_mm_s: 90.0,
            ctwd_mm: 18.0,
            arc_length_mm: 4.0,
            pulse: Some(Pulse { current_a: 400.0, time_ms: 2.4, frequency_hz: 95.0 }),
        };
        let weld = TrueWeld::new(&Truth::STEEL, &study.source, 400.0, setting).expect("an ordinary setting");
        let mut stream = DrawStream::new(1, Purpose::Simulation, 0);
        let trial = weld.read(&study, &Truth::STEEL, &Disturbance::default(), 100, "T".to_owned(), 2, &mut stream);
        let ratio = |column: Column, truth: f64| trial.get(column).map(|v| v / truth);
        let gain = ratio(Column::CurrentMean, weld.current_mean_a);
        assert!(gain.is_some_and(|g| (g - 1.0).abs() > 1e-4));
        for (column, truth) in [
            (Column::CurrentRms, weld.mean_square_a2.sqrt()),
            (Column::PulseCurrent, 400.0),
            (Column::BackgroundCurrent, weld.background_current_a),
            (Column::PowerMean, weld.power_mean_w),
        ] {
            assert!(ratio(column, truth).zip(gain).is_some_and(|(a, b)| (a - b).abs() < 1e-12), "{column:?}");
        }
    }
}

//! One node: a composed setting and all that is known about it.

use std::collections::BTreeMap;

use meltlaw_line::{Limit, Support, Waveform};
use nalgebra::DMatrix;
use rayon::prelude::*;

use super::Composer;
use super::Judged;
use super::composed::Composed;
use super::draws::Draw;
use super::process::{balancing_background_a, power_w, voltage_v};
use crate::heat::{arc_energy_kj_mm, heat_input_kj_mm};
use crate::laws::CarriedTo;
use crate::line::{Budget, IntervalErrors, NextWeld, Node, Sensitivities, Sensitivity, Uncertain};
use crate::node_notes::{NOTABLY_OFF, off_best_pulse_note};
use crate::statistics::{interval_of, quantile_error};
use crate::study::{CalibrationTerm, Pin};
use crate::transition_current;

/// Variance of a quantity from the trials and from each common error.
pub(super) struct Shares {
    trials: f64,
    /// Whether it comes from other studies instead.
    of_studies: bool,
    counting: f64,
    between_blocks: Option<f64>,
    common: Vec<f64>,
}

impl Shares {
    pub(super) fn total(&self) -> f64 {
        self.trials + self.common.iter().map(|c| c * c).sum::<f64>()
    }

    fn budget(&self, names: &[super::laws_at_work::CommonError]) -> BTreeMap<String, f64> {
        let total = self.total();
        let share = |v: f64| if total > 0.0 { v / total } else { 0.0 };
        let mut shares = BTreeMap::new();
        let blocks = self.between_blocks.unwrap_or(0.0);
        let open = if self.of_studies { "studies" } else { "trials" };
        shares.insert(open.to_owned(), share(self.trials - self.counting - blocks));
        shares.insert("drop_counting".to_owned(), share(self.counting));
        if self.between_blocks.is_some() {
            shares.insert("between_blocks".to_owned(), share(blocks));
        }
        for (name, c) in names.iter().zip(&self.common) {
            shares.insert(name.name.clone(), share(c * c));
        }
        shares
    }
}

impl Composer<'_> {
    /// Relative standard error of α·Ī + β·L·I_rms² at a setting: with calibration, and on the trials'
    /// own instruments.
    fn melting_rate_shares(&self, mean: f64, square: f64, w: f64) -> (Shares, f64) {
        let burn = &self.laws.burn_off;
        let extension = self.extension_mm();
        let g = [mean, extension * square, 1.0];
        let p = burn.b.len();
        let trials = quadratic(&g[..p], &burn.covariance);
        let between_blocks = burn.between_blocks.as_ref().map(|c| quadratic(&g[..p], c));
        let mut common = Vec::new();
        let mut same_bench = trials;
        for (e, error) in burn.effects.iter().zip(&self.laws.common) {
            let effect = g[..p].iter().zip(e).map(|(g, e)| g * e).sum::<f64>();
            common.push(effect * error.standard_uncertainty);
            // Settings and feed carry the same instrument errors as the trials: what the reading tells
            // too much the process gets too little of.
            let own = match CalibrationTerm::from_name(&error.name) {
                Some(CalibrationTerm::CurrentGainRelative) => {
                    -(burn.b[0] * mean + 2.0 * burn.b[1] * extension * square)
                }
                Some(CalibrationTerm::WireFeedGainRelative) => w,
                Some(CalibrationTerm::CtwdOffsetMm) => -burn.b[1] * square,
                Some(CalibrationTerm::ArcLengthOffsetMm) => burn.b[1] * square,
                _ => 0.0,
            };
            same_bench += ((effect + own) * error.standard_uncertainty).powi(2);
        }
        (Shares { trials, of_studies: burn.of_studies, counting: 0.0, between_blocks, common }, same_bench.sqrt() / w)
    }

    /// Relative standard error of the melting rate with calibration.
    pub(super) fn melting_rate_relative_se(&self, mean: f64, square: f64, w: f64) -> f64 {
        self.melting_rate_shares(mean, square, w).0.total().sqrt() / w
    }

    pub(super) fn voltage_shares(&self, mean: f64) -> Shares {
        let volt = &self.laws.arc_voltage;
        let h = [1.0, mean, self.study.bench.arc_length_mm, self.extension_mm() * mean];
        let p = volt.b.len();
        let trials = quadratic(&h[..p], &volt.covariance);
        let between_blocks = volt.between_blocks.as_ref().map(|c| quadratic(&h[..p], c));
        let common = volt
            .effects
            .iter()
            .zip(&self.laws.common)
            .map(|(e, error)| e.iter().zip(&h).map(|(e, h)| e * h).sum::<f64>() * error.standard_uncertainty)
            .collect();
        Shares { trials, of_studies: volt.of_studies, counting: 0.0, between_blocks, common }
    }

    fn one_drop_shares(&self, wave: &Waveform) -> Shares {
        let d = &self.laws.detachment;
        let x = (wave.pulse_current_a / d.reference_current_a).ln();
        let g = d.law.one_drop_gradient(x, wave.pulse_time_ms.ln(), &self.quadrature);
        let trials = quadratic(&g, &d.covariance_q);
        let between_blocks = d.between_blocks_q.as_ref().map(|c| quadratic(&g, c));
        let common = d
            .effects_q
            .iter()
            .zip(&self.laws.common)
            .map(|(e, error)| e.iter().zip(g.iter()).map(|(e, g)| e * g).sum::<f64>() * error.standard_uncertainty)
            .collect();
        let counting = quadratic(&g, &d.counting_covariance_q).min(trials - between_blocks.unwrap_or(0.0));
        Shares { trials, of_studies: d.of_studies, counting, between_blocks, common }
    }

    /// The one-drop probability at a pulse, without its interval.
    pub(super) fn chance_of_one_drop(&self, wave: &Waveform) -> f64 {
        let law = &self.laws.detachment.law;
        let x = (wave.pulse_current_a / self.laws.detachment.reference_current_a).ln();
        law.one_drop_probability(law.s(x, wave.pulse_time_ms.ln()), &self.quadrature)
    }

    /// The one-drop probability at a pulse, with its interval from the draws.
    pub(super) fn one_drop_probability(&self, wave: &Waveform) -> Uncertain {
        let reference = self.laws.detachment.reference_current_a;
        let (x, y) = ((wave.pulse_current_a / reference).ln(), wave.pulse_time_ms.ln());
        let law = &self.laws.detachment.law;
        let value = law.one_drop_probability(law.s(x, y), &self.quadrature);
        let mut draws: Vec<f64> = self
            .draws
            .iter()
            .map(|d| d.detachment.one_drop_probability(d.detachment.s(x, y), &self.quadrature))
            .collect();
        let confidence = self.study.numerics.confidence;
        let interval = interval_of(&mut draws, confidence);
        Uncertain { value, interval, interval_error: interval_error(&mut draws, confidence) }
    }

    /// What steps of CTWD, feed and wire diameter do to the arc, first derivatives times the step.
    fn sensitivities(&self, wave: &Waveform, w: f64) -> Sensitivities {
        let burn = &self.laws.burn_off.b;
        let volt = &self.laws.arc_voltage.b;
        let (gradient, by_extension) = (volt.get(2).copied().unwrap_or(0.0), volt.get(3).copied().unwrap_or(0.0));
        let m = wave.moments();
        let extension = self.extension_mm();
        let per_mm = burn[1] * m.mean_square_a2;
        let per_feed = 0.01 * w;
        let per_diameter = 0.01 * (2.0 * burn[0] * m.mean_a + 4.0 * burn[1] * extension * m.mean_square_a2);
        let by_background = burn[0] * m.mean_by_background + burn[1] * extension * m.mean_square_by_background;
        let arc = |arc_length_mm: f64, background_current_a: f64| Sensitivity {
            arc_length_mm,
            voltage_mean_v: (gradient - by_extension * m.mean_a) * arc_length_mm,
            background_current_a,
        };
        Sensitivities {
            ctwd: Sensitivity {
                arc_length_mm: 1.0,
                voltage_mean_v: gradient,
                background_current_a: -per_mm / by_background,
            },
            wire_feed: arc(-per_feed / per_mm, per_feed / by_background),
            wire_diameter: arc(-per_diameter / per_mm, per_diameter / by_background),
        }
    }

    /// The node at a feed from its composed setting.
    pub(super) fn node(&self, feed: f64, judged: &Judged) -> Node {
        let Judged { composed, support, one_drop, pin } = judged;
        let study = self.study;
        let w = feed / 0.06;
        let wave = composed.wave;
        let m = wave.moments();
        let (mean, square) = (m.mean_a, m.mean_square_a2);
        let extension = self.extension_mm();
        let arc = study.bench.arc_length_mm;
        let volt = &self.laws.arc_voltage.b;
        let instant = self.laws.instant_resistance.map(|r| r.0);
        let power = power_w(volt, arc, extension, mean, square, instant);
        let (melting, same_bench) = self.melting_rate_shares(mean, square, w);
        let bands = self.bands(&wave, w, mean);
        let speed = study.line.travel_speed_mm_s;
        Node {
            wire_feed_m_min: feed,
            pulse_current_a: wave.pulse_current_a,
            pulse_time_ms: wave.pulse_time_ms,
            pulse_frequency_hz: wave.pulse_frequency_hz,
            background_current_a: wave.background_current_a,
            background_time_ms: wave.background_time_ms(),
            rise_a_per_ms: wave.rise_a_per_ms,
            fall_a_per_ms: wave.fall_a_per_ms,
            current_mean_a: mean,
            current_rms_a: square.sqrt(),
            drop_diameter_mm: composed.drop_diameter_mm,
            melting_rate_kg_h: study.wire.melting_rate_kg_h(w),
            melting_rate_relative_se: melting.total().sqrt() / w,
            melting_rate_relative_se_same_bench: same_bench,
            voltage_mean_v: voltage_v(volt, arc, extension, mean),
            voltage_mean_v_interval: bands.voltage,
            power_mean_w: power,
            power_mean_w_interval: Some(bands.power),
            one_drop_probability: one_drop.unwrap_or_else(|| self.one_drop_probability(&wave)),
            balancing_background_current_a_interval: bands.background,
            balancing_current_mean_a_interval: Some(bands.current),
            arc_energy_kj_mm: speed.map(|v| arc_energy_kj_mm(power, v)),
            arc_energy_kj_mm_interval: speed.map(|v| bands.power.map(|p| arc_energy_kj_mm(p, v))),
            heat_input_kj_mm: speed.map(|v| heat_input_kj_mm(power, v)),
            heat_input_kj_mm_interval: speed.map(|v| bands.power.map(|p| heat_input_kj_mm(p, v))),
            next_weld: bands.next_weld,
            interval_errors: bands.errors,
            sensitivities: self.sensitivities(&wave, w),
            budget: Budget {
                melting_rate: melting.budget(&self.laws.common),
                one_drop_probability: self.one_drop_shares(&wave).budget(&self.laws.common),
                voltage: self.voltage_shares(mean).budget(&self.laws.common),
            },
            support: support.word().to_owned(),
            limits: composed.limits.iter().map(|l| l.word().to_owned()).collect(),
            notes: self.notes(composed, pin.as_ref(), *support),
            pinned: pin.as_ref().map_or_else(Vec::new, Pin::names),
            cost: Some(self.cost(composed)),
            drift: Some(self.drift(&wave, w)),
        }
    }

    fn notes(&self, composed: &Composed, pin: Option<&Pin>, support: Support) -> Vec<String> {
        let mut notes = Vec::new();
        if let Some(pin) = pin {
            notes.push(format!("pinned by the study at {} m/min: {}", pin.wire_feed_m_min, pin.names().join(", ")));
        }
        if composed.limits.contains(&Limit::OneDropLow) || composed.off_preferred.abs() > NOTABLY_OFF {
            notes.push(off_best_pulse_note(composed.off_preferred));
        }
        notes.extend(match support {
            Support::Covered => None,
            Support::Extended => self.knowledge.at_best_extended.clone(),
            Support::Carried => self.knowledge.carried.map(CarriedTo::sentence),
        });
        notes.extend(transition_current::notes(&self.study.wire, self.study.gas.as_ref(), &composed.wave));
        notes
    }

    fn bands(&self, wave: &Waveform, w: f64, mean: f64) -> Bands {
        let bench = &self.study.bench;
        let (arc, extension) = (bench.arc_length_mm, self.extension_mm());
        let confidence = self.study.numerics.confidence;
        let follows_instant = self.laws.instant_resistance.is_some();
        let held = wave.moments();
        let each = |d: &Draw| -> [f64; 7] {
            let background = balancing_background_a(&d.burn_off, extension, w, wave);
            let voltage = voltage_v(&d.arc_voltage, arc, extension, mean);
            // A new weld: feed, arc length and gain vary, the background is trimmed until the melt
            // balance holds, then all is read by the same instruments.
            // Where the trials contradict their stated errors, welds scatter as the trials do.
            let [of_melting, of_voltage] = self.laws.weld_scatter;
            let feed = w * (1.0 + of_melting * bench.wire_feed_relative_se * d.next_weld[0]);
            let arc_now = arc + of_melting * bench.arc_length_se_mm * d.next_weld[1];
            let gain = 1.0 + of_melting * bench.current_relative_se * d.next_weld[2];
            let length = bench.ctwd_mm - arc_now;
            let trimmed =
                Waveform { background_current_a: balancing_background_a(&d.burn_off, length, feed, wave), ..*wave }
                    .moments();
            let off = of_voltage * bench.voltage_se_v * d.next_weld[3];
            let read_voltage = voltage_v(&d.arc_voltage, arc_now, length, trimmed.mean_a) + off;
            let instant = follows_instant.then_some(d.instant_resistance_ohm);
            let power = power_w(&d.arc_voltage, arc_now, length, trimmed.mean_a, trimmed.mean_square_a2, instant);
            let current = held.mean_a + held.mean_by_background * (background - wave.background_current_a);
            let held_power = power_w(&d.arc_voltage, arc, extension, held.mean_a, held.mean_square_a2, instant);
            let read_power = gain * (power + off * trimmed.mean_a);
            [background, voltage, trimmed.mean_a * gain, read_voltage, read_power, current, held_power]
        };
        let drawn: Vec<[f64; 7]> = self.draws.par_iter().with_min_len(256).map(each).collect();
        let mut column = vec![0.0; drawn.len()];
        let [background, voltage, weld_current, weld_voltage, weld_power, current, power] =
            [0, 1, 2, 3, 4, 5, 6].map(|i| {
                for (c, d) in column.iter_mut().zip(&drawn) {
                    *c = d[i];
                }
                (interval_of(&mut column, confidence), interval_error(&mut column, confidence))
            });
        Bands {
            background: background.0,
            voltage: voltage.0,
            current: current.0,
            power: power.0,
            next_weld: NextWeld {
                current_mean_a: weld_current.0,
                voltage_mean_v: weld_voltage.0,
                power_mean_w: weld_power.0,
            },
            errors: IntervalErrors {
                balancing_background_current_a: background.1,
                voltage_mean_v: voltage.1,
                next_weld_current_mean_a: weld_current.1,
                next_weld_voltage_mean_v: weld_voltage.1,
                next_weld_power_mean_w: weld_power.1,
            },
        }
    }
}

/// Standard error of the ends of an interval from so many draws, the larger of both.
fn interval_error(draws: &mut [f64], confidence: f64) -> Option<f64> {
    let tail = (1.0 - confidence) / 2.0;
    let larger = quantile_error(draws, tail).max(quantile_error(draws, 1.0 - tail));
    larger.is_finite().then_some(larger)
}

/// gᵀ·C·g.
pub(super) fn quadratic(g: &[f64], covariance: &DMatrix<f64>) -> f64 {
    let mut sum = 0.0;
    for (i, a) in g.iter().enumerate() {
        for (j, b) in g.iter().enumerate() {
            sum += a * covariance[(i, j)] * b;
        }
    }
    sum
}

/// Intervals of a node that come from the draws.
struct Bands {
    background: [f64; 2],
    voltage: [f64; 2],
    current: [f64; 2],
    power: [f64; 2],
    next_weld: NextWeld,
    errors: IntervalErrors,
}

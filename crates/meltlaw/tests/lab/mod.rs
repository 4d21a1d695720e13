//! An invented laboratory: a truth, a bench with stated errors, trials welded on it. Nothing here was
//! measured.
#![allow(dead_code, unreachable_pub, missing_docs, reason = "shared by tests and an example that each use a part")]

use meltlaw::compose::balancing_background_a;
use meltlaw::gas::Gas;
use meltlaw::materials::Material;
use meltlaw::statistics::{DrawStream, Purpose};
use meltlaw::study::*;
use meltlaw::trials::{Column, Trial, Trials};
use meltlaw_line::{Waveform, drop_frequency_hz};

/// The laws that the invented process follows.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub alpha: f64,
    pub beta: f64,
    pub exponent: f64,
    pub steepness: f64,
    pub one_ms: f64,
    pub more_ms: f64,
    pub scatter: f64,
    pub voltage: [f64; 4],
    pub feeds_m_min: [f64; 2],
}

pub const STEEL: Truth = Truth {
    alpha: 0.305,
    beta: 5.5e-5,
    exponent: 1.9,
    steepness: 8.0,
    one_ms: 1.75,
    more_ms: 4.0,
    scatter: 0.03,
    voltage: [16.2, 0.026, 0.85, 5e-4],
    feeds_m_min: [3.2, 8.4],
};

/// Truths for a wire: α as d⁻², β as d⁻⁴, pulse times as d².
pub fn truth_of(wire: &Wire) -> Truth {
    let d = wire.diameter_mm / 1.2;
    let base = match wire.material {
        Material::StainlessSteel => Truth { alpha: 0.31, beta: 7e-5, one_ms: 1.6, more_ms: 3.8, ..STEEL },
        Material::Aluminium => Truth {
            alpha: 0.80,
            beta: 1e-5,
            exponent: 2.1,
            one_ms: 1.0,
            more_ms: 2.5,
            voltage: [14.5, 0.03, 0.7, 2e-4],
            feeds_m_min: [4.5, 9.5],
            ..STEEL
        },
        _ if wire.metal_section_mm2.is_some() => Truth { alpha: 0.38, beta: 7.5e-5, ..STEEL },
        _ => STEEL,
    };
    Truth {
        alpha: base.alpha / (d * d),
        beta: base.beta / d.powi(4),
        one_ms: base.one_ms * d * d,
        more_ms: base.more_ms * d * d,
        feeds_m_min: base.feeds_m_min.map(|f| f / (d * d)),
        ..base
    }
}

pub fn wire(material: Material, diameter_mm: f64, metal_section_mm2: Option<f64>) -> Wire {
    Wire {
        designation: "invented".to_owned(),
        material,
        diameter_mm,
        metal_section_mm2,
        density_kg_m3: material.density().kg_m3,
        linear_mass_g_m: None,
    }
}

/// A study with the errors of issue-like labs: 0.8 % gain, 0.15 mm of arc length, 0.4 % feed.
pub fn study(wire: Wire) -> Study {
    Study {
        name: "invented lab".to_owned(),
        wire,
        gas: Some(Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() }),
        bench: Bench {
            ctwd_mm: 18.0,
            arc_length_mm: 4.0,
            voltage_measured_at: VoltagePlace::ContactTip,
            lead_resistance_ohm: 0.0,
            wire_feed_relative_se: 0.004,
            current_relative_se: 0.008,
            voltage_se_v: 0.15,
            ctwd_se_mm: 0.0,
            arc_length_se_mm: 0.15,
            extension_se_mm: 0.3,
            pulse_time_relative_se: 0.01,
        },
        calibration: Vec::new(),
        not_covered: CalibrationTerm::ALL.to_vec(),
        source: SourceLimits {
            current_a: None,
            background_current_a: None,
            pulse_time_ms: None,
            pulse_frequency_hz: None,
            rise_a_per_ms: 600.0,
            fall_a_per_ms: 600.0,
            duty: None,
        },
        line: LineRequest {
            wire_feed_m_min: [3.0, 9.0],
            step_m_min: 0.5,
            drop_to_wire_ratio: 1.1,
            drop_to_wire_limits: [0.8, 1.4],
            interpolation_tolerance: 0.002,
            one_drop_floor: 0.8,
            extended_by: 0.15,
            extended_melting_rate_relative_se: 0.02,
            travel_speed_mm_s: None,
            pins: Vec::new(),
        },
        compare: Margins { wire_feed_relative: 0.02, detachment_relative: 0.05, voltage_v: 0.5 },
        numerics: Numerics { seed: 1, draws: 400, confidence: 0.95, covariance_from: CovarianceFrom::Residuals },
        laws: LawChoices::default(),
        prior: Vec::new(),
        assumed: Vec::new(),
    }
}

/// How many trials a lab welds, and how many pulses it counts in each.
#[derive(Debug, Clone, Copy)]
pub struct Size {
    pub burn_off: usize,
    pub detachment: usize,
    pub pulses: usize,
}

/// Trials for burn-off inside the one-drop window at three distances, and for detachment with the pulse
/// time swept across both thresholds.
pub fn trials(study: &Study, truth: &Truth, size: Size, seed: u64, lab: u64) -> Trials {
    let mut stream = DrawStream::new(seed, Purpose::Simulation, lab);
    let mut rows = Vec::new();
    let reference = study.reference_current_a();
    let between = |u: f64, low: f64, high: f64| low + u * (high - low);
    let section = study.wire.section_mm2();
    let add = |rows: &mut Vec<Trial>,
               stream: &mut DrawStream,
               make: &dyn Fn(usize, &mut DrawStream) -> [f64; 6],
               from: usize,
               to: usize| {
        let mut tries = 0;
        while rows.len() < to {
            let setting = make(rows.len() - from, stream);
            if let Some(trial) = weld(study, truth, rows.len(), setting, size.pulses, stream) {
                rows.push(trial);
            }
            tries += 1;
            assert!(tries < 20_000, "the invented process has no setting here");
        }
    };
    let count = size.burn_off;
    let burn = |i: usize, stream: &mut DrawStream| {
        let [slow, fast] = truth.feeds_m_min;
        // 7 and 24 have no common factor: feeds and distances mix.
        let share = (((i * 7) % count) as f64 + between(stream.uniform(), 0.2, 0.8)) / count as f64;
        let w = between(share, slow, fast) / 0.06;
        let current = reference * between(stream.uniform(), 0.9, 1.12);
        let time = truth.one_ms * (reference / current).powf(truth.exponent) * between(stream.uniform(), 1.2, 1.9);
        let hz = drop_frequency_hz(section, w, between(stream.uniform(), 1.0, 1.25) * study.wire.diameter_mm);
        [w, [15.0, 18.0, 22.0][i % 3], between(stream.uniform(), 2.5, 6.0), current, time, hz]
    };
    add(&mut rows, &mut stream, &burn, 0, count);
    let sweep = |i: usize, stream: &mut DrawStream| {
        let share = (((i * 5) % size.detachment) as f64 + between(stream.uniform(), 0.1, 0.9)) / size.detachment as f64;
        let current = reference * between(stream.uniform(), 0.78, 1.18);
        let [slow, fast] = truth.feeds_m_min;
        let w = between(stream.uniform(), slow, slow + 0.55 * (fast - slow)) / 0.06;
        let (low, high) = (0.6 * truth.one_ms, 1.5 * truth.more_ms);
        let time = low * (high / low).powf(share) * (reference / current).powf(truth.exponent);
        [w, 18.0, between(stream.uniform(), 3.0, 5.0), current, time, between(stream.uniform(), 50.0, 140.0)]
    };
    add(&mut rows, &mut stream, &sweep, count, count + size.detachment);
    let has_column = Column::ALL.iter().copied().filter(|c| rows.iter().any(|r: &Trial| r.get(*c).is_some())).collect();
    Trials { rows, has_column, ..Trials::default() }
}

/// One trial as read, or `None` where the source could not weld it.
fn weld(
    study: &Study,
    truth: &Truth,
    index: usize,
    [w, ctwd, arc, current, time, hz]: [f64; 6],
    pulses: usize,
    stream: &mut DrawStream,
) -> Option<Trial> {
    let extension = ctwd - arc;
    let wave = Waveform {
        pulse_current_a: current,
        pulse_time_ms: time,
        background_current_a: 100.0,
        pulse_frequency_hz: hz,
        rise_a_per_ms: study.source.rise_a_per_ms,
        fall_a_per_ms: study.source.fall_a_per_ms,
    };
    let wave = Waveform {
        background_current_a: balancing_background_a(&[truth.alpha, truth.beta], extension, w, &wave),
        ..wave
    };
    if !(20.0..200.0).contains(&wave.background_current_a)
        || wave.slope_slack_ms() < 0.0
        || wave.background_current_a > 0.8 * current
    {
        return None;
    }
    let m = wave.moments();
    let rms = m.mean_square_a2.sqrt();
    let bench = &study.bench;
    let s = truth.exponent * (current / study.reference_current_a()).ln() + time.ln() + truth.scatter * stream.normal();
    let chance = |ms: f64| 1.0 / (1.0 + (-truth.steepness * (s - ms.ln())).exp());
    let (any, more) = (chance(truth.one_ms), chance(truth.more_ms));
    let mut counts = [0.0; 3];
    for _ in 0..pulses {
        let u = stream.uniform();
        counts[if u < more {
            2
        } else if u < any {
            1
        } else {
            0
        }] += 1.0;
    }
    let gain = 1.0 + bench.current_relative_se * stream.normal();
    let off = bench.voltage_se_v * stream.normal();
    let [u0, r, e, rl] = truth.voltage;
    let voltage = u0 + r * m.mean_a + e * arc + rl * extension * m.mean_a;
    let power = (u0 + e * arc) * m.mean_a + (r + rl * extension) * m.mean_square_a2;
    Some(
        Trial::new(format!("T{index}"), 0, index + 2)
            .with(Column::RunOrder, index as f64 + 1.0)
            .with(Column::WireFeed, w * 0.06 * (1.0 + bench.wire_feed_relative_se * stream.normal()))
            .with(Column::CurrentMean, m.mean_a * gain)
            .with(Column::CurrentRms, rms * gain)
            .with(Column::Ctwd, ctwd)
            .with(Column::ArcLength, arc + bench.arc_length_se_mm * stream.normal())
            .with(Column::VoltageMean, voltage + off)
            .with(Column::PowerMean, gain * (power + off * m.mean_a))
            .with(Column::PulseCurrent, current * gain)
            .with(Column::PulseTime, time * (1.0 + bench.pulse_time_relative_se * stream.normal()))
            .with(Column::BackgroundCurrent, wave.background_current_a * gain)
            .with(Column::PulseFrequency, hz)
            .with(Column::WithoutDrop, counts[0])
            .with(Column::OneDrop, counts[1])
            .with(Column::MoreDrops, counts[2]),
    )
}

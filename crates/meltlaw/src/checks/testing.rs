//! Good studies and trials for the tests: welded by a law, read by instruments with usual errors.

use super::{Check, Finding, Severity};
use crate::gas::Gas;
use crate::materials::Material;
use crate::study::{LineRequest, Numerics, Study, Wire};
use crate::trials::{Column, Trial, TrialSource, Trials};
use crate::virtual_bench::{study, wire};

/// An invented lab: a wire, its gas and the laws that it obeys.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lab {
    material: Material,
    diameter_mm: f64,
    gas: Gas,
    alpha_mm_per_a_s: f64,
    beta_per_a2_s: f64,
    exponent: f64,
    one_drop_from_ms: f64,
    more_drops_from_ms: f64,
    reference_current_a: f64,
    pulse_current_a: [f64; 2],
    wire_feed_m_min: [f64; 2],
    background_current_a: [f64; 2],
}

const NO_GAS: Gas = Gas { argon: 0.0, carbon_dioxide: 0.0, helium: 0.0, oxygen: 0.0, hydrogen: 0.0, nitrogen: 0.0 };

/// Mild steel 1.2 mm in argon with 8 % CO2.
pub(super) const STEEL: Lab = Lab {
    material: Material::CarbonSteel,
    diameter_mm: 1.2,
    gas: Gas { argon: 92.0, carbon_dioxide: 8.0, ..NO_GAS },
    alpha_mm_per_a_s: 0.305,
    beta_per_a2_s: 5.5e-5,
    exponent: 1.9,
    one_drop_from_ms: 1.75,
    more_drops_from_ms: 4.0,
    reference_current_a: 400.0,
    pulse_current_a: [330.0, 460.0],
    wire_feed_m_min: [3.3, 8.4],
    background_current_a: [25.0, 200.0],
};

/// Austenitic stainless steel 1.0 mm in argon with 2 % CO2.
pub(super) const STAINLESS: Lab = Lab {
    material: Material::StainlessSteel,
    diameter_mm: 1.0,
    gas: Gas { argon: 98.0, carbon_dioxide: 2.0, ..NO_GAS },
    alpha_mm_per_a_s: 0.40,
    beta_per_a2_s: 1.2e-4,
    exponent: 2.0,
    one_drop_from_ms: 1.2,
    more_drops_from_ms: 2.8,
    reference_current_a: 400.0,
    pulse_current_a: [300.0, 420.0],
    wire_feed_m_min: [4.0, 9.0],
    background_current_a: [25.0, 180.0],
};

/// Aluminium 1.2 mm in argon.
pub(super) const ALUMINIUM: Lab = Lab {
    material: Material::Aluminium,
    diameter_mm: 1.2,
    gas: Gas { argon: 100.0, ..NO_GAS },
    alpha_mm_per_a_s: 0.80,
    beta_per_a2_s: 1.0e-5,
    exponent: 2.0,
    one_drop_from_ms: 1.1,
    more_drops_from_ms: 2.6,
    reference_current_a: 250.0,
    pulse_current_a: [210.0, 300.0],
    wire_feed_m_min: [4.0, 7.5],
    background_current_a: [20.0, 130.0],
};

/// A linear congruential generator (Knuth's MMIX constants): the same rows on every machine.
#[derive(Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1B5_4A32_D192_ED03);
        for _ in 0..8 {
            dice.uniform(0.0, 1.0);
        }
        dice
    }

    #[allow(clippy::cast_precision_loss, reason = "53 bits fit a double exactly")]
    pub(super) fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1u64 << 53) as f64)
    }

    /// Sum of twelve uniforms less six: mean 0, variance 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform(0.0, 1.0)).sum::<f64>() - 6.0
    }
}

/// The study of a lab with every value stated.
pub(super) fn study_of(lab: &Lab) -> Study {
    let base = study(Wire { designation: "invented wire".to_owned(), ..wire(lab.material, lab.diameter_mm, None) });
    Study {
        gas: Some(lab.gas),
        line: LineRequest { wire_feed_m_min: lab.wire_feed_m_min, ..base.line },
        numerics: Numerics { draws: 2000, ..base.numerics },
        ..base
    }
}

/// The good study of most tests.
pub(super) fn steel_study() -> Study {
    study_of(&STEEL)
}

/// The good trials of most tests.
pub(super) fn steel_trials() -> Trials {
    weld(&STEEL, 24, 1)
}

/// Trials of a lab at three distances: every third sweeps the pulse time across both thresholds, the
/// others lie in the one-drop window.
pub(super) fn weld(lab: &Lab, count: usize, seed: u64) -> Trials {
    let mut dice = Dice::new(seed);
    let mut rows: Vec<Trial> = Vec::new();
    while rows.len() < count {
        rows.extend(weld_one(lab, rows.len(), &mut dice));
    }
    trials_of(rows)
}

/// Rows as a table.
pub(super) fn trials_of(rows: Vec<Trial>) -> Trials {
    let has_column = Column::ALL.iter().copied().filter(|&c| rows.iter().any(|t| t.get(c).is_some())).collect();
    let source = TrialSource {
        file: "trials.csv".to_owned(),
        sha256: String::new(),
        read_as: "separator ',', decimal mark '.'".to_owned(),
        rows: rows.len(),
        ..TrialSource::default()
    };
    Trials { rows, sources: vec![source], has_column, ..Trials::default() }
}

/// Mean and mean square of a trapezoid with 600 A/ms slopes.
fn currents(background: f64, pulse: f64, time_ms: f64, frequency_hz: f64) -> (f64, f64) {
    let step = pulse - background;
    let slopes_ms = 2.0 * step / 600.0;
    let mean = background + step * time_ms * frequency_hz / 1000.0;
    let square = background * background
        + (2.0 * background * step * time_ms + step * step * (time_ms - slopes_ms / 6.0)) * frequency_hz / 1000.0;
    (mean, square)
}

fn rounded(value: f64, decimals: i32) -> f64 {
    (value * 10f64.powi(decimals)).round() / 10f64.powi(decimals)
}

fn weld_one(lab: &Lab, index: usize, dice: &mut Dice) -> Option<Trial> {
    let ctwd = [15.0, 18.0, 22.0][index % 3];
    let arc = dice.uniform(2.5, 6.0);
    let feed_mm_s = dice.uniform(lab.wire_feed_m_min[0], lab.wire_feed_m_min[1]) / 0.06;
    let pulse = dice.uniform(lab.pulse_current_a[0], lab.pulse_current_a[1]);
    let one_ms = lab.one_drop_from_ms * (lab.reference_current_a / pulse).powf(lab.exponent);
    let window = lab.more_drops_from_ms / lab.one_drop_from_ms;
    let time = if index % 4 == 3 {
        one_ms * dice.uniform(0.6, 1.5 * window)
    } else {
        one_ms * dice.uniform(1.2, 0.85 * window)
    };
    let drop_mm = lab.diameter_mm * dice.uniform(1.0, 1.25);
    let area = std::f64::consts::PI * lab.diameter_mm.powi(2) / 4.0;
    let frequency = area * feed_mm_s / (std::f64::consts::PI / 6.0 * drop_mm.powi(3));
    let melted = |background: f64| {
        let (mean, square) = currents(background, pulse, time, frequency);
        lab.alpha_mm_per_a_s * mean + lab.beta_per_a2_s * (ctwd - arc) * square
    };
    let (mut low, mut high) = (1.0, pulse - 1.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if melted(middle) < feed_mm_s { low = middle } else { high = middle }
    }
    let background = low;
    let slope_ms = (pulse - background) / 600.0;
    if !(lab.background_current_a[0]..=lab.background_current_a[1]).contains(&background)
        || time < slope_ms
        || 1000.0 / frequency - time < slope_ms
    {
        return None;
    }
    let (mean, square) = currents(background, pulse, time, frequency);
    let (gain, volts) = (1.0 + 0.008 * dice.normal(), 0.15 * dice.normal());
    let dynamic_ohm = 0.026 + 5e-4 * (ctwd - arc);
    let voltage = 16.2 + dynamic_ohm * mean + 0.85 * arc;
    let power = (16.2 + 0.85 * arc) * mean + dynamic_ohm * square;
    let time_read = rounded(time * (1.0 + 0.01 * dice.normal()), 2);
    let s = lab.exponent * (pulse / lab.reference_current_a).ln() + time.ln() + 0.02 * dice.normal();
    let beyond = |threshold: f64| 1.0 / (1.0 + (-8.0 * (s - threshold.ln())).exp());
    let (one, more) = (beyond(lab.one_drop_from_ms), beyond(lab.more_drops_from_ms));
    let mut counts = [0.0; 3];
    for _ in 0..150 {
        let u = dice.uniform(0.0, 1.0);
        counts[if u < more { 2 } else { usize::from(u < one) }] += 1.0;
    }
    let cells = [
        (Column::RunOrder, f64::from(u32::try_from(index).ok()?) + 1.0),
        (Column::WireFeed, rounded(feed_mm_s * 0.06 * (1.0 + 0.004 * dice.normal()), 2)),
        (Column::CurrentMean, rounded(mean * gain, 1)),
        (Column::CurrentRms, rounded(square.sqrt() * gain, 1)),
        (Column::VoltageMean, rounded(voltage + volts, 2)),
        (Column::PowerMean, rounded((power + volts * mean) * gain, 0)),
        (Column::Ctwd, ctwd),
        (Column::ArcLength, rounded(arc + 0.15 * dice.normal(), 1)),
        (Column::PulseCurrent, rounded(pulse * gain, 1)),
        (Column::PulseTime, time_read),
        (Column::BackgroundCurrent, rounded(background * gain, 1)),
        (Column::BackgroundTime, rounded(1000.0 / frequency - time_read, 2)),
        (Column::PulseFrequency, rounded(frequency, 1)),
        (Column::WithoutDrop, counts[0]),
        (Column::OneDrop, counts[1]),
        (Column::MoreDrops, counts[2]),
    ];
    let trial = Trial::new(format!("T{:02}", index + 1), 0, index + 2);
    Some(cells.into_iter().fold(trial, |trial, (column, value)| trial.with(column, value)))
}

/// The trials with one cell changed.
#[must_use]
pub(super) fn changed(mut trials: Trials, index: usize, column: Column, value: f64) -> Trials {
    trials.rows[index].set(column, Some(value));
    trials.has_column.push(column);
    trials
}

/// The trials with every cell of a column changed; a NaN takes the cell away.
#[must_use]
pub(super) fn mapped(mut trials: Trials, column: Column, change: impl Fn(f64) -> f64) -> Trials {
    for trial in &mut trials.rows {
        let value = trial.get(column).map(&change);
        trial.set(column, value);
    }
    trials
}

/// The trials with a column taken away.
#[must_use]
pub(super) fn without(trials: Trials, column: Column) -> Trials {
    let mut trials = mapped(trials, column, |_| f64::NAN);
    trials.has_column.retain(|&c| c != column);
    trials
}

/// What a check finds.
pub(super) fn found(check: &Check, study: &Study, trials: &Trials) -> Vec<Finding> {
    (check.look)(study, trials)
}

/// Severities of what a check finds.
pub(super) fn severities(check: &Check, study: &Study, trials: &Trials) -> Vec<Severity> {
    found(check, study, trials).iter().map(|f| f.severity).collect()
}

/// Trials named by what a check finds.
pub(super) fn named(check: &Check, study: &Study, trials: &Trials) -> Vec<String> {
    found(check, study, trials).iter().flat_map(|f| f.rows.iter().map(|r| r.trial.clone())).collect()
}

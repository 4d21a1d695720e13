//! The trials that an invented laboratory welds.

use meltlaw_line::drop_frequency_hz;

use super::faults::Disturbance;
use super::truth::Truth;
use super::weld::{Pulse, Setting, TrueWeld};
use crate::statistics::{DrawStream, Purpose};
use crate::study::Study;
use crate::trials::{Column, Trial, Trials};

/// How many trials a laboratory welds, and how many pulses it counts in each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Trials for burn-off and voltage, inside the one-drop window at three distances.
    pub burn_off: usize,
    /// Trials for detachment, the pulse time swept across both thresholds.
    pub detachment: usize,
    /// Pulses counted in each.
    pub pulses: usize,
}

impl Size {
    /// All trials.
    pub const fn trials(&self) -> usize {
        self.burn_off + self.detachment
    }
}

/// What differs from the plain laboratory.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Places by which the sweep of pulse times moves on from trial to trial. A step that shares a factor with
    /// the number of trials visits only some places, several times each.
    pub sweep_step: usize,
    /// Whether every second burn-off trial is welded with constant current.
    pub constant_current: bool,
    /// Whether all burn-off trials are welded with one sharp pulse, at the nearest and the farthest distance.
    pub one_recipe: bool,
    /// What disturbs each trial, in table order; missing ones are not disturbed.
    pub disturbances: Vec<Disturbance>,
}

impl Default for Plan {
    fn default() -> Self {
        Self { sweep_step: 5, constant_current: false, one_recipe: false, disturbances: Vec::new() }
    }
}

/// Trials as read beside the welds as they truly are, in the same order.
#[derive(Debug, Clone)]
pub struct Welded {
    /// The table.
    pub trials: Trials,
    /// The truth behind each row.
    pub welds: Vec<TrueWeld>,
}

/// The trials of a plain laboratory: all pulsed, nothing disturbed, welded in table order.
pub fn trials(study: &Study, truth: &Truth, size: Size, seed: u64, lab: u64) -> Trials {
    weld_all(study, truth, size, &Plan::default(), seed, lab).trials
}

/// Welds a laboratory's trials: `study.bench` holds the errors that its readings truly have.
///
/// The random stream belongs to the laboratory, so that results depend neither on threads nor on which
/// other laboratories are welded.
///
/// # Panics
/// Where the process has no steady weld in the ranges that are tried: an error of the invented truth.
pub fn weld_all(study: &Study, truth: &Truth, size: Size, plan: &Plan, seed: u64, lab: u64) -> Welded {
    let mut stream = DrawStream::new(seed, Purpose::Simulation, lab);
    let mut rows: Vec<Trial> = Vec::new();
    let mut welds = Vec::new();
    let reference = study.reference_current_a();
    let mut tries = 0;
    while rows.len() < size.trials() {
        let index = rows.len();
        let setting = if index < size.burn_off {
            let setting =
                burn_off_setting(study, truth, size, index, plan.constant_current && index % 2 == 1, &mut stream);
            if plan.one_recipe { with_one_recipe(study, truth, setting, index) } else { setting }
        } else {
            detachment_setting(study, truth, size, plan.sweep_step * (index - size.burn_off), &mut stream)
        };
        if let Some(weld) = TrueWeld::new(truth, &study.source, reference, setting) {
            let disturbance = plan.disturbances.get(index).copied().unwrap_or_default();
            let name = format!("T{index}");
            let trial = weld.read(study, truth, &disturbance, size.pulses, name, index + 2, &mut stream);
            rows.push(trial.with(Column::RunOrder, index as f64 + 1.0));
            welds.push(weld);
        }
        tries += 1;
        assert!(tries < 20_000, "the invented process has no setting here");
    }
    Welded { trials: table(rows), welds }
}

/// Rows as a table that has the columns in which any row has a value.
pub(super) fn table(rows: Vec<Trial>) -> Trials {
    let has_column = Column::ALL.iter().copied().filter(|c| rows.iter().any(|r| r.get(*c).is_some())).collect();
    Trials { rows, has_column, ..Trials::default() }
}

fn between(share: f64, low: f64, high: f64) -> f64 {
    low + share * (high - low)
}

/// The first number from `least` without a common factor with `count`: steps of it visit every place once,
/// and neighbours in the table lie far apart in the range.
pub(super) fn stride(least: usize, count: usize) -> usize {
    let common = |mut a: usize, mut b: usize| {
        while b > 0 {
            (a, b) = (b, a % b);
        }
        a
    };
    (least..).find(|step| common(*step, count) == 1).unwrap_or(1)
}

/// A trial inside the one-drop window: feeds spread evenly, three distances.
fn burn_off_setting(
    study: &Study,
    truth: &Truth,
    size: Size,
    index: usize,
    constant_current: bool,
    stream: &mut DrawStream,
) -> Setting {
    let reference = study.reference_current_a();
    let count = size.burn_off;
    let [slow, fast] = truth.wire_feed_m_min;
    let share = (((index * stride(7, count)) % count) as f64 + between(stream.uniform(), 0.2, 0.8)) / count as f64;
    let wire_feed_mm_s = between(share, slow, fast) / 0.06;
    let ctwd_mm = [15.0, 18.0, 22.0][index % 3];
    if constant_current {
        return Setting { wire_feed_mm_s, ctwd_mm, arc_length_mm: between(stream.uniform(), 2.5, 6.0), pulse: None };
    }
    let current_a = reference * between(stream.uniform(), 0.9, 1.12);
    let time_ms =
        truth.one_drop_from_ms * (reference / current_a).powf(truth.exponent) * between(stream.uniform(), 1.2, 1.9);
    let drop_mm = between(stream.uniform(), 1.0, 1.25) * study.wire.diameter_mm;
    let frequency_hz = drop_frequency_hz(study.wire.section_mm2(), wire_feed_mm_s, drop_mm);
    let arc_length_mm = between(stream.uniform(), 2.5, 6.0);
    Setting { wire_feed_mm_s, ctwd_mm, arc_length_mm, pulse: Some(Pulse { current_a, time_ms, frequency_hz }) }
}

/// The same trial with the recipe's pulse: higher and shorter than the middle of the window, on smaller drops.
fn with_one_recipe(study: &Study, truth: &Truth, setting: Setting, index: usize) -> Setting {
    let current_a = 1.15 * study.reference_current_a();
    let time_ms = 1.2 * truth.one_drop_from_ms * 1.15_f64.powf(-truth.exponent);
    let frequency_hz = drop_frequency_hz(study.wire.section_mm2(), setting.wire_feed_mm_s, study.wire.diameter_mm);
    let pulse = Some(Pulse { current_a, time_ms, frequency_hz });
    Setting { ctwd_mm: [15.0, 22.0][index % 2], pulse, ..setting }
}

/// A trial of the sweep of pulse times across both thresholds, at one distance and slow feeds.
fn detachment_setting(study: &Study, truth: &Truth, size: Size, place: usize, stream: &mut DrawStream) -> Setting {
    let reference = study.reference_current_a();
    let count = size.detachment;
    let share = ((place % count) as f64 + between(stream.uniform(), 0.1, 0.9)) / count as f64;
    let current_a = reference * between(stream.uniform(), 0.78, 1.18);
    let [slow, fast] = truth.wire_feed_m_min;
    let wire_feed_mm_s = between(stream.uniform(), slow, slow + 0.55 * (fast - slow)) / 0.06;
    let (low, high) = (0.6 * truth.one_drop_from_ms, 1.5 * truth.more_drops_from_ms);
    let time_ms = low * (high / low).powf(share) * (reference / current_a).powf(truth.exponent);
    let arc_length_mm = between(stream.uniform(), 3.0, 5.0);
    let frequency_hz = between(stream.uniform(), 50.0, 140.0);
    Setting { wire_feed_mm_s, ctwd_mm: 18.0, arc_length_mm, pulse: Some(Pulse { current_a, time_ms, frequency_hz }) }
}

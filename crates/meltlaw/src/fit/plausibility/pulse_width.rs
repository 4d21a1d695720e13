//! Pulse time against the width that the mean current asks for.
//!
//! ```text
//! Ī = I_b + (I_p − I_b)·t_p·f, so t_p = (Ī − I_b)/((I_p − I_b)·f) is the width at half height
//! ```

use super::band::Judged;
use crate::laws::Plausibility;
use crate::statistics::median;
use crate::study::Study;
use crate::trials::{Column, Trial};

/// Stated over implied width: readings of four quantities agree within this (common practice).
const BAND: [f64; 2] = [0.9, 1.1];

/// How close a slip undone must come.
const CLOSE: f64 = 0.06;

/// Trials with a whole waveform needed for a judgement.
const ENOUGH: usize = 5;

/// A pulse as stated, and what the mean current makes of it.
#[derive(Clone, Copy)]
struct Pulse {
    stated_ms: f64,
    implied_ms: f64,
    period_ms: f64,
    /// Mean of rise and fall time.
    ramp_ms: f64,
}

fn pulse(study: &Study, trial: &Trial) -> Option<Pulse> {
    let step = trial.get(Column::PulseCurrent)? - trial.get(Column::BackgroundCurrent)?;
    let above = trial.get(Column::CurrentMean)? - trial.get(Column::BackgroundCurrent)?;
    let period_ms = 1000.0 / trial.get(Column::PulseFrequency)?;
    // A mean current hardly above the background tells no width.
    if !(step > 0.0 && above > 0.05 * step && period_ms.is_finite()) {
        return None;
    }
    Some(Pulse {
        stated_ms: trial.get(Column::PulseTime)?,
        implied_ms: above / step * period_ms,
        period_ms,
        ramp_ms: 0.5 * (step / study.source.rise_a_per_ms + step / study.source.fall_a_per_ms),
    })
}

/// A slip: what the pulse time was without it.
type Undo = fn(&Pulse) -> f64;

const SLIPS: [(Undo, &str); 6] = [
    (
        |p| p.stated_ms - p.ramp_ms,
        "pulse_time_ms is the full width at the base; it must be the width at half height, shorter by the mean of rise and fall time",
    ),
    (
        |p| p.stated_ms + p.ramp_ms,
        "pulse_time_ms is the time at full current; it must be the width at half height, longer by the mean of rise and fall time",
    ),
    (
        |p| p.implied_ms * p.stated_ms / p.period_ms,
        "pulse_time_ms holds the whole period; it must be the width of the pulse",
    ),
    (|p| p.period_ms - p.stated_ms, "pulse_time_ms holds the background time; exchange the two"),
    (|p| p.stated_ms / 1000.0, "pulse times are in µs but read as ms (rename the column pulse_time_us)"),
    (|p| p.stated_ms * 1000.0, "pulse times are in s but read as ms (rename the column pulse_time_s)"),
];

/// The judgement; `None` where fewer than five trials state their whole waveform.
pub(super) fn judged(study: &Study, rows: &[&Trial]) -> Option<Plausibility> {
    let pulses: Vec<Pulse> = rows.iter().filter_map(|t| pulse(study, t)).collect();
    if pulses.len() < ENOUGH {
        return None;
    }
    let typical = |of: &dyn Fn(&Pulse) -> f64| median(&mut pulses.iter().map(of).collect::<Vec<f64>>());
    let value = typical(&|p| p.stated_ms / p.implied_ms);
    let spread = typical(&|p| (p.stated_ms / p.implied_ms - value).abs());
    // 1.48 MAD is a standard deviation, 1.25 of it over √n the error of a median (normal values, derived).
    let standard_error = 1.48 * 1.25 * spread / (pulses.len() as f64).sqrt();
    let mut near: Vec<(f64, &str)> = SLIPS
        .iter()
        .map(|(undo, slip)| ((typical(&|p| undo(p) / p.implied_ms) - 1.0).abs(), *slip))
        .filter(|(miss, _)| *miss < CLOSE)
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    let action = near.first().map_or_else(
        || "no usual slip (base width, time at full current, period, background time, units) explains it: compare pulse time, currents and frequency with a log".to_owned(),
        |(_, slip)| format!("likely slip: {slip}"),
    );
    Some(
        Judged {
            name: "pulse time over the width that the mean current asks for",
            value,
            standard_error,
            unit: "1",
            band: BAND,
            expected: "the stated pulse time makes the measured mean current (common practice)",
            action: &action,
        }
        .plausibility(),
    )
}

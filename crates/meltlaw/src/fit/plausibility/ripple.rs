//! RMS over mean current of pulsed trials: near 1 means that the RMS column holds the mean.

use super::band::{Judged, figures};
use super::burn_off::Coefficients;
use crate::fit::burn_off;
use crate::fit::errors_in_variables::Observation;
use crate::fit::selection::Selection;
use crate::laws::Plausibility;
use crate::statistics::median;
use crate::study::{BurnOffForm, Study};
use crate::trials::{Column, Mode, Trial, Trials};
use meltlaw_line::Waveform;

/// RMS over mean below which a pulsed current is no longer pulsed: 1 % is a ripple of ± 14 % of a sine, or a
/// pulse of a third above the background a tenth of the time (derived).
const LEAST: f64 = 1.01;

/// Above: a pulse twenty times the background for a tenth of the time has 2.4 (derived).
const MOST: f64 = 2.5;

/// Pulsed trials with RMS current needed for a judgement.
const ENOUGH: usize = 3;

/// I_rms/Ī of the pulsed trials used, by row of the selection.
fn ratios(trials: &Trials, selection: &Selection) -> Vec<(usize, f64)> {
    let pulsed = |i: usize| {
        let trial = &trials.rows[i];
        trial.mode == Mode::Pulsed && trial.get(Column::CurrentRms).is_some()
    };
    selection
        .used
        .iter()
        .enumerate()
        .filter(|(_, row)| pulsed(**row))
        .map(|(at, _)| (at, selection.observations[at].row[1] / selection.observations[at].row[0]))
        .collect()
}

/// I_rms/Ī that the stated waveform has.
fn by_waveform(study: &Study, trial: &Trial) -> Option<f64> {
    let wave = Waveform {
        pulse_current_a: trial.get(Column::PulseCurrent)?,
        pulse_time_ms: trial.get(Column::PulseTime)?,
        background_current_a: trial.get(Column::BackgroundCurrent)?,
        pulse_frequency_hz: trial.get(Column::PulseFrequency)?,
        rise_a_per_ms: study.source.rise_a_per_ms,
        fall_a_per_ms: study.source.fall_a_per_ms,
    };
    let m = wave.moments();
    Some(m.mean_square_a2.sqrt() / m.mean_a).filter(|r| r.is_finite() && *r >= 1.0)
}

fn typical(trials: &Trials, selection: &Selection) -> Option<f64> {
    let mut values: Vec<f64> = ratios(trials, selection).into_iter().map(|r| r.1).collect();
    (values.len() >= ENOUGH).then(|| median(&mut values))
}

/// The coefficients with the RMS current by the waveform, where the RMS column holds the mean and all pulsed
/// trials state their waveform.
pub(super) fn without_slip(
    study: &Study,
    trials: &Trials,
    selection: &Selection,
    form: BurnOffForm,
) -> Option<Coefficients> {
    if typical(trials, selection)? >= LEAST {
        return None;
    }
    let mut corrected: Vec<Observation> = selection.observations.clone();
    for (at, _) in ratios(trials, selection) {
        let ratio = by_waveform(study, &trials.rows[selection.used[at]])?;
        let observation = &mut corrected[at];
        observation.row[1] = ratio * observation.row[0];
        // The gain moves the corrected RMS as it moves the mean.
        for error in &mut observation.errors {
            if error.direction[0] > 0.0 && error.direction[1] > 0.0 {
                error.direction[1] = ratio * error.direction[0];
            }
        }
    }
    burn_off::fit(form, &corrected).ok().map(|fit| Coefficients::of(&fit))
}

/// The judgement; `None` where fewer than three pulsed trials state their RMS current.
pub(super) fn judged(
    study: &Study,
    trials: &Trials,
    selection: &Selection,
    c: &Coefficients,
    form: BurnOffForm,
) -> Option<Plausibility> {
    let value = typical(trials, selection)?;
    let action = if value >= LEAST {
        "compare current_rms_a with the waveform: a pulsed current seldom exceeds twice its mean".to_owned()
    } else {
        let undone = without_slip(study, trials, selection, form).map_or_else(
            || "beta is too large by the square of the true ratio, often 1.2 to 1.6".to_owned(),
            |w| {
                format!(
                    "with the RMS of the stated waveforms alpha would be {} instead of {} and beta {} instead of {}",
                    figures(w.alpha),
                    figures(c.alpha),
                    figures(w.beta),
                    figures(c.beta)
                )
            },
        );
        format!("current_rms_a holds the mean current, not the RMS: take the RMS from samples; {undone}")
    };
    Some(
        Judged {
            name: "I_rms/I of pulsed trials",
            value,
            standard_error: 0.0,
            unit: "1",
            band: [LEAST, MOST],
            expected: "a pulsed current has a larger RMS than mean (derived)",
            action: &action,
        }
        .plausibility(),
    )
}

//! *Finds* rows whose mean current contradicts the pulse waveform.
//!
//! *Why it matters*: burn-off uses the mean, detachment the waveform; where they contradict each other
//! the two laws speak of different welds.
//!
//! *What to do*: take mean and waveform from one window, or blank the cells that are not trusted.
//!
//! *Example*: background 94 A, pulse 440 A for 1.99 ms at 55.7 Hz make a mean of 132 A, the table says 152 A.
//!
//! Ī = Ib + (Ip − Ib)·tp·f holds whatever the slopes, with tp at half height. The probe's gain is shared
//! by all three currents and cancels, so the time's error and the columns' own errors count.

use super::rows::{cell_saying, finding_if_any, number};
use super::waveform::{BesideWaveform, Parts};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "mean_against_waveform",
    about: "A mean current that contradicts background, pulse, pulse time and frequency beyond 4 of the stated errors.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let Some(beside) = BesideWaveform::new(study, trials, Column::CurrentMean) else { return Vec::new() };
    let rows = trials.used().filter_map(|trial| {
        let mean = trial.get(Column::CurrentMean)?;
        let (pulse, background) = (trial.get(Column::PulseCurrent)?, trial.get(Column::BackgroundCurrent)?);
        let (time, frequency) = (trial.get(Column::PulseTime)?, trial.get(Column::PulseFrequency)?);
        let duty = time * frequency / 1000.0;
        let waveform = background + (pulse - background) * duty;
        let parts = Parts { by_duty_a: (pulse - background) * duty, by_pulse: duty, by_background: 1.0 - duty };
        let tolerance = beside.tolerance_a(trial, mean, &parts)?;
        let off = (mean - waveform).abs();
        // A time of zero makes it NaN and has a check of its own.
        if off <= tolerance || tolerance.is_nan() {
            return None;
        }
        let found = format!("{} A, the waveform makes {} A", number(mean), number(waveform));
        Some(cell_saying(trials, trial, Column::CurrentMean, found))
    });
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "a mean current equal to background + (pulse − background)·time·frequency within 4 of the stated errors",
            format!("contradictory {concerned}"),
            "take mean current and waveform from one window of the record, or blank the cells that are not trusted",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    fn with_mean(mean_a: f64) -> Trials {
        // 100 + 300 A · 2.5 ms · 80 Hz = 160 A; the time's 1 % is 0.6 A, four of them 2.4 A.
        let mut trials = changed(steel_trials(), 0, Column::CurrentMean, mean_a);
        for (column, value) in [
            (Column::PulseCurrent, 400.0),
            (Column::BackgroundCurrent, 100.0),
            (Column::PulseTime, 2.5),
            (Column::PulseFrequency, 80.0),
        ] {
            trials.rows[0].set(column, Some(value));
        }
        trials
    }

    #[test]
    fn a_mean_five_per_cent_off_is_flagged() {
        assert_eq!(severities(&CHECK, &steel_study(), &with_mean(168.0)), [Severity::Warning]);
    }

    #[test]
    fn one_within_four_errors_is_not() {
        assert!(severities(&CHECK, &steel_study(), &with_mean(162.8)).is_empty());
    }

    #[test]
    fn an_own_error_of_the_mean_widens_the_tolerance() {
        let mut trials = with_mean(168.0);
        trials.rows[0].set_se(Column::CurrentMean, Some(2.0));
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

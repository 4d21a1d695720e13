//! *Finds* rows whose pulse time exceeds the pulse period.
//!
//! *Why it matters*: a pulse longer than its period cannot exist, so one of the two numbers is not
//! what its name says.
//!
//! *What to do*: look at the units of time and frequency; read the waveform again.
//!
//! *Example*: 24 ms at 80 Hz is a duty of 1.92.

use super::magnitude::in_another_unit;
use super::rows::{cell_saying, finding_if_any, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "duty_above_one",
    about: "Pulse time times frequency above one: a pulse longer than its period cannot exist.",
    look,
};

/// Readings of a nearly continuous pulse may round to slightly above one.
const ROUNDING: f64 = 0.005;

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    if in_another_unit(study, trials, &[Column::PulseTime, Column::PulseFrequency]) {
        return Vec::new();
    }
    let rows = trials.used().filter_map(|trial| {
        let (time_ms, frequency_hz) = (trial.get(Column::PulseTime)?, trial.get(Column::PulseFrequency)?);
        let duty = time_ms * frequency_hz / 1000.0;
        let found = format!("{} ms at {} Hz: duty {}", number(time_ms), number(frequency_hz), number(duty));
        (duty > 1.0 + ROUNDING).then(|| cell_saying(trials, trial, Column::PulseTime, found))
    });
    finding_if_any(CHECK.name, Severity::Stop, rows.collect(), |concerned| {
        Reading::new(
            "pulse time times frequency below 1",
            format!("above 1 {concerned}"),
            "check the units of pulse time and frequency and read the waveform again, or set use = no and say why in note",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    #[test]
    fn a_pulse_longer_than_its_period_stops() {
        // 24 ms · 80 Hz = 1.92.
        let mut trials = changed(steel_trials(), 0, Column::PulseTime, 24.0);
        trials.rows[0].set(Column::PulseFrequency, Some(80.0));
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn a_long_pulse_does_not() {
        // 12 ms · 80 Hz = 0.96.
        let mut trials = changed(steel_trials(), 0, Column::PulseTime, 12.0);
        trials.rows[0].set(Column::PulseFrequency, Some(80.0));
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

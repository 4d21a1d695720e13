//! *Finds* rows whose pulse frequency contradicts pulse time plus background time.
//!
//! *Why it matters*: the composed line sets frequency and times; a contradiction tells that one of
//! three readings belongs to another weld or window.
//!
//! *What to do*: read the three from one stretch of the waveform, or blank the one that is not trusted.
//!
//! *Example*: 2.4 ms and 9.1 ms make 87 Hz, the table says 67 Hz.
//!
//! Counts only beyond 4 of the stated errors plus rounding and half a per cent.

use super::magnitude::in_another_unit;
use super::rows::{CONTRADICTION_ERRORS, READING_FLOOR_RELATIVE, cell_saying, finding_if_any, half_unit, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "frequency_against_times",
    about: "A pulse frequency that contradicts pulse time plus background time beyond 4 of the stated errors.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    if in_another_unit(study, trials, &[Column::PulseTime, Column::BackgroundTime, Column::PulseFrequency]) {
        return Vec::new();
    }
    let half = |column| half_unit(trials, column);
    let rounding_ms = half(Column::PulseTime) + half(Column::BackgroundTime);
    let rounding_hz = half(Column::PulseFrequency);
    let relative = study.bench.pulse_time_relative_se;
    let rows = trials.used().filter_map(|trial| {
        let frequency = trial.get(Column::PulseFrequency).filter(|&f| f > 0.0)?;
        let (pulse, background) = (trial.get(Column::PulseTime)?, trial.get(Column::BackgroundTime)?);
        let period = 1000.0 / frequency;
        let time_se = |column, value: f64| trial.stated_se(column).unwrap_or(relative * value);
        let frequency_se = trial.stated_se(Column::PulseFrequency).unwrap_or(0.0);
        let error = time_se(Column::PulseTime, pulse)
            .hypot(time_se(Column::BackgroundTime, background))
            .hypot(period * frequency_se / frequency);
        let rounding = rounding_ms + period * rounding_hz / frequency + READING_FLOOR_RELATIVE * period;
        if (pulse + background - period).abs() <= CONTRADICTION_ERRORS * error + rounding {
            return None;
        }
        let found = format!(
            "{} Hz, the times {} + {} ms make {} Hz",
            number(frequency),
            number(pulse),
            number(background),
            number(1000.0 / (pulse + background)),
        );
        Some(cell_saying(trials, trial, Column::PulseFrequency, found))
    });
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "1/frequency equal to pulse time plus background time within 4 of their stated errors",
            format!("contradictory {concerned}"),
            "read frequency and times from one stretch of the waveform, or blank the cell that is not trusted",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    fn at(frequency_hz: f64) -> Trials {
        // 2.40 + 10.10 ms = 12.50 ms, 80 Hz; 1 % of each: 0.104 ms, four of them 0.415 ms (2.66 Hz).
        let trials = changed(steel_trials(), 0, Column::PulseTime, 2.4);
        changed(changed(trials, 0, Column::BackgroundTime, 10.1), 0, Column::PulseFrequency, frequency_hz)
    }

    #[test]
    fn a_frequency_off_by_six_per_cent_is_flagged() {
        assert_eq!(severities(&CHECK, &steel_study(), &at(85.0)), [Severity::Warning]);
    }

    #[test]
    fn one_within_four_errors_is_not() {
        assert!(severities(&CHECK, &steel_study(), &at(82.4)).is_empty());
    }
}

//! *Finds* pulsed rows whose pulse current is not above the background current.
//!
//! *Why it matters*: without a step there is no pulse and no pulse time.
//!
//! *What to do*: swap the two cells or columns, or state the mode in which the row was welded.
//!
//! *Example*: pulse current 94 A with background current 440 A.

use super::magnitude::in_another_unit;
use super::rows::{cell_saying, finding_if_any, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Mode, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "pulse_not_above_background",
    about: "A pulse current that is not above the background current: without a step there is no pulse.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    if in_another_unit(study, trials, &[Column::PulseCurrent, Column::BackgroundCurrent]) {
        return Vec::new();
    }
    let rows = trials.used().filter(|t| t.mode == Mode::Pulsed).filter_map(|trial| {
        let (pulse, background) = (trial.get(Column::PulseCurrent)?, trial.get(Column::BackgroundCurrent)?);
        let found = format!("{} A with background {} A", number(pulse), number(background));
        (pulse <= background).then(|| cell_saying(trials, trial, Column::PulseCurrent, found))
    });
    finding_if_any(CHECK.name, Severity::Stop, rows.collect(), |concerned| {
        Reading::new(
            "pulse current above background current",
            format!("not above {concerned}"),
            "swap pulse_current_a and background_current_a where they are mixed up; where nothing was pulsed, write mode = constant_current or constant_voltage",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    fn with_pulse_of(pulse_a: f64) -> Trials {
        let mut trials = changed(steel_trials(), 0, Column::PulseCurrent, pulse_a);
        trials.rows[0].set(Column::BackgroundCurrent, Some(120.0));
        trials
    }

    #[test]
    fn a_pulse_at_the_background_stops() {
        assert_eq!(severities(&CHECK, &steel_study(), &with_pulse_of(120.0)), [Severity::Stop]);
    }

    #[test]
    fn a_pulse_just_above_it_does_not() {
        assert!(severities(&CHECK, &steel_study(), &with_pulse_of(120.1)).is_empty());
    }
}

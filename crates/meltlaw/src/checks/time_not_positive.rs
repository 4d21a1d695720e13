//! *Finds* pulse times, background times and pulse frequencies of zero or less.
//!
//! *Why it matters*: the detachment law takes the logarithm of the pulse time.
//!
//! *What to do*: read the waveform again; leave the cell blank where it was not measured.
//!
//! *Example*: `pulse_time_ms` 0 typed for 'not measured'.

use super::rows::{cells_where, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "time_not_positive",
    about: "A pulse time, background time or pulse frequency of zero or less. The detachment law takes the logarithm of the pulse time.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let columns = [Column::PulseTime, Column::BackgroundTime, Column::PulseFrequency];
    let rows = columns.into_iter().flat_map(|column| cells_where(trials, column, |v| v <= 0.0)).collect();
    finding_if_any(CHECK.name, Severity::Stop, rows, |concerned| {
        Reading::new(
            "times and frequencies above zero",
            format!("zero or less {concerned}"),
            "read the waveform again; leave a cell blank where nothing was measured",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials, without};

    #[test]
    fn a_zero_for_not_measured_stops() {
        let trials = changed(steel_trials(), 0, Column::PulseTime, 0.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn a_blank_column_does_not() {
        let trials = without(steel_trials(), Column::BackgroundTime);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

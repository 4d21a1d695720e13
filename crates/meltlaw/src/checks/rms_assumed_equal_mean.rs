//! *Finds* constant-current rows without RMS current, for which the RMS is taken as the mean.
//!
//! *Why it matters*: ripple makes the true RMS a little larger; β takes up the difference.
//!
//! *What to do*: nothing for a smooth source; else compute the RMS from samples.
//!
//! *Example*: `mode` = `constant_current`, `current_rms_a` blank.

use super::rows::{cell, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Mode, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "rms_assumed_equal_mean",
    about: "Constant-current rows without RMS current, for which the RMS is taken as the mean.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let assumed = trials.used().filter(|t| {
        t.mode == Mode::ConstantCurrent && t.get(Column::CurrentRms).is_none() && t.get(Column::CurrentMean).is_some()
    });
    let rows = assumed.map(|t| cell(trials, t, Column::CurrentRms)).collect();
    finding_if_any(CHECK.name, Severity::Note, rows, |concerned| {
        Reading::new(
            "an RMS current from samples",
            format!("RMS taken as the mean {concerned}"),
            "nothing where the source is smooth; otherwise compute the RMS from samples",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{severities, steel_study, steel_trials};

    fn without_rms(mode: Mode) -> Trials {
        let mut trials = steel_trials();
        trials.rows[0].set(Column::CurrentRms, None);
        trials.rows[0].mode = mode;
        trials
    }

    #[test]
    fn constant_current_without_rms_is_a_note() {
        assert_eq!(severities(&CHECK, &steel_study(), &without_rms(Mode::ConstantCurrent)), [Severity::Note]);
    }

    #[test]
    fn a_pulsed_row_without_rms_lacks_it() {
        assert!(severities(&CHECK, &steel_study(), &without_rms(Mode::Pulsed)).is_empty());
    }
}

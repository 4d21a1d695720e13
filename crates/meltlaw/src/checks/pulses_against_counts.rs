//! *Finds* rows whose `pulses` differ from the sum of the three counts.
//!
//! *Why it matters*: pulses left out of the counts are seldom left out at random; those that are hard
//! to judge bend the thresholds.
//!
//! *What to do*: count again, or blank `pulses` where it means all pulses of the weld.
//!
//! *Example*: 6 + 141 + 3 = 150 counted, `pulses` says 180.

use super::needs::classes;
use super::rows::{cell_saying, finding_if_any, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "pulses_against_counts",
    about: "Pulses in total that differ from the sum of pulses without, with one and with more drops.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let rows = trials.used().filter_map(|trial| {
        let counted: f64 = classes(trial)?.iter().sum();
        let pulses = trial.get(Column::Pulses)?;
        let found = format!("{}, the classes sum to {}", number(pulses), number(counted));
        ((pulses - counted).abs() > 0.5).then(|| cell_saying(trials, trial, Column::Pulses, found))
    });
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "pulses equal to the sum of the three counts",
            format!("different {concerned}; the three counts are used"),
            "count again; blank pulses where it means all pulses of the weld and not those counted",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    #[test]
    fn a_hundred_and_eighty_pulses_with_150_counted_are_flagged() {
        let trials = changed(steel_trials(), 0, Column::Pulses, 180.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn the_same_number_is_not() {
        let trials = changed(steel_trials(), 0, Column::Pulses, 150.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

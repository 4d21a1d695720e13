//! *Finds* rows whose total of drops contradicts their counts by class.
//!
//! *Why it matters*: both were counted from one film; where they differ, one of the counts is wrong.
//!
//! *What to do*: count again; the classes are used, the total is not.
//!
//! *Example*: 141 pulses with one drop and 3 with more make at least 147 drops, the table says 120.

use super::needs::classes;
use super::rows::{cell_saying, finding_if_any, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "drops_and_classes_both",
    about: "A total of drops that contradicts the counts by class in the same row.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let rows = trials.used().filter_map(|trial| {
        let [_, one, more] = classes(trial)?;
        let drops = trial.get(Column::Drops)?;
        let least = one + 2.0 * more;
        // Three drops and more are possible where there are pulses with more than one.
        let contradicts = drops < least - 0.5 || (more == 0.0 && drops > least + 0.5);
        let found = format!(
            "{}, the classes make {}{}",
            number(drops),
            if more > 0.0 { "at least " } else { "" },
            number(least)
        );
        contradicts.then(|| cell_saying(trials, trial, Column::Drops, found))
    });
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "a total of drops that the counts by class can make",
            format!("contradictory {concerned}; the counts by class are used"),
            "count again, or blank drops where the classes are trusted",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    fn with_drops(drops: f64, more: f64) -> Trials {
        let trials = changed(changed(steel_trials(), 0, Column::OneDrop, 141.0), 0, Column::MoreDrops, more);
        changed(trials, 0, Column::Drops, drops)
    }

    #[test]
    fn fewer_drops_than_the_classes_make_are_flagged() {
        // 141 + 2·3 = 147.
        assert_eq!(severities(&CHECK, &steel_study(), &with_drops(146.0, 3.0)), [Severity::Warning]);
        assert_eq!(severities(&CHECK, &steel_study(), &with_drops(142.0, 0.0)), [Severity::Warning]);
    }

    #[test]
    fn three_drops_from_one_pulse_are_possible() {
        assert!(severities(&CHECK, &steel_study(), &with_drops(149.0, 3.0)).is_empty());
    }
}

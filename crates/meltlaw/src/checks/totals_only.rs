//! *Finds* counted rows of which only total drops and pulses are known.
//!
//! *Why it matters*: 150 drops in 150 pulses may be one drop each, or as many missed as doubled; totals
//! cannot tell the middle of the window from the two cancelling. Without any row counted by class no
//! node of the line is better than `extended`.
//!
//! *What to do*: count pulses without, with one and with more drops from the same film.
//!
//! *Example*: `drops` 150, `pulses` 150, the three counts blank.

use super::needs::{Law, classes, usable};
use super::rows::{cell, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "totals_only",
    about: "Totals of drops and pulses only: they cannot tell the middle of the window from missed and double drops cancelling.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let (by_class, totals): (Vec<_>, Vec<_>) =
        usable(study, trials, Law::Detachment).partition(|t| classes(t).is_some());
    let (severity, consequence) = if by_class.is_empty() {
        (Severity::Warning, ": no node of the line will be better than extended")
    } else {
        (Severity::Note, "")
    };
    let rows = totals.into_iter().map(|t| cell(trials, t, Column::Drops)).collect();
    finding_if_any(CHECK.name, severity, rows, |concerned| {
        Reading::new(
            "pulses counted by number of drops",
            format!("totals only {concerned}, where missed and double drops may cancel{consequence}"),
            "count pulses_without_drop, pulses_with_one_drop and pulses_with_more_drops from the same film",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{severities, steel_study, steel_trials};

    fn totals_in(rows: usize) -> Trials {
        let mut trials = steel_trials();
        for trial in trials.rows.iter_mut().take(rows) {
            for column in [Column::WithoutDrop, Column::OneDrop, Column::MoreDrops] {
                trial.set(column, None);
            }
            trial.set(Column::Drops, Some(150.0));
            trial.set(Column::Pulses, Some(150.0));
        }
        trials
    }

    #[test]
    fn totals_throughout_are_a_warning_and_in_part_a_note() {
        assert_eq!(severities(&CHECK, &steel_study(), &totals_in(24)), [Severity::Warning]);
        assert_eq!(severities(&CHECK, &steel_study(), &totals_in(3)), [Severity::Note]);
    }

    #[test]
    fn pulses_alone_beside_classes_are_silent() {
        let mut trials = steel_trials();
        trials.rows[0].set(Column::Pulses, Some(150.0));
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

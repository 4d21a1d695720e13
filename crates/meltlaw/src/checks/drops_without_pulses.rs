//! *Finds* rows with drops counted but no pulses.
//!
//! *Why it matters*: drops without the pulses that they came from say nothing about detachment.
//!
//! *What to do*: fill in `pulses` (time counted times frequency will do where it is exact).
//!
//! *Example*: `drops` 152, `pulses` blank. The reverse is only a count and is not flagged.

use super::needs::classes;
use super::rows::{cell, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check =
    Check { name: "drops_without_pulses", about: "Drops counted without the pulses that they came from.", look };

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let incomplete = trials
        .used()
        .filter(|t| t.get(Column::Drops).is_some() && t.get(Column::Pulses).is_none() && classes(t).is_none());
    let rows = incomplete.map(|t| cell(trials, t, Column::Drops)).collect();
    finding_if_any(CHECK.name, Severity::Warning, rows, |concerned| {
        Reading::new(
            "drops together with pulses",
            format!("drops without pulses {concerned}: left out of the detachment law"),
            "fill in the number of pulses over which the drops were counted",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials, without};

    fn uncounted() -> Trials {
        without(without(without(steel_trials(), Column::WithoutDrop), Column::OneDrop), Column::MoreDrops)
    }

    #[test]
    fn drops_alone_are_flagged() {
        let trials = changed(uncounted(), 0, Column::Drops, 152.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn pulses_alone_are_only_a_count() {
        let trials = changed(uncounted(), 0, Column::Pulses, 150.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

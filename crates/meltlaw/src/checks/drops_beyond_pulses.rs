//! *Finds* rows with more than two drops per pulse in total.
//!
//! *Why it matters*: in totals 'more than one drop' means two; above two per pulse the total fits no law.
//!
//! *What to do*: count again, or count by class.
//!
//! *Example*: 340 drops in 150 pulses.

use super::needs::totals;
use super::rows::{cell_saying, finding_if_any, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "drops_beyond_pulses",
    about: "More than two drops per pulse in total, where more than one drop means two.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let rows = trials.used().filter_map(|trial| {
        let [drops, pulses] = totals(trial)?;
        let found = format!("{} drops in {} pulses", number(drops), number(pulses));
        (drops > 2.0 * pulses).then(|| cell_saying(trials, trial, Column::Drops, found))
    });
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "at most two drops per pulse in total",
            format!("more {concerned}"),
            "check that drops and pulses were counted over the same time; better count pulses without, with one and with more drops",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    fn totals_of(drops: f64) -> Trials {
        changed(changed(steel_trials(), 0, Column::Pulses, 150.0), 0, Column::Drops, drops)
    }

    #[test]
    fn more_than_two_per_pulse_are_flagged() {
        assert_eq!(severities(&CHECK, &steel_study(), &totals_of(301.0)), [Severity::Warning]);
    }

    #[test]
    fn two_per_pulse_are_not() {
        assert!(severities(&CHECK, &steel_study(), &totals_of(300.0)).is_empty());
    }
}

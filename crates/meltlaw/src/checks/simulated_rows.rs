//! *Finds* trials that were calculated and not welded.
//!
//! *Why it matters*: laws fitted to them say how a program works, not how a wire melts; they are no evidence that a
//! line holds.
//!
//! *What to do*: nothing where that is meant; otherwise take the rows out.
//!
//! *Example*: rows of the virtual bench, `origin = simulated`.

use super::rows::{finding_if_any, row};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Origin, Trials};

/// The check.
pub const CHECK: Check = Check { name: "simulated_rows", about: "Trials that were calculated and not welded.", look };

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let rows = trials.used().filter(|t| t.origin == Origin::Simulated).map(|t| row(trials, t)).collect();
    finding_if_any(CHECK.name, Severity::Note, rows, |concerned| {
        Reading::new(
            "trials that were welded",
            format!("origin = simulated {concerned}: they are fitted, and are no evidence that a line holds"),
            "nothing where that is meant; otherwise remove them",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{severities, steel_study, steel_trials};

    #[test]
    fn simulated_rows_are_named_and_measured_ones_are_not() {
        let mut trials = steel_trials();
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
        trials.rows[0].origin = Origin::Simulated;
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Note]);
    }
}

//! *Finds* trials that the table leaves out without saying why.
//!
//! *Why it matters*: whoever reads the result cannot tell a slipped wire from a weld that did not please.
//!
//! *What to do*: write the reason in `note`, or name the trial with its reason under `[[leave_out]]`.
//!
//! *Example*: B14, `use = no`, `note` blank.

use super::rows::{counted, finding_if_any, row};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::Trials;

/// The check.
pub const CHECK: Check =
    Check { name: "left_out_without_reason", about: "Trials that the table leaves out without saying why.", look };

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let unexplained = trials.rows.iter().filter(|t| !t.use_it && t.left_out.is_none() && t.note.trim().is_empty());
    let rows: Vec<RowReference> =
        unexplained.map(|t| RowReference { found: Some("use = no".to_owned()), ..row(trials, t) }).collect();
    let many = counted(rows.len(), "trial");
    finding_if_any(CHECK.name, Severity::Note, rows, |_| {
        Reading::new(
            "a reason for every trial that is left out",
            format!("{many} left out without a reason"),
            "write the reason in note, or name the trial with its reason under [[leave_out]]",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{found, severities, steel_study, steel_trials};

    #[test]
    fn a_trial_without_a_reason_is_named() {
        let mut trials = steel_trials();
        trials.rows[3].use_it = false;
        trials.rows[3].note.clear();
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].reading.seen, "1 trial left out without a reason");
        assert_eq!(findings[0].rows.len(), 1);
    }

    #[test]
    fn a_note_or_the_studys_reason_silences_it() {
        let mut trials = steel_trials();
        trials.rows[3].use_it = false;
        trials.rows[3].note = "wire slipped".to_owned();
        trials.rows[4].note.clear();
        trials.rows[4].leave_out("wire slipped");
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! *Finds* tables without a CTWD column, for which the study's CTWD stands in.
//!
//! *Why it matters*: nothing is wrong while all trials were welded at that distance; otherwise every
//! extension is off.
//!
//! *What to do*: add `ctwd_mm` to the table where the distance was changed.
//!
//! *Example*: `arc_length_mm` measured, `bench.ctwd_mm` = 18.

use super::rows::{finding_if_any, number, row};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::Trials;

/// The check.
pub const CHECK: Check = Check {
    name: "ctwd_from_study",
    about: "Rows for which the study's CTWD stands in, because no table has the column.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let from_study = |t: &&crate::trials::Trial| trials.geometry(t, &study.bench).is_some_and(|g| g.ctwd_from_study);
    let rows = trials.used().filter(from_study).map(|t| row(trials, t)).collect();
    finding_if_any(CHECK.name, Severity::Note, rows, |concerned| {
        Reading::new(
            "a column ctwd_mm where the distance was changed",
            format!("the study's {} mm used {concerned}", number(study.bench.ctwd_mm)),
            "nothing where all trials were welded at this distance; otherwise add ctwd_mm to the table",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{severities, steel_study, steel_trials, without};
    use crate::trials::Column;

    #[test]
    fn a_table_without_the_column_is_a_note() {
        let trials = without(steel_trials(), Column::Ctwd);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Note]);
    }

    #[test]
    fn a_blank_cell_in_the_column_is_missing_not_the_studys() {
        let mut trials = steel_trials();
        trials.rows[0].set(Column::Ctwd, None);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! *Finds* studies without any row to use.
//!
//! *Why it matters*: nothing can be fitted.
//!
//! *What to do*: fill in trials, or set `use = yes` in the rows that are good.
//!
//! *Example*: a table with a header only; every row `use = no`.

use super::rows::{counted, finding};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::Trials;

/// The check.
pub const CHECK: Check =
    Check { name: "nothing_used", about: "No row to use: an empty table, or use = no throughout.", look };

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    if trials.used().next().is_some() {
        return Vec::new();
    }
    let (seen, action) = if trials.rows.is_empty() {
        ("no row".to_owned(), "fill in one row per steady weld window")
    } else {
        (
            format!("all {} left out", counted(trials.rows.len(), "row")),
            "set use = yes in the rows that are good, or take them out of [[leave_out]]",
        )
    };
    vec![finding(CHECK.name, Severity::Stop, Vec::new(), Reading::new("rows to use", seen, action))]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{found, severities, steel_study, steel_trials, trials_of};

    #[test]
    fn no_row_and_no_used_row_stop() {
        assert_eq!(severities(&CHECK, &steel_study(), &trials_of(Vec::new())), [Severity::Stop]);
        let mut trials = steel_trials();
        trials.rows.iter_mut().for_each(|t| t.use_it = false);
        assert_eq!(found(&CHECK, &steel_study(), &trials)[0].reading.seen, "all 24 rows left out");
    }

    #[test]
    fn one_used_row_does_not() {
        let mut trials = steel_trials();
        trials.rows.iter_mut().skip(1).for_each(|t| t.use_it = false);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

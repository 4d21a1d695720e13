//! *Finds* counts that are negative or not whole.
//!
//! *Why it matters*: counts are counts; a share typed as a count has no number of pulses behind it, and
//! its uncertainty would be invented.
//!
//! *What to do*: type the pulses counted in each class.
//!
//! *Example*: 0.94 in `pulses_with_one_drop`.

use super::rows::{cells_where, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "counts_not_whole",
    about: "Counts of pulses or drops that are negative or not whole: a share has no number of pulses behind it.",
    look,
};

/// Above 2⁵³ neighbouring whole numbers can no longer be told apart.
const LARGEST: f64 = 9_007_199_254_740_992.0;

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let columns = [Column::WithoutDrop, Column::OneDrop, Column::MoreDrops, Column::Drops, Column::Pulses];
    let bad = |v: f64| v < 0.0 || v.fract() != 0.0 || v >= LARGEST;
    let rows = columns.into_iter().flat_map(|column| cells_where(trials, column, bad)).collect();
    finding_if_any(CHECK.name, Severity::Stop, rows, |concerned| {
        Reading::new(
            "whole counts of zero or more",
            format!("something else {concerned}"),
            "type the number of pulses counted in each class, not shares; leave all blank where drops were not counted",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    #[test]
    fn a_share_stops() {
        let trials = changed(steel_trials(), 0, Column::OneDrop, 0.94);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn a_hundred_thousand_pulses_do_not() {
        let trials = changed(steel_trials(), 0, Column::OneDrop, 100_000.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

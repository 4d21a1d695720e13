//! *Finds* mean voltages and mean powers of zero or less.
//!
//! *Why it matters*: an arc between wire and work has a voltage; a sign slip turns the voltage law over.
//!
//! *What to do*: look at how the probe leads are connected, or leave the cell blank.
//!
//! *Example*: `voltage_mean_v` −24.6 because the leads were swapped.

use super::rows::{cells_where, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "voltage_not_positive",
    about: "A mean voltage or mean power of zero or less. A sign slip of the probe turns the voltage law over.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let columns = [Column::VoltageMean, Column::PowerMean];
    let rows = columns.into_iter().flat_map(|column| cells_where(trials, column, |v| v <= 0.0)).collect();
    finding_if_any(CHECK.name, Severity::Stop, rows, |concerned| {
        Reading::new(
            "voltage and power above zero",
            format!("zero or less {concerned}"),
            "check how the voltage leads are connected and correct the sign; leave a cell blank where nothing was measured",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, mapped, severities, steel_study, steel_trials};

    #[test]
    fn swapped_leads_stop() {
        let trials = mapped(steel_trials(), Column::VoltageMean, |v| -v);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn a_row_not_to_be_used_is_not_judged() {
        let mut trials = changed(steel_trials(), 2, Column::VoltageMean, 0.0);
        trials.rows[2].use_it = false;
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

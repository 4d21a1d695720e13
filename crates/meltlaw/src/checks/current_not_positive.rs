//! *Finds* mean, RMS and pulse currents of zero or less and a negative background current.
//!
//! *Why it matters*: every law divides by a current or takes its logarithm.
//!
//! *What to do*: look at the probe's direction and zero, or set `use = no` and say why in `note`.
//!
//! *Example*: `current_mean_a` −152 because the probe sat the wrong way round.

use super::rows::{cells_where, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "current_not_positive",
    about: "A mean, RMS or pulse current of zero or less, or a negative background current. Every law divides by a current or takes its logarithm.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let mut rows = Vec::new();
    for column in [Column::CurrentMean, Column::CurrentRms, Column::PulseCurrent] {
        rows.extend(cells_where(trials, column, |v| v <= 0.0));
    }
    rows.extend(cells_where(trials, Column::BackgroundCurrent, |v| v < 0.0));
    finding_if_any(CHECK.name, Severity::Stop, rows, |concerned| {
        Reading::new(
            "currents above zero",
            format!("zero or less {concerned}"),
            "check direction and zero of the current probe; correct the sign, or set use = no and say why in note",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, mapped, severities, steel_study, steel_trials};

    #[test]
    fn a_probe_the_wrong_way_round_stops() {
        let trials = mapped(steel_trials(), Column::CurrentMean, |v| -v);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn a_background_current_of_zero_does_not() {
        let trials = changed(steel_trials(), 0, Column::BackgroundCurrent, 0.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! *Finds* rows whose extension rests on the study's arc length, because theirs was not measured.
//!
//! *Why it matters*: every millimetre that the true arc is longer makes the extension a millimetre
//! shorter; α and β carry that bias, and no interval shows it.
//!
//! *What to do*: measure the arc length on film, or state its real spread as `arc_length_se_mm`.
//!
//! *Example*: `ctwd_mm` 18, no `arc_length_mm`, study's arc length 4 mm.

use super::rows::{cell_saying, finding_if_any, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, ExtensionFrom, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "arc_length_from_study",
    about: "Rows whose extension rests on the study's arc length: α and β carry its bias.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let rows = trials.used().filter_map(|trial| {
        let geometry = trials.geometry(trial, &study.bench)?;
        let found = format!("blank, {} mm from the study", number(study.bench.arc_length_mm));
        (geometry.from == ExtensionFrom::CtwdAndStudyArcLength)
            .then(|| cell_saying(trials, trial, Column::ArcLength, found))
    });
    let se = number(study.bench.arc_length_se_mm);
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "arc length measured in each trial",
            format!("the study's arc length used {concerned}: α and β carry its bias"),
            format!(
                "measure the arc length on film; until then bench.arc_length_se_mm ({se} mm) must cover its real spread"
            ),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{named, severities, steel_study, steel_trials, without};

    #[test]
    fn ctwd_alone_is_warned_of_in_every_row() {
        let trials = without(steel_trials(), Column::ArcLength);
        assert_eq!(named(&CHECK, &steel_study(), &trials).len(), 24);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn a_measured_extension_is_not() {
        let mut trials = without(steel_trials(), Column::ArcLength);
        for trial in &mut trials.rows {
            trial.set(Column::Extension, Some(14.0));
        }
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

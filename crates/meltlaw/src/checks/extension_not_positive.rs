//! *Finds* rows whose electrode extension is zero or negative by any of the three ways to it.
//!
//! *Why it matters*: the extension is the length that current heats; without one β has no meaning.
//!
//! *What to do*: read CTWD and arc length again; one of them is off, or in another unit.
//!
//! *Example*: CTWD 1.8 mm (meant 18) less arc length 4.0 mm is −2.2 mm.

use super::rows::{cell_saying, finding_if_any, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, ExtensionFrom, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "extension_not_positive",
    about: "An electrode extension of zero or less, measured or from CTWD less arc length. Without extension β has no meaning.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let rows = trials.used().filter_map(|trial| {
        let geometry = trials.geometry(trial, &study.bench)?;
        if geometry.extension_mm > 0.0 {
            return None;
        }
        let extension = number(geometry.extension_mm);
        Some(match (geometry.from, geometry.ctwd_mm, geometry.arc_length_mm) {
            (ExtensionFrom::CtwdAndArcLength | ExtensionFrom::CtwdAndStudyArcLength, Some(ctwd), Some(arc)) => {
                let found = format!("CTWD {} mm − arc length {} mm = {extension} mm", number(ctwd), number(arc));
                cell_saying(trials, trial, Column::Ctwd, found)
            }
            _ => cell_saying(trials, trial, Column::Extension, format!("{extension} mm")),
        })
    });
    finding_if_any(CHECK.name, Severity::Stop, rows.collect(), |concerned| {
        Reading::new(
            "an extension above zero",
            format!("zero or less {concerned}"),
            "read CTWD and arc length again and look at their units, or set use = no and say why in note",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, found, severities, steel_study, steel_trials};

    #[test]
    fn an_arc_longer_than_the_distance_stops() {
        let mut trials = changed(steel_trials(), 1, Column::Ctwd, 1.8);
        trials.rows[1].set(Column::ArcLength, Some(4.0));
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].rows[0].found.as_deref(), Some("CTWD 1.8 mm − arc length 4 mm = -2.2 mm"));
    }

    #[test]
    fn a_short_extension_does_not() {
        let trials = changed(steel_trials(), 1, Column::Extension, 0.5);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! *Finds* rows whose extension plus arc length contradicts the CTWD.
//!
//! *Why it matters*: the measured extension is used; where it contradicts the other two, one of three
//! rulers is off.
//!
//! *What to do*: measure again, or blank the one that is not trusted.
//!
//! *Example*: extension 14.0 mm and arc length 6.5 mm at a CTWD of 18 mm.

use super::rows::{CONTRADICTION_ERRORS, READING_FLOOR_RELATIVE, cell_saying, finding_if_any, half_unit, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "extension_against_ctwd",
    about: "Extension plus arc length that contradicts the CTWD beyond 4 of the stated errors.",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let columns = [Column::Extension, Column::ArcLength, Column::Ctwd];
    let rounding_mm: f64 = columns.iter().map(|&c| half_unit(trials, c)).sum();
    let bench = &study.bench;
    let rows = trials.used().filter_map(|trial| {
        let (extension, arc) = (trial.get(Column::Extension)?, trial.get(Column::ArcLength)?);
        let ctwd = trial.get(Column::Ctwd)?;
        let se = |column, by_study| trial.stated_se(column).unwrap_or(by_study);
        let error = se(Column::Extension, bench.extension_se_mm)
            .hypot(se(Column::ArcLength, bench.arc_length_se_mm))
            .hypot(se(Column::Ctwd, bench.ctwd_se_mm));
        let tolerance = CONTRADICTION_ERRORS * error + rounding_mm + READING_FLOOR_RELATIVE * ctwd.abs();
        let found = format!("{} + {} mm at CTWD {} mm", number(extension), number(arc), number(ctwd));
        ((extension + arc - ctwd).abs() > tolerance).then(|| cell_saying(trials, trial, Column::Extension, found))
    });
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "extension plus arc length equal to the CTWD within 4 of their stated errors",
            format!("contradictory {concerned}"),
            "measure extension, arc length and CTWD again, or blank the one that is not trusted; the extension is used as it stands",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    fn with_extension(extension_mm: f64) -> Trials {
        // Errors 0.3, 0.15 and 0 mm: 0.335 mm, four of them 1.34 mm; rounding 0.6, floor 0.09 mm.
        let trials = changed(changed(steel_trials(), 0, Column::Ctwd, 18.0), 0, Column::ArcLength, 4.0);
        changed(trials, 0, Column::Extension, extension_mm)
    }

    #[test]
    fn three_millimetres_of_contradiction_are_flagged() {
        assert_eq!(severities(&CHECK, &steel_study(), &with_extension(17.0)), [Severity::Warning]);
    }

    #[test]
    fn one_millimetre_is_not() {
        assert!(severities(&CHECK, &steel_study(), &with_extension(15.0)).is_empty());
    }
}

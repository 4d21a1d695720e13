//! *Finds* current columns, and single rows, that are about a thousand times too small or too large.
//!
//! *Why it matters*: amperes read as kiloamperes make α a thousand and β a million times too large.
//!
//! *What to do*: give the column the suffix of its unit, `_ka`, or divide milliamperes by 1000.
//!
//! *Example*: `current_mean_a` 0.1324 in a wire of 1.2 mm.
//!
//! Judged by current density in the wire: spray and pulsed welding lie between 10 and 1000 A/mm² of
//! section, a background current above 2 A/mm² (common practice, wide on purpose).

use super::length_magnitude::wire_diameter_usual;
use super::magnitude::{Slip, Usual, judge};
use super::{Check, Finding};
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "current_magnitude",
    about: "Currents that look like kiloamperes or milliamperes, judged by the current density that a wire carries.",
    look,
};

const DENSITY_A_MM2: [f64; 2] = [10.0, 1000.0];
const BACKGROUND_DENSITY_A_MM2: [f64; 2] = [2.0, 1000.0];

/// The four current columns with their windows for this wire.
const COLUMNS: [(Column, [f64; 2], &str); 4] = [
    (Column::CurrentMean, DENSITY_A_MM2, "rename the column current_mean_ka"),
    (Column::CurrentRms, DENSITY_A_MM2, "rename the column current_rms_ka"),
    (Column::PulseCurrent, DENSITY_A_MM2, "rename the column pulse_current_ka"),
    (Column::BackgroundCurrent, BACKGROUND_DENSITY_A_MM2, "rename the column background_current_ka"),
];

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    // A diameter in another unit would condemn currents that are right; it has a finding of its own.
    if !wire_diameter_usual(study) {
        return Vec::new();
    }
    let section_mm2 = study.wire.section_mm2();
    let mut findings = Vec::new();
    for (column, density, rename) in COLUMNS {
        let slips = [
            Slip { factor: 1000.0, unit: "kA", mend: rename },
            Slip { factor: 1e-3, unit: "mA", mend: "divide the column by 1000" },
        ];
        let window = density.map(|d| d * section_mm2);
        findings.extend(judge(CHECK.name, trials, &Usual { column, window, slips: &slips, single_rows: true }));
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::Severity;
    use crate::checks::testing::{changed, found, mapped, named, severities, steel_study, steel_trials};

    #[test]
    fn kiloamperes_without_the_suffix_stop() {
        let trials = mapped(steel_trials(), Column::CurrentMean, |v| v / 1000.0);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].severity, Severity::Stop);
        assert_eq!(findings[0].reading.action, "rename the column current_mean_ka");
        assert_eq!(findings[0].rows.len(), 24);
    }

    #[test]
    fn milliamperes_stop() {
        let trials = mapped(steel_trials(), Column::PulseCurrent, |v| v * 1000.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn one_row_in_kiloamperes_is_named() {
        let trials = changed(steel_trials(), 4, Column::CurrentRms, 0.2144);
        assert_eq!(named(&CHECK, &steel_study(), &trials), ["T05"]);
    }

    #[test]
    fn a_low_current_does_not() {
        // 10 A/mm² · 1.131 mm² = 11.3 A.
        let trials = changed(steel_trials(), 4, Column::CurrentMean, 12.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

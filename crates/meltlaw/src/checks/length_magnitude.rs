//! *Finds* CTWD, extension, arc length and wire diameter that look like inches, centimetres or metres.
//!
//! *Why it matters*: the extension multiplies β; the diameter scales every plausibility and the drop.
//!
//! *What to do*: give the column the suffix of its unit, `_in` or `_m`, or convert it.
//!
//! *Example*: `ctwd_mm` 0.71 for eighteen millimetres.
//!
//! Usual: CTWD 8 to 40 mm, extension 3 to 40 mm, arc length 0.5 to 25 mm, wire 0.5 to 4 mm (common
//! practice).

use super::magnitude::{Slip, Usual, judge, options, slips_that_mend};
use super::rows::{finding, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "length_magnitude",
    about: "CTWD, extension, arc length or wire diameter that look like inches, centimetres or metres.",
    look,
};

const WIRE_DIAMETER_MM: [f64; 2] = [0.5, 4.0];
const CTWD_MM: [f64; 2] = [8.0, 40.0];
const EXTENSION_MM: [f64; 2] = [3.0, 40.0];
const ARC_LENGTH_MM: [f64; 2] = [0.5, 25.0];

/// Whether the wire's diameter is one that wires have.
pub(super) fn wire_diameter_usual(study: &Study) -> bool {
    (WIRE_DIAMETER_MM[0]..=WIRE_DIAMETER_MM[1]).contains(&study.wire.diameter_mm)
}

fn slips(in_inches: &'static str, in_metres: &'static str) -> [Slip; 5] {
    [
        Slip { factor: 25.4, unit: "inches", mend: in_inches },
        Slip { factor: 10.0, unit: "centimetres", mend: "convert centimetres to millimetres (times 10)" },
        Slip { factor: 1000.0, unit: "metres", mend: in_metres },
        Slip { factor: 1.0 / 25.4, unit: "millimetres read as inches", mend: "rename the column from _in to _mm" },
        Slip {
            factor: 1e-3,
            unit: "micrometres, or millimetres read as metres",
            mend: "state the column in millimetres",
        },
    ]
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let mut findings = Vec::new();
    let typed = slips("convert inches to millimetres (times 25.4)", "convert metres to millimetres (times 1000)");
    for (key, value, window) in [
        ("wire.diameter_mm", study.wire.diameter_mm, WIRE_DIAMETER_MM),
        ("bench.ctwd_mm", study.bench.ctwd_mm, CTWD_MM),
    ] {
        findings.extend(judge_typed(key, value, window, &typed));
    }
    for (column, window, single_rows, in_inches, in_metres) in [
        (Column::Ctwd, CTWD_MM, true, "rename the column ctwd_in", "rename the column ctwd_m"),
        (Column::Extension, EXTENSION_MM, true, "rename the column extension_in", "rename the column extension_m"),
        // Single short arcs are usual: only the column as a whole is judged.
        (Column::ArcLength, ARC_LENGTH_MM, false, "rename the column arc_length_in", "rename the column arc_length_m"),
    ] {
        let slips = slips(in_inches, in_metres);
        findings.extend(judge(CHECK.name, trials, &Usual { column, window, slips: &slips, single_rows }));
    }
    findings
}

/// Judges a length of the study file.
fn judge_typed(key: &str, value: f64, window: [f64; 2], slips: &[Slip]) -> Option<Finding> {
    if (window[0]..=window[1]).contains(&value) || value <= 0.0 {
        return None;
    }
    let expected = format!("{key} between {} and {} mm", number(window[0]), number(window[1]));
    let mending = slips_that_mend(value, window, slips);
    let (severity, seen, action) = if mending.is_empty() {
        (Severity::Warning, format!("{} mm", number(value)), format!("check {key}"))
    } else {
        let (units, mends) = options(&mending);
        (Severity::Stop, format!("{} mm: looks like {units}", number(value)), format!("correct {key}: {mends}"))
    };
    Some(finding(CHECK.name, severity, Vec::new(), Reading::new(expected, seen, action)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, found, mapped, severities, steel_study, steel_trials};

    #[test]
    fn inches_stop_and_name_the_column_to_use() {
        let trials = mapped(steel_trials(), Column::Ctwd, |v| v / 25.4);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].severity, Severity::Stop);
        assert!(findings[0].reading.action.starts_with("rename the column ctwd_in"));
    }

    #[test]
    fn arc_length_in_inches_stops() {
        let trials = mapped(steel_trials(), Column::ArcLength, |v| v / 25.4);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn a_wire_diameter_in_inches_stops() {
        let mut study = steel_study();
        study.wire.diameter_mm = 0.047;
        assert!(found(&CHECK, &study, &steel_trials())[0].reading.seen.contains("inches"));
    }

    #[test]
    fn short_distances_and_short_arcs_do_not() {
        let trials = changed(changed(steel_trials(), 0, Column::Ctwd, 9.0), 1, Column::ArcLength, 0.3);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

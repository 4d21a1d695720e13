//! *Finds* studies whose counted trials have one or two pulse currents only.
//!
//! *Why it matters*: the exponent says how the threshold moves with pulse current; at one level it cannot
//! be told, at two nothing shows whether a power law holds between.
//!
//! *What to do*: count drops at three pulse currents or more, as far apart as the source allows.
//!
//! *Example*: all counted trials at 400 A.
//!
//! Readings of one setting scatter by the probe's gain, so a level is 2 % and 4 gain errors wide.

use super::needs::{Law, usable};
use super::rows::{cell, finding, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "pulse_current_levels",
    about: "Fewer than three pulse currents among the counted trials: with one the exponent cannot be told.",
    look,
};

const LEVEL_RELATIVE: f64 = 0.02;
const LEVEL_GAIN_ERRORS: f64 = 4.0;

/// Lowest reading of each level, ascending.
fn levels(mut currents: Vec<f64>, width_relative: f64) -> Vec<f64> {
    currents.sort_by(f64::total_cmp);
    let mut levels: Vec<f64> = Vec::new();
    for current in currents {
        if levels.last().is_none_or(|&start| current > start * (1.0 + width_relative)) {
            levels.push(current);
        }
    }
    levels
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let counted: Vec<_> = usable(study, trials, Law::Detachment).collect();
    let currents = counted.iter().filter_map(|t| t.get(Column::PulseCurrent)).filter(|&a| a > 0.0).collect();
    let levels = levels(currents, LEVEL_RELATIVE + LEVEL_GAIN_ERRORS * study.bench.current_relative_se);
    let (severity, consequence) = match levels.len() {
        1 => (Severity::Warning, "the exponent cannot be told"),
        2 => (Severity::Note, "nothing shows whether a power law holds between"),
        _ => return Vec::new(),
    };
    let rows = match severity {
        Severity::Warning => counted.iter().map(|t| cell(trials, t, Column::PulseCurrent)).collect(),
        _ => Vec::new(),
    };
    let shown: Vec<String> = levels.iter().map(|&a| format!("{} A", number(a))).collect();
    let reading = Reading::new(
        "counted trials at three pulse currents or more",
        format!("pulse currents from {} only: {consequence}", shown.join(" and from ")),
        format!(
            "count drops at {} A and {} A too, each at pulse times below and above the threshold",
            number((0.85 * levels[0]).round()),
            number((1.15 * levels[levels.len() - 1]).round()),
        ),
    );
    vec![finding(CHECK.name, severity, rows, reading)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{mapped, severities, steel_study, steel_trials};

    #[test]
    fn one_level_within_the_probes_scatter_is_a_warning() {
        // 330 … 460 A drawn together to 398.6 … 401.2 A.
        let trials = mapped(steel_trials(), Column::PulseCurrent, |a| 400.0 + 0.02 * (a - 400.0));
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn two_levels_are_a_note() {
        let trials = mapped(steel_trials(), Column::PulseCurrent, |a| if a < 400.0 { 360.0 } else { 440.0 });
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Note]);
    }

    #[test]
    fn three_levels_are_silent() {
        let third = |a: f64| {
            if a < 370.0 {
                350.0
            } else if a < 410.0 {
                390.0
            } else {
                440.0
            }
        };
        let trials = mapped(steel_trials(), Column::PulseCurrent, third);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

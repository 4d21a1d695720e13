//! *Finds* an RMS current below the mean current beyond rounding, and a pulsed row where both are equal.
//!
//! *Why it matters*: the RMS of samples is never below their mean. Below it, columns are swapped or
//! belong to different windows; equal to it under pulses, the RMS was computed from means.
//!
//! *What to do*: swap the columns, or take mean and RMS from the same window of samples.
//!
//! *Example*: mean 213.0 A with RMS 170.9 A.
//!
//! The probe's gain is shared and cancels, so only rounding and errors of the columns' own count.

use super::magnitude::in_another_unit;
use super::rows::{CONTRADICTION_ERRORS, cell_saying, counted, finding, finding_if_any, half_unit, in_rows, number};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Mode, Trial, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "rms_below_mean",
    about: "An RMS current below the mean (columns swapped or from different windows), or equal to it under pulses (RMS computed from means).",
    look,
};

/// Square waves of 5 A about 200 A have RMS 0.03 % above the mean: no pulse is smaller.
const EQUAL_RELATIVE: f64 = 3e-4;

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    if in_another_unit(study, trials, &[Column::CurrentMean, Column::CurrentRms]) {
        return Vec::new();
    }
    let rounding_a = half_unit(trials, Column::CurrentMean) + half_unit(trials, Column::CurrentRms);
    let reference = |trial: &Trial, mean: f64, rms: f64| -> RowReference {
        cell_saying(trials, trial, Column::CurrentRms, format!("{} A with mean {} A", number(rms), number(mean)))
    };
    let (mut below, mut equal, mut judged) = (Vec::new(), Vec::new(), 0);
    for trial in trials.used() {
        let (Some(mean), Some(rms)) = (trial.get(Column::CurrentMean), trial.get(Column::CurrentRms)) else { continue };
        if mean <= 0.0 || rms <= 0.0 {
            continue;
        }
        judged += 1;
        let own_se = |column| trial.stated_se(column).unwrap_or(0.0);
        let tolerance =
            CONTRADICTION_ERRORS * own_se(Column::CurrentMean).hypot(own_se(Column::CurrentRms)) + rounding_a;
        if rms < mean - tolerance {
            below.push(reference(trial, mean, rms));
        } else if trial.mode == Mode::Pulsed && (rms - mean).abs() <= EQUAL_RELATIVE * mean {
            equal.push(reference(trial, mean, rms));
        }
    }
    let mut findings = Vec::new();
    if !below.is_empty() {
        let action = if below.len() == judged {
            "the columns look swapped: swap the names current_mean_a and current_rms_a"
        } else {
            "take mean and RMS from the same window of samples, or set use = no and say why in note"
        };
        let seen = format!("RMS below the mean {} of {}", in_rows(&below), counted(judged, "row"));
        findings.push(finding(
            CHECK.name,
            Severity::Stop,
            below,
            Reading::new("RMS at least the mean current", seen, action),
        ));
    }
    findings.extend(finding_if_any(CHECK.name, Severity::Warning, equal, |concerned| {
        Reading::new(
            "an RMS current above the mean under pulses",
            format!("RMS equal to the mean {concerned}"),
            "compute the RMS from the samples, not from means; where the current was constant, write mode = constant_current",
        )
    }));
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, found, severities, steel_study, steel_trials};

    #[test]
    fn swapped_columns_stop_and_say_so() {
        let mut trials = steel_trials();
        for trial in &mut trials.rows {
            let (mean, rms) = (trial.get(Column::CurrentMean), trial.get(Column::CurrentRms));
            trial.set(Column::CurrentMean, rms);
            trial.set(Column::CurrentRms, mean);
        }
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].severity, Severity::Stop);
        assert!(findings[0].reading.action.contains("swapped"));
    }

    #[test]
    fn an_rms_from_means_is_warned_of() {
        let mean = steel_trials().rows[0].get(Column::CurrentMean).unwrap_or(f64::NAN);
        let trials = changed(steel_trials(), 0, Column::CurrentRms, mean);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn constant_current_may_have_them_equal_within_rounding() {
        // Read to 0.1 A: 132.4 and 132.3 may both be 132.35.
        let mut trials = changed(steel_trials(), 0, Column::CurrentMean, 132.4);
        trials.rows[0].set(Column::CurrentRms, Some(132.3));
        trials.rows[0].mode = Mode::ConstantCurrent;
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

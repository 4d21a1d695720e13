//! *Finds* counts in which one or two of the three classes never occur.
//!
//! *Why it matters*: a threshold that no trial crosses is only bounded; with one class alone both are.
//!
//! *What to do*: weld trials with shorter or longer pulses until the missing class shows.
//!
//! *Example*: 150 of 150 pulses with one drop in every trial.

use super::needs::{Law, classes, totals, usable};
use super::rows::{counted, finding};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "counts_one_class",
    about: "Counts in which pulses without, with one or with more drops never occur: a threshold that no trial crosses is only bounded.",
    look,
};

/// Pulses without, with one and with more drops; of totals only what they tell for certain.
fn seen_classes(study: &Study, trials: &Trials) -> ([bool; 3], usize) {
    let (mut seen, mut count) = ([false; 3], 0);
    for trial in usable(study, trials, Law::Detachment) {
        count += 1;
        if let Some(counts) = classes(trial) {
            for (seen, count) in seen.iter_mut().zip(counts) {
                *seen |= count > 0.0;
            }
        } else if let Some([drops, pulses]) = totals(trial) {
            seen[0] |= drops < pulses;
            seen[1] |= drops > 0.0 && drops < 2.0 * pulses;
            seen[2] |= drops > pulses;
        }
    }
    (seen, count)
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let (seen, count) = seen_classes(study, trials);
    if count == 0 || seen == [true; 3] {
        return Vec::new();
    }
    let times: Vec<f64> = usable(study, trials, Law::Detachment).filter_map(|t| t.get(Column::PulseTime)).collect();
    let shortest = times.iter().copied().fold(f64::INFINITY, f64::min);
    let longest = times.iter().copied().fold(0.0, f64::max);
    let shorter = format!("weld and count trials with pulses shorter than {shortest:.2} ms at the same pulse currents");
    let longer = format!("weld and count trials with pulses longer than {longest:.2} ms at the same pulse currents");
    let (what, action) = match seen {
        [false, true, false] => {
            ("only pulses with one drop: both thresholds are only bounded", format!("{shorter}; {longer}"))
        }
        [true, false, false] => ("only pulses without a drop: both thresholds lie above the trials", longer),
        [false, false, true] => ("only pulses with more drops: both thresholds lie below the trials", shorter),
        [false, true, true] => ("no pulse without a drop: the lower threshold is only bounded", shorter),
        [true, true, false] => ("no pulse with more drops: the upper threshold is only bounded", longer),
        [true, false, true] => (
            "no pulse with one drop: there is no window between the thresholds",
            format!(
                "weld and count trials with pulses between {shortest:.2} and {longest:.2} ms; check how drops were counted"
            ),
        ),
        _ => return Vec::new(),
    };
    let expected = "pulses without, with one and with more drops among the counted trials";
    let reading = Reading::new(expected, format!("{what} ({})", counted(count, "counted trial")), action);
    vec![finding(CHECK.name, Severity::Warning, Vec::new(), reading)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, found, mapped, severities, steel_study, steel_trials};

    fn all_with_one_drop() -> Trials {
        let trials = mapped(mapped(steel_trials(), Column::WithoutDrop, |_| 0.0), Column::OneDrop, |_| 150.0);
        mapped(trials, Column::MoreDrops, |_| 0.0)
    }

    #[test]
    fn all_pulses_with_one_drop_are_warned_of_with_both_cures() {
        let findings = found(&CHECK, &steel_study(), &all_with_one_drop());
        assert_eq!(findings[0].severity, Severity::Warning);
        assert!(findings[0].reading.action.contains("shorter") && findings[0].reading.action.contains("longer"));
    }

    #[test]
    fn one_missing_class_names_its_threshold() {
        let trials = changed(all_with_one_drop(), 0, Column::MoreDrops, 3.0);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert!(findings[0].reading.seen.starts_with("no pulse without a drop"));
    }

    #[test]
    fn a_single_pulse_of_each_class_is_enough_to_be_silent() {
        let trials = changed(changed(all_with_one_drop(), 0, Column::MoreDrops, 1.0), 1, Column::WithoutDrop, 1.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! *Finds* studies without two trials at one setting.
//!
//! *Why it matters*: only repeats show the bench's own scatter, against which a law's misfit can be
//! judged; without them lack of fit cannot be tested.
//!
//! *What to do*: weld two settings a second time, not one right after the other.
//!
//! *Example*: 40 trials, 40 settings.

use super::rows::finding;
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trial, Trials};

/// The check.
pub const CHECK: Check =
    Check { name: "no_repeats", about: "No two trials at one setting: lack of fit cannot be tested.", look };

/// Readings of one setting agree within this (common practice).
const SAME_RELATIVE: f64 = 0.02;

/// What is set on the bench; mean and RMS current follow from it.
const SETTINGS: [Column; 6] = [
    Column::WireFeed,
    Column::Ctwd,
    Column::Extension,
    Column::PulseCurrent,
    Column::PulseTime,
    Column::PulseFrequency,
];

fn same_setting(a: &Trial, b: &Trial) -> bool {
    let same = |column| match (a.get(column), b.get(column)) {
        (Some(x), Some(y)) => (x - y).abs() <= SAME_RELATIVE * x.abs().max(y.abs()),
        (None, None) => true,
        _ => false,
    };
    a.mode == b.mode && SETTINGS.into_iter().all(same)
}

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let mut fed: Vec<&Trial> = trials.used().filter(|t| t.get(Column::WireFeed).is_some_and(|v| v > 0.0)).collect();
    if fed.len() < 2 {
        return Vec::new();
    }
    let feed = |t: &Trial| t.get(Column::WireFeed).unwrap_or(f64::NAN);
    fed.sort_by(|a, b| feed(a).total_cmp(&feed(b)));
    // Sorted by feed, the partners of a trial are the next few: those beyond 2 % need no look.
    let repeated = fed.iter().enumerate().any(|(i, a)| {
        let near = fed[i + 1..].iter().take_while(|b| feed(b) <= feed(a) * (1.0 + 2.0 * SAME_RELATIVE));
        near.into_iter().any(|b| same_setting(a, b))
    });
    if repeated {
        return Vec::new();
    }
    let reading = Reading::new(
        "some settings welded twice",
        "no two trials at one setting: lack of fit cannot be tested",
        "weld two or three settings a second time, not right after the first",
    );
    vec![finding(CHECK.name, Severity::Note, Vec::new(), reading)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{severities, steel_study, steel_trials};

    #[test]
    fn a_study_without_repeats_is_a_note() {
        assert_eq!(severities(&CHECK, &steel_study(), &steel_trials()), [Severity::Note]);
    }

    #[test]
    fn one_setting_welded_twice_is_silent() {
        let mut trials = steel_trials();
        let mut again = trials.rows[3].clone();
        let feed = again.get(Column::WireFeed).map(|v| v * 1.004);
        again.name = "T25".to_owned();
        again.set(Column::WireFeed, feed);
        trials.rows.push(again);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! *Finds* laws with fewer than eight usable trials.
//!
//! *Why it matters*: a law of two to five coefficients on a handful of trials has wide intervals, and one
//! bad trial decides it.
//!
//! *What to do*: weld more trials, or fill in the columns that keep rows out.
//!
//! *Example*: 24 trials, drops counted in 5 of them.
//!
//! Eight leaves at least three degrees of freedom to the largest law, below which an interval by
//! Student's t is three times as wide as the scatter.

use super::needs::{Law, usable};
use super::rows::{counted, finding};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::Trials;

/// The check.
pub const CHECK: Check = Check { name: "few_trials", about: "Fewer than eight usable trials for a law.", look };

const ENOUGH: usize = 8;

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let mut findings = Vec::new();
    if trials.used().next().is_none() {
        return findings;
    }
    for law in Law::ALL {
        let count = usable(study, trials, law).count();
        if count >= ENOUGH {
            continue;
        }
        let needs = match law {
            Law::BurnOff => "wire feed, mean and RMS current and the extension or CTWD",
            Law::Detachment => "pulse current, pulse time and counted drops",
            Law::ArcVoltage => "mean voltage, mean current and arc length",
        };
        let reading = Reading::new(
            format!("at least {ENOUGH} trials for the {} law", law.name()),
            counted(count, "usable trial"),
            format!("weld {} more, or fill in what rows lack: {needs}", counted(ENOUGH - count, "trial")),
        );
        findings.push(finding(CHECK.name, Severity::Warning, Vec::new(), reading));
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{STEEL, found, severities, steel_study, weld, without};
    use crate::trials::Column;

    #[test]
    fn seven_trials_are_few_for_every_law() {
        assert_eq!(severities(&CHECK, &steel_study(), &weld(&STEEL, 7, 1)), [Severity::Warning; 3]);
    }

    #[test]
    fn no_counts_concern_detachment_only() {
        let findings = found(&CHECK, &steel_study(), &without(weld(&STEEL, 12, 1), Column::OneDrop));
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].reading.seen, "0 usable trials");
        assert!(findings[0].reading.expected.contains("detachment"));
    }

    #[test]
    fn eight_are_enough() {
        assert!(severities(&CHECK, &steel_study(), &weld(&STEEL, 8, 1)).is_empty());
    }
}

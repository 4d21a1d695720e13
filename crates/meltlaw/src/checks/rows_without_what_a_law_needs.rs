//! *Finds* rows that a law must leave out, counted by reason.
//!
//! *Why it matters*: nothing is lost silently; whoever filled in the row learns which cell to fill.
//!
//! *What to do*: fill in the cell where it was measured; otherwise nothing.
//!
//! *Example*: B07, drops not counted because the camera stopped.

use std::collections::BTreeMap;

use super::needs::{Law, lacks};
use super::rows::{cell_saying, counted, finding, row};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check =
    Check { name: "rows_without_what_a_law_needs", about: "Rows that a law must leave out, counted by reason.", look };

/// The cell to fill, where it is one.
fn cell_to_fill(reason: &str) -> Option<Column> {
    Some(match reason {
        "no wire feed" => Column::WireFeed,
        "no mean current" => Column::CurrentMean,
        "no RMS current" => Column::CurrentRms,
        "no extension, no CTWD" => Column::Ctwd,
        "no pulse current" => Column::PulseCurrent,
        "no pulse time" => Column::PulseTime,
        "no voltage" => Column::VoltageMean,
        "no arc length" => Column::ArcLength,
        _ => return None,
    })
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let mut findings = Vec::new();
    for law in Law::ALL {
        let (mut rows, mut reasons): (Vec<RowReference>, BTreeMap<&str, usize>) = (Vec::new(), BTreeMap::new());
        for trial in trials.used() {
            let Some(reason) = lacks(study, trials, trial, law) else { continue };
            *reasons.entry(reason).or_default() += 1;
            rows.push(match cell_to_fill(reason) {
                Some(column) => cell_saying(trials, trial, column, "blank".to_owned()),
                None => RowReference { found: Some(reason.to_owned()), ..row(trials, trial) },
            });
        }
        if rows.is_empty() {
            continue;
        }
        let by_reason: Vec<String> = reasons.iter().map(|(reason, count)| format!("{count} × {reason}")).collect();
        let seen = format!("{} left out: {}", counted(rows.len(), "row"), by_reason.join(", "));
        let reading = Reading::new(
            format!("every used row with what the {} law needs", law.name()),
            seen,
            "fill in the cells where they were measured; otherwise nothing",
        );
        findings.push(finding(CHECK.name, Severity::Note, rows, reading));
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{found, severities, steel_study, steel_trials};

    #[test]
    fn rows_are_counted_by_reason() {
        let mut trials = steel_trials();
        trials.rows[6].set(Column::OneDrop, None);
        trials.rows[7].set(Column::PulseTime, None);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].reading.seen, "2 rows left out: 1 × drops not counted, 1 × no pulse time");
        assert_eq!(findings[0].rows[1].column.as_deref(), Some("pulse_time_ms"));
    }

    #[test]
    fn a_row_not_to_be_used_is_not_counted() {
        let mut trials = steel_trials();
        trials.rows[6].set(Column::OneDrop, None);
        trials.rows[6].use_it = false;
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

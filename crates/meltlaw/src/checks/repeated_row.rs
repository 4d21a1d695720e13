//! *Finds* rows that agree in every number.
//!
//! *Why it matters*: two welds never read alike to the last digit; a copied row counts one weld twice and
//! makes every interval too narrow.
//!
//! *What to do*: remove the copy, or correct it from the weld's sheet.
//!
//! *Example*: T12 pasted again as T12b.
//!
//! Run order and tip minutes are left aside, since they are typed by hand after copying.

use std::collections::BTreeMap;

use super::rows::{finding_if_any, row};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trial, Trials};

/// The check.
pub const CHECK: Check =
    Check { name: "repeated_row", about: "Rows that agree in every number: a copied row counts one weld twice.", look };

/// Fewer measured numbers may agree by chance.
const LEAST_NUMBERS: usize = 4;

/// The bits of every measured number.
fn fingerprint(trial: &Trial) -> Option<Vec<u64>> {
    let measured = Column::ALL.iter().filter(|c| !matches!(c, Column::RunOrder | Column::TipMinutes));
    let values: Vec<Option<f64>> = measured.map(|&c| trial.get(c)).collect();
    let enough = values.iter().flatten().count() >= LEAST_NUMBERS;
    enough.then(|| values.into_iter().map(|v| v.unwrap_or(f64::NAN).to_bits()).collect())
}

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let mut first: BTreeMap<Vec<u64>, &Trial> = BTreeMap::new();
    let mut rows = Vec::new();
    for trial in trials.used() {
        let Some(print) = fingerprint(trial) else { continue };
        match first.get(&print) {
            Some(original) => {
                let found = Some(format!("the numbers of trial {}, row {}", original.name, original.row));
                rows.push(RowReference { found, ..row(trials, trial) });
            }
            None => {
                first.insert(print, trial);
            }
        }
    }
    finding_if_any(CHECK.name, Severity::Warning, rows, |concerned| {
        Reading::new(
            "rows that differ in at least one number",
            format!("all numbers of an earlier row again {concerned}"),
            "remove the copy, correct it from the weld's sheet, or set use = no",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{found, severities, steel_study, steel_trials};

    fn with_a_copy() -> Trials {
        let mut trials = steel_trials();
        let mut copy = trials.rows[3].clone();
        copy.name = "T04b".to_owned();
        copy.set(Column::RunOrder, Some(25.0));
        trials.rows.push(copy);
        trials
    }

    #[test]
    fn a_copied_row_is_named_with_its_original() {
        let findings = found(&CHECK, &steel_study(), &with_a_copy());
        assert_eq!(findings[0].severity, Severity::Warning);
        assert_eq!(findings[0].rows[0].found.as_deref(), Some("the numbers of trial T04, row 5"));
    }

    #[test]
    fn a_true_repeat_differs_in_a_digit() {
        let mut trials = with_a_copy();
        let feed = trials.rows[24].get(Column::WireFeed).map(|v| v + 0.01);
        trials.rows[24].set(Column::WireFeed, feed);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

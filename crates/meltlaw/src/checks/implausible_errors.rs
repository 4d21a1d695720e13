//! *Finds* stated standard errors that no instrument has: all zero, or above 20 % of what they belong to.
//!
//! *Why it matters*: errors are the weights of the fit. All zero leaves it without weights; an error in
//! per cent typed as a fraction (0.8 for 0.8 %) makes every trial worthless.
//!
//! *What to do*: state relative errors as fractions, 0.008 for 0.8 %; zero only where a value is exact.
//!
//! *Example*: `current_relative_se = 0.8`.
//!
//! 20 %: a reading worse than one part in five measures nothing (common practice). Arc lengths are
//! short and hard to read; they are held against the extension that they enter.

use super::rows::{cell_saying, finding, finding_if_any, number};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "implausible_errors",
    about: "Stated standard errors that are all zero, or above 20 % of what they belong to.",
    look,
};

const LARGEST_RELATIVE: f64 = 0.20;

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let mut findings = from_study(study, trials);
    findings.extend(from_table(study, trials));
    findings
}

fn from_study(study: &Study, trials: &Trials) -> Vec<Finding> {
    let bench = &study.bench;
    let extension_mm = (bench.ctwd_mm - bench.arc_length_mm).abs();
    // A voltage of 25 V is the middle of what is welded.
    let relative = [
        ("wire_feed_relative_se", bench.wire_feed_relative_se),
        ("current_relative_se", bench.current_relative_se),
        ("pulse_time_relative_se", bench.pulse_time_relative_se),
        ("voltage_se_v", bench.voltage_se_v / 25.0),
        ("ctwd_se_mm", bench.ctwd_se_mm / bench.ctwd_mm),
        ("arc_length_se_mm", bench.arc_length_se_mm / extension_mm),
        ("extension_se_mm", bench.extension_se_mm / extension_mm),
    ];
    let large: Vec<String> = relative
        .iter()
        .filter(|(_, share)| *share > LARGEST_RELATIVE)
        .map(|(key, share)| format!("bench.{key} ({} % of its value)", number(100.0 * share)))
        .collect();
    let mut findings = Vec::new();
    if !large.is_empty() {
        let reading = Reading::new(
            "standard errors of at most 20 % of what they belong to",
            large.join(", "),
            "state relative errors as fractions (0.008 for 0.8 %) and the others in the key's unit",
        );
        findings.push(finding(CHECK.name, Severity::Warning, Vec::new(), reading));
    }
    let of_table = Column::ALL.iter().any(|&c| trials.used().any(|t| t.stated_se(c).is_some_and(|se| se > 0.0)))
        || trials.used().any(|t| t.get(Column::CurrentGainSe).is_some_and(|se| se > 0.0));
    if relative.iter().all(|(_, share)| *share == 0.0) && !of_table {
        let reading = Reading::new(
            "standard errors above zero for what was measured",
            "all standard errors zero: the fits have no weights",
            "state in [bench] how well feed, current, lengths, voltage and pulse time were read in one trial, or leave the keys out for the defaults",
        );
        findings.push(finding(CHECK.name, Severity::Warning, Vec::new(), reading));
    }
    findings
}

fn from_table(study: &Study, trials: &Trials) -> Vec<Finding> {
    let mut rows: Vec<RowReference> = Vec::new();
    for trial in trials.used() {
        for &column in Column::ALL.iter().filter(|c| c.may_have_se()) {
            let (Some(value), Some(se)) = (trial.get(column), trial.stated_se(column)) else { continue };
            let extension = || trials.geometry(trial, &study.bench).map(|g| g.extension_mm);
            let scale = if column == Column::ArcLength { extension().unwrap_or(value) } else { value };
            if se > LARGEST_RELATIVE * scale.abs() {
                let found = format!("standard error {} at {} {}", number(se), number(value), column.unit());
                rows.push(cell_saying(trials, trial, column, found));
            }
        }
        if let Some(gain) = trial.get(Column::CurrentGainSe).filter(|&gain| gain > LARGEST_RELATIVE) {
            rows.push(cell_saying(trials, trial, Column::CurrentGainSe, number(gain)));
        }
    }
    finding_if_any(CHECK.name, Severity::Warning, rows, |concerned| {
        Reading::new(
            "standard errors of at most 20 % of their value",
            format!("larger {concerned}"),
            "state _se in the column's own unit and gain errors as fractions (0.008 for 0.8 %)",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{found, severities, steel_study, steel_trials};

    #[test]
    fn per_cent_typed_as_a_fraction_is_flagged() {
        let mut study = steel_study();
        study.bench.current_relative_se = 0.8;
        let findings = found(&CHECK, &study, &steel_trials());
        assert_eq!(findings[0].reading.seen, "bench.current_relative_se (80 % of its value)");
    }

    #[test]
    fn all_zero_is_flagged_and_one_error_above_zero_is_not() {
        let mut study = steel_study();
        let bench = &mut study.bench;
        (bench.wire_feed_relative_se, bench.current_relative_se, bench.voltage_se_v) = (0.0, 0.0, 0.0);
        (bench.ctwd_se_mm, bench.arc_length_se_mm, bench.extension_se_mm) = (0.0, 0.0, 0.0);
        bench.pulse_time_relative_se = 0.0;
        assert_eq!(severities(&CHECK, &study, &steel_trials()), [Severity::Warning]);
        study.bench.wire_feed_relative_se = 0.004;
        assert!(severities(&CHECK, &study, &steel_trials()).is_empty());
    }

    #[test]
    fn a_large_error_in_the_table_names_its_cell() {
        let mut trials = steel_trials();
        trials.rows[2].set_se(Column::WireFeed, Some(4.0));
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].rows[0].column.as_deref(), Some("wire_feed_m_min"));
        trials.rows[2].set_se(Column::WireFeed, Some(0.02));
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

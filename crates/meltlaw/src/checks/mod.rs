//! What is wrong or weak in the data, row by row. One check is one file, named like the check; `rows`,
//! `needs` and `magnitude` hold what they share. Rows with `use = no` are not judged. A check stops only
//! what would make a fit meaningless, and all are silent on good data: a warning that always fires
//! trains people to ignore all.

pub mod arc_length_from_study;
pub mod blocks_confounded;
pub mod counts_not_whole;
pub mod counts_one_class;
pub mod ctwd_from_study;
pub mod current_magnitude;
pub mod current_not_positive;
pub mod drops_and_classes_both;
pub mod drops_beyond_pulses;
pub mod drops_without_pulses;
pub mod duty_above_one;
pub mod extension_against_ctwd;
pub mod extension_not_positive;
pub mod few_trials;
pub mod frequency_against_times;
pub mod gas_for_material;
pub mod gas_sum;
pub mod gross_outlier;
pub mod implausible_errors;
pub mod left_out_without_reason;
pub mod length_magnitude;
mod magnitude;
pub mod mean_against_waveform;
mod needs;
pub mod no_repeats;
pub mod nothing_used;
pub mod one_ctwd;
pub mod power_against_product;
pub mod pulse_current_levels;
pub mod pulse_not_above_background;
pub mod pulses_against_counts;
pub mod repeated_row;
pub mod rms_against_waveform;
pub mod rms_assumed_equal_mean;
pub mod rms_below_mean;
mod rows;
pub mod rows_without_what_a_law_needs;
#[cfg(test)]
mod silence;
pub mod simulated_rows;
#[cfg(test)]
mod testing;
pub mod time_magnitude;
pub mod time_not_positive;
pub mod totals_only;
pub mod transition_current;
pub mod voltage_magnitude;
pub mod voltage_not_positive;
mod waveform;
pub mod wire_feed_magnitude;
pub mod wire_feed_not_positive;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::laws::Reading;
use crate::study::Study;
use crate::trials::Trials;

/// How bad a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Worth knowing; nothing is wrong.
    Note,
    /// Likely wrong or weak; the fit goes on.
    Warning,
    /// A fit would mean nothing: the program stops.
    Stop,
}

/// One finding of one check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// Stable name of the check.
    pub check: String,
    /// How bad.
    pub severity: Severity,
    /// The rows concerned; empty where it concerns the whole study.
    pub rows: Vec<RowReference>,
    /// In words for the bench.
    pub reading: Reading,
}

/// A row and, where one cell is meant, its column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RowReference {
    /// File relative to the study.
    pub file: String,
    /// Row as people count it.
    pub row: usize,
    /// Identifier of the trial.
    pub trial: String,
    /// Column, where one is meant.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub column: Option<String>,
    /// What was found there, with its unit.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub found: Option<String>,
}

/// A check: a stable name, why it matters, and the function that looks.
#[derive(Debug, Clone, Copy)]
pub struct Check {
    /// Stable name, the same as the file's.
    pub name: &'static str,
    /// What it finds and why it matters, for the manual.
    pub about: &'static str,
    /// Looks.
    pub look: fn(&Study, &Trials) -> Vec<Finding>,
}

/// All checks, in the order in which they look: what stops first and
/// units before all (they explain the rest), then contradictions, then weaknesses.
pub const CHECKS: &[Check] = &[
    nothing_used::CHECK,
    gas_sum::CHECK,
    length_magnitude::CHECK,
    current_magnitude::CHECK,
    wire_feed_magnitude::CHECK,
    time_magnitude::CHECK,
    voltage_magnitude::CHECK,
    wire_feed_not_positive::CHECK,
    current_not_positive::CHECK,
    time_not_positive::CHECK,
    voltage_not_positive::CHECK,
    counts_not_whole::CHECK,
    rms_below_mean::CHECK,
    extension_not_positive::CHECK,
    duty_above_one::CHECK,
    pulse_not_above_background::CHECK,
    power_against_product::CHECK,
    frequency_against_times::CHECK,
    mean_against_waveform::CHECK,
    rms_against_waveform::CHECK,
    extension_against_ctwd::CHECK,
    pulses_against_counts::CHECK,
    drops_beyond_pulses::CHECK,
    drops_without_pulses::CHECK,
    drops_and_classes_both::CHECK,
    gross_outlier::CHECK,
    repeated_row::CHECK,
    implausible_errors::CHECK,
    gas_for_material::CHECK,
    transition_current::CHECK,
    few_trials::CHECK,
    one_ctwd::CHECK,
    pulse_current_levels::CHECK,
    counts_one_class::CHECK,
    totals_only::CHECK,
    arc_length_from_study::CHECK,
    blocks_confounded::CHECK,
    ctwd_from_study::CHECK,
    rms_assumed_equal_mean::CHECK,
    left_out_without_reason::CHECK,
    simulated_rows::CHECK,
    rows_without_what_a_law_needs::CHECK,
    no_repeats::CHECK,
];

/// What every check finds, in the order of [`CHECKS`].
pub fn run(study: &Study, trials: &Trials) -> Vec<Finding> {
    CHECKS.iter().flat_map(|check| (check.look)(study, trials)).collect()
}

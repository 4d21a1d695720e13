//! What is wrong or weak in the data, row by row. One check is one file.

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

//! Results as they are kept: the bodies of `laws.json` and `line.json`. Everything a report needs stands
//! in one of the two or in the table of trials, so it can be drawn again from the folder alone.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::checks::Finding;
use crate::constant_voltage::{BesideConstantVoltage, ConstantVoltageWeld};
use crate::extend::Extension;
use crate::gas::Gas;
use crate::laws::{CalibrationEffect, Laws};
use crate::line::Line;
use crate::setup::{ConfirmRule, Setup};
use crate::study::{Assumed, Bench, Conditions, LineRequest, Numerics, ReadingErrors, SourceLimits, Wire};
use crate::transition_current::TransitionCurrent;

/// The body of `laws.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LawsRecord {
    /// Name of the study.
    #[serde(default)]
    pub name: String,
    /// The wire.
    pub wire: Wire,
    /// The gas; null where the study does not say.
    pub gas: Option<Gas>,
    /// Why the gas is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub gas_reason: Option<String>,
    /// Conditions of the study.
    pub conditions: Conditions,
    /// Confidence of every interval.
    #[serde(default = "usual_confidence")]
    pub confidence: f64,
    /// Standard errors of one trial where its row states none; absent in laws of other programs and in extended
    /// ones.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reading_errors: Option<ReadingErrors>,
    /// Stated common errors and what they do.
    pub calibration: Vec<CalibrationEffect>,
    /// Calibration terms that the study does not state: no interval covers them.
    #[serde(default)]
    pub not_covered: Vec<String>,
    /// Defaults that the study did not state.
    #[serde(default)]
    pub assumed: Vec<Assumed>,
    /// What the checks found.
    #[serde(default)]
    pub findings: Vec<Finding>,
    /// Remarks from reading the tables.
    #[serde(default)]
    pub reading_notes: Vec<String>,
    /// The three laws.
    pub laws: Laws,
    /// Constant-voltage welds among the trials, to hold the line beside.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub constant_voltage_welds: Vec<ConstantVoltageWeld>,
    /// Where nobody welded what the laws are for: what they were extended from, and how.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extension: Option<Extension>,
}

/// The body of `line.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LineRecord {
    /// Name of the study.
    #[serde(default)]
    pub name: String,
    /// The wire.
    pub wire: Wire,
    /// The gas; null where the study does not say.
    pub gas: Option<Gas>,
    /// Why the gas is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub gas_reason: Option<String>,
    /// Conditions under which the line holds.
    pub conditions: Conditions,
    /// Confidence of every interval.
    #[serde(default = "usual_confidence")]
    pub confidence: f64,
    /// What was asked for.
    #[serde(default)]
    pub request: Option<LineRequest>,
    /// Where the trials were welded and how well each was measured; absent in lines of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub bench: Option<Bench>,
    /// Stated common errors and what they do, as in the laws file; absent in lines of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub calibration: Option<Vec<CalibrationEffect>>,
    /// Seed, draws and confidence of every interval; absent in lines of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub numerics: Option<Numerics>,
    /// Limits of the power source and feeder.
    pub source: SourceLimits,
    /// How torch, joint and machine were set up; absent in lines of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub setup: Option<Setup>,
    /// Margins to which confirmation welds will be held; absent in lines of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub confirm: Option<ConfirmRule>,
    /// The laws the line rests on.
    pub laws: Laws,
    /// Checksum of the laws file.
    pub laws_checksum: String,
    /// Transition current of the wire in the gas, where a table reaches it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub transition_current: Option<TransitionCurrent>,
    /// The line beside the study's constant-voltage welds.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub beside_constant_voltage: Vec<BesideConstantVoltage>,
    /// The composed line.
    #[serde(flatten)]
    pub line: Line,
}

/// The way back from a result to what it was made from; no clock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Provenance {
    /// Tool and version.
    pub tool: String,
    /// The study file.
    pub study: StudyReference,
    /// Every table.
    pub inputs: Vec<InputReference>,
    /// Seed of the random streams.
    pub seed: u64,
    /// Number of draws.
    pub draws: usize,
}

/// The study file by name and hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StudyReference {
    /// File name.
    pub file: String,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
}

/// A table by path, hash and what was used of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct InputReference {
    /// Path relative to the study, with `/`.
    pub file: String,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
    /// Rows read.
    pub rows: usize,
    /// Rows that at least one law used.
    pub rows_used: usize,
}

fn usual_confidence() -> f64 {
    0.95
}

/// Laws and where they come from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LawsWithOrigin<'a> {
    /// What they are called here: the file as it was given.
    pub name: &'a str,
    /// The laws.
    pub record: &'a LawsRecord,
    /// What they were made from.
    pub provenance: &'a Provenance,
    /// Checksum of their file.
    pub checksum: &'a str,
}

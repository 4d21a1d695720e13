//! One command is one file: read, call, write; no arithmetic.

pub(crate) mod at;
pub(crate) mod check;
pub(crate) mod cite;
pub(crate) mod compare;
pub(crate) mod completions;
pub(crate) mod compose;
pub(crate) mod demo;
pub(crate) mod develop;
pub(crate) mod export;
pub(crate) mod extend;
pub(crate) mod find;
pub(crate) mod fit;
pub(crate) mod man;
pub(crate) mod reduce;
pub(crate) mod report;
pub(crate) mod schema;

use std::collections::BTreeSet;
use std::path::Path;

use meltlaw::checks::{Finding, Severity};
use meltlaw::laws::Laws;
use meltlaw::record::{InputReference, Provenance, StudyReference};
use meltlaw::trials::Trials;
use meltlaw_files::{Inputs, ReadStudy, may_write};

use crate::failure::Failure;
use crate::output::Output;
use crate::words::finding_lines;

/// Tool and version, as it stands in every file.
pub(crate) const TOOL: &str = concat!("meltlaw ", env!("CARGO_PKG_VERSION"));

/// What several files warn of, each caution once.
fn joined_cautions<'a>(files: impl IntoIterator<Item = &'a [String]>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for caution in files.into_iter().flatten() {
        if !all.contains(caution) {
            all.push(caution.clone());
        }
    }
    all
}

/// Refuses several outputs before anything is written where one of them may not be.
fn refuse<P: AsRef<Path>>(outputs: impl IntoIterator<Item = P>, force: bool, inputs: &Inputs) -> Result<(), Failure> {
    outputs.into_iter().try_for_each(|path| Ok(may_write(path.as_ref(), force, inputs)?))
}

/// What `check` warns of, beside an answer that it concerns.
fn remark_findings(findings: &[Finding], output: &mut Output) {
    for finding in findings.iter().filter(|f| f.severity > Severity::Note) {
        output.remark_all(&finding_lines(finding));
    }
}

/// The way back from a result to its inputs.
fn provenance(read: &ReadStudy, laws: &Laws) -> Provenance {
    Provenance {
        tool: TOOL.to_owned(),
        study: StudyReference { file: read.file.clone(), sha256: read.sha256.clone() },
        inputs: inputs(&read.trials, laws),
        seed: read.study.numerics.seed,
        draws: read.study.numerics.draws,
    }
}

/// Names of the trials that a table holds, or to which it adds columns.
fn rows_of(trials: &Trials, source: usize) -> impl Iterator<Item = &str> {
    let joined = trials.sources[source].joined.iter().map(String::as_str);
    trials.rows.iter().filter(move |t| t.source == source).map(|t| t.name.as_str()).chain(joined)
}

/// Every table with its rows and how many of them some law used.
fn inputs(trials: &Trials, laws: &Laws) -> Vec<InputReference> {
    let used: BTreeSet<&str> =
        laws.by_name().iter().flat_map(|(_, law)| law.trials_used.iter().map(String::as_str)).collect();
    trials
        .sources
        .iter()
        .enumerate()
        .map(|(index, source)| InputReference {
            file: source.file.clone(),
            sha256: source.sha256.clone(),
            rows: source.rows,
            rows_used: rows_of(trials, index).filter(|name| used.contains(name)).count(),
        })
        .collect()
}

//! The report of a result folder, drawn again.

use std::path::Path;

use meltlaw_files::{LawsDocument, LineDocument, TableRequest, WriteError, read_trial_table, recover, verify};

use super::develop::result_folder;
use crate::arguments::ReportArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;

/// `meltlaw report DIR`.
pub(crate) fn run(arguments: &ReportArguments, output: &mut Output) -> Result<Exit, Failure> {
    let folder: &Path = &arguments.folder;
    recover(folder)?;
    verify(folder)?;
    let laws = LawsDocument::load(&folder.join("laws.json"))?;
    let line = LineDocument::load(&folder.join("line.json"))?;
    let trials = read_trial_table(folder, &TableRequest::of_file("trials.csv"))?;
    let table = std::fs::read_to_string(folder.join("trials.csv"))
        .map_err(|source| WriteError::Unreadable { path: folder.join("trials.csv"), source })?;
    result_folder(&laws, &line, &trials, table).write(folder, true)?;
    output.text(&format!("drawn again: {}", folder.join("report.html").display()));
    output.json(&serde_json::json!({ "out": folder.join("report.html").display().to_string() }));
    Ok(Exit::Done)
}

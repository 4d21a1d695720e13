//! The report of a result folder, drawn again.

use std::path::Path;

use meltlaw::trials::Trials;
use meltlaw_files::{Inputs, LawsDocument, LineDocument, TableRequest, read_listed, read_trial_table, recover, verify};

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
    // A line of what nobody welded has none; one that is missing otherwise was named above.
    let (trials, table) = if folder.join("trials.csv").exists() {
        let table = read_listed(folder, "trials.csv")?;
        (read_trial_table(folder, &TableRequest::of_file("trials.csv"))?, Some(table))
    } else {
        (Trials::default(), None)
    };
    // The folder itself is drawn again: what was read from it goes back into it.
    result_folder(&laws, &line, &trials, table).write(folder, true, &Inputs::default())?;
    output.text(&format!("drawn again: {}", folder.join("report.html").display()));
    output.json(&serde_json::json!({ "out": folder.join("report.html").display().to_string() }));
    Ok(Exit::Done)
}

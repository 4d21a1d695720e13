//! The laws with their diagnostics.

use meltlaw::develop;
use meltlaw_files::{LawsDocument, read_study, write_file};

use super::{cautions, provenance};
use crate::arguments::FitArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::law_lines;

/// `meltlaw fit STUDY --out LAWS.json`.
pub(crate) fn run(arguments: &FitArguments, output: &mut Output) -> Result<Exit, Failure> {
    let read = read_study(&arguments.study)?;
    let laws = develop::laws(&read.study, &read.trials).map_err(Failure::Stopped)?;
    let provenance = provenance(&read, &laws.laws);
    let document =
        LawsDocument::new(laws, cautions(), provenance).map_err(|e| Failure::Lost(arguments.out.clone(), e))?;
    write_file(&arguments.out, document.to_json().as_bytes(), arguments.force)?;
    law_lines(&document.body().laws, document.body().confidence).iter().for_each(|l| output.text(l));
    output.text(&format!(
        "next: meltlaw compose {} {} --out line.json",
        arguments.out.display(),
        arguments.study.display()
    ));
    let missing = document.body().laws.missing();
    output.json(&serde_json::json!({ "out": arguments.out.display().to_string(), "laws_missing": missing, "laws": document.body().laws, "findings": document.body().findings, "checksum": document.checksum() }));
    Ok(if missing.is_empty() { Exit::Done } else { Exit::InPart })
}

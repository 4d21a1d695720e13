//! The laws with their diagnostics.

use meltlaw::cautions::cautions;
use meltlaw::develop;
use meltlaw_files::{LawsDocument, read_study, write_file};

use super::{provenance, remark_findings};
use crate::arguments::FitArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{after_fit, law_lines, law_pictures, laws_in_short};

/// `meltlaw fit STUDY --out LAWS.json`.
pub(crate) fn run(arguments: &FitArguments, output: &mut Output) -> Result<Exit, Failure> {
    let read = read_study(&arguments.study)?;
    let laws = develop::laws(&read.study, &read.trials).map_err(Failure::Stopped)?;
    let provenance = provenance(&read, &laws.laws);
    let cautions = cautions(&[read.study.wire.material]);
    let document =
        LawsDocument::new(laws, cautions, provenance).map_err(|e| Failure::Lost(arguments.out.clone(), e))?;
    write_file(&arguments.out, document.to_json().as_bytes(), arguments.force, &read.inputs)?;
    remark_findings(&document.body().findings, output);
    let laws = &document.body().laws;
    output.tell(&laws_in_short("", laws));
    output.tell_all(&law_lines(laws, document.body().confidence, output.screen().width));
    output.picture(&law_pictures(laws, output.screen()));
    output.text("");
    output.next(&after_fit(laws, &arguments.out, &arguments.study));
    let missing = laws.missing();
    output.json(&serde_json::json!({ "out": arguments.out.display().to_string(), "laws_missing": missing, "laws": document.body().laws, "findings": document.body().findings, "checksum": document.checksum() }));
    Ok(if missing.is_empty() { Exit::Done } else { Exit::InPart })
}

//! The parameter line from fitted laws.

use meltlaw::cautions::cautions;
use meltlaw::develop;
use meltlaw::record::{Provenance, StudyReference};
use meltlaw_files::{Inputs, LawsDocument, LineDocument, read_asked_for, trials_csv, write_file};

use super::develop::result_folder;
use super::{TOOL, refuse};
use crate::arguments::ComposeArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{a_feed, command, path_as_typed, to_confirm, verdict_lines};

/// `meltlaw compose LAWS.json STUDY --out LINE.json`.
pub(crate) fn run(arguments: &ComposeArguments, output: &mut Output) -> Result<Exit, Failure> {
    let laws = LawsDocument::load(&arguments.laws)?;
    // A line for what nobody welded has no trials of its own.
    let read = read_asked_for(&arguments.study)?;
    let (theirs, ours) = (&laws.body().wire, &read.study.wire);
    if theirs.material != ours.material || (theirs.diameter_mm - ours.diameter_mm).abs() > 1e-9 {
        return Err(Failure::Mismatch(format!(
            "{} holds laws of {} {} mm, {} is for {} {} mm: laws hold only for the wire that was welded; fit this study, or name the study that the laws came from",
            arguments.laws.display(),
            theirs.material.word(),
            theirs.diameter_mm,
            arguments.study.display(),
            ours.material.word(),
            ours.diameter_mm
        )));
    }
    if laws.body().gas != read.study.gas {
        output.remark(
            "warning: the laws were fitted with another gas than the study states; the line carries the study's gas",
        );
    }
    let provenance = Provenance {
        tool: TOOL.to_owned(),
        study: StudyReference { file: read.file.clone(), sha256: read.sha256.clone() },
        inputs: laws.provenance().inputs.clone(),
        seed: read.study.numerics.seed,
        draws: read.study.numerics.draws,
    };
    let line = develop::line(&read.study, laws.body(), laws.checksum());
    let cautions = cautions(&[read.study.wire.material]);
    let document =
        LineDocument::new(line, cautions, provenance).map_err(|e| Failure::Lost(arguments.out.clone(), e))?;
    let inputs = read.inputs.clone().and(Inputs::of([&arguments.laws]));
    refuse([Some(&arguments.out), arguments.report.as_ref()].into_iter().flatten(), arguments.force, &inputs)?;
    if let Some(report) = &arguments.report {
        let table = (!read.trials.rows.is_empty()).then(|| trials_csv(&read.study.name, &read.trials, laws.cautions()));
        result_folder(&laws, &document, &read.trials, table).write(report, arguments.force, &inputs)?;
    }
    write_file(&arguments.out, document.to_json().as_bytes(), arguments.force, &inputs)?;
    output.tell_all(&verdict_lines(document.body(), output.screen().width));
    if let Some(report) = &arguments.report {
        output.text(&format!("{}: the line with its reasons, to look at", report.join("report.html").display()));
    }
    let out = path_as_typed(&arguments.out);
    let line = &document.body().line;
    output.next(&match a_feed(line) {
        Some(feed) => format!(
            "weld {} m/min to confirm them; {} shows a setting in full",
            to_confirm(line),
            command(format_args!("meltlaw at {out} {feed}"))
        ),
        None => format!("weld or mend what is named above; {out} holds the reasons"),
    });
    output.json(&serde_json::json!({ "out": arguments.out.display().to_string(), "report": arguments.report.as_ref().map(|r| r.display().to_string()), "line": document.body().line, "checksum": document.checksum() }));
    Ok(if document.body().line.nodes.is_empty() { Exit::InPart } else { Exit::Done })
}

//! The whole job: read, check, fit, compose, draw, report.

use meltlaw::cautions::cautions;
use meltlaw::develop;
use meltlaw::trials::Trials;
use meltlaw_files::{
    DATA_PACKAGE_FILE, LawsDocument, LineDocument, ResultFolder, data_package, line_csv, read_study, trials_csv,
};
use meltlaw_report::{ReportInput, draw};

use super::{TOOL, provenance, remark_findings};
use crate::arguments::DevelopArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{law_lines, to_confirm, verdict_lines, wire_words};

/// `meltlaw develop STUDY`.
pub(crate) fn run(arguments: &DevelopArguments, output: &mut Output) -> Result<Exit, Failure> {
    let read = read_study(&arguments.study)?;
    let out = arguments.out.clone().unwrap_or_else(|| read.folder.join("result"));
    let laws = develop::laws(&read.study, &read.trials).map_err(Failure::Stopped)?;
    let provenance = provenance(&read, &laws.laws);
    let cautions = cautions(&[read.study.wire.material]);
    let laws = LawsDocument::new(laws, cautions.clone(), provenance.clone())
        .map_err(|e| Failure::Lost("laws.json".into(), e))?;
    let line = develop::line(&read.study, laws.body(), laws.checksum());
    let line = LineDocument::new(line, cautions, provenance).map_err(|e| Failure::Lost("line.json".into(), e))?;
    let table = trials_csv(&read.study.name, &read.trials, laws.cautions());
    result_folder(&laws, &line, &read.trials, Some(table)).write(&out, arguments.force, &read.inputs)?;

    remark_findings(&laws.body().findings, output);
    output.heading(&format!("{}: {}", read.study.name, wire_words(&read.study.wire)));
    output.tell_all(&law_lines(&laws.body().laws, laws.body().confidence, output.screen().width));
    output.text("");
    output.heading("line");
    output.tell_all(&verdict_lines(line.body(), output.screen().width));
    output.text("");
    let report = out.join("report.html");
    output.next(&if line.body().line.nodes.is_empty() {
        format!("weld or mend what is named above; {} shows what there is", report.display())
    } else {
        format!(
            "open {} and read the verdict; then weld {} m/min to confirm them",
            report.display(),
            to_confirm(&line.body().line)
        )
    });
    output.json(&serde_json::json!({
        "out": out.display().to_string(),
        "laws_missing": laws.body().laws.missing(),
        "line": line.body().line,
        "findings": laws.body().findings,
        "checksum": { "laws": laws.checksum(), "line": line.checksum() },
    }));
    Ok(if line.body().line.nodes.is_empty() { Exit::InPart } else { Exit::Done })
}

/// Every file of a result, in memory: the folder appears whole or not at all. A line of what nobody welded has no
/// table of trials.
pub(crate) fn result_folder(
    laws: &LawsDocument,
    line: &LineDocument,
    trials: &Trials,
    trials_csv: Option<String>,
) -> ResultFolder {
    let report = draw(&ReportInput {
        laws: laws.body(),
        line: line.body(),
        trials,
        provenance: laws.provenance(),
        cautions: laws.cautions(),
        checksum_laws: laws.checksum(),
        checksum_line: line.checksum(),
    });
    let mut folder = ResultFolder::new(TOOL);
    folder.add("laws.json", laws.to_json());
    folder.add("line.json", line.to_json());
    folder.add("line.csv", line_csv(line));
    if let Some(table) = trials_csv {
        folder.add("trials.csv", table);
    }
    folder.add("report.html", report.html);
    for (name, text) in report.plots.into_iter().chain(report.plot_data) {
        folder.add(format!("plots/{name}"), text);
    }
    folder.add(DATA_PACKAGE_FILE, data_package(laws, line, folder.files()));
    folder
}

//! What is wrong or weak in the data, row by row.

use meltlaw::checks::{self, Severity};
use meltlaw_files::read_study;

use crate::arguments::StudyArgument;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::finding_lines;

/// `meltlaw check STUDY`.
pub(crate) fn run(arguments: &StudyArgument, output: &mut Output) -> Result<Exit, Failure> {
    let read = read_study(&arguments.study)?;
    let findings = checks::run(&read.study, &read.trials);
    output.heading(&format!(
        "{}: {} rows from {} table(s)",
        read.study.name,
        read.trials.rows.len(),
        read.trials.sources.len()
    ));
    for source in &read.trials.sources {
        output.text(&format!("  {}: {} rows, read as {}", source.file, source.rows, source.read_as));
    }
    for note in &read.trials.reading_notes {
        output.text(&format!("  {note}"));
    }
    let mut worst_first: Vec<&checks::Finding> = findings.iter().collect();
    worst_first.sort_by_key(|f| std::cmp::Reverse(f.severity));
    for finding in worst_first {
        finding_lines(finding).iter().for_each(|l| output.text(l));
    }
    let count = |s: Severity| findings.iter().filter(|f| f.severity == s).count();
    let (stops, warnings, notes) = (count(Severity::Stop), count(Severity::Warning), count(Severity::Note));
    output.text(&format!("{stops} stop, {warnings} warning(s), {notes} note(s)"));
    output.text(if stops > 0 {
        "next: mend the rows under stop, or set use = no with a note; nothing is fitted before that"
    } else {
        "next: meltlaw develop, with the same study"
    });
    output.json(&serde_json::json!({
        "study": read.study.name,
        "rows": read.trials.rows.len(),
        "tables": read.trials.sources.iter().map(|s| serde_json::json!({ "file": s.file, "sha256": s.sha256, "rows": s.rows, "read_as": s.read_as })).collect::<Vec<_>>(),
        "reading_notes": read.trials.reading_notes,
        "findings": findings,
    }));
    Ok(if stops > 0 { Exit::Input } else { Exit::Done })
}

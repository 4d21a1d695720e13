//! What is wrong or weak in the data, row by row.

use meltlaw::checks::{self, Severity};
use meltlaw::fit::fit_laws;
use meltlaw::laws::Laws;
use meltlaw_files::read_study;

use crate::arguments::StudyArgument;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{finding_lines, weakness_lines, wrapped};

/// `meltlaw check STUDY`.
pub(crate) fn run(arguments: &StudyArgument, output: &mut Output) -> Result<Exit, Failure> {
    let read = read_study(&arguments.study)?;
    let findings = checks::run(&read.study, &read.trials);
    let count = |s: Severity| findings.iter().filter(|f| f.severity == s).count();
    let (stops, warnings, notes) = (count(Severity::Stop), count(Severity::Warning), count(Severity::Note));
    output.heading(&format!(
        "{}: {} in {} from {}",
        read.study.name,
        counted(&[(stops, "stop"), (warnings, "warning"), (notes, "note")]),
        plural(read.trials.rows.len(), "row"),
        plural(read.trials.sources.len(), "table")
    ));
    for source in &read.trials.sources {
        output.text(&format!("  {}: {} rows, read as {}", source.file, source.rows, source.read_as));
    }
    for note in &read.trials.reading_notes {
        wrapped("  ", note).iter().for_each(|l| output.text(l));
    }
    let mut worst_first: Vec<&checks::Finding> = findings.iter().collect();
    worst_first.sort_by_key(|f| std::cmp::Reverse(f.severity));
    for finding in worst_first {
        finding_lines(finding).iter().for_each(|l| output.text(l));
    }
    // What the laws say of the trials is part of what is weak in the data; nothing is written.
    let laws = (stops == 0).then(|| fit_laws(&read.study, &read.trials).laws);
    let fit_warnings = laws
        .as_ref()
        .map_or(0, |laws| laws.by_name().iter().flat_map(|(_, law)| law.tests.values()).filter(|t| t.warns).count());
    if let Some(laws) = &laws {
        output.heading("what the laws say of the trials");
        weakness_lines(laws).iter().for_each(|l| output.text(l));
    }
    let next = match (stops, warnings + fit_warnings) {
        (0, 0) => "meltlaw develop, with the same study",
        (0, _) => "look at the warnings, then meltlaw develop, with the same study",
        _ => "mend the rows under stop, or set use = no with a note; nothing is fitted before that",
    };
    output.text(&format!("next: {next}"));
    output.json(&serde_json::json!({
        "study": read.study.name,
        "rows": read.trials.rows.len(),
        "tables": read.trials.sources.iter().map(|s| serde_json::json!({ "file": s.file, "sha256": s.sha256, "rows": s.rows, "read_as": s.read_as })).collect::<Vec<_>>(),
        "reading_notes": read.trials.reading_notes,
        "counts": { "stop": stops, "warning": warnings, "note": notes },
        "findings": findings,
        "tests": laws.as_ref().map(tests_by_law),
        "next": next,
    }));
    Ok(if stops > 0 { Exit::Input } else { Exit::Done })
}

/// Tests, plausibility and flagged trials of each law.
fn tests_by_law(laws: &Laws) -> serde_json::Value {
    laws.by_name()
        .into_iter()
        .map(|(name, law)| {
            let flagged: Vec<_> = law.diagnostics.iter().filter(|d| !d.flags.is_empty()).collect();
            let told = serde_json::json!({
                "ended": law.ended, "tests": law.tests, "plausibility": law.plausibility, "trials": flagged,
            });
            (name.to_owned(), told)
        })
        .collect::<serde_json::Map<_, _>>()
        .into()
}

/// `2 warnings, 1 note`: what occurs; `nothing found` where nothing does.
fn counted(things: &[(usize, &str)]) -> String {
    let some: Vec<String> =
        things.iter().filter(|(count, _)| *count > 0).map(|(count, name)| plural(*count, name)).collect();
    if some.is_empty() { "nothing found".to_owned() } else { some.join(", ") }
}

fn plural(count: usize, name: &str) -> String {
    format!("{count} {name}{}", if count == 1 { "" } else { "s" })
}

//! What is wrong or weak in the data, row by row.

use meltlaw::checks::{self, Severity};
use meltlaw::fit::fit_laws;
use meltlaw::fit::prior_pull::contradictions;
use meltlaw::laws::Laws;
use meltlaw_files::read_study;

use crate::arguments::StudyArgument;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::told::Told;
use crate::words::{after_check, counted, finding_lines, laws_in_short, marked, plural, trial_picture, weakness_lines};

/// `meltlaw check STUDY`.
pub(crate) fn run(arguments: &StudyArgument, output: &mut Output) -> Result<Exit, Failure> {
    let read = read_study(&arguments.study)?;
    let mut findings = checks::run(&read.study, &read.trials);
    // What the laws say of the trials is part of what is weak in the data; nothing is written.
    let stopped = findings.iter().any(|f| f.severity == Severity::Stop);
    let laws = (!stopped).then(|| fit_laws(&read.study, &read.trials).laws);
    findings.extend(laws.iter().flat_map(contradictions));
    let count = |s: Severity| findings.iter().filter(|f| f.severity == s).count();
    let (stops, warnings, notes) = (count(Severity::Stop), count(Severity::Warning), count(Severity::Note));
    let counts = counted(&[(stops, "stop"), (warnings, "warning"), (notes, "note")]);
    let (rows, tables) = (plural(read.trials.rows.len(), "row"), plural(read.trials.sources.len(), "table"));
    output.tell(&marked(format!("{counts} in {rows} from {tables}"), stops + warnings > 0));
    output.text(&format!("  {}", read.study.name));
    for source in &read.trials.sources {
        output.text(&format!("  {}: {}, read as {}", source.file, plural(source.rows, "row"), source.read_as));
    }
    for note in &read.trials.reading_notes {
        output.tell(&Told::new("  ", note.as_str()));
    }
    let mut worst_first: Vec<&checks::Finding> = findings.iter().collect();
    worst_first.sort_by_key(|f| std::cmp::Reverse(f.severity));
    for finding in worst_first {
        output.tell_all(&finding_lines(finding));
    }
    let fit_warnings = laws
        .as_ref()
        .map_or(0, |laws| laws.by_name().iter().flat_map(|(_, law)| law.tests.values()).filter(|t| t.warns).count());
    if let Some(laws) = &laws {
        output.text("");
        output.tell(&laws_in_short("what the laws say of the trials: ", laws));
        output.tell_all(&weakness_lines(laws));
    }
    let next = match (stops, warnings + fit_warnings) {
        (0, 0) => "meltlaw develop, with the same study",
        (0, _) => "look at the warnings, then meltlaw develop, with the same study",
        _ => "mend the rows under stop, or set use = no with a note; nothing is fitted before that",
    };
    output.picture(&trial_picture(&read.trials, &findings, laws.as_ref(), output.screen()));
    output.text("");
    output.next(&after_check(&arguments.study, stops, warnings + fit_warnings, laws.as_ref()));
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

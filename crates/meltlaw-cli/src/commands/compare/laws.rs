//! Laws held against margins.

use std::path::{Path, PathBuf};

use meltlaw::compare::laws::{LawsComparison, Terms, WireLaws, compare_laws};
use meltlaw::record::LawsWithOrigin;
use meltlaw::study::Margins;
use meltlaw_files::{Inputs, LawsDocument, ResultFolder, comparison_methods, read_asked_for, spelt_out};
use meltlaw_report::{LawsComparisonInput, draw_laws_comparison};
use serde_json::{Value, json};

use crate::arguments::CompareArguments;
use crate::commands::{TOOL, joined_cautions};
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{after_laws_comparison, laws_comparison_lines, laws_comparison_picture};

/// Laws under the name that they are told by.
type Named = (String, LawsDocument);

/// Compares laws that were loaded, and those of `--batches`.
pub(super) fn run(
    arguments: &CompareArguments,
    files: Vec<(&PathBuf, LawsDocument)>,
    output: &mut Output,
) -> Result<Exit, Failure> {
    let mut wires: Vec<(String, Vec<Named>)> =
        files.into_iter().map(|(path, d)| (shown(path), vec![(shown(path), d)])).collect();
    for batches in &arguments.batches {
        let loaded = batches
            .0
            .iter()
            .map(|path| Ok((shown(path), LawsDocument::load(&laws_file(path))?)))
            .collect::<Result<Vec<Named>, Failure>>()?;
        wires.push((name_of(&loaded, &wires), loaded));
    }
    if wires.iter().map(|(_, b)| b.len()).sum::<usize>() < 2 {
        return Err(Failure::Usage("one laws file was found: two are needed; name the other too".to_owned()));
    }
    distinct(&mut wires);
    let (margins, margins_from, of_study) = margins(arguments.margins.as_deref())?;
    let named = arguments.files.iter().chain(arguments.batches.iter().flat_map(|b| &b.0));
    let inputs = Inputs::of(named.map(|path| laws_file(path))).and(of_study);
    let terms = Terms {
        margins,
        margins_from,
        same_instruments: arguments.same_instruments.as_ref().map_or(Vec::new(), |s| s.0.clone()),
        seed: wires.first().and_then(|w| w.1.first()).map_or(1, |(_, d)| d.provenance().seed),
    };
    let sides: Vec<WireLaws<'_>> = wires
        .iter()
        .map(|(name, batches)| WireLaws { name: name.clone(), batches: batches.iter().map(with_origin).collect() })
        .collect();
    let comparison = compare_laws(&sides, &terms).map_err(|e| Failure::Mismatch(e.to_string()))?;
    let cautions = joined_cautions(wires.iter().flat_map(|w| &w.1).map(|(_, document)| document.cautions()));
    let document = as_json(&comparison, &cautions, arguments.out.as_deref());
    if let Some(out) = &arguments.out {
        folder(&comparison, &cautions, &document).write(out, arguments.force, &inputs)?;
    }
    output.tell_all(&laws_comparison_lines(&comparison));
    output.picture(&laws_comparison_picture(&comparison, output.screen()));
    output.text("");
    if let Some(out) = &arguments.out {
        output.text(&format!("{}: page, figures, tables and methods", out.join("comparison.html").display()));
    }
    output.next(&after_laws_comparison(&comparison, arguments.out.as_deref()));
    output.json(&document);
    let missing = comparison.comparisons.iter().any(|c| c.difference.is_none());
    Ok(if missing { Exit::InPart } else { Exit::Done })
}

fn shown(path: &Path) -> String {
    spelt_out(&path.display().to_string())
}

fn laws_file(path: &Path) -> PathBuf {
    if path.is_dir() { path.join("laws.json") } else { path.to_owned() }
}

fn with_origin((name, document): &Named) -> LawsWithOrigin<'_> {
    LawsWithOrigin { name, record: document.body(), provenance: document.provenance(), checksum: document.checksum() }
}

/// Batches are called by their wire's designation where it is one, else by their files.
fn name_of(batches: &[Named], wires: &[(String, Vec<Named>)]) -> String {
    let designation = |(_, d): &Named| d.body().wire.designation.clone();
    let first = batches.first().map(designation).unwrap_or_default();
    let one = !first.is_empty() && batches.iter().all(|b| designation(b) == first);
    let name = if one {
        format!("{first}, {} batches", batches.len())
    } else {
        batches.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>().join(" and ")
    };
    if wires.iter().any(|(n, _)| *n == name) { format!("{name} (again)") } else { name }
}

/// Two wires of one name could not be told apart in the answer.
fn distinct(wires: &mut [(String, Vec<Named>)]) {
    for place in 1..wires.len() {
        let (before, rest) = wires.split_at_mut(place);
        let seen = before.iter().filter(|(n, _)| *n == rest[0].0).count();
        if seen > 0 {
            rest[0].0 = format!("{} ({})", rest[0].0, seen + 1);
        }
    }
}

/// Margins of a study's `[compare]`, where they are from, and the files read; the usual ones where none is named or it states
/// none.
fn margins(study: Option<&Path>) -> Result<(Margins, String, Inputs), Failure> {
    let Some(path) = study else {
        let from = "assumed: the usual margins; state yours with --margins STUDY".to_owned();
        return Ok((Margins::default(), from, Inputs::default()));
    };
    let read = read_asked_for(path)?;
    let left_open: Vec<&str> = read.study.assumed.iter().filter_map(|a| a.key.strip_prefix("compare.")).collect();
    let from = if left_open.is_empty() {
        shown(path)
    } else {
        format!("{}; assumed, since its [compare] does not state them: {}", shown(path), left_open.join(", "))
    };
    Ok((read.study.compare, from, read.inputs))
}

fn as_json(comparison: &LawsComparison, cautions: &[String], out: Option<&Path>) -> Value {
    let mut document = json!(comparison);
    document["tool"] = json!(TOOL);
    document["cautions"] = json!(cautions);
    document["out"] = json!(out.map(|o| vec![o.display().to_string()]).unwrap_or_default());
    document
}

/// Everything that `--out` writes.
fn folder(comparison: &LawsComparison, cautions: &[String], document: &Value) -> ResultFolder {
    let page = draw_laws_comparison(&LawsComparisonInput { comparison, cautions, tool: TOOL });
    let mut folder = ResultFolder::new(TOOL);
    let mut whole = serde_json::to_string_pretty(document).unwrap_or_default();
    whole.push('\n');
    folder.add("comparison.json", whole);
    folder.add("comparison.html", page.html);
    for (name, text) in page.files {
        folder.add(name, text);
    }
    let (methods, references) = comparison_methods(comparison);
    folder.add("methods.txt", methods);
    folder.add("references.bib", references);
    folder
}

//! Lines held against the first.

use std::path::{Path, PathBuf};

use meltlaw::compare::lines::{LineComparison, LineWithOrigin, compare_lines};
use meltlaw_files::{Inputs, LineDocument, spelt_out, write_file};
use meltlaw_report::{ComparedLines, ComparisonFigure, draw_comparison};
use serde_json::{Value, json};

use crate::arguments::CompareArguments;
use crate::commands::{joined_cautions, refuse};
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{after_compare, comparison_lines, comparison_picture};

/// Compares lines that were loaded.
pub(super) fn run(
    arguments: &CompareArguments,
    documents: Vec<LineDocument>,
    output: &mut Output,
) -> Result<Exit, Failure> {
    let names: Vec<String> = arguments.files.iter().map(|path| spelt_out(&path.display().to_string())).collect();
    let (Some(first), Some(first_name)) = (documents.first(), names.first()) else { unreachable!("clap asks for two") };
    let with = |document| LineWithOrigin { record: LineDocument::body(document), provenance: document.provenance() };
    let comparisons: Vec<LineComparison> =
        documents[1..].iter().map(|second| compare_lines(with(first), with(second))).collect();
    let pairs: Vec<ComparedLines<'_>> = documents[1..]
        .iter()
        .zip(&names[1..])
        .zip(&comparisons)
        .map(|((second, second_name), comparison)| ComparedLines {
            first: first.body(),
            second: second.body(),
            first_name,
            second_name,
            comparison,
        })
        .collect();
    let written = match (&arguments.out, draw_comparison(&pairs)) {
        (Some(out), Some(figure)) => Some((write(out, &figure, arguments)?, figure.caption)),
        (Some(_), None) => {
            output
                .remark("warning: no line has a setting at any feed, so there is nothing to draw; no file was written");
            None
        }
        (None, _) => None,
    };
    for (place, pair) in pairs.iter().enumerate() {
        if place > 0 {
            output.text("");
        }
        output.tell_all(&comparison_lines(pair, output.screen().width));
        output.picture(&comparison_picture(pair, output.screen()));
    }
    output.text("");
    if let Some(([svg, csv], caption)) = &written {
        output.text(&format!("{}: {caption}", svg.display()));
        output.text(&format!("{}: its numbers in full", csv.display()));
    }
    output.text("a line is a starting point: qualify the procedure under the code that applies");
    output.next(&after_compare(&arguments.files, &comparisons));
    let written = written.as_ref().map(|(files, _)| files.iter().map(|f| f.display().to_string()).collect::<Vec<_>>());
    output.json(&as_json(arguments, &documents, &comparisons, written));
    let missing = documents.iter().any(|d| d.body().line.nodes.is_empty());
    Ok(if missing { Exit::InPart } else { Exit::Done })
}

/// The drawing, and its numbers beside it; neither where one of them may not be replaced.
fn write(out: &Path, figure: &ComparisonFigure, arguments: &CompareArguments) -> Result<[PathBuf; 2], Failure> {
    if out.extension().is_none_or(|e| !e.eq_ignore_ascii_case("svg")) {
        let found = out.display();
        return Err(Failure::Usage(format!(
            "--out is {found}, a name that ends in .svg was needed; give for example --out changes.svg"
        )));
    }
    let files = [out.to_owned(), out.with_extension("csv")];
    let (force, inputs) = (arguments.force, Inputs::of(&arguments.files));
    refuse(&files, force, &inputs)?;
    write_file(&files[1], figure.csv.as_bytes(), force, &inputs)?;
    write_file(&files[0], figure.svg.as_bytes(), force, &inputs)?;
    Ok(files)
}

fn as_json(
    arguments: &CompareArguments,
    documents: &[LineDocument],
    comparisons: &[LineComparison],
    written: Option<Vec<String>>,
) -> Value {
    let whole: Vec<(&PathBuf, &LineDocument)> = arguments.files.iter().zip(documents).collect();
    let of = |(path, document): (&PathBuf, &LineDocument)| json!({ "file": path.display().to_string(), "name": document.body().name, "checksum": document.checksum(), "standing": document.body().line.standing });
    let mut all: Vec<Value> = Vec::new();
    let mut lines: Vec<Value> = Vec::new();
    for (&(path, document), comparison) in whole[1..].iter().zip(comparisons) {
        let mut about = of((path, document));
        let Value::Object(members) = json!(comparison) else { unreachable!("a struct is an object") };
        for (key, value) in members {
            if key == "comparisons" {
                // The contract's list holds those of every line, each with its file.
                all.extend(value.as_array().into_iter().flatten().map(|c| {
                    let mut c = c.clone();
                    c["file"] = json!(path.display().to_string());
                    c
                }));
            } else {
                about[&key] = value;
            }
        }
        lines.push(about);
    }
    let overall = comparisons.iter().map(|c| c.overall).collect::<Vec<_>>();
    json!({
        "first": of(whole[0]),
        "lines": lines,
        "comparisons": all,
        // One word where one line was held against the first, else one for each.
        "overall": if let [one] = overall[..] { json!(one) } else { json!(overall) },
        "out": written.unwrap_or_default(),
        "cautions": joined_cautions(documents.iter().map(LineDocument::cautions)),
    })
}

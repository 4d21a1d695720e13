//! Laws for what nobody has welded.

use std::path::{Path, PathBuf};

use meltlaw::cautions::cautions;
use meltlaw::develop;
use meltlaw::extend::{ExtensionRequest, Target, extend};
use meltlaw::record::{InputReference, LawsWithOrigin, Provenance, StudyReference};
use meltlaw_files::{Inputs, LawsDocument, ResultFolder, extension_methods, read_study, spelt_out, write_file};
use meltlaw_report::{ExtensionInput, draw_extension};

use super::{TOOL, provenance, refuse};
use crate::arguments::ExtendArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{after_extend, extension_lines};

/// `meltlaw extend STUDY… --out LAWS.json`.
pub(crate) fn run(arguments: &ExtendArguments, output: &mut Output) -> Result<Exit, Failure> {
    let mut inputs = Inputs::default();
    let bases = arguments
        .studies
        .iter()
        .map(|path| {
            let (document, read) = base(path)?;
            inputs = std::mem::take(&mut inputs).and(read);
            Ok((spelt_out(&path.display().to_string()), document))
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    let Some((_, first)) = bases.first() else { unreachable!("clap asks for one") };
    let target = Target {
        wire_diameter_mm: arguments.wire_diameter_mm,
        carbon_dioxide_per_cent: arguments.carbon_dioxide,
        ctwd_mm: arguments.ctwd_mm,
        wire_feed_m_min: arguments.wire_feed_m_min.map(|f| f.0),
        any_batch: arguments.any_batch,
    };
    let request = ExtensionRequest {
        target,
        heterogeneity_relative: arguments.heterogeneity_relative,
        detachment_power: arguments.detachment_power,
        seed: first.provenance().seed,
        draws: first.provenance().draws.max(1000),
    };
    let with_origin: Vec<LawsWithOrigin<'_>> = bases
        .iter()
        .map(|(name, d)| LawsWithOrigin { name, record: d.body(), provenance: d.provenance(), checksum: d.checksum() })
        .collect();
    let laws = extend(&with_origin, &request).map_err(|e| Failure::Mismatch(e.to_string()))?;
    let origin = joined(&with_origin, request.draws);
    let cautions = cautions(&[laws.wire.material]);
    let document = LawsDocument::new(laws, cautions, origin).map_err(|e| Failure::Lost(arguments.out.clone(), e))?;
    refuse([Some(&arguments.out), arguments.report.as_ref()].into_iter().flatten(), arguments.force, &inputs)?;
    if let Some(report) = &arguments.report {
        folder(&document).write(report, arguments.force, &inputs)?;
    }
    write_file(&arguments.out, document.to_json().as_bytes(), arguments.force, &inputs)?;
    output.tell_all(&extension_lines(document.body(), output.screen().width));
    output.text("");
    if let Some(report) = &arguments.report {
        output.text(&format!("{}: page, figures, tables and methods", report.join("extension.html").display()));
    }
    output.next(&after_extend(document.body(), &arguments.out));
    let missing = document.body().laws.missing();
    output.json(&serde_json::json!({
        "out": arguments.out.display().to_string(),
        "report": arguments.report.as_ref().map(|r| r.display().to_string()),
        "laws_missing": missing,
        "laws": document.body().laws,
        "extension": document.body().extension,
        "checksum": document.checksum(),
        "cautions": document.cautions(),
    }));
    Ok(if missing.is_empty() { Exit::Done } else { Exit::InPart })
}

/// Laws of a laws file, a result folder, or a study that is fitted on the way, with the files that were read.
fn base(path: &Path) -> Result<(LawsDocument, Inputs), Failure> {
    let of_result = path.join("laws.json");
    let is_json = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("json"));
    if path.is_file() && is_json {
        return Ok((LawsDocument::load(path)?, Inputs::of([path])));
    }
    if path.is_dir() && of_result.is_file() && !path.join("study.toml").is_file() {
        return Ok((LawsDocument::load(&of_result)?, Inputs::of([of_result])));
    }
    let read = read_study(path)?;
    let laws = develop::laws(&read.study, &read.trials).map_err(Failure::Stopped)?;
    let origin = provenance(&read, &laws.laws);
    let cautions = cautions(&[laws.wire.material]);
    let document =
        LawsDocument::new(laws, cautions, origin).map_err(|e| Failure::Lost(PathBuf::from("laws.json"), e))?;
    Ok((document, read.inputs))
}

/// The way back to every table of every study: paths stay unique by the study that they belong to.
fn joined(bases: &[LawsWithOrigin<'_>], draws: usize) -> Provenance {
    let first = bases[0].provenance;
    Provenance {
        tool: TOOL.to_owned(),
        study: StudyReference { file: first.study.file.clone(), sha256: first.study.sha256.clone() },
        inputs: bases
            .iter()
            .enumerate()
            .flat_map(|(place, base)| {
                base.provenance.inputs.iter().map(move |input| InputReference {
                    file: format!("study-{}/{}", place + 1, input.file),
                    ..input.clone()
                })
            })
            .collect(),
        seed: first.seed,
        draws,
    }
}

/// Everything that `--report` writes.
fn folder(document: &LawsDocument) -> ResultFolder {
    let page = draw_extension(&ExtensionInput {
        laws: document.body(),
        cautions: document.cautions(),
        tool: TOOL,
        checksum: document.checksum(),
    });
    let mut folder = ResultFolder::new(TOOL);
    folder.add("laws.json", document.to_json());
    folder.add("extension.html", page.html);
    for (name, text) in page.files {
        folder.add(name, text);
    }
    if let Some(extension) = &document.body().extension {
        let (methods, references) = extension_methods(extension, document.body().laws.carried.as_ref());
        folder.add("methods.txt", methods);
        folder.add("references.bib", references);
    }
    folder
}

//! How to cite a result.

use meltlaw_files::cite;
use serde_json::{Value, json};

use crate::arguments::CiteArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{citation_lines, path_as_typed};

/// `meltlaw cite DIR`.
pub(crate) fn run(arguments: &CiteArguments, output: &mut Output) -> Result<Exit, Failure> {
    let citation = cite(&arguments.folder)?;
    let bibtex = citation.bibtex();
    if arguments.bibtex {
        output.verbatim(&bibtex);
        return Ok(Exit::Done);
    }
    output.tell_all(&citation_lines(&citation));
    output.text("");
    output.heading("BibTeX");
    output.verbatim(&bibtex);
    output.text("");
    output.next(&format!(
        "meltlaw cite {} --bibtex > result.bib; add the authors of the trials to the entry of the result",
        path_as_typed(&arguments.folder)
    ));
    let mut document = json!(citation);
    document["bibtex"] = Value::from(bibtex);
    output.json(&document);
    Ok(Exit::Done)
}

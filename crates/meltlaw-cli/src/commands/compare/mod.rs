//! Results held against each other: laws against margins, lines against the first.

mod laws;
mod lines;

use std::path::{Path, PathBuf};

use meltlaw_files::{DocumentError, LawsDocument, LineDocument};

use crate::arguments::CompareArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;

/// A file of either kind.
enum Loaded {
    Laws(Box<LawsDocument>),
    Line(Box<LineDocument>),
}

/// `meltlaw compare FILE FILE…`.
pub(crate) fn run(arguments: &CompareArguments, output: &mut Output) -> Result<Exit, Failure> {
    let (mut of_laws, mut of_lines) = (Vec::new(), Vec::new());
    for path in &arguments.files {
        match load(path)? {
            Loaded::Laws(document) => of_laws.push((path, *document)),
            Loaded::Line(document) => of_lines.push((path, *document)),
        }
    }
    let for_laws = !arguments.batches.is_empty() || arguments.margins.is_some() || arguments.same_instruments.is_some();
    match (&of_laws[..], &of_lines[..]) {
        ([(laws, _), ..], [(line, _), ..]) => Err(Failure::Usage(format!(
            "{} holds laws and {} a line: files of one kind are needed; give laws or lines",
            laws.display(),
            line.display()
        ))),
        ([], [(line, _), ..]) if for_laws => Err(Failure::Usage(format!(
            "{} is a line, and --batches, --margins and --same-instruments are for laws; give laws files, or leave the options out",
            line.display()
        ))),
        ([], [(line, _)]) => {
            Err(Failure::Usage(format!("one line was found, {}: two are needed; name the other too", line.display())))
        }
        ([], [_, _, ..]) => lines::run(arguments, of_lines.into_iter().map(|(_, d)| d).collect(), output),
        _ => laws::run(arguments, of_laws, output),
    }
}

/// A laws or line file; a result folder stands for its laws.
fn load(path: &Path) -> Result<Loaded, Failure> {
    let path: PathBuf = if path.is_dir() { path.join("laws.json") } else { path.to_owned() };
    match LineDocument::load(&path) {
        Ok(line) => Ok(Loaded::Line(Box::new(line))),
        Err(DocumentError::WrongFormat { .. }) => Ok(Loaded::Laws(Box::new(LawsDocument::load(&path)?))),
        Err(other) => Err(other.into()),
    }
}

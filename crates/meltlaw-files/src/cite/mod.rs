//! How to cite a result: the tool, the data by their hashes, and the methods that this result rests on with their
//! published sources, as text and as BibTeX.

mod beside;
mod bibtex;
mod latex;
mod methods;
mod references;
mod tool;

use std::path::Path;

use meltlaw::record::{InputReference, StudyReference};
use serde::Serialize;
use thiserror::Error;

pub use self::beside::{comparison_methods, extension_methods};
pub use self::methods::Method;
pub use self::references::Reference;
pub use self::tool::Tool;
use crate::document::{DocumentError, LawsDocument, LineDocument};
use crate::read::limits::LARGEST_MANIFEST_BYTES;
use crate::regular_file;
use crate::write::{MANIFEST_FILE, WriteError, verify};

/// What a citation of a result says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Citation {
    /// The program, in the version that wrote the result.
    pub tool: Tool,
    /// Name of the study.
    pub name: String,
    /// What it was made from and what it is, by hashes.
    pub data: DataHashes,
    /// What this result rests on, in the order of the work.
    pub methods: Vec<Method>,
    /// The published sources of these methods, by key.
    pub references: Vec<Reference>,
    /// What a reader must know before welding.
    pub cautions: Vec<String>,
}

/// The hashes that say which data a result stands for, lower-case hexadecimal SHA-256.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DataHashes {
    /// The study file.
    pub study: StudyReference,
    /// Every table.
    pub inputs: Vec<InputReference>,
    /// The checksum of `laws.json`.
    pub laws: String,
    /// The checksum of `line.json`.
    pub line: String,
    /// SHA-256 of `manifest.json`, which lists every file of the result with its own.
    pub manifest: String,
}

/// Why a folder cannot be cited.
#[derive(Debug, Error)]
pub enum CiteError {
    /// No result folder, or not whole.
    #[error(transparent)]
    Folder(WriteError),
    /// No result folder of this program.
    #[error("{folder}: no result of this program was found: {found}; give the folder that `meltlaw develop` writes")]
    NoResult {
        /// The path.
        folder: String,
        /// What was found instead.
        found: String,
    },
    /// A document of it cannot be read.
    #[error(transparent)]
    Document(#[from] DocumentError),
}

/// The citation of a result folder, which is verified against its manifest first.
///
/// # Errors
/// [`CiteError`]: not a result folder, not whole, or a document that does not load.
pub fn cite(folder: &Path) -> Result<Citation, CiteError> {
    verify(folder).map_err(|error| match error {
        WriteError::NotOurs { path, found } => CiteError::NoResult { folder: path.display().to_string(), found },
        other => CiteError::Folder(other),
    })?;
    let laws = LawsDocument::load(&folder.join("laws.json"))?;
    let line = LineDocument::load(&folder.join("line.json"))?;
    let path = folder.join(MANIFEST_FILE);
    let (manifest, _) = regular_file::hash(&path, LARGEST_MANIFEST_BYTES)
        .map_err(|why| CiteError::Folder(WriteError::Unreadable { path, source: why.into() }))?;
    Ok(of_documents(&laws, &line, manifest))
}

fn of_documents(laws: &LawsDocument, line: &LineDocument, manifest: String) -> Citation {
    let provenance = line.provenance();
    let methods = methods::used(laws.body(), line.body(), provenance);
    let references = references::of(&methods);
    Citation {
        tool: Tool::of(&provenance.tool),
        name: line.body().name.clone(),
        data: DataHashes {
            study: provenance.study.clone(),
            inputs: provenance.inputs.clone(),
            laws: laws.checksum().to_owned(),
            line: line.checksum().to_owned(),
            manifest,
        },
        methods,
        references,
        cautions: line.cautions().to_vec(),
    }
}

impl Citation {
    /// The BibTeX entries: tool, result, then each source. Text of a user is escaped for LaTeX.
    pub fn bibtex(&self) -> String {
        bibtex::entries(self)
    }
}

#[cfg(test)]
mod tests;

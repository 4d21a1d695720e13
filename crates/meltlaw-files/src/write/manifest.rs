//! `manifest.json`: every other file of a result folder with its SHA-256. By it a folder is known as
//! ours and as whole.

use std::collections::BTreeMap;
use std::io;
use std::path::{Component, Path};

use serde::{Deserialize, Serialize};

use super::error::WriteError;
use crate::document::{parse_strictly, pretty};
use crate::read::limits::LARGEST_MANIFEST_BYTES;
use crate::regular_file::{self, NotRead};

/// Name of the manifest in a result folder.
pub const MANIFEST_FILE: &str = "manifest.json";
/// Its member `format`.
pub const MANIFEST_FORMAT: &str = "meltlaw-manifest";
const MANIFEST_VERSION: u32 = 1;

/// What a result folder holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    format: String,
    format_version: u32,
    /// Tool and version that wrote the folder.
    pub tool: String,
    /// SHA-256 by path inside the folder, with `/`; the manifest itself is not listed.
    pub files: BTreeMap<String, String>,
}

impl Manifest {
    /// A manifest of these files.
    pub fn new(tool: impl Into<String>, files: BTreeMap<String, String>) -> Self {
        Self { format: MANIFEST_FORMAT.to_owned(), format_version: MANIFEST_VERSION, tool: tool.into(), files }
    }

    pub(super) fn to_json(&self) -> String {
        pretty(self)
    }

    /// Reads the manifest of a folder.
    pub(super) fn read(folder: &Path) -> Result<Self, WriteError> {
        let not_ours = |found: String| WriteError::NotOurs { path: folder.to_owned(), found };
        let path = folder.join(MANIFEST_FILE);
        match limited_text(&path) {
            Ok(Some(text)) => Self::parse(&text).map_err(not_ours),
            Ok(None) => Err(not_ours(format!("its {MANIFEST_FILE} is no file of ours"))),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Err(not_ours(format!("it has no {MANIFEST_FILE}"))),
            Err(source) => Err(WriteError::Unreadable { path, source }),
        }
    }

    fn parse(text: &str) -> Result<Self, String> {
        let wrong = |what: String| format!("its {MANIFEST_FILE} is not ours: {what}");
        let value = parse_strictly(text).map_err(|e| wrong(e.to_string()))?;
        let manifest = Self::deserialize(value).map_err(|e| wrong(e.to_string()))?;
        if manifest.format != MANIFEST_FORMAT {
            return Err(wrong(format!("format is {:?}, {MANIFEST_FORMAT:?} was needed", manifest.format)));
        }
        if manifest.format_version != MANIFEST_VERSION {
            let version = manifest.format_version;
            return Err(wrong(format!("format_version is {version}, this program knows {MANIFEST_VERSION}")));
        }
        match manifest.files.keys().find(|path| !is_inside(path)) {
            Some(path) => Err(wrong(format!("it lists {path:?}, which is not a path inside the folder"))),
            None => Ok(manifest),
        }
    }
}

/// Whether a path with `/` stays inside its folder and is spelt the only way: nothing but names.
pub(super) fn is_inside(path: &str) -> bool {
    !path.is_empty()
        && !path.contains(['\\', '\0', ':'])
        && path.split('/').all(|part| !part.is_empty() && part != "." && part != "..")
        && Path::new(path).components().all(|c| matches!(c, Component::Normal(_)))
}

/// `None` where it is no text file of a manifest's size.
fn limited_text(path: &Path) -> io::Result<Option<String>> {
    match regular_file::read(path, LARGEST_MANIFEST_BYTES) {
        Ok(bytes) => Ok(String::from_utf8(bytes).ok()),
        Err(NotRead::System(error)) => Err(error),
        Err(NotRead::Folder | NotRead::Special | NotRead::TooLarge { .. }) => Ok(None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_relative_paths_are_inside() {
        for path in ["laws.json", "plots/burn_off.svg", "a b/ü.txt", "..a/b"] {
            assert!(is_inside(path), "{path}");
        }
        for path in ["", "/etc/passwd", "../laws.json", "plots/../../x", "plots//x", "./x", "plots/", "C:/x", "a\\b"] {
            assert!(!is_inside(path), "{path}");
        }
    }
}

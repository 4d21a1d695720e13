//! Documents from the disk.

use std::path::Path;

use super::body::Body;
use super::envelope::Document;
use super::error::DocumentError;
use crate::read::limits::LARGEST_DOCUMENT_BYTES;
use crate::regular_file::{self, NotRead};

impl<T: Body> Document<T> {
    /// Reads a document from a file and verifies it.
    ///
    /// # Errors
    /// [`DocumentError`], each naming the file.
    pub fn load(path: &Path) -> Result<Self, DocumentError> {
        let file = path.display().to_string();
        Self::from_json(&text_of(path, &file)?, &file)
    }
}

fn text_of(path: &Path, file: &str) -> Result<String, DocumentError> {
    let file = file.to_owned();
    let bytes = regular_file::read(path, LARGEST_DOCUMENT_BYTES).map_err(|why| match why {
        NotRead::System(source) => DocumentError::Unreadable { file: file.clone(), source },
        NotRead::Folder => {
            DocumentError::NotAFile { file: file.clone(), found: "a folder", remedy: "give the file in it" }
        }
        NotRead::Special => {
            DocumentError::NotAFile { file: file.clone(), found: "a pipe or device", remedy: "save it to a file first" }
        }
        NotRead::TooLarge { bytes } => {
            DocumentError::TooLarge { file: file.clone(), found: bytes, limit: LARGEST_DOCUMENT_BYTES }
        }
    })?;
    String::from_utf8(bytes).map_err(|e| DocumentError::NotUtf8 { file, offset: e.utf8_error().valid_up_to() })
}

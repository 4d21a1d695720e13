//! Documents from the disk.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

use super::body::Body;
use super::envelope::Document;
use super::error::DocumentError;

/// Largest document that is read, 64 MB: a line of ten thousand nodes takes a third of it.
pub const LARGEST_DOCUMENT_BYTES: u64 = 64_000_000;

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
    let unreadable = |source| DocumentError::Unreadable { file: file.to_owned(), source };
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if !about.is_file() {
        let (found, remedy) = if about.is_dir() {
            ("a folder", "give the file in it")
        } else {
            ("a pipe or device", "save it to a file first")
        };
        return Err(DocumentError::NotAFile { file: file.to_owned(), found, remedy });
    }
    let too_large = |found| DocumentError::TooLarge { file: file.to_owned(), found, limit: LARGEST_DOCUMENT_BYTES };
    if about.len() > LARGEST_DOCUMENT_BYTES {
        return Err(too_large(about.len()));
    }
    let mut bytes = Vec::new();
    // The file may grow while it is read: the limit is kept here too.
    let read = File::open(path).and_then(|f| f.take(LARGEST_DOCUMENT_BYTES + 1).read_to_end(&mut bytes));
    match read {
        Ok(n) if n as u64 > LARGEST_DOCUMENT_BYTES => return Err(too_large(n as u64)),
        Ok(_) => {}
        Err(e) if e.kind() == ErrorKind::OutOfMemory => return Err(too_large(about.len())),
        Err(e) => return Err(unreadable(e)),
    }
    String::from_utf8(bytes)
        .map_err(|e| DocumentError::NotUtf8 { file: file.to_owned(), offset: e.utf8_error().valid_up_to() })
}

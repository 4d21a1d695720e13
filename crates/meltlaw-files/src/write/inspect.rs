//! A result folder against its manifest.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::error::{FileList, WriteError};
use super::manifest::{MANIFEST_FILE, Manifest};
use crate::read::limits::{LARGEST_LISTED_BYTES, MOST_LISTED_BYTES};
use crate::regular_file::{self, NotRead};

/// How a folder differs from its manifest.
#[derive(Debug)]
pub(super) struct Inspection {
    pub(super) manifest: Manifest,
    /// Files, links and devices that the manifest does not list.
    pub(super) foreign: FileList,
    /// Files whose hash is another.
    pub(super) changed: FileList,
    /// Files that are not there.
    pub(super) missing: FileList,
}

/// Verifies that a result folder is ours and whole. Files that the manifest does not list do no harm here.
///
/// # Errors
/// [`WriteError::NotOurs`], [`WriteError::NotWhole`] or [`WriteError::Unreadable`].
pub fn verify(folder: &Path) -> Result<Manifest, WriteError> {
    let seen = inspect(folder)?;
    if seen.changed.0.is_empty() && seen.missing.0.is_empty() {
        return Ok(seen.manifest);
    }
    Err(WriteError::NotWhole { path: folder.to_owned(), changed: seen.changed, missing: seen.missing })
}

/// Compares a folder with its manifest.
pub(super) fn inspect(folder: &Path) -> Result<Inspection, WriteError> {
    let about = fs::metadata(folder).map_err(|source| unreadable(folder, source))?;
    if !about.is_dir() {
        return Err(WriteError::NotOurs { path: folder.to_owned(), found: "it is not a folder".to_owned() });
    }
    let manifest = Manifest::read(folder)?;
    let mut there = Vec::new();
    walk(folder, "", &mut there)?;
    let foreign = there
        .into_iter()
        .filter(|(path, plain)| !plain || (path != MANIFEST_FILE && !manifest.files.contains_key(path)))
        .map(|(path, _)| path)
        .collect();
    let (mut changed, mut missing) = (Vec::new(), Vec::new());
    let mut left = MOST_LISTED_BYTES;
    for (path, listed) in &manifest.files {
        let file = below(folder, path);
        match regular_file::hash(&file, LARGEST_LISTED_BYTES.min(left)) {
            Ok((hash, bytes)) => {
                left -= bytes;
                if hash != *listed {
                    changed.push(path.clone());
                }
            }
            Err(NotRead::System(e)) if matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => {
                missing.push(path.clone())
            }
            Err(NotRead::System(source)) => return Err(unreadable(&file, source)),
            // No file of ours: a result holds neither pipes nor files of this size.
            Err(NotRead::Folder | NotRead::Special | NotRead::TooLarge { .. }) => changed.push(path.clone()),
        }
    }
    Ok(Inspection { manifest, foreign: FileList(foreign), changed: FileList(changed), missing: FileList(missing) })
}

/// A file of a result as text.
///
/// # Errors
/// [`WriteError::Unreadable`]
pub fn read_listed(folder: &Path, path: &str) -> Result<String, WriteError> {
    let file = below(folder, path);
    let bytes = regular_file::read(&file, LARGEST_LISTED_BYTES).map_err(|why| unreadable(&file, why.into()))?;
    String::from_utf8(bytes).map_err(|e| unreadable(&file, io::Error::new(io::ErrorKind::InvalidData, e.utf8_error())))
}

/// A path with `/` below a folder.
pub(super) fn below(folder: &Path, path: &str) -> PathBuf {
    path.split('/').fold(folder.to_owned(), |folder, part| folder.join(part))
}

/// Every entry that is not a folder, sorted, with whether it is a plain file. Links are not followed.
fn walk(folder: &Path, prefix: &str, found: &mut Vec<(String, bool)>) -> Result<(), WriteError> {
    let entries = fs::read_dir(folder).and_then(Iterator::collect::<io::Result<Vec<_>>>);
    let mut entries = entries.map_err(|source| unreadable(folder, source))?;
    entries.sort_by_key(fs::DirEntry::file_name);
    for entry in entries {
        let kind = entry.file_type().map_err(|source| unreadable(&entry.path(), source))?;
        let path = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if kind.is_dir() {
            walk(&entry.path(), &format!("{path}/"), found)?;
        } else {
            found.push((path, kind.is_file()));
        }
    }
    Ok(())
}

fn unreadable(path: &Path, source: io::Error) -> WriteError {
    WriteError::Unreadable { path: path.to_owned(), source }
}

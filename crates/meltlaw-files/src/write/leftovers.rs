//! What a run that was killed leaves beside its result, and how the next run clears it up.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use super::error::WriteError;
use super::inputs::Inputs;
use super::inspect::inspect;
use super::lock::Lock;
use super::place::{Place, RANDOM_LETTERS};

/// Puts a result back under its name that a killed run set aside and did not replace, and removes what
/// else killed runs left beside it. Every writing call does so by itself; a command that only reads a
/// result folder calls this first.
///
/// # Errors
/// As for writing there: [`WriteError::NoParent`], [`WriteError::OldSetAside`], …
pub fn recover(out: &Path) -> Result<(), WriteError> {
    clear(&Place::of(out, &Inputs::default())?)
}

/// What another run holds just now is let be; what cannot be removed stays.
pub(super) fn clear(place: &Place) -> Result<(), WriteError> {
    for old in named(&place.parent, &place.old_prefix()) {
        if !old.is_dir() || Lock::on(&old).is_taken() {
            continue;
        }
        if fs::symlink_metadata(&place.target).is_err() {
            let path = &place.target;
            fs::rename(&old, path).map_err(|source| WriteError::OldSetAside {
                path: path.clone(),
                kept: old,
                source,
            })?;
        } else if inspect(&old).is_ok_and(|seen| seen.foreign.0.is_empty() && seen.changed.0.is_empty()) {
            // The new result took its place; only the removal was missed. Cleared below under its new name.
            let _ = fs::rename(&old, place.temporary_of(&old));
        }
    }
    for temporary in named(&place.parent, &place.temporary_prefix()) {
        if Lock::on(&temporary).is_taken() {
            continue;
        }
        let _ = match fs::symlink_metadata(&temporary) {
            Ok(about) if about.is_dir() => fs::remove_dir_all(&temporary),
            Ok(about) if about.is_file() => fs::remove_file(&temporary),
            _ => Ok(()),
        };
    }
    Ok(())
}

/// Entries whose name is the prefix and our number of random letters and digits, sorted.
fn named(parent: &Path, prefix: &OsStr) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(parent) else { return Vec::new() };
    let mut found: Vec<PathBuf> =
        entries
            .filter_map(Result::ok)
            .filter(|entry| {
                entry.file_name().as_encoded_bytes().strip_prefix(prefix.as_encoded_bytes()).is_some_and(|letters| {
                    letters.len() == RANDOM_LETTERS && letters.iter().all(u8::is_ascii_alphanumeric)
                })
            })
            .map(|entry| entry.path())
            .collect();
    found.sort();
    found
}

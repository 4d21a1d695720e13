//! Where a result goes: the folder it lies in, its name there, and the hidden names beside it.

use std::ffi::{OsStr, OsString};
use std::fs;
use std::path::{Path, PathBuf};

use super::error::WriteError;
use super::inputs::Inputs;

/// Random letters and digits at the end of a hidden name.
pub(super) const RANDOM_LETTERS: usize = 6;

/// An `--out` taken apart.
#[derive(Debug)]
pub(super) struct Place {
    /// As given.
    pub(super) target: PathBuf,
    /// The folder it lies in.
    pub(super) parent: PathBuf,
    name: OsString,
}

impl Place {
    /// Takes a path apart. Refused is what nobody may write to: a link, since what it points to would be lost; a file that
    /// the run reads; `-`, since no output goes to standard output.
    pub(super) fn of(out: &Path, inputs: &Inputs) -> Result<Self, WriteError> {
        if out == Path::new("-") {
            return Err(WriteError::StandardOutput);
        }
        // Without a separator at the end, behind which a link would be followed.
        let target: PathBuf = out.components().collect();
        if let Ok(to) = fs::read_link(&target) {
            return Err(WriteError::Link { path: target, to });
        }
        if let Some(input) = inputs.replaced_by(&target) {
            return Err(WriteError::Input { input: input.to_owned(), path: target });
        }
        let Some(name) = target.file_name().map(OsStr::to_owned) else {
            return Err(WriteError::NoName { path: out.to_owned() });
        };
        let parent = match target.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
            _ => PathBuf::from("."),
        };
        match fs::metadata(&parent) {
            Ok(about) if about.is_dir() => Ok(Self { target, parent, name }),
            Ok(_) => Err(WriteError::WrongKind { path: parent, found: "a file", needed: "a folder" }),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Err(WriteError::NoParent { path: target, parent }),
            Err(source) => Err(WriteError::Refused { path: target, source }),
        }
    }

    /// `.NAME.tmp-`, before random letters: being written.
    pub(super) fn temporary_prefix(&self) -> OsString {
        self.hidden("tmp")
    }

    /// `.NAME.old-`, before random letters: set aside while the new one takes its place.
    pub(super) fn old_prefix(&self) -> OsString {
        self.hidden("old")
    }

    /// Where the old one is set aside while `temporary` takes its place: the same random letters.
    pub(super) fn aside(&self, temporary: &Path) -> PathBuf {
        self.beside(self.old_prefix(), temporary)
    }

    /// The name under which what was set aside may be removed: the same random letters.
    pub(super) fn temporary_of(&self, aside: &Path) -> PathBuf {
        self.beside(self.temporary_prefix(), aside)
    }

    fn beside(&self, mut prefix: OsString, other: &Path) -> PathBuf {
        let letters = other.file_name().map(OsStr::as_encoded_bytes).unwrap_or_default();
        let letters = &letters[letters.len().saturating_sub(RANDOM_LETTERS)..];
        prefix.push(String::from_utf8_lossy(letters).as_ref());
        self.parent.join(prefix)
    }

    fn hidden(&self, what: &str) -> OsString {
        let mut hidden = OsString::from(".");
        hidden.push(&self.name);
        hidden.push(format!(".{what}-"));
        hidden
    }
}

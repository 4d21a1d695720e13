//! A result folder: built in memory, written whole or not at all.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use super::error::WriteError;
use super::inputs::Inputs;
use super::inspect::{below, inspect};
use super::leftovers;
use super::lock::Lock;
use super::manifest::{MANIFEST_FILE, Manifest, is_inside};
use super::place::{Place, RANDOM_LETTERS};
use crate::document::sha256_hex;

/// The files of a result, by path inside the folder.
#[derive(Debug, Clone, Default)]
pub struct ResultFolder {
    tool: String,
    files: BTreeMap<String, Vec<u8>>,
}

impl ResultFolder {
    /// An empty folder that `tool` (name and version) writes.
    pub fn new(tool: impl Into<String>) -> Self {
        Self { tool: tool.into(), files: BTreeMap::new() }
    }

    /// The files of a result folder that stands, to write it anew with other files besides.
    ///
    /// # Errors
    /// As [`verify`](super::verify) where it is not ours or not whole; [`WriteError::Unreadable`].
    pub fn standing(tool: impl Into<String>, folder: &Path) -> Result<Self, WriteError> {
        let listed = super::verify(folder)?.files.into_keys();
        let file = |path: String| {
            let at = below(folder, &path);
            let bytes = fs::read(&at).map_err(|source| WriteError::Unreadable { path: at, source })?;
            Ok((path, bytes))
        };
        Ok(Self { tool: tool.into(), files: listed.map(file).collect::<Result<_, _>>()? })
    }

    /// Takes a file away, or all below a folder where the path ends with `/`.
    pub fn remove(&mut self, path: &str) {
        self.files.retain(|file, _| file != path && !(path.ends_with('/') && file.starts_with(path)));
    }

    /// Adds a file; a path with `/` makes folders.
    ///
    /// # Panics
    /// Where the path leaves the folder or is the manifest's or a file's already: paths are the program's own.
    pub fn add(&mut self, path: impl Into<String>, bytes: impl Into<Vec<u8>>) {
        let path = path.into();
        assert!(is_inside(&path) && path != MANIFEST_FILE, "{path:?} is not a path for a file of a result folder");
        let before = self.files.insert(path, bytes.into());
        assert!(before.is_none(), "each file of a result folder is added once");
    }

    /// The files added, by path.
    pub const fn files(&self) -> &BTreeMap<String, Vec<u8>> {
        &self.files
    }

    /// What `manifest.json` will say.
    pub fn manifest(&self) -> Manifest {
        Manifest::new(&self.tool, self.files.iter().map(|(path, bytes)| (path.clone(), sha256_hex(bytes))).collect())
    }

    /// Writes the folder: whole or not at all.
    ///
    /// It is built beside `out` under a hidden name, forced to the disk and renamed into place. An
    /// existing folder is replaced only with `force`, only if its manifest is ours, nothing in it was
    /// edited and nothing was put in, and none of `inputs` lies in it. Leftovers of a run that was killed are restored or removed first.
    ///
    /// # Errors
    /// [`WriteError`]; what was there before is still there.
    pub fn write(self, out: &Path, force: bool, inputs: &Inputs) -> Result<(), WriteError> {
        let place = Place::of(out, inputs)?;
        leftovers::clear(&place)?;
        // Looked at before the work, so that a refusal costs nothing; held until the end.
        let standing = replaceable(&place.target, force)?;
        let temporary = self.build(&place)?;
        install(&place, temporary, standing)
    }

    fn build(&self, place: &Place) -> Result<Built, WriteError> {
        let refused = |path: &Path, source| WriteError::Refused { path: path.to_owned(), source };
        let folder = new_folder(place).map_err(|e| refused(&place.target, e))?;
        let lock = Lock::on(folder.path());
        let mut folders = BTreeSet::from([folder.path().to_owned()]);
        // Written first and forced to the disk together: the first of many waits, the others find most of it done.
        let mut written: Vec<(PathBuf, File)> = Vec::with_capacity(self.files.len());
        for (path, bytes) in &self.files {
            let file = below(folder.path(), path);
            let parent = file.parent().expect("a file in the folder has the folder above it");
            // A message names the file as the user will know it, not under the hidden name.
            let shown = below(&place.target, path);
            fs::create_dir_all(parent).map_err(|e| refused(&shown, e))?;
            folders.extend(parent.ancestors().take_while(|p| p.starts_with(folder.path())).map(Path::to_owned));
            let file = write_new(&file, bytes).map_err(|e| refused(&shown, e))?;
            written.push((shown, file));
        }
        for (shown, file) in written {
            file.sync_all().map_err(|e| refused(&shown, e))?;
        }
        // The manifest comes last: a folder with one has all its files.
        let manifest = self.manifest().to_json().into_bytes();
        write_new(&folder.path().join(MANIFEST_FILE), &manifest)
            .and_then(|file| file.sync_all())
            .map_err(|e| refused(&place.target.join(MANIFEST_FILE), e))?;
        for path in folders.iter().rev() {
            sync_folder(path).map_err(|e| refused(&place.target, e))?;
        }
        Ok(Built { folder, _lock: lock })
    }
}

struct Built {
    folder: TempDir,
    _lock: Lock,
}

/// A hidden folder beside the target, with the rights that the user's other folders get.
fn new_folder(place: &Place) -> io::Result<TempDir> {
    let prefix = place.temporary_prefix();
    let mut builder = tempfile::Builder::new();
    builder.prefix(&prefix).rand_bytes(RANDOM_LETTERS);
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o777));
    builder.tempdir_in(&place.parent)
}

fn write_new(path: &Path, bytes: &[u8]) -> io::Result<File> {
    let mut file = File::create_new(path)?;
    file.write_all(bytes)?;
    Ok(file)
}

/// Forces a folder's entries to the disk, where the system lets a folder be opened.
pub(super) fn sync_folder(path: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(path)?.sync_all() } else { Ok(()) }
}

/// `None` where nothing is there, the lock on what is there where it may be replaced.
fn replaceable(target: &Path, force: bool) -> Result<Option<Lock>, WriteError> {
    let path = || target.to_owned();
    match fs::symlink_metadata(target) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(source) => return Err(WriteError::Refused { path: path(), source }),
        Ok(about) if !about.is_dir() => {
            return Err(WriteError::WrongKind { path: path(), found: "a file", needed: "a result folder" });
        }
        Ok(_) if !force => return Err(WriteError::Exists { path: path() }),
        Ok(_) => {}
    }
    let lock = Lock::on(target);
    if lock.is_taken() {
        return Err(WriteError::Busy { path: path() });
    }
    let seen = inspect(target)?;
    if !seen.foreign.0.is_empty() {
        return Err(WriteError::Foreign { path: path(), files: seen.foreign });
    }
    if !seen.changed.0.is_empty() {
        return Err(WriteError::Edited { path: path(), files: seen.changed });
    }
    Ok(Some(lock))
}

/// Two renames. A run that is killed between them leaves the old folder whole under its hidden name, and
/// the next run restores it.
fn install(place: &Place, built: Built, standing: Option<Lock>) -> Result<(), WriteError> {
    let target = &place.target;
    let refused = |source| WriteError::Refused { path: target.clone(), source };
    let aside: Option<PathBuf> = standing.is_some().then(|| place.aside(built.folder.path()));
    if let Some(aside) = &aside {
        fs::rename(target, aside).map_err(refused)?;
    }
    let temporary = built.folder.path();
    // What the disk does not confirm is taken back, so that an error always means the old state.
    let installed = rename_to_new(temporary, target)
        .and_then(|()| sync_folder(&place.parent).or_else(|e| fs::rename(target, temporary).and(Err(e))));
    if let Err(source) = installed {
        return Err(match aside {
            None => refused(source),
            Some(aside) => match fs::rename(&aside, target) {
                Ok(()) => refused(source),
                Err(_) => WriteError::OldSetAside { path: target.clone(), kept: aside, source },
            },
        });
    }
    if let Some(aside) = aside {
        // Half-removed under its old name it would look like something to restore: it goes under the
        // hidden name, which `built` removes on its way out and any later run may clear. The result
        // stands, so failing here is not an error.
        let _ = fs::rename(aside, temporary);
    }
    Ok(())
}

/// On some systems a rename goes over an empty folder: one that came meanwhile is not ours.
fn rename_to_new(from: &Path, to: &Path) -> io::Result<()> {
    if fs::symlink_metadata(to).is_ok() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    fs::rename(from, to)
}

#[cfg(test)]
#[path = "result_folder_tests.rs"]
mod tests;

//! Single outputs, such as `--out LAWS.json`: old or new, never a mix.

use std::fs;
use std::io::Write;
use std::path::Path;

use super::error::WriteError;
use super::inputs::Inputs;
use super::leftovers;
use super::lock::Lock;
use super::place::{Place, RANDOM_LETTERS};
use super::result_folder::sync_folder;

/// Writes a file whole or not at all: a temporary file beside it, forced to the disk, then renamed.
/// An existing file is replaced only with `force`, and never where it is one of `inputs`.
///
/// # Errors
/// [`WriteError`]; what was there before is still there, except after [`WriteError::NotConfirmed`].
pub fn write_file(path: &Path, bytes: &[u8], force: bool, inputs: &Inputs) -> Result<(), WriteError> {
    let place = Place::of(path, inputs)?;
    match fs::metadata(&place.target) {
        Ok(about) if about.is_file() && force => {}
        Ok(about) if about.is_file() => return Err(WriteError::Exists { path: place.target }),
        Ok(about) => {
            let found = if about.is_dir() { "a folder" } else { "a device or pipe" };
            return Err(WriteError::WrongKind { path: place.target, found, needed: "a file" });
        }
        Err(_) => {}
    }
    leftovers::clear(&place)?;
    let refused = |source| WriteError::Refused { path: place.target.clone(), source };
    let prefix = place.temporary_prefix();
    let mut builder = tempfile::Builder::new();
    builder.prefix(&prefix).rand_bytes(RANDOM_LETTERS);
    // The rights that the user's other files get.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(&place.parent).map_err(refused)?;
    let _lock = Lock::on(file.path());
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(refused)?;
    if force {
        file.persist(&place.target).map_err(|e| refused(e.error))?;
    } else {
        file.persist_noclobber(&place.target).map_err(|e| match e.error.kind() {
            std::io::ErrorKind::AlreadyExists => WriteError::Exists { path: place.target.clone() },
            _ => refused(e.error),
        })?;
    }
    sync_folder(&place.parent).map_err(|source| WriteError::NotConfirmed { path: place.target.clone(), source })
}

/// Refuses an output, a file or a folder, before any work is done for it: as [`write_file`] and
/// [`ResultFolder::write`](super::ResultFolder::write) would.
///
/// # Errors
/// [`WriteError`]; where there is none, writing may still fail by what is in the way or by the disk.
pub fn may_write(path: &Path, force: bool, inputs: &Inputs) -> Result<(), WriteError> {
    let place = Place::of(path, inputs)?;
    if !force && fs::symlink_metadata(&place.target).is_ok() {
        return Err(WriteError::Exists { path: place.target });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    fn none() -> Inputs {
        Inputs::default()
    }

    #[test]
    fn an_existing_file_is_replaced_only_with_force() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("laws.json");
        write_file(&path, b"one", false, &none()).unwrap();
        let message = write_file(&path, b"two", false, &none()).unwrap_err().to_string();
        assert!(
            message.ends_with("laws.json: exists already; use --force to replace it or give another --out"),
            "{message}"
        );
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write_file(&path, b"two", true, &none()).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_is_in_the_way_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let to = |path: &Path| write_file(path, b"x", true, &none()).unwrap_err().to_string();
        assert!(to(folder.path()).contains("a folder is there, a file was needed"));
        assert!(to(&folder.path().join("none/laws.json")).contains("none does not exist; create it first"));
        let file = folder.path().join("file");
        fs::write(&file, "").unwrap();
        assert!(to(&file.join("laws.json")).contains("a file is there, a folder was needed"));
        assert!(to(Path::new("..")).contains("a path that ends in a name was needed"));
    }

    #[test]
    fn the_next_run_removes_what_a_killed_one_left() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(".laws.json.tmp-aB3dE6"), "half").unwrap();
        fs::write(folder.path().join(".laws.json.tmp-mine"), "the user's").unwrap();
        write_file(&folder.path().join("laws.json"), b"x", false, &none()).unwrap();
        assert!(!folder.path().join(".laws.json.tmp-aB3dE6").exists());
        assert!(folder.path().join(".laws.json.tmp-mine").exists());
    }

    #[test]
    #[cfg(unix)]
    fn nothing_is_written_through_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("file"), "old").unwrap();
        fs::create_dir(at("folder")).unwrap();
        for (link, to) in [("link", "file"), ("dangling", "none"), ("to-folder", "folder")] {
            std::os::unix::fs::symlink(at(to), at(link)).unwrap();
            for name in [link.to_owned(), format!("{link}/"), format!("folder/../{link}")] {
                for refused in [write_file(&at(&name), b"new", true, &none()), may_write(&at(&name), true, &none())] {
                    let message = refused.unwrap_err().to_string();
                    assert!(message.contains("is a symbolic link to") && message.contains(to), "{message}");
                }
            }
        }
        assert_eq!(fs::read(at("file")).unwrap(), b"old");
        assert!(!at("none").exists());
    }

    #[test]
    fn a_dash_names_no_file() {
        let message = write_file(Path::new("-"), b"x", true, &none()).unwrap_err().to_string();
        assert!(message.contains("not written to standard output; give the name of a file"), "{message}");
        assert!(!Path::new("-").exists());
    }
}

//! Getting the bytes: only regular files, only below the study's folder, only up to a size, each read
//! once and hashed as read.

use std::io::ErrorKind;
use std::path::{Component, Path};

use sha2::{Digest, Sha256};

use super::fault::Fault;
use super::limits::LARGEST_TABLE_BYTES;
use super::wording::{A_NAME, name_fault};
use crate::regular_file::{self, NotRead};

/// A file as read.
#[derive(Debug)]
pub(crate) struct FileBytes {
    pub(crate) bytes: Vec<u8>,
    /// SHA-256 of these bytes, lower-case hexadecimal.
    pub(crate) sha256: String,
}

/// Reads a regular file of at most `most` bytes; `name` is how messages call it.
pub(crate) fn read_bytes(path: &Path, name: &str, most: u64, action: &str) -> Result<FileBytes, Box<Fault>> {
    let cannot = |error: &std::io::Error| {
        let found = match error.kind() {
            ErrorKind::NotFound => "no such file".to_owned(),
            ErrorKind::PermissionDenied => "a file that may not be read".to_owned(),
            kind => format!("a file that cannot be read ({kind})"),
        };
        Box::new(Fault::of_file(name, found, "a file", action))
    };
    let bytes = regular_file::read(path, most).map_err(|why| match why {
        NotRead::System(error) => cannot(&error),
        NotRead::Folder => Box::new(Fault::of_file(name, "a folder", "a file", action)),
        NotRead::Special => Box::new(Fault::of_file(name, "something that is no ordinary file", "a file", action)),
        NotRead::TooLarge { bytes } => {
            let found = format!("more than {} MB", (bytes - 1) / 1_000_000);
            Box::new(Fault::of_file(name, found, format!("at most {} MB", most / 1_000_000), "split it"))
        }
    })?;
    let sha256 = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    Ok(FileBytes { bytes, sha256 })
}

/// Reads a table that a study names: below the study's folder, links resolved.
pub(crate) fn read_below(folder: &Path, file: &str) -> Result<FileBytes, Box<Fault>> {
    const BELOW: &str = "a file in the study's folder or below it";
    const COPY: &str = "copy the table into the study's folder and name it from there";
    if let Some(wrong) = name_fault(file) {
        return Err(Fault::of_file("trials.file", wrong, A_NAME, "correct the path").into());
    }
    let outside = |found: &str| Box::new(Fault::of_file(file, found, BELOW, COPY));
    for part in Path::new(file).components() {
        match part {
            Component::Normal(_) | Component::CurDir => {}
            Component::ParentDir => return Err(outside("a path with ..")),
            Component::RootDir | Component::Prefix(_) => return Err(outside("a path from the root")),
        }
    }
    let path = folder.join(file);
    // A file that is not there has no resolved path; read_bytes says so better.
    if let (Ok(resolved), Ok(folder)) = (path.canonicalize(), folder.canonicalize())
        && !resolved.starts_with(&folder)
    {
        return Err(outside("a link that leads out of the study's folder"));
    }
    read_bytes(&path, file, LARGEST_TABLE_BYTES, "check the path, which counts from the study's folder")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use std::fs::{self, File};

    use super::*;
    use crate::read::limits::LARGEST_STUDY_BYTES;

    fn message(folder: &Path, file: &str) -> String {
        read_below(folder, file).unwrap_err().to_string()
    }

    #[test]
    fn only_files_below_the_folder_are_read() {
        let outside = tempfile::tempdir().unwrap();
        fs::write(outside.path().join("t.csv"), "trial\n").unwrap();
        let folder = tempfile::tempdir().unwrap();
        let cure = "copy the table into the study's folder and name it from there";
        assert_eq!(
            message(folder.path(), "../t.csv"),
            format!("../t.csv: found a path with .., needed a file in the study's folder or below it; {cure}")
        );
        assert_eq!(
            message(folder.path(), "/t.csv"),
            format!("/t.csv: found a path from the root, needed a file in the study's folder or below it; {cure}")
        );
        assert_eq!(
            message(folder.path(), "none.csv"),
            "none.csv: found no such file, needed a file; check the path, which counts from the study's folder"
        );
        fs::create_dir(folder.path().join("sub")).unwrap();
        assert_eq!(
            message(folder.path(), "sub"),
            "sub: found a folder, needed a file; check the path, which counts from the study's folder"
        );
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(outside.path().join("t.csv"), folder.path().join("link.csv")).unwrap();
            assert_eq!(
                message(folder.path(), "link.csv"),
                format!(
                    "link.csv: found a link that leads out of the study's folder, needed a file in the study's folder or below it; {cure}"
                )
            );
            fs::write(folder.path().join("sub/t.csv"), "trial\n").unwrap();
            std::os::unix::fs::symlink(folder.path().join("sub/t.csv"), folder.path().join("inside.csv")).unwrap();
            assert_eq!(read_below(folder.path(), "inside.csv").unwrap().bytes, b"trial\n");
        }
    }

    #[test]
    fn a_file_is_hashed_as_read_and_refused_when_too_large() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        fs::write(&path, "abc").unwrap();
        // SHA-256 of "abc": FIPS 180-4, example 1.
        assert_eq!(
            read_bytes(&path, "abc", 10, "").unwrap().sha256,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        let file = File::create(&path).unwrap();
        file.set_len(LARGEST_STUDY_BYTES + 1).unwrap();
        assert_eq!(
            read_bytes(&path, "abc", LARGEST_STUDY_BYTES, "").unwrap_err().to_string(),
            "abc: found more than 1 MB, needed at most 1 MB; split it"
        );
    }
}

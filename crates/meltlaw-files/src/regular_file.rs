//! Regular files, opened and read so that no pipe, device or endless file in place of one can hold the program up.

use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use crate::document::sha256_hex_of_reader;

/// Why a file is not read.
#[derive(Debug)]
pub(crate) enum NotRead {
    /// What the system says.
    System(io::Error),
    /// A folder stands there.
    Folder,
    /// A pipe, device or socket stands there.
    Special,
    /// The file holds more bytes than allowed.
    TooLarge {
        /// Its size.
        bytes: u64,
    },
}

impl From<io::Error> for NotRead {
    fn from(error: io::Error) -> Self {
        if error.kind() == ErrorKind::IsADirectory { Self::Folder } else { Self::System(error) }
    }
}

impl From<NotRead> for io::Error {
    fn from(why: NotRead) -> Self {
        match why {
            NotRead::System(error) => error,
            NotRead::Folder => ErrorKind::IsADirectory.into(),
            NotRead::Special => Self::new(ErrorKind::InvalidInput, "it is a pipe or device"),
            NotRead::TooLarge { .. } => ErrorKind::FileTooLarge.into(),
        }
    }
}

/// Opens a regular file of at most `most` bytes (links are followed) and tells its size.
pub(crate) fn open(path: &Path, most: u64) -> Result<(File, u64), NotRead> {
    // Asked before it is opened, since opening a device can already do something, and after it, since another file may
    // have taken the name between.
    check(&std::fs::metadata(path)?, most)?;
    let mut options = OpenOptions::new();
    options.read(true);
    // Opening a pipe waits for a writer otherwise.
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::custom_flags(&mut options, libc::O_NONBLOCK | libc::O_NOCTTY);
    let file = options.open(path)?;
    let bytes = check(&file.metadata()?, most)?;
    Ok((file, bytes))
}

fn check(about: &Metadata, most: u64) -> Result<u64, NotRead> {
    if about.is_dir() {
        return Err(NotRead::Folder);
    }
    if !about.is_file() {
        return Err(NotRead::Special);
    }
    if about.len() > most { Err(NotRead::TooLarge { bytes: about.len() }) } else { Ok(about.len()) }
}

/// The bytes of a regular file of at most `most` bytes.
pub(crate) fn read(path: &Path, most: u64) -> Result<Vec<u8>, NotRead> {
    let (file, _) = open(path, most)?;
    let mut bytes = Vec::new();
    // One byte more than allowed shows a file that grew since it was measured.
    let read = file.take(most.saturating_add(1)).read_to_end(&mut bytes)? as u64;
    if read > most { Err(NotRead::TooLarge { bytes: read }) } else { Ok(bytes) }
}

/// SHA-256 of a regular file of at most `most` bytes, lower-case hexadecimal, and its size.
pub(crate) fn hash(path: &Path, most: u64) -> Result<(String, u64), NotRead> {
    let (file, bytes) = open(path, most)?;
    // What is written behind the end meanwhile makes another hash or none, but no endless reading.
    Ok((sha256_hex_of_reader(file.take(bytes))?, bytes))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    #[test]
    fn only_regular_files_up_to_a_size_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        std::fs::write(&path, "abc").unwrap();
        assert_eq!(read(&path, 3).unwrap(), b"abc");
        assert!(matches!(read(&path, 2), Err(NotRead::TooLarge { bytes: 3 })));
        assert!(matches!(read(folder.path(), 3), Err(NotRead::Folder)));
        assert!(
            matches!(read(&folder.path().join("none"), 3), Err(NotRead::System(e)) if e.kind() == ErrorKind::NotFound)
        );
        // A sparse file of a terabyte takes no room on the disk.
        File::create(&path).unwrap().set_len(1 << 40).unwrap();
        assert!(matches!(hash(&path, 1 << 30), Err(NotRead::TooLarge { bytes }) if bytes == 1 << 40));
    }

    #[test]
    #[cfg(unix)]
    fn neither_a_pipe_nor_an_endless_device_is_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let pipe = folder.path().join("pipe");
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        assert!(matches!(open(&pipe, 10), Err(NotRead::Special)));
        let link = folder.path().join("link");
        std::os::unix::fs::symlink("/dev/zero", &link).unwrap();
        assert!(matches!(hash(&link, 10), Err(NotRead::Special)));
    }
}

//! What the system says of a failed call, in words for the bench.

use std::io::{Error, ErrorKind};

/// The cause, lower case, without the path.
pub(crate) fn cause(error: &Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "no such file or folder".to_owned(),
        ErrorKind::PermissionDenied => "no permission".to_owned(),
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        ErrorKind::StorageFull => "no space left on the disk".to_owned(),
        ErrorKind::QuotaExceeded => "the disk quota is used up".to_owned(),
        ErrorKind::AlreadyExists => "something of that name exists".to_owned(),
        ErrorKind::DirectoryNotEmpty => "the folder is not empty".to_owned(),
        ErrorKind::NotADirectory => "a part of the path is a file, not a folder".to_owned(),
        ErrorKind::IsADirectory => "it is a folder".to_owned(),
        ErrorKind::FileTooLarge => "the file is larger than the disk or a limit allows".to_owned(),
        ErrorKind::InvalidFilename => "the name is too long or not allowed".to_owned(),
        ErrorKind::CrossesDevices => "the two places are on different disks".to_owned(),
        // Without the number and the hidden path that may stand behind the words.
        _ => error.to_string().split(" (os error").next().unwrap_or_default().to_lowercase(),
    }
}

/// What to do about a failed write.
pub(crate) fn remedy_for_writing(error: &Error) -> &'static str {
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            "free some space or give another --out"
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "give an --out in a folder that you may write to"
        }
        ErrorKind::InvalidFilename => "give a shorter or plainer --out",
        ErrorKind::AlreadyExists | ErrorKind::DirectoryNotEmpty => "another program wrote there meanwhile, try again",
        _ => "try again or give another --out",
    }
}

/// What to do about a failed read.
pub(crate) fn remedy_for_reading(error: &Error) -> &'static str {
    match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => "look at the spelling of the path",
        ErrorKind::PermissionDenied => "ask for the right to read it",
        _ => "try again or take another copy",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[cfg(unix)]
    fn a_full_disk_is_named_and_says_what_to_do() {
        // ENOSPC is 28 and EDQUOT 122 on Linux (errno.h).
        #[cfg(target_os = "linux")]
        for (number, words) in [(28, "no space left on the disk"), (122, "the disk quota is used up")] {
            let error = Error::from_raw_os_error(number);
            assert_eq!(cause(&error), words);
            assert_eq!(remedy_for_writing(&error), "free some space or give another --out");
        }
    }

    #[test]
    fn other_causes_keep_the_system_s_words() {
        assert_eq!(cause(&Error::other("Strange Thing (os error 5) at path \"x\"")), "strange thing");
        assert_eq!(cause(&ErrorKind::ReadOnlyFilesystem.into()), "the disk is read-only");
    }
}

//! Two runs, one result: a run holds a lock on what it works at, so that the other neither takes it for
//! a leftover nor replaces it at the same moment.

use std::fs::{File, TryLockError};
use std::path::Path;

/// What asking for a lock gave.
#[derive(Debug)]
pub(crate) enum Lock {
    /// Ours until dropped. Without a file where the system has no such locks: then nobody is held off.
    Held(#[allow(dead_code, reason = "held for its drop")] Option<File>),
    /// Another run holds it.
    Taken,
}

impl Lock {
    /// Asks for the lock on a file or folder without waiting.
    pub(crate) fn on(path: &Path) -> Self {
        // Folders cannot be opened everywhere, and some file systems know no locks.
        // Opening a pipe of this name would wait for a writer.
        if !std::fs::metadata(path).is_ok_and(|about| about.is_file() || about.is_dir()) {
            return Self::Held(None);
        }
        let Ok(file) = File::open(path) else { return Self::Held(None) };
        match file.try_lock() {
            Ok(()) => Self::Held(Some(file)),
            Err(TryLockError::WouldBlock) => Self::Taken,
            Err(TryLockError::Error(_)) => Self::Held(None),
        }
    }

    pub(crate) const fn is_taken(&self) -> bool {
        matches!(self, Self::Taken)
    }
}

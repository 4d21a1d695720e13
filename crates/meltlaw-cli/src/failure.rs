//! How a command ends: one enum, one exit status each.

use std::path::PathBuf;
use std::process::ExitCode;

use meltlaw::develop::DevelopError;
use meltlaw_files::{CiteError, DocumentError, ReadError, WriteError};

/// Exit status by the contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Exit {
    /// Done.
    Done,
    /// Wrong usage.
    Usage,
    /// Unusable input.
    Input,
    /// Done in part: a law, the whole line or a feed is missing, and named.
    InPart,
    /// Anything else.
    Other,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(match exit {
            Exit::Done => 0,
            Exit::Other => 1,
            Exit::Usage => 2,
            Exit::Input => 3,
            Exit::InPart => 4,
        })
    }
}

/// Why a command did not do its work.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The study or a table cannot be used.
    Read(ReadError),
    /// A laws or line file cannot be used.
    Document(DocumentError),
    /// A check stops the way.
    Stopped(DevelopError),
    /// Files that do not fit each other.
    Mismatch(String),
    /// Something could not be written.
    Write(WriteError),
    /// A result that cannot be written as it should be: a number left the finite range, or the file is too large.
    Lost(PathBuf, DocumentError),
    /// A question that the file cannot answer.
    Usage(String),
}

impl Failure {
    /// The exit status.
    pub(crate) fn exit(&self) -> Exit {
        match self {
            Self::Read(_) | Self::Document(_) | Self::Stopped(_) | Self::Mismatch(_) => Exit::Input,
            Self::Usage(_) => Exit::Usage,
            Self::Lost(_, DocumentError::TooLargeToRead { .. }) => Exit::Input,
            Self::Write(_) | Self::Lost(..) => Exit::Other,
        }
    }

    /// One line per fault.
    pub(crate) fn lines(&self) -> Vec<String> {
        match self {
            Self::Read(e) => e.to_string().lines().map(str::to_owned).collect(),
            Self::Document(e) => e.to_string().lines().map(str::to_owned).collect(),
            Self::Stopped(e) => vec![e.to_string()],
            Self::Mismatch(text) | Self::Usage(text) => vec![text.clone()],
            Self::Write(e) => e.to_string().lines().map(str::to_owned).collect(),
            Self::Lost(path, e) => vec![format!("{}: {e}", path.display())],
        }
    }
}

impl From<ReadError> for Failure {
    fn from(e: ReadError) -> Self {
        Self::Read(e)
    }
}

impl From<DocumentError> for Failure {
    fn from(e: DocumentError) -> Self {
        Self::Document(e)
    }
}

impl From<CiteError> for Failure {
    fn from(e: CiteError) -> Self {
        match e {
            CiteError::Document(e) => Self::Document(e),
            // The folder is what is read here: that it cannot be used is the input's fault.
            other => Self::Mismatch(other.to_string()),
        }
    }
}

impl From<WriteError> for Failure {
    fn from(e: WriteError) -> Self {
        Self::Write(e)
    }
}

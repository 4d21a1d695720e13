//! Why something was not written. Whatever the error, what was there before is still there, or the new
//! one is whole.

use std::fmt;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::cause::{cause, remedy_for_reading, remedy_for_writing};

/// Why something was not written, or a result folder is not whole. Each message names the path, the
/// cause and what to do.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The system refused.
    #[error("{}: cannot be written: {}; {}; what was there before is untouched", path.display(), cause(source), remedy_for_writing(source))]
    Refused {
        /// Where.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Written and in place, but the system could not say that it is on the disk for good.
    #[error("{}: written, but the disk did not confirm it: {}; look at the disk and run the command again", path.display(), cause(source))]
    NotConfirmed {
        /// Where.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Replacing failed half-way and the old folder could not be put back under its name.
    #[error(
        "{}: cannot be written: {}; the old result is whole in {}: rename it back by hand, or run the command again, which does",
        path.display(), cause(source), kept.display()
    )]
    OldSetAside {
        /// Where.
        path: PathBuf,
        /// Where the old folder is.
        kept: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Something is there and `--force` was not given.
    #[error("{}: exists already; use --force to replace it or give another --out", path.display())]
    Exists {
        /// Where.
        path: PathBuf,
    },
    /// A file that the run reads.
    #[error("{}: this run reads {}, and --force never replaces what a run reads; give another --out", path.display(), of_input(path, input))]
    Input {
        /// Where.
        path: PathBuf,
        /// The file that is read: this one, or one inside of it.
        input: PathBuf,
    },
    /// A symbolic link, which would hide what is replaced.
    #[error("{}: is a symbolic link to {}, and nothing is written through a link; give that path itself or another --out", path.display(), to.display())]
    Link {
        /// Where.
        path: PathBuf,
        /// What it points to.
        to: PathBuf,
    },
    /// `-` for standard output.
    #[error(
        "--out -: files are not written to standard output; give the name of a file, such as --out result.json (--json puts the answer on standard output)"
    )]
    StandardOutput,
    /// The folder in which to write is missing.
    #[error("{}: the folder {} does not exist; create it first or give another --out", path.display(), parent.display())]
    NoParent {
        /// Where.
        path: PathBuf,
        /// The missing folder.
        parent: PathBuf,
    },
    /// A path without a name at its end.
    #[error("{}: a path that ends in a name was needed; give for example --out result", path.display())]
    NoName {
        /// The path.
        path: PathBuf,
    },
    /// Something else than what was to be replaced.
    #[error("{}: {found} is there, {needed} was needed; give another --out", path.display())]
    WrongKind {
        /// Where.
        path: PathBuf,
        /// What is there.
        found: &'static str,
        /// What was needed.
        needed: &'static str,
    },
    /// A folder without a manifest of ours.
    #[error("{}: not a result folder of this program: {found}; move it away by hand or give another --out", path.display())]
    NotOurs {
        /// Where.
        path: PathBuf,
        /// What is wrong with its manifest.
        found: String,
    },
    /// A result folder into which somebody put files.
    #[error("{}: holds what its manifest does not list: {files}; move it out of the folder or give another --out", path.display())]
    Foreign {
        /// Where.
        path: PathBuf,
        /// What it holds besides.
        files: FileList,
    },
    /// A result folder in which somebody edited files.
    #[error("{}: changed since it was written: {files}; keep a copy elsewhere if the change matters, remove the folder by hand or give another --out", path.display())]
    Edited {
        /// Where.
        path: PathBuf,
        /// The files.
        files: FileList,
    },
    /// A result folder that is not what its manifest says.
    #[error("{}: not whole{}{}; make it anew or take another copy", path.display(), part("changed since it was written", changed), part("missing", missing))]
    NotWhole {
        /// Where.
        path: PathBuf,
        /// Files that differ from the manifest.
        changed: FileList,
        /// Files that are missing.
        missing: FileList,
    },
    /// What stands where rows are to be added is no table to which they could be.
    #[error("{}: {found}", path.display())]
    NotATable {
        /// Where.
        path: PathBuf,
        /// What is there, and what to do about it.
        found: String,
    },
    /// Something in the folder cannot be read.
    #[error("{}: cannot be read: {}; {}", path.display(), cause(source), remedy_for_reading(source))]
    Unreadable {
        /// Where.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Another run is at work on the same result.
    #[error("{}: another run is replacing it just now; wait for it or give another --out", path.display())]
    Busy {
        /// Where.
        path: PathBuf,
    },
}

/// Files by their path inside a folder; a message shows the first five.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FileList(pub Vec<String>);

impl fmt::Display for FileList {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const SHOWN: usize = 5;
        // Names come from anybody: control characters must not reach the terminal.
        let shown: Vec<String> = self.0.iter().take(SHOWN).map(|name| name.escape_debug().to_string()).collect();
        write!(f, "{}", shown.join(", "))?;
        match self.0.len().saturating_sub(SHOWN) {
            0 => Ok(()),
            more => write!(f, " and {more} more"),
        }
    }
}

/// 'it', or the name by which it is read.
fn of_input(path: &Path, input: &Path) -> String {
    if input.components().eq(path.components()) { "it".to_owned() } else { format!("it as {}", input.display()) }
}

fn part(what: &str, files: &FileList) -> String {
    if files.0.is_empty() { String::new() } else { format!(" ({what}: {files})") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_are_cut_after_five() {
        let list = FileList((1..=7).map(|n| format!("f{n}")).collect());
        assert_eq!(list.to_string(), "f1, f2, f3, f4, f5 and 2 more");
        assert_eq!(FileList(vec!["a\u{1b}[2J".to_owned()]).to_string(), "a\\u{1b}[2J");
    }
}

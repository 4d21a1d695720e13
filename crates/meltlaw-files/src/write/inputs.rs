//! What a run reads: no output takes its place, whether `--force` is given or not.

use std::fs;
use std::path::{Path, PathBuf};

/// Files that a run reads. Every writing call asks for them, so that none can be forgotten.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Inputs {
    files: Vec<PathBuf>,
}

impl Inputs {
    /// These files.
    pub fn of(files: impl IntoIterator<Item = impl Into<PathBuf>>) -> Self {
        Self { files: files.into_iter().map(Into::into).collect() }
    }

    /// These files and those of `more`.
    #[must_use]
    pub fn and(mut self, more: Self) -> Self {
        self.files.extend(more.files);
        self
    }

    /// The input that an output at `path` would replace: the same file by whatever name, or one inside of it where it is a
    /// folder.
    pub(super) fn replaced_by(&self, path: &Path) -> Option<&Path> {
        let about = fs::metadata(path).ok()?;
        let output = identity(path)?;
        let same = |input: &Path| identity(input).as_ref() == Some(&output);
        let inside = |input: &Path| fs::canonicalize(input).is_ok_and(|input| input.ancestors().any(same));
        self.files.iter().map(PathBuf::as_path).find(|input| if about.is_dir() { inside(input) } else { same(input) })
    }
}

/// What two names of one file share: device and inode see through hard links and through names that differ only in case.
#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(path).ok().map(|about| (about.dev(), about.ino()))
}

/// What two names of one file share: the path with links resolved and names as the disk spells them.
#[cfg(not(unix))]
fn identity(path: &Path) -> Option<PathBuf> {
    fs::canonicalize(path).ok()
}

/// Whether two paths name one file that is there.
pub(crate) fn same_file(one: &Path, other: &Path) -> bool {
    identity(one).is_some_and(|one| identity(other) == Some(one))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;
    use crate::write::{ResultFolder, write_file};

    #[test]
    fn no_name_of_a_file_that_is_read_is_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("sub")).unwrap();
        fs::write(at("trials.csv"), "old").unwrap();
        let inputs = Inputs::of([at("trials.csv")]);
        let mut names = vec![at("trials.csv"), at("sub/../trials.csv"), at("./trials.csv")];
        if cfg!(unix) {
            fs::hard_link(at("trials.csv"), at("hard.csv")).unwrap();
            names.push(at("hard.csv"));
        }
        for name in names {
            let message = write_file(&name, b"new", true, &inputs).unwrap_err().to_string();
            assert!(message.contains("this run reads it"), "{message}");
            assert!(message.contains("give another --out"), "{message}");
        }
        assert_eq!(fs::read(at("trials.csv")).unwrap(), b"old");
        write_file(&at("other.csv"), b"new", false, &inputs).unwrap();
        write_file(&at("other.csv"), b"newer", true, &inputs).unwrap();
        assert!(
            same_file(&at("trials.csv"), &at("sub/../trials.csv")) && !same_file(&at("trials.csv"), &at("other.csv"))
        );
        assert!(!same_file(&at("none"), &at("none")));
    }

    #[test]
    fn a_folder_from_which_a_run_reads_is_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("result");
        let result = || {
            let mut result = ResultFolder::new("meltlaw 0.1.0");
            result.add("laws.json", "{}\n");
            result
        };
        result().write(&out, false, &Inputs::default()).unwrap();
        let inputs = Inputs::of([out.join("laws.json")]);
        let message = result().write(&out, true, &inputs).unwrap_err().to_string();
        assert!(message.contains("this run reads") && message.contains("laws.json"), "{message}");
        assert!(out.join("laws.json").exists());
        result().write(&out, true, &Inputs::of([folder.path().join("elsewhere")])).unwrap();
    }
}

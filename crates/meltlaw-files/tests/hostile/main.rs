//! Hostile and malformed input, class by class: each ends in a message that names the file, or in a table; none panics. What
//! swells is held to its memory by the program's own test (`meltlaw-cli/tests/hostile.rs`).
#![allow(missing_docs, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod damaged;
mod make;
mod parquet;
mod result_folders;
mod text;
mod toml;
mod workbooks;

use meltlaw::trials::Trials;
use meltlaw_files::{TableRequest, read_study, read_trial_table};

/// The first message about a table, or nothing where it reads.
fn message(file: &str, bytes: impl AsRef<[u8]>) -> Option<String> {
    table(file, bytes).err()
}

fn table(file: &str, bytes: impl AsRef<[u8]>) -> Result<Trials, String> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join(file), bytes).unwrap();
    let read = read_trial_table(folder.path(), &TableRequest::of_file(file));
    read.map_err(|error| {
        let message = error.to_string();
        assert!(message.lines().all(|line| line.starts_with(file)), "{message}");
        assert!(!message.contains('\u{1b}'), "an escape sequence in a message");
        message.lines().next().unwrap_or_default().to_owned()
    })
}

/// The first message about a study with a sound table.
fn study(text: &str) -> Option<String> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("study.toml"), text).unwrap();
    std::fs::write(folder.path().join("t.csv"), "trial\na\n").unwrap();
    let error = read_study(folder.path()).err()?;
    Some(error.to_string().lines().next().unwrap_or_default().replace(&folder.path().display().to_string(), "DIR"))
}

//! What a run has finished, beside the table that it will write: one line a log. A line that a stop cut short is no row.

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use meltlaw::reduce::Reduced;
use serde::{Deserialize, Serialize};

use super::LogRequest;
use crate::document::sha256_hex;
use crate::write::WriteError;

/// By what a log is known again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct State {
    bytes: u64,
    modified_ns: u128,
    /// Hash of how it was read.
    request: String,
}

#[derive(Debug, Serialize, Deserialize)]
struct Entry {
    log: String,
    state: State,
    reduced: Reduced,
}

/// The journal of a table.
#[derive(Debug)]
pub(super) struct Journal {
    path: PathBuf,
    file: File,
    request: String,
    finished: BTreeMap<String, (State, Reduced)>,
}

impl Journal {
    /// Opens it; with `resume` what stands in it counts.
    pub(super) fn open(table: &Path, request: &LogRequest, resume: bool) -> Result<Self, WriteError> {
        let mut name = table.as_os_str().to_owned();
        name.push(".part");
        let path = PathBuf::from(name);
        let mut finished = BTreeMap::new();
        if resume {
            let text = fs::read_to_string(&path).unwrap_or_default();
            let entries = text.lines().filter_map(|line| serde_json::from_str::<Entry>(line).ok());
            finished = entries.map(|e| (e.log, (e.state, e.reduced))).collect();
        }
        let refused = |source| WriteError::Refused { path: path.clone(), source };
        let mut file = OpenOptions::new()
            .create(true)
            .write(true)
            .append(resume)
            .truncate(!resume)
            .open(&path)
            .map_err(refused)?;
        if resume {
            // After a line that was cut short.
            file.write_all(b"\n").map_err(refused)?;
        }
        // Neither threads nor pictures change a row.
        let known = LogRequest { threads: 0, pictures: false, ..request.clone() };
        Ok(Self { path, file, request: sha256_hex(format!("{known:?}").as_bytes()), finished })
    }

    fn state(&self, log: &Path) -> Option<State> {
        let about = fs::metadata(log).ok()?;
        let modified_ns = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?.as_nanos();
        Some(State { bytes: about.len(), modified_ns, request: self.request.clone() })
    }

    /// What an earlier run made of a log that has not changed since.
    pub(super) fn finished(&self, log: &Path) -> Option<Reduced> {
        let (state, reduced) = self.finished.get(&log.display().to_string())?;
        (self.state(log).as_ref() == Some(state)).then(|| reduced.clone())
    }

    /// Enters a log.
    pub(super) fn enter(&mut self, log: &Path, reduced: &Reduced) -> Result<(), WriteError> {
        let Some(state) = self.state(log) else { return Ok(()) };
        let entry = Entry { log: log.display().to_string(), state, reduced: reduced.clone() };
        let Ok(mut line) = serde_json::to_string(&entry) else { return Ok(()) };
        line.push('\n');
        let refused = |source| WriteError::Refused { path: self.path.clone(), source };
        self.file.write_all(line.as_bytes()).map_err(refused)
    }

    /// Takes it away: the table holds everything.
    pub(super) fn close(self) {
        drop(self.file);
        // One that stays is only read by --resume, which checks it.
        let _ = fs::remove_file(&self.path);
    }
}

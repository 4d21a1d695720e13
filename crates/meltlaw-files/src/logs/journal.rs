//! What a run has reduced, beside the table that it will write: one line a log. A line that a stop cut short is no row.

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use meltlaw::reduce::Reduced;
use serde::{Deserialize, Serialize};

use super::options::LogOptions;
use super::table::{NamedLog, WhereItStands};
use crate::write::{Inputs, Lock, WriteError, may_write};

/// How every line begins.
const BEGINNING: &[u8] = b"{\"log\":";

/// By what it is seen that a log has not changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct State {
    bytes: u64,
    modified_ns: u128,
}

impl State {
    fn of(log: &Path) -> Option<Self> {
        let about = fs::metadata(log).ok()?;
        let modified_ns = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?.as_nanos();
        Some(Self { bytes: about.len(), modified_ns })
    }
}

#[derive(Debug, Serialize, Deserialize)]
struct Entry {
    log: String,
    state: State,
    read_with: LogOptions,
    reduced: Reduced,
}

/// The journal of a table.
#[derive(Debug)]
pub(super) struct Journal {
    path: PathBuf,
    file: File,
    finished: BTreeMap<String, Entry>,
    /// Held until the table is written, so that two runs for one table do not lose each other's rows.
    _lock: Lock,
}

impl Journal {
    /// Opens it. What stands in it counts where the run goes on, and is lost only where the table is replaced.
    pub(super) fn open(table: &Path, run: WhereItStands, inputs: &Inputs) -> Result<Self, WriteError> {
        let mut name = table.as_os_str().to_owned();
        name.push(".part");
        let path = PathBuf::from(name);
        may_write(&path, true, inputs)?;
        if fs::metadata(&path).is_ok_and(|about| !about.is_file()) || !begins_as_ours(&path) {
            let found =
                "holds something else than what a stopped run leaves, and would be written over; give another --out";
            return Err(WriteError::NotATable { path, found: found.to_owned() });
        }
        if run == WhereItStands::Refuse && fs::metadata(&path).is_ok_and(|about| about.len() > 0) {
            let found =
                "holds what a stopped run has reduced; give --resume to go on with it, or --force to begin anew";
            return Err(WriteError::NotATable { path, found: found.to_owned() });
        }
        let refused = |source| WriteError::Refused { path: path.clone(), source };
        let mut file = OpenOptions::new().create(true).append(true).open(&path).map_err(refused)?;
        let lock = Lock::on(&path);
        if lock.is_taken() {
            return Err(WriteError::Busy { path: table.to_owned() });
        }
        let mut finished = BTreeMap::new();
        if run == WhereItStands::GoOn {
            let text = fs::read(&path).map_err(refused)?;
            let entries = text.split(|b| *b == b'\n').filter_map(|line| serde_json::from_slice::<Entry>(line).ok());
            finished = entries.map(|entry| (entry.log.clone(), entry)).collect();
            if text.last().is_some_and(|end| *end != b'\n') {
                // After a line that was cut short.
                file.write_all(b"\n").map_err(refused)?;
            }
        } else {
            file.set_len(0).map_err(refused)?;
        }
        Ok(Self { path, file, finished, _lock: lock })
    }

    /// What an earlier run made of a log that has not changed since and for which nothing else is stated now.
    pub(super) fn finished(&self, log: &NamedLog) -> Option<Reduced> {
        let entry = self.finished.get(&log.path.display().to_string())?;
        let same = State::of(&log.path).as_ref() == Some(&entry.state) && log.options.agrees_with(&entry.read_with);
        same.then(|| entry.reduced.clone())
    }

    /// Enters a log.
    pub(super) fn enter(&mut self, log: &NamedLog, read_with: LogOptions, reduced: &Reduced) -> Result<(), WriteError> {
        let Some(state) = State::of(&log.path) else { return Ok(()) };
        let entry = Entry { log: log.path.display().to_string(), state, read_with, reduced: reduced.clone() };
        let Ok(mut line) = serde_json::to_string(&entry) else { return Ok(()) };
        line.push('\n');
        let refused = |source| WriteError::Refused { path: self.path.clone(), source };
        self.file.write_all(line.as_bytes()).map_err(refused)
    }

    /// Takes it away: the table holds everything.
    pub(super) fn close(self) {
        // One that stays is only read by a run that goes on, which checks it.
        let _ = fs::remove_file(&self.path);
    }

    /// Leaves it for a run that goes on; an empty one goes.
    pub(super) fn leave(self) {
        if self.file.metadata().is_ok_and(|about| about.len() == 0) {
            self.close();
        }
    }
}

/// Whether what is there, if anything, was left by a run of ours.
fn begins_as_ours(path: &Path) -> bool {
    let Ok(file) = File::open(path) else { return true };
    let mut begin = Vec::new();
    let read = file.take(BEGINNING.len() as u64 + 1).read_to_end(&mut begin);
    let begin = begin.trim_ascii_start();
    // A stop may have cut even the first line short.
    read.is_ok() && (begin.starts_with(BEGINNING) || BEGINNING.starts_with(begin))
}

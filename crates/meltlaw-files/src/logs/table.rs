//! The table that logs become rows of, over as many runs as it takes: what stands in it is never lost.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;
use std::time::SystemTime;

use meltlaw::reduce::Reduced;
use meltlaw::trials::Trials;

use super::journal::Journal;
use super::many::{Progress, in_order};
use super::options::LogOptions;
use super::standing::{StandingRow, TextTable, read_standing};
use super::{LogRequest, reduce_log};
use crate::read::{Fault, spelt_out};
use crate::write::tables::text as cell_text;
use crate::write::{Inputs, WriteError, may_write, trials_csv, write_file};

/// What a run does with a table that stands already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhereItStands {
    /// Refuses it.
    Refuse,
    /// Writes a new one in its place.
    Replace,
    /// Goes on with it: its rows stay, and only logs that it does not hold are read.
    GoOn,
}

/// A log to be reduced.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedLog {
    /// Its trial: the file's name without its ending.
    pub trial: String,
    /// Where it is.
    pub path: PathBuf,
    /// What is stated for it alone.
    pub options: LogOptions,
}

impl NamedLog {
    /// Its path as tables and messages hold it.
    pub fn shown(&self) -> String {
        spelt_out(&self.path.display().to_string().replace('\\', "/"))
    }
}

/// What became of a log.
#[derive(Debug, Clone)]
pub enum LogOutcome {
    /// Reduced, now or by an earlier run that was stopped.
    Reduced(Box<Reduced>),
    /// Not read: its row stands in the table.
    Stands,
    /// Not readable; an earlier row of it, if there is one, stays.
    Failed(Box<Fault>),
}

impl LogOutcome {
    /// What it was reduced to, where it was.
    pub fn reduced(&self) -> Option<&Reduced> {
        if let Self::Reduced(reduced) = self { Some(reduced) } else { None }
    }
}

/// A table of logs while a run works at it.
#[derive(Debug)]
pub struct LogTable {
    path: PathBuf,
    where_it_stands: WhereItStands,
    inputs: Inputs,
    standing: Option<(TextTable, SystemTime)>,
    journal: Journal,
}

impl LogTable {
    /// Opens the table for a run that reads `inputs`. Beside it, in `TABLE.part`, the run keeps what it has reduced until the
    /// table is written.
    ///
    /// # Errors
    /// [`WriteError`] where the table may not be written, is no table of logs to go on with, or another run works at it.
    pub fn open(path: &Path, where_it_stands: WhereItStands, inputs: Inputs) -> Result<Self, WriteError> {
        may_write(path, where_it_stands != WhereItStands::Refuse, &inputs)?;
        let goes_on = where_it_stands == WhereItStands::GoOn;
        let journal = Journal::open(path, where_it_stands, &inputs)?;
        let standing = match if goes_on { read_standing(path) } else { Ok(None) } {
            Ok(standing) => standing,
            Err(found) => {
                journal.leave();
                let found = format!("{found}; give another --out, or --force to write a new table in its place");
                return Err(WriteError::NotATable { path: path.to_owned(), found });
            }
        };
        Ok(Self { path: path.to_owned(), where_it_stands, inputs, standing, journal })
    }

    /// Whether a row of this trial stands in the table.
    pub fn holds(&self, trial: &str) -> bool {
        self.row(trial).is_some()
    }

    fn row(&self, trial: &str) -> Option<StandingRow<'_>> {
        self.standing.as_ref()?.0.row(&cell_text(trial))
    }

    /// Reduces logs into one outcome each, in their order; tells `progress` while it goes on.
    ///
    /// Where the run goes on with a table, a log is not read when its row stands there, it has not changed since, and what is
    /// stated for it alone is what it was read with. The request is for the logs that are read.
    ///
    /// # Errors
    /// [`WriteError`] where a row of another log has the name of one of these, or where the journal cannot be written.
    pub fn reduce(
        &mut self,
        logs: &[NamedLog],
        request: &LogRequest,
        progress: impl FnMut(Progress),
    ) -> Result<Vec<LogOutcome>, WriteError> {
        let known = logs.iter().map(|log| self.known(log, request.pictures)).collect::<Result<Vec<_>, _>>()?;
        let sizes: Vec<u64> = logs.iter().map(|l| std::fs::metadata(&l.path).map_or(0, |m| m.len())).collect();
        let threads = request.threads.max(1);
        let at_once = threads.min(logs.len()).max(1);
        let each = LogRequest { threads: if at_once > 1 { threads / at_once } else { threads }, ..request.clone() };
        let reduce = |k: usize, read: &AtomicU64| match &known[k] {
            Some(outcome) => {
                read.fetch_add(sizes[k], std::sync::atomic::Ordering::Relaxed);
                outcome.clone()
            }
            None => match reduce_log(&logs[k].path, &logs[k].options.on(&each), read) {
                Ok(reduced) => LogOutcome::Reduced(Box::new(reduced)),
                Err(fault) => LogOutcome::Failed(fault),
            },
        };
        let journal = &mut self.journal;
        let ended = |k: usize, outcome: &LogOutcome| match (outcome, &known[k]) {
            (LogOutcome::Reduced(reduced), None) => {
                journal.enter(&logs[k], LogOptions::of(&logs[k].options.on(request)), reduced)
            }
            _ => Ok(()),
        };
        in_order(&sizes, at_once, reduce, ended, progress)
    }

    /// What is known of a log without reading it.
    fn known(&self, log: &NamedLog, pictures: bool) -> Result<Option<LogOutcome>, WriteError> {
        if let Some(reduced) = self.journal.finished(log).filter(|_| !pictures) {
            return Ok(Some(LogOutcome::Reduced(Box::new(reduced))));
        }
        let (Some(row), Some((_, written))) = (self.row(&log.trial), &self.standing) else { return Ok(None) };
        if !row.is_of(&log.path, &cell_text(&log.shown())) {
            return Err(WriteError::NotATable {
                path: self.path.clone(),
                found: format!(
                    "holds a row '{}' of {}, not of {}; rename the log or give another --out",
                    log.trial,
                    spelt_out(row.log()),
                    log.shown()
                ),
            });
        }
        let changed = std::fs::metadata(&log.path).and_then(|about| about.modified()).is_ok_and(|at| at > *written);
        Ok((!changed && log.options.agrees_with(&row.options())).then_some(LogOutcome::Stands))
    }

    /// Writes the table, whole or not at all: the rows of `trials`, and every row that stood in it. What `beside` states of the
    /// rows that were not read is laid over them. Returns how many rows the table has now.
    ///
    /// # Errors
    /// [`WriteError`]; the table that stood is still there, and what was reduced stays in `TABLE.part`.
    pub fn write(self, trials: &Trials, beside: Option<&Trials>, cautions: &[String]) -> Result<usize, WriteError> {
        let csv = |trials: &Trials| trials_csv("reduced from logs", trials, cautions);
        let own = |csv: &str| TextTable::parse(csv).expect("a table of ours");
        let newer = csv(trials);
        let (text, rows) = match self.standing {
            None => (newer, trials.rows.len()),
            Some((mut table, _)) => {
                if let Some(beside) = beside {
                    table.lay_over(&own(&csv(beside)));
                }
                table.take_over(&own(&newer));
                (table.to_csv(), table.len())
            }
        };
        write_file(&self.path, text.as_bytes(), self.where_it_stands != WhereItStands::Refuse, &self.inputs)?;
        self.journal.close();
        Ok(rows)
    }

    /// Leaves the table as it is; what was reduced stays in `TABLE.part`.
    pub fn leave(self) {
        self.journal.leave();
    }
}

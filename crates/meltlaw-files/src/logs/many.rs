//! Many logs, several at a time; what each gives does not depend on how many.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

use meltlaw::reduce::Reduced;

use super::journal::Journal;
use super::{LogRequest, reduce_log};
use crate::read::Fault;
use crate::write::WriteError;

/// How often progress is told.
const TELL: Duration = Duration::from_millis(200);

/// What became of a log.
pub type LogOutcome = Result<Reduced, Box<Fault>>;

/// How far reading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Logs that are done.
    pub logs: usize,
    /// Of so many.
    pub of_logs: usize,
    /// Bytes read, taken over ones among them.
    pub bytes: u64,
    /// Of so many.
    pub of_bytes: u64,
}

/// Reduces logs into one outcome each, in their order; tells `progress` while it goes on.
///
/// With `resume` logs that an earlier run for the same table finished are taken over where neither they nor the request
/// changed. The journal beside the table goes where every log was read.
///
/// # Errors
/// [`WriteError`] where the journal cannot be written.
pub fn reduce_logs(
    logs: &[PathBuf],
    request: &LogRequest,
    table: &Path,
    resume: bool,
    mut progress: impl FnMut(Progress),
) -> Result<Vec<LogOutcome>, WriteError> {
    let mut journal = Journal::open(table, request, resume)?;
    let sizes: Vec<u64> = logs.iter().map(|l| std::fs::metadata(l).map_or(0, |m| m.len())).collect();
    let taken: Vec<Option<Reduced>> = logs.iter().map(|l| journal.finished(l).filter(|_| !request.pictures)).collect();
    let threads = request.threads.max(1);
    let at_once = threads.min(logs.len()).max(1);
    let each = LogRequest { threads: if at_once > 1 { threads / at_once } else { threads }, ..request.clone() };
    let (next, read) = (AtomicUsize::new(0), AtomicU64::new(0));
    let mut outcomes: Vec<Option<LogOutcome>> = (0..logs.len()).map(|_| None).collect();
    let mut failed = None;
    thread::scope(|scope| {
        let (tell, told) = channel::<(usize, LogOutcome)>();
        for _ in 0..at_once {
            let tell = tell.clone();
            let (each, next, read, taken, sizes) = (&each, &next, &read, &taken, &sizes);
            scope.spawn(move || {
                loop {
                    let k = next.fetch_add(1, Ordering::Relaxed);
                    let Some(log) = logs.get(k) else { return };
                    let outcome = match &taken[k] {
                        Some(reduced) => {
                            read.fetch_add(sizes[k], Ordering::Relaxed);
                            Ok(reduced.clone())
                        }
                        None => reduce_log(log, each, read),
                    };
                    if tell.send((k, outcome)).is_err() {
                        return;
                    }
                }
            });
        }
        drop(tell);
        let mut ended = 0;
        loop {
            match told.recv_timeout(TELL) {
                Ok((k, outcome)) => {
                    ended += 1;
                    if let (Ok(reduced), None) = (&outcome, &taken[k])
                        && let Err(e) = journal.enter(&logs[k], reduced)
                    {
                        failed = Some(e);
                        next.store(logs.len(), Ordering::Relaxed);
                        return;
                    }
                    outcomes[k] = Some(outcome);
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            let bytes = read.load(Ordering::Relaxed);
            progress(Progress { logs: ended, of_logs: logs.len(), bytes, of_bytes: sizes.iter().sum() });
        }
    });
    if let Some(e) = failed {
        return Err(e);
    }
    let outcomes: Vec<LogOutcome> = outcomes.into_iter().flatten().collect();
    if outcomes.iter().all(Result::is_ok) {
        journal.close();
    }
    Ok(outcomes)
}

//! Many logs, several at a time; what each gives does not depend on how many.

use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

/// How often progress is told.
const TELL: Duration = Duration::from_millis(200);

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

/// Does `work` for each of the files whose sizes are given, `at_once` at a time, and returns its outcomes in their order.
///
/// `work` counts the bytes that it reads. `ended` gets each outcome as it comes, on this thread; its error stops what has not
/// begun.
pub(super) fn in_order<T: Send, E>(
    sizes: &[u64],
    at_once: usize,
    work: impl Fn(usize, &AtomicU64) -> T + Sync,
    mut ended: impl FnMut(usize, &T) -> Result<(), E>,
    mut progress: impl FnMut(Progress),
) -> Result<Vec<T>, E> {
    let (next, read) = (AtomicUsize::new(0), AtomicU64::new(0));
    let mut outcomes: Vec<Option<T>> = sizes.iter().map(|_| None).collect();
    thread::scope(|scope| {
        let (tell, told) = channel::<(usize, T)>();
        for _ in 0..at_once {
            let tell = tell.clone();
            let (next, read, work) = (&next, &read, &work);
            scope.spawn(move || {
                loop {
                    let k = next.fetch_add(1, Ordering::Relaxed);
                    if k >= sizes.len() || tell.send((k, work(k, read))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(tell);
        let mut logs = 0;
        loop {
            match told.recv_timeout(TELL) {
                Ok((k, outcome)) => {
                    logs += 1;
                    if let Err(e) = ended(k, &outcome) {
                        next.store(sizes.len(), Ordering::Relaxed);
                        return Err(e);
                    }
                    outcomes[k] = Some(outcome);
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return Ok(()),
            }
            let bytes = read.load(Ordering::Relaxed);
            progress(Progress { logs, of_logs: sizes.len(), bytes, of_bytes: sizes.iter().sum() });
        }
    })?;
    Ok(outcomes.into_iter().flatten().collect())
}

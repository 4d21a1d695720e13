//! Some threads make what another takes, in order.

use std::collections::BTreeMap;
use std::sync::mpsc::{Receiver, RecvError, Sender, TryRecvError, channel};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use crate::read::quietly;

/// Small batches that wait to be taken, beside one for each thread.
pub(super) const WAITING: usize = 2;

/// How long somebody waits before going to sleep.
const AWAKE: Duration = Duration::from_micros(200);

/// How batches are made.
pub(super) struct Making<F, W> {
    /// Fetches the next one, one thread after another; `false` where there is none.
    pub(super) fetch: F,
    /// Works on one, several threads side by side.
    pub(super) work: W,
}

/// Makes batches on so many threads of their own (0: on this one) until there are none, so many more than threads at most;
/// takes them here in the order in which they were fetched. An error ends it; none stands for a panic. Batches are used
/// again.
pub(super) fn ahead<B: Default + Send, M: Send, E>(
    [threads, waiting]: [usize; 2],
    making: Making<impl FnMut(&mut B) -> Result<bool, M> + Send, impl Fn(&mut B) -> Result<(), M> + Sync>,
    mut take: impl FnMut(Result<&mut B, Option<M>>) -> Result<(), E>,
) -> Result<(), E> {
    let Making { mut fetch, work } = making;
    if threads == 0 {
        let mut batch = B::default();
        loop {
            match quietly(|| Ok(if fetch(&mut batch)? { Some(work(&mut batch)?) } else { None })) {
                Some(Ok(Some(()))) => take(Ok(&mut batch))?,
                Some(Ok(None)) => return Ok(()),
                Some(Err(e)) => return take(Err(Some(e))),
                None => return take(Err(None)),
            }
        }
    }
    let (made, to_take) = channel::<(usize, Result<B, Option<M>>)>();
    let (taken, to_fill) = channel::<B>();
    for _ in 0..threads + waiting {
        // The receiver lives as long as this function.
        let _ = taken.send(B::default());
    }
    let source = Mutex::new(Source { fetch, next: Some(0) });
    let to_fill = Mutex::new(to_fill);
    thread::scope(|scope| {
        for _ in 0..threads {
            let (made, source, to_fill, work) = (made.clone(), &source, &to_fill, &work);
            scope.spawn(move || make(source, to_fill, work, &made));
        }
        drop(made);
        // Batches that came before their turn.
        let mut early = BTreeMap::new();
        let mut next = 0;
        let mut take_all = || {
            while let Some((number, batch)) = wait(|| to_take.try_recv(), || to_take.recv()) {
                early.insert(number, batch);
                while let Some(batch) = early.remove(&next) {
                    next += 1;
                    match batch {
                        Ok(mut batch) => {
                            take(Ok(&mut batch))?;
                            let _ = taken.send(batch);
                        }
                        Err(e) => return take(Err(e)),
                    }
                }
            }
            Ok(())
        };
        let done = take_all();
        // Whoever waits for a batch to fill waits no longer.
        drop(taken);
        done
    })
}

/// What comes next, or nothing where nothing will. A while it is asked for again and again: to wake somebody who sleeps may
/// take as long as to make a batch.
fn wait<T>(try_now: impl Fn() -> Result<T, TryRecvError>, sleep: impl FnOnce() -> Result<T, RecvError>) -> Option<T> {
    let begun = Instant::now();
    while begun.elapsed() < AWAKE {
        match try_now() {
            Ok(next) => return Some(next),
            Err(TryRecvError::Disconnected) => return None,
            Err(TryRecvError::Empty) => thread::yield_now(),
        }
    }
    sleep().ok()
}

struct Source<F> {
    fetch: F,
    /// Number of the next batch; none after the last.
    next: Option<usize>,
}

fn make<B, M>(
    source: &Mutex<Source<impl FnMut(&mut B) -> Result<bool, M>>>,
    to_fill: &Mutex<Receiver<B>>,
    work: &impl Fn(&mut B) -> Result<(), M>,
    made: &Sender<(usize, Result<B, Option<M>>)>,
) {
    loop {
        let locked = || to_fill.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(mut batch) = wait(|| locked().try_recv(), || locked().recv()) else { return };
        let mut source = source.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(number) = source.next else { return };
        let fetched = quietly(|| (source.fetch)(&mut batch));
        source.next = matches!(fetched, Some(Ok(true))).then_some(number + 1);
        drop(source);
        let worked = match fetched {
            Some(Ok(true)) => quietly(|| work(&mut batch)),
            Some(Ok(false)) => return,
            Some(Err(e)) => Some(Err(e)),
            None => None,
        };
        let batch = match worked {
            Some(Ok(())) => Ok(batch),
            Some(Err(e)) => Err(Some(e)),
            None => Err(None),
        };
        if made.send((number, batch)).is_err() {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn batches_come_whole_and_in_order_whoever_makes_them() {
        for threads in [0, 1, 2, 5] {
            for fails_at in [None, Some((0, true)), Some((7, true)), Some((7, false)), Some((19, false))] {
                let mut next = 0;
                let making = Making {
                    fetch: |batch: &mut Vec<u32>| {
                        batch.clear();
                        batch.push(next);
                        next += 1;
                        Ok(next <= 20)
                    },
                    work: |batch: &mut Vec<u32>| match fails_at {
                        Some((at, says)) if at == batch[0] => {
                            if says {
                                Err("torn")
                            } else {
                                std::panic::resume_unwind(Box::new("a foreign panic"))
                            }
                        }
                        _ => {
                            batch.push(batch[0]);
                            Ok(())
                        }
                    },
                };
                let mut taken: Vec<u32> = Vec::new();
                let result = ahead([threads, WAITING], making, |batch| {
                    taken.extend(batch?.iter());
                    Ok(())
                });
                let wanted: Vec<u32> = (0..fails_at.map_or(20, |(at, _)| at)).flat_map(|k| [k, k]).collect();
                let wanted_end = fails_at.map_or(Ok(()), |(_, says)| Err(says.then_some("torn")));
                assert_eq!((taken, result), (wanted, wanted_end), "{threads} threads, {fails_at:?}");
            }
        }
    }

    #[test]
    fn nobody_waits_for_a_taker_that_gave_up() {
        let making = Making { fetch: |_: &mut u8| Ok::<_, ()>(true), work: |_: &mut u8| Ok(()) };
        let mut taken = 0;
        let ended = ahead([3, 0], making, |_| {
            taken += 1;
            if taken == 10 { Err("enough") } else { Ok(()) }
        });
        assert_eq!(ended, Err("enough"));
    }
}

//! One thread makes what another takes, in order.

use std::sync::mpsc::sync_channel;
use std::thread;

/// Makes batches until there are none, and takes each; on two threads where `apart`, with so many `waiting` between them.
/// Batches are used again.
pub(super) fn ahead<B: Default + Send, M: Send, E>(
    apart: bool,
    waiting: usize,
    mut make: impl FnMut(&mut B) -> Result<bool, M> + Send,
    mut take: impl FnMut(Result<&mut B, M>) -> Result<(), E>,
) -> Result<(), E> {
    if !apart {
        let mut batch = B::default();
        loop {
            match make(&mut batch) {
                Ok(true) => take(Ok(&mut batch))?,
                Ok(false) => return Ok(()),
                Err(e) => return take(Err(e)),
            }
        }
    }
    thread::scope(|scope| {
        let (made, to_take) = sync_channel::<Result<B, M>>(waiting);
        let (taken, to_fill) = sync_channel::<B>(waiting + 2);
        scope.spawn(move || {
            loop {
                let mut batch = to_fill.try_recv().unwrap_or_default();
                let more = match make(&mut batch) {
                    Ok(false) => return,
                    Ok(true) => Ok(batch),
                    Err(e) => Err(e),
                };
                // Nobody takes any more, or there was an error: in both cases there is nothing left to do.
                let failed = more.is_err();
                if made.send(more).is_err() || failed {
                    return;
                }
            }
        });
        for batch in to_take {
            match batch {
                Ok(mut batch) => {
                    take(Ok(&mut batch))?;
                    // Full only if the maker has all it needs.
                    let _ = taken.try_send(batch);
                }
                Err(e) => return take(Err(e)),
            }
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn batches_come_whole_and_in_order_whoever_makes_them() {
        for (apart, waiting) in [(false, 0), (true, 0), (true, 3)] {
            for fails_at in [None, Some(0), Some(7)] {
                let mut next = 0;
                let mut taken: Vec<u32> = Vec::new();
                let result = ahead(
                    apart,
                    waiting,
                    |batch: &mut Vec<u32>| {
                        batch.clear();
                        batch.extend([next, next]);
                        next += 1;
                        if Some(next - 1) == fails_at { Err("torn") } else { Ok(next <= 20) }
                    },
                    |batch| {
                        taken.extend(batch?.iter());
                        Ok(())
                    },
                );
                let wanted: Vec<u32> = (0..fails_at.unwrap_or(20)).flat_map(|k| [k, k]).collect();
                assert_eq!((taken, result), (wanted, fails_at.map_or(Ok(()), |_| Err("torn"))));
            }
        }
    }
}

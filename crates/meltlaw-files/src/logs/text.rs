//! Text logs: read in pieces, parsed by as many threads as there are, handed on in order.

use std::io::{ErrorKind, Read};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

use super::text_layout::{Layout, ROLES, layout};
use super::text_rows::{Bad, Columns, Piece};
use super::{PIECE_BYTES, STAMP_EVERY, Sink, TimePlace, WAITING};
use crate::read::Fault;

/// The beginning of a file that header and preamble lie in.
const HEAD_BYTES: usize = 1 << 16;

/// Reads a text log into the sink.
pub(super) fn read_text(mut file: impl Read, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let mut head = Vec::with_capacity(HEAD_BYTES);
    (&mut file).take(HEAD_BYTES as u64).read_to_end(&mut head).map_err(|e| unreadable(sink, &e))?;
    sink.read(head.len());
    if head.is_empty() {
        return Err(sink.fault("an empty file", "a log", "export it again"));
    }
    let layout = layout(&head, sink.request).map_err(|(found, needed, action)| sink.fault(found, needed, &action))?;
    if layout.columns[0].is_none() && sink.request.sample_rate_hz.is_none() {
        return Err(sink.fault(
            "no column of time",
            "a time column or the sample rate",
            "give --columns time=… or --sample-rate-hz",
        ));
    }
    let first_bytes = head.split_off(layout.data_at.min(head.len()));
    let mut pieces = Pieces { file, left: first_bytes, ended: false };
    let threads = sink.request.threads.max(1);
    let columns = Columns::new(&layout, sink.request);
    let mut rows = Rows { sink, layout: &layout, columns, line: layout.lines_before, first: true };
    // The first piece tells the sample rate and is parsed here, with every time.
    let mut piece = Piece::default();
    if !pieces.next(&mut piece, rows.sink)? {
        return Err(rows.sink.fault("a header and no row below it", "samples", "export the log again"));
    }
    let parsed = piece.parse(&columns, 1);
    rows.take(&mut piece, parsed)?;
    if threads > 1 {
        return in_parallel(&mut pieces, &mut rows, threads);
    }
    while pieces.next(&mut piece, rows.sink)? {
        let parsed = piece.parse(&columns, STAMP_EVERY);
        rows.take(&mut piece, parsed)?;
    }
    Ok(())
}

type Done = (Piece, Result<(), Bad>);

/// Workers parse piece after piece in turn; this thread reads and reduces.
fn in_parallel(pieces: &mut Pieces<impl Read>, rows: &mut Rows<'_, '_>, threads: usize) -> Result<(), Box<Fault>> {
    let columns = rows.columns;
    thread::scope(|scope| {
        let workers: Vec<(SyncSender<Piece>, Receiver<Done>)> = (0..threads)
            .map(|_| {
                let (jobs, todo) = sync_channel::<Piece>(WAITING);
                let (finished, done) = sync_channel::<Done>(WAITING);
                scope.spawn(move || {
                    for mut piece in todo {
                        let parsed = piece.parse(&columns, STAMP_EVERY);
                        if finished.send((piece, parsed)).is_err() {
                            return;
                        }
                    }
                });
                (jobs, done)
            })
            .collect();
        let mut spare: Vec<Piece> = Vec::new();
        let (mut sent, mut taken) = (0, 0);
        let mut ended = false;
        while !ended || taken < sent {
            if !ended && sent - taken < WAITING * threads {
                let mut piece = spare.pop().unwrap_or_default();
                if pieces.next(&mut piece, rows.sink)? {
                    // A worker that is gone has said why on its other channel.
                    let _ = workers[sent % threads].0.send(piece);
                    sent += 1;
                } else {
                    ended = true;
                }
                continue;
            }
            let Ok((mut piece, parsed)) = workers[taken % threads].1.recv() else {
                return Err(rows.sink.fault(
                    "a piece that no thread could parse",
                    "a log",
                    "report this as a fault of the program",
                ));
            };
            taken += 1;
            rows.take(&mut piece, parsed)?;
            spare.push(piece);
        }
        Ok(())
    })
}

fn unreadable(sink: &Sink<'_>, error: &std::io::Error) -> Box<Fault> {
    sink.fault(format!("a file that cannot be read ({error})"), "a log", "copy it again")
}

/// A file in pieces that end with a line.
struct Pieces<F> {
    file: F,
    /// What lies before the next line's beginning.
    left: Vec<u8>,
    ended: bool,
}

impl<F: Read> Pieces<F> {
    /// The next lines; `false` where there are none.
    fn next(&mut self, piece: &mut Piece, sink: &Sink<'_>) -> Result<bool, Box<Fault>> {
        let text = piece.begin(&self.left);
        let mut length = self.left.len();
        self.left.clear();
        while !self.ended && length < PIECE_BYTES {
            match self.file.read(&mut text[length..PIECE_BYTES]) {
                Ok(0) => self.ended = true,
                Ok(more) => {
                    length += more;
                    sink.read(more);
                }
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) => return Err(unreadable(sink, &e)),
            }
        }
        if self.ended {
            piece.end(length, true);
            return Ok(length > 0);
        }
        let Some(end) = text[..length].iter().rposition(|b| *b == b'\n') else {
            return Err(sink.fault(
                format!("a line of more than {} kB", length / 1000),
                "a row for each sample",
                "see whether this is a text at all, or give --raw for bare numbers",
            ));
        };
        self.left.extend_from_slice(&text[end + 1..length]);
        piece.end(end + 1, false);
        Ok(true)
    }
}

/// Takes parsed pieces in order.
struct Rows<'a, 'b> {
    sink: &'a mut Sink<'b>,
    layout: &'a Layout,
    columns: Columns,
    /// Lines before the piece.
    line: usize,
    first: bool,
}

impl Rows<'_, '_> {
    fn take(&mut self, piece: &mut Piece, parsed: Result<(), Bad>) -> Result<(), Box<Fault>> {
        parsed.map_err(|bad| self.bad(&bad))?;
        let place =
            TimePlace { rows_before: self.line, column: self.layout.columns[0].as_ref().map_or("", |w| &w.name) };
        let stated = self.sink.request.sample_rate_hz;
        if self.first {
            self.first = false;
            match stated {
                Some(rate) => self.sink.begin(rate)?,
                None => {
                    let times: Vec<f64> = piece.stamps.iter().map(|(_, t)| *t).filter(|t| t.is_finite()).collect();
                    self.sink.begin_by(&times, place)?;
                }
            }
        }
        if stated.is_some() {
            self.sink.push(&piece.current, &piece.voltage);
        } else if !self.sink.push_timed(&piece.stamps, &piece.current, &piece.voltage, place)? {
            // Some time among those not looked at does not fit: look at all.
            let again = piece.parse(&self.columns, 1);
            return self.take(piece, again);
        }
        self.line += piece.lines;
        Ok(())
    }

    fn bad(&self, bad: &Bad) -> Box<Fault> {
        let row = self.line + bad.line + 1;
        let text: String = bad.text.chars().filter(|c| !c.is_control()).take(60).collect();
        match bad.role {
            Some(role) => {
                let column = self.layout.columns[role].as_ref().map_or(ROLES[role], |w| &w.name);
                self.sink.at_row(row, column, format!("'{text}'"), "a number", "mend the cell, or cut the log there")
            }
            None => self.sink.at_row(
                row,
                "",
                format!("'{text}'"),
                "as many columns as in the header",
                "mend the row, or cut the log there",
            ),
        }
    }
}

//! Text logs: read in pieces, parsed by as many threads as there are, handed on in order.

use std::io::Read;
use std::sync::atomic::{AtomicU64, Ordering};

use super::ahead::{Making, WAITING, ahead};
use super::text_layout::{Layout, ROLES, layout};
use super::text_rows::{Bad, Columns, Piece};
use super::{PIECE_BYTES, STAMP_EVERY, Sink, TimePlace, read_up_to};
use crate::read::Fault;

/// The beginning of a file that header and preamble lie in.
const HEAD_BYTES: usize = 1 << 16;

/// Reads a text log into the sink.
pub(super) fn read_text(mut file: impl Read + Send, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let mut head = Vec::with_capacity(HEAD_BYTES);
    (&mut file).take(HEAD_BYTES as u64).read_to_end(&mut head).map_err(|e| Torn::Unreadable(e).said(sink))?;
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
    let mut pieces = Pieces { file, left: first_bytes, ended: false, done: sink.done };
    let threads = sink.request.threads_beside();
    let columns = Columns::new(&layout, sink.request);
    let mut rows = Rows { sink, layout: &layout, columns, line: layout.lines_before, first: true };
    // The first piece tells the sample rate and is parsed here, with every time.
    let mut piece = Piece::default();
    if !pieces.next(&mut piece).map_err(|torn| torn.said(rows.sink))? {
        return Err(rows.sink.fault("a header and no row below it", "samples", "export the log again"));
    }
    piece.parsed = piece.parse(&columns, 1);
    rows.take(&mut piece)?;
    let making = Making {
        fetch: |piece: &mut Piece| pieces.next(piece),
        work: |piece: &mut Piece| {
            piece.parsed = piece.parse(&columns, STAMP_EVERY);
            Ok(())
        },
    };
    ahead([threads, WAITING], making, |piece| match piece {
        Ok(piece) => rows.take(piece),
        Err(e) => Err(e.map_or_else(
            || rows.sink.fault("a text that cannot be read", "a log", "report this as a fault of the program"),
            |e| e.said(rows.sink),
        )),
    })
}

/// Why there is no next piece.
enum Torn {
    Unreadable(std::io::Error),
    LongLine(usize),
}

impl Torn {
    fn said(&self, sink: &Sink<'_>) -> Box<Fault> {
        match self {
            Self::Unreadable(e) => sink.fault(format!("a file that cannot be read ({e})"), "a log", "copy it again"),
            Self::LongLine(bytes) => sink.fault(
                format!("a line of more than {} kB", bytes / 1000),
                "a row for each sample",
                "see whether this is a text at all, or give --raw for bare numbers",
            ),
        }
    }
}

/// A file in pieces that end with a line.
struct Pieces<'a, F> {
    file: F,
    /// What lies before the next line's beginning.
    left: Vec<u8>,
    ended: bool,
    /// Bytes read, for whoever watches.
    done: &'a AtomicU64,
}

impl<F: Read> Pieces<'_, F> {
    /// The next lines; `false` where there are none.
    fn next(&mut self, piece: &mut Piece) -> Result<bool, Torn> {
        let text = piece.begin(&self.left);
        let mut length = self.left.len();
        self.left.clear();
        if !self.ended && length < PIECE_BYTES {
            let more = read_up_to(&mut self.file, &mut text[length..PIECE_BYTES]).map_err(Torn::Unreadable)?;
            self.done.fetch_add(more as u64, Ordering::Relaxed);
            length += more;
            self.ended = length < PIECE_BYTES;
        }
        if self.ended {
            piece.end(length, true);
            return Ok(length > 0);
        }
        let end = text[..length].iter().rposition(|b| *b == b'\n').ok_or(Torn::LongLine(length))?;
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
    fn take(&mut self, piece: &mut Piece) -> Result<(), Box<Fault>> {
        piece.parsed.as_ref().map_err(|bad| self.bad(bad))?;
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
        let before = self.sink.samples;
        if stated.is_some() {
            self.sink.push(&piece.current, &piece.voltage);
        } else if !self.sink.push_timed(&piece.stamps, &piece.current, &piece.voltage, place)? {
            // Some time among those not looked at does not fit: look at all.
            piece.parsed = piece.parse(&self.columns, 1);
            return self.take(piece);
        }
        for ((row, _), values) in piece.stamps.iter().zip(&piece.steady) {
            self.sink.read_steady(before + *row as u64, values);
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

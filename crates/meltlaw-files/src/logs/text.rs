//! Text logs: read in pieces, parsed by as many threads as there are, handed on in order.

use std::io::Read;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

use super::clock::Stamp;
use super::number;
use super::text_layout::{Layout, ROLES, layout};
use super::{PIECE_BYTES, Sink, TimePlace};
use crate::read::Fault;

/// The beginning of a file that header and preamble lie in.
const HEAD_BYTES: usize = 1 << 16;
/// Longest line.
const LONGEST_LINE: usize = 1 << 16;
/// Of so many rows one time is looked at, as long as they come evenly.
const STAMP_EVERY: usize = 64;

/// Rows of a piece.
#[derive(Debug, Default)]
struct Parsed {
    text: Vec<u8>,
    current: Vec<f32>,
    voltage: Vec<f32>,
    stamps: Vec<Stamp>,
    /// Lines, blank ones among them.
    lines: usize,
}

/// A cell or row that cannot be read: line in the piece, role or none, what stands there.
#[derive(Debug)]
struct Bad {
    line: usize,
    role: Option<usize>,
    text: String,
}

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
    let rest = head.split_off(layout.data_at.min(head.len()));
    let mut pieces = Pieces { file, left: rest, ended: false };
    let threads = sink.request.threads.max(1);
    let mut rows = Rows { sink, layout: &layout, line: layout.lines_before, first: true };
    let scale = parse_scale(&layout, rows.sink);
    // The first piece tells the sample rate and is parsed here, with every time.
    let Some(first) = pieces.next(rows.sink)? else {
        return Err(rows.sink.fault("a header and no row below it", "samples", "export the log again"));
    };
    let last = pieces.ended;
    rows.take(parse(Parsed { text: first, ..Parsed::default() }, &layout, scale, 1, last), scale, last)?;
    if threads == 1 {
        let mut spare = Vec::new();
        while let Some(text) = pieces.next(rows.sink)? {
            let last = pieces.ended;
            let parsed = parse(Parsed { text, ..spare.pop().unwrap_or_default() }, &layout, scale, STAMP_EVERY, last);
            spare.extend(rows.take(parsed, scale, last)?);
        }
        return Ok(());
    }
    in_parallel(&mut pieces, &mut rows, scale, threads)
}

type Job = (Parsed, bool);
type Done = (Result<Parsed, Bad>, bool);

/// Workers parse piece after piece in turn; this thread reads and reduces.
fn in_parallel(
    pieces: &mut Pieces<impl Read>,
    rows: &mut Rows<'_, '_>,
    scale: [[f64; 2]; 2],
    threads: usize,
) -> Result<(), Box<Fault>> {
    let layout = rows.layout;
    thread::scope(|scope| {
        let workers: Vec<(SyncSender<Job>, Receiver<Done>)> = (0..threads)
            .map(|_| {
                let (jobs, todo) = sync_channel::<Job>(1);
                let (finished, done) = sync_channel::<Done>(1);
                scope.spawn(move || {
                    for (piece, last) in todo {
                        if finished.send((parse(piece, layout, scale, STAMP_EVERY, last), last)).is_err() {
                            return;
                        }
                    }
                });
                (jobs, done)
            })
            .collect();
        let mut spare: Vec<Parsed> = Vec::new();
        let (mut sent, mut taken) = (0, 0);
        let mut ended = false;
        while !ended || taken < sent {
            if !ended && sent - taken < 2 * threads {
                match pieces.next(rows.sink)? {
                    Some(text) => {
                        let piece = Parsed { text, ..spare.pop().unwrap_or_default() };
                        // A worker that is gone has said why on its other channel.
                        let _ = workers[sent % threads].0.send((piece, pieces.ended));
                        sent += 1;
                    }
                    None => ended = true,
                }
                continue;
            }
            let Ok((parsed, last)) = workers[taken % threads].1.recv() else {
                return Err(rows.sink.fault(
                    "a piece that no thread could parse",
                    "a log",
                    "report this as a fault of the program",
                ));
            };
            taken += 1;
            spare.extend(rows.take(parsed, scale, last)?);
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
    fn next(&mut self, sink: &Sink<'_>) -> Result<Option<Vec<u8>>, Box<Fault>> {
        if self.ended && self.left.is_empty() {
            return Ok(None);
        }
        let mut piece = std::mem::take(&mut self.left);
        piece.reserve((PIECE_BYTES + LONGEST_LINE + number::PADDING).saturating_sub(piece.len()));
        while !self.ended && piece.len() < PIECE_BYTES {
            let from = piece.len();
            let more = (&mut self.file)
                .take((PIECE_BYTES - from) as u64)
                .read_to_end(&mut piece)
                .map_err(|e| unreadable(sink, &e))?;
            sink.read(more);
            self.ended = more < PIECE_BYTES - from;
        }
        if self.ended {
            return Ok((!piece.is_empty()).then_some(piece));
        }
        let Some(end) = piece.iter().rposition(|b| *b == b'\n') else {
            return Err(sink.fault(
                format!("a line of more than {} kB", piece.len() / 1000),
                "a row for each sample",
                "see whether this is a text at all, or give --raw for bare numbers",
            ));
        };
        self.left = piece[end + 1..].to_vec();
        piece.truncate(end + 1);
        Ok(Some(piece))
    }
}

/// Scale and offset of current and voltage, units of the columns among them.
fn parse_scale(layout: &Layout, sink: &Sink<'_>) -> [[f64; 2]; 2] {
    [0, 1].map(|k| {
        let factor = layout.columns[k + 1].as_ref().map_or(1.0, |w| w.factor);
        [factor * sink.request.scale[k], sink.request.offset[k]]
    })
}

/// Parses a piece; of every so many rows the time, and the last row's.
fn parse(
    mut piece: Parsed,
    layout: &Layout,
    scale: [[f64; 2]; 2],
    stamp_every: usize,
    last: bool,
) -> Result<Parsed, Bad> {
    piece.current.clear();
    piece.voltage.clear();
    piece.stamps.clear();
    piece.lines = 0;
    let mut order: Vec<(usize, usize)> =
        layout.columns.iter().enumerate().filter_map(|(role, w)| Some((w.as_ref()?.field, role))).collect();
    order.sort_unstable();
    let time_factor = layout.columns[0].as_ref().map_or(1.0, |w| w.factor);
    let mut text = std::mem::take(&mut piece.text);
    let length = text.len();
    text.resize(length + number::PADDING, 0);
    let (separator, mark) = (layout.separator, layout.mark);
    let timed = layout.columns[0].is_some();
    let mut at = 0;
    let mut values = [f64::NAN; 3];
    let mut until_stamp = 0_usize;
    // Separators before the first of both numbers and between them, for rows of which no time is wanted.
    let numbers: Vec<(usize, usize)> = order.iter().copied().filter(|(_, role)| *role > 0).collect();
    let skips = [numbers[0].0, numbers[1].0 - numbers[0].0];
    let swapped = numbers[0].1 == 2;
    let (mut current, mut voltage) = (std::mem::take(&mut piece.current), std::mem::take(&mut piece.voltage));
    // A row takes six bytes at least.
    current.reserve(length / 6 + 1);
    voltage.reserve(length / 6 + 1);
    while at < length {
        if until_stamp > 0
            && let Some((numbers, end)) = usual_row(&text, at, &skips, separator, mark)
        {
            until_stamp -= 1;
            let [i, u] = if swapped { [numbers[1], numbers[0]] } else { numbers };
            current.push((i * scale[0][0] + scale[0][1]) as f32);
            voltage.push((u * scale[1][0] + scale[1][1]) as f32);
            piece.lines += 1;
            at = end;
            continue;
        }
        let begun = at;
        if matches!(text[at], b'\n' | b'\r') {
            let end = number::next_of(&text, at, [b'\n']).map_or(length, |k| k + 1);
            if text[at..end].trim_ascii().is_empty() {
                (at, piece.lines) = (end, piece.lines + 1);
                continue;
            }
        }
        let mut field = 0;
        for &(wanted, role) in &order {
            while field < wanted {
                match next_field(&text, at, separator) {
                    Some(next) => (at, field) = (next, field + 1),
                    None => {
                        (piece.current, piece.voltage) = (current, voltage);
                        return short(piece, text, length, begun, last);
                    }
                }
            }
            if role == 0 && until_stamp > 0 {
                continue;
            }
            let ends = |end: usize| {
                let b = text[end];
                b == separator || b == b'\n' || b == b'\r' || end >= length
            };
            if let Some((value, end)) = number::plain(&text, at, mark).filter(|(_, end)| ends(*end)) {
                (values[role], at) = (value, end);
                continue;
            }
            let end = text[at..length].iter().position(|b| *b == separator || *b == b'\n').map_or(length, |k| at + k);
            let Some(value) = number::cell(&text[at..end], mark) else {
                if last && end == length {
                    (piece.current, piece.voltage) = (current, voltage);
                    return short(piece, text, length, begun, last);
                }
                let found = String::from_utf8_lossy(&text[at..end]).into_owned();
                return Err(Bad { line: piece.lines, role: Some(role), text: found });
            };
            (values[role], at) = (value, end);
        }
        if until_stamp == 0 {
            if timed {
                piece.stamps.push((current.len(), values[0] * time_factor));
            }
            until_stamp = stamp_every;
        }
        until_stamp -= 1;
        current.push((values[1] * scale[0][0] + scale[0][1]) as f32);
        voltage.push((values[2] * scale[1][0] + scale[1][1]) as f32);
        piece.lines += 1;
        at = if text[at] == b'\n' { at + 1 } else { number::next_of(&text, at, [b'\n']).map_or(length, |k| k + 1) };
    }
    (piece.current, piece.voltage) = (current, voltage);
    text.truncate(length);
    piece.text = text;
    Ok(piece)
}

/// A row as nearly all are: both numbers short, the line ending after the second or later. `None` leaves it to whoever
/// looks closer.
#[inline(always)]
fn usual_row(text: &[u8], mut at: usize, skips: &[usize; 2], separator: u8, mark: u8) -> Option<([f64; 2], usize)> {
    for _ in 0..skips[0] {
        at = next_field(text, at, separator)?;
    }
    let (first, end) = number::short(text, at, mark)?;
    if text[end] != separator {
        return None;
    }
    at = end + 1;
    for _ in 1..skips[1] {
        at = next_field(text, at, separator)?;
    }
    let (second, end) = number::short(text, at, mark)?;
    match text[end] {
        b'\n' => Some(([first, second], end + 1)),
        b'\r' if text[end + 1] == b'\n' => Some(([first, second], end + 2)),
        b if b == separator => Some(([first, second], number::next_of(text, end, [b'\n'])? + 1)),
        _ => None,
    }
}

/// Where the next field of this line begins.
#[inline(always)]
fn next_field(text: &[u8], at: usize, separator: u8) -> Option<usize> {
    let end = number::next_of(text, at, [separator, b'\n'])?;
    (text[end] == separator).then_some(end + 1)
}

/// A row with too few columns: cut off where the file ends, else a fault.
fn short(mut piece: Parsed, mut text: Vec<u8>, length: usize, begun: usize, last: bool) -> Result<Parsed, Bad> {
    text.truncate(length);
    let end = text[begun..].iter().position(|b| *b == b'\n').map_or(text.len(), |k| begun + k);
    if last && end == text.len() {
        piece.text = text;
        return Ok(piece);
    }
    Err(Bad { line: piece.lines, role: None, text: String::from_utf8_lossy(&text[begun..end]).into_owned() })
}

/// Takes parsed pieces in order.
struct Rows<'a, 'b> {
    sink: &'a mut Sink<'b>,
    layout: &'a Layout,
    /// Lines before the piece.
    line: usize,
    first: bool,
}

impl Rows<'_, '_> {
    fn take(
        &mut self,
        parsed: Result<Parsed, Bad>,
        scale: [[f64; 2]; 2],
        last: bool,
    ) -> Result<Option<Parsed>, Box<Fault>> {
        let parsed = parsed.map_err(|bad| self.bad(&bad))?;
        let place =
            TimePlace { rows_before: self.line, column: self.layout.columns[0].as_ref().map_or("", |w| &w.name) };
        let stated = self.sink.request.sample_rate_hz;
        if self.first {
            self.first = false;
            match stated {
                Some(rate) => self.sink.begin(rate)?,
                None => {
                    let times: Vec<f64> = parsed.stamps.iter().map(|(_, t)| *t).filter(|t| t.is_finite()).collect();
                    self.sink.begin_by(&times, place)?;
                }
            }
        }
        if stated.is_some() {
            self.sink.push(&parsed.current, &parsed.voltage);
        } else if !self.sink.push_timed(&parsed.stamps, &parsed.current, &parsed.voltage, place)? {
            // Some time among those not looked at does not fit: look at all.
            let again = parse(parsed, self.layout, scale, 1, last);
            return self.take(again, scale, last);
        }
        self.line += parsed.lines;
        Ok(Some(parsed))
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

//! Rows of a text to numbers, a piece at a time.
//!
//! First every separator and line end of the piece is found, 64 bytes at once; where a number lies then depends on no
//! number before it, so that several are worked on side by side.

use wide::u8x16;

use super::clock::Stamp;
use super::number::{self, Mark};
use super::steady::STEADY;
use super::text_layout::{CHANNELS, Layout};
use super::{LogRequest, PIECE_BYTES};

/// Rows that are taken at once.
const RUN: usize = 64;

/// Where time, current and voltage stand in a row, and what makes them A and V.
#[derive(Debug, Clone, Copy)]
pub(super) struct Columns {
    separator: u8,
    mark: u8,
    /// Field of each role.
    fields: [Option<usize>; CHANNELS],
    /// Whether there is something of which few rows are enough: time, or what holds still.
    watched: bool,
    /// Whether something holds still.
    steady: bool,
    time_factor: f64,
    /// Scale and offset of current and voltage.
    scale: [[f64; 2]; 2],
}

impl Columns {
    pub(super) fn new(layout: &Layout, request: &LogRequest) -> Self {
        let factor = |role: usize| layout.columns[role].as_ref().map_or(1.0, |w| w.factor);
        let fields = std::array::from_fn(|role| layout.columns[role].as_ref().map(|w| w.field));
        let steady = fields[3..].iter().any(Option::is_some);
        Self {
            separator: layout.separator,
            mark: layout.mark,
            fields,
            watched: fields[0].is_some() || steady,
            steady,
            time_factor: factor(0),
            scale: [0, 1].map(|k| request.channel(k, factor(k + 1))),
        }
    }
}

/// A cell or row that cannot be read: line in the piece, role or none, what stands there.
#[derive(Debug)]
pub(super) struct Bad {
    pub(super) line: usize,
    pub(super) role: Option<usize>,
    pub(super) text: String,
}

/// Some whole lines and their numbers; used again for others.
#[derive(Debug)]
pub(super) struct Piece {
    /// Longer than what is text of it.
    text: Vec<u8>,
    length: usize,
    /// Whether the last line has no end: it may have been cut short.
    open: bool,
    ends: Vec<u32>,
    pub(super) current: Vec<f32>,
    pub(super) voltage: Vec<f32>,
    /// Times of some rows.
    pub(super) stamps: Vec<Stamp>,
    /// What holds still, in the same rows; empty where nothing does.
    pub(super) steady: Vec<[f64; STEADY.len()]>,
    /// Lines, blank ones among them.
    pub(super) lines: usize,
    /// Whether all of it could be read.
    pub(super) parsed: Result<(), Bad>,
}

impl Default for Piece {
    fn default() -> Self {
        Self {
            text: Vec::new(),
            length: 0,
            open: false,
            ends: Vec::new(),
            current: Vec::new(),
            voltage: Vec::new(),
            stamps: Vec::new(),
            steady: Vec::new(),
            lines: 0,
            parsed: Ok(()),
        }
    }
}

impl Piece {
    /// Room for text, what is left of the piece before at its beginning.
    pub(super) fn begin(&mut self, left: &[u8]) -> &mut [u8] {
        // And for the end of a last line that has none.
        let room = left.len().max(PIECE_BYTES) + 1;
        if self.text.len() < room {
            self.text.resize(room, 0);
        }
        self.text[..left.len()].copy_from_slice(left);
        &mut self.text
    }

    /// So many bytes are text; `last`: the file ends there.
    pub(super) fn end(&mut self, length: usize, last: bool) {
        self.open = last && length > 0 && self.text[length - 1] != b'\n';
        self.length = length + usize::from(self.open);
        if self.open {
            self.text[length] = b'\n';
        }
    }

    /// Parses every row, and of every so many rows the time.
    pub(super) fn parse(&mut self, columns: &Columns, stamp_every: usize) -> Result<(), Bad> {
        self.current.clear();
        self.voltage.clear();
        self.stamps.clear();
        self.steady.clear();
        self.lines = 0;
        let mut ends = std::mem::take(&mut self.ends);
        let count = find_ends(&self.text[..self.length], columns.separator, &mut ends);
        let parsed = self.parse_rows(columns, &ends[..count], stamp_every);
        self.ends = ends;
        parsed
    }

    fn parse_rows(&mut self, columns: &Columns, mut ends: &[u32], stamp_every: usize) -> Result<(), Bad> {
        let mut at = 0;
        let mut until_stamp = if columns.watched { 0 } else { usize::MAX };
        while at < self.length {
            let Some(last) = ends.iter().position(|end| self.text[*end as usize] == b'\n') else { break };
            let width = last + 1;
            if until_stamp > 0 {
                let taken = self.take_usual(columns, width, ends, at, until_stamp.min(RUN));
                if taken > 0 {
                    until_stamp -= taken;
                    at = ends[taken * width - 1] as usize + 1;
                    ends = &ends[taken * width..];
                    continue;
                }
            }
            let row = Row { text: &self.text, begin: at, ends: &ends[..width], mark: columns.mark };
            match row.values(columns, until_stamp == 0) {
                Ok(Some([time, current, voltage, steady @ ..])) => {
                    if until_stamp == 0 {
                        self.stamps.push((self.current.len(), time * columns.time_factor));
                        self.steady.extend(columns.steady.then_some(steady));
                        until_stamp = stamp_every;
                    }
                    until_stamp -= 1;
                    let [[scale_i, offset_i], [scale_u, offset_u]] = columns.scale;
                    self.current.push((current * scale_i + offset_i) as f32);
                    self.voltage.push((voltage * scale_u + offset_u) as f32);
                }
                Ok(None) => {}
                // The file ends in the midst of it.
                Err(_) if self.open && ends.len() == width => return Ok(()),
                Err((role, text)) => {
                    return Err(Bad { line: self.lines, role, text: String::from_utf8_lossy(text).into_owned() });
                }
            }
            self.lines += 1;
            at = ends[last] as usize + 1;
            ends = &ends[width..];
        }
        Ok(())
    }

    /// Takes rows that are as nearly all are: of `width` fields, both numbers plain. How many.
    fn take_usual(&mut self, columns: &Columns, width: usize, ends: &[u32], begin: usize, most: usize) -> usize {
        let [_, Some(i), Some(u), ..] = columns.fields else { return 0 };
        if i.max(u) >= width {
            return 0;
        }
        // A width that the compiler knows: half as long again without.
        let take = match width {
            2 => Self::take_of::<2>,
            3 => Self::take_of::<3>,
            4 => Self::take_of::<4>,
            _ => Self::take_of::<0>,
        };
        let from = self.current.len();
        self.current.resize(from + most, 0.0);
        self.voltage.resize(from + most, 0.0);
        let taken = take(self, columns, width, ends, begin, [i, u], from);
        self.current.truncate(from + taken);
        self.voltage.truncate(from + taken);
        self.lines += taken;
        taken
    }

    /// `WIDTH` 0: of any width.
    #[inline(never)]
    fn take_of<const WIDTH: usize>(
        &mut self,
        columns: &Columns,
        width: usize,
        ends: &[u32],
        begin: usize,
        [i, u]: [usize; 2],
        from: usize,
    ) -> usize {
        let width = if WIDTH > 0 { WIDTH } else { width };
        let (text, separator) = (&self.text[..self.length], columns.separator);
        let mark = Mark::new(columns.mark);
        let [[scale_i, offset_i], [scale_u, offset_u]] = columns.scale;
        let samples = self.current[from..].iter_mut().zip(&mut self.voltage[from..]);
        let mut at = begin;
        let mut taken = 0;
        for (row, (current, voltage)) in ends.chunks_exact(width).zip(samples) {
            let end = row[width - 1] as usize;
            let mut usual = text[end] == b'\n';
            for separated in &row[..width - 1] {
                usual &= text[*separated as usize] == separator;
            }
            let last = end - usize::from(end > 0 && text[end - 1] == b'\r');
            let place = |field: usize| {
                let begin = if field == 0 { at } else { row[field - 1] as usize + 1 };
                [begin, if field + 1 == width { last } else { row[field] as usize }]
            };
            let (amperes, volts) = (mark.number(text, place(i)), mark.number(text, place(u)));
            let (Some(amperes), Some(volts), true) = (amperes, volts, usual) else { break };
            *current = (amperes * scale_i + offset_i) as f32;
            *voltage = (volts * scale_u + offset_u) as f32;
            at = end + 1;
            taken += 1;
        }
        taken
    }
}

/// One row, whatever it looks like.
struct Row<'a> {
    text: &'a [u8],
    begin: usize,
    /// Where its fields end, the last of them at the line's end.
    ends: &'a [u32],
    mark: u8,
}

impl<'a> Row<'a> {
    fn bounds(&self, field: usize) -> [usize; 2] {
        [if field == 0 { self.begin } else { self.ends[field - 1] as usize + 1 }, self.ends[field] as usize]
    }

    /// Its numbers, of current and voltage only or all of them; `None` of a blank line. What cannot be read: role or none,
    /// and its text.
    fn values(&self, columns: &Columns, all: bool) -> Result<Option<[f64; CHANNELS]>, (Option<usize>, &'a [u8])> {
        let line = &self.text[self.begin..self.bounds(self.ends.len() - 1)[1]];
        if line.trim_ascii().is_empty() && !line.contains(&columns.separator) {
            return Ok(None);
        }
        let mut values = [f64::NAN; CHANNELS];
        for (role, (value, field)) in values.iter_mut().zip(columns.fields).enumerate() {
            let Some(field) = field else { continue };
            if field >= self.ends.len() {
                return Err((None, line));
            }
            if !all && role != 1 && role != 2 {
                continue;
            }
            let [begin, end] = self.bounds(field);
            let cell = &self.text[begin..end];
            let plain = Mark::new(self.mark).number(self.text, [begin, end]);
            *value = plain.or_else(|| number::cell(cell, self.mark)).ok_or((Some(role), cell))?;
        }
        Ok(Some(values))
    }
}

/// Where separators and line ends stand; how many there are.
#[inline(never)]
fn find_ends(text: &[u8], separator: u8, ends: &mut Vec<u32>) -> usize {
    const BLOCK: usize = 64;
    /// As many as a block of rows of short numbers holds: so many are written whether they are there or not.
    const USUAL: usize = 12;
    if ends.len() < text.len() + BLOCK {
        ends.resize(text.len() + BLOCK, 0);
    }
    let wanted = [separator, b'\n'].map(u8x16::splat);
    let (blocks, rest) = text.as_chunks::<BLOCK>();
    let mut last = [0; BLOCK];
    last[..rest.len()].copy_from_slice(rest);
    let mut found = 0;
    for (k, block) in blocks.iter().chain([&last]).enumerate() {
        let mut bits = 0_u64;
        for (part, bytes) in block.as_chunks::<16>().0.iter().enumerate() {
            let bytes = u8x16::new(*bytes);
            let here = bytes.simd_eq(wanted[0]) | bytes.simd_eq(wanted[1]);
            bits |= u64::from(here.to_bitmask()) << (16 * part);
        }
        let base = (k * BLOCK) as u32;
        let count = bits.count_ones() as usize;
        let Some(out) = ends[found..].first_chunk_mut::<BLOCK>() else { break };
        let (usual, others) = out.split_at_mut(USUAL);
        for end in usual {
            *end = base + bits.trailing_zeros();
            bits &= bits.wrapping_sub(1);
        }
        for end in &mut others[..count.saturating_sub(USUAL)] {
            *end = base + bits.trailing_zeros();
            bits &= bits.wrapping_sub(1);
        }
        found += count;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_separator_and_line_end_is_found() {
        for length in [0, 1, 15, 16, 63, 64, 65, 200, 1000] {
            for every in [1, 2, 5, 9, 64] {
                let text: Vec<u8> = (0..length)
                    .map(|k| {
                        if k % every > 0 {
                            b'7'
                        } else if k % 3 == 0 {
                            b'\n'
                        } else {
                            b';'
                        }
                    })
                    .collect();
                let wanted: Vec<u32> = (0..length as u32).filter(|k| (*k as usize).is_multiple_of(every)).collect();
                let mut ends = Vec::new();
                let count = find_ends(&text, b';', &mut ends);
                assert_eq!(ends[..count], wanted, "{length} bytes, every {every}");
            }
        }
    }
}

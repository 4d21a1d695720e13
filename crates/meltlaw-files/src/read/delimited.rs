//! Tables as text: comments, header, separator, quotes; rows numbered by their line in the file.

use std::rc::Rc;

use csv::{ByteRecord, ReaderBuilder};

use super::fault::{Fault, Place};
use super::gauge::{Counts, Gauge};
use super::grid::{CellMaker, Grid, GridKind, GridRow, TooMuchText};
use super::limits::{LONGEST_ROW_BYTES, MOST_CELLS, MOST_COLUMNS, MOST_FAULTS, MOST_ROWS};
use super::request::{Separator, TableRequest};
use super::separator::{decide_separator, wrong_separator};

/// Most cells of a header, those that a spreadsheet left empty behind it included.
const LONGEST_HEADER: usize = 20_000;

/// Reads a text table. Faults of single rows leave the other rows standing.
pub(crate) fn read_delimited(bytes: &[u8], request: &TableRequest) -> (Option<Grid>, Vec<Fault>) {
    match open(bytes, request) {
        Ok((text, start)) => read_rows(text, start, request),
        Err(fault) => (None, vec![*fault]),
    }
}

/// What to do about text in another encoding.
const IN_UTF_8: &str = "save the table as CSV UTF-8, or state its encoding in the study, such as encoding = \"windows-1252\" or \"utf-16le\"";

/// The text and the byte at which the header starts.
fn open<'a>(bytes: &'a [u8], request: &TableRequest) -> Result<(&'a str, usize), Box<Fault>> {
    let fault =
        |found: &str, needed: &str, action: &str| Box::new(Fault::of_file(&request.file, found, needed, action));
    if let Some(sheet) = &request.sheet {
        let found = format!("sheet = {} for a text file", super::wording::quoted(sheet));
        return Err(fault(&found, "no sheet", "remove it from the study"));
    }
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(fault("text in UTF-16", "text in UTF-8", IN_UTF_8));
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let at = error.valid_up_to();
            let line = 1 + bytes[..at].iter().filter(|&&b| b == b'\n').count();
            let found = format!("byte {at} (counting from 0, hexadecimal {:02X}) that is no UTF-8", bytes[at]);
            return Err(Fault::at(&request.file, Place::Row(line), found, "text in UTF-8", IN_UTF_8).into());
        }
    };
    if let Some(at) = text.find('\0') {
        let found = format!("a NUL byte at byte {at} (counting from 0)");
        return Err(fault(&found, "text", "export the table again; the file may be damaged or no text at all"));
    }
    let start = text.len() - text.strip_prefix('\u{feff}').unwrap_or(text).len();
    if text[start..].trim().is_empty() {
        return Err(fault("an empty file", "a header row and a row for each trial", "export the table again"));
    }
    let start = match request.header_row {
        Some(row) => nth_line(text, start, row).ok_or_else(|| {
            let found = format!("{} lines", text.lines().count());
            fault(&found, &format!("a header in row {row}"), "correct header_row in the study")
        })?,
        None => first_line_of_table(text, start).ok_or_else(|| {
            fault("nothing but comments", "a header row and a row for each trial", "export the table again")
        })?,
    };
    Ok((text, start))
}

/// Byte at which a line starts, counting lines from 1.
fn nth_line(text: &str, start: usize, row: usize) -> Option<usize> {
    let mut at = start;
    for _ in 1..row {
        at += text[at..].find('\n')? + 1;
    }
    (at < text.len()).then_some(at)
}

/// Byte of the first line that is neither blank nor a comment.
fn first_line_of_table(text: &str, start: usize) -> Option<usize> {
    let mut at = start;
    for line in text[start..].split_inclusive('\n') {
        if !line.trim().is_empty() && !line.starts_with('#') && !is_separator_hint(line) {
            return Some(at);
        }
        at += line.len();
    }
    None
}

/// `sep=;` in the first line, with which some spreadsheets announce their separator; the header shows it
/// as well.
fn is_separator_hint(line: &str) -> bool {
    let line = line.trim_end_matches(['\r', '\n']);
    line.get(..4).is_some_and(|start| start.eq_ignore_ascii_case("sep=")) && line.chars().count() <= 5
}

/// A record as split, with the byte at which it starts.
pub(crate) type Record = (usize, Vec<String>);

/// Splits the text into records. One that is longer than a row may be is the last: the byte at which it starts, as an error.
pub(crate) fn records(text: &str, start: usize, separator: Separator) -> impl Iterator<Item = Result<Record, usize>> {
    let body = &text.as_bytes()[start..];
    let counts = Rc::new(Counts::default());
    let gauge = Gauge::new(body, Rc::clone(&counts), LONGEST_ROW_BYTES, u64::MAX);
    let mut reader =
        ReaderBuilder::new().has_headers(false).flexible(true).delimiter(separator.byte()).from_reader(gauge);
    let mut record = ByteRecord::new();
    // The reader counts from the end of the record before, so line ends and blank lines come first.
    let begins = move |at: u64| {
        let at = usize::try_from(at).expect("a position in memory");
        start + at + body[at..].iter().take_while(|b| matches!(b, b'\r' | b'\n')).count()
    };
    std::iter::from_fn(move || {
        counts.end_piece();
        let before = reader.position().byte();
        // With `flexible` every text is some table: nothing but a long row can fail.
        match reader.read_byte_record(&mut record) {
            Ok(false) => None,
            Ok(true) => {
                let at = record.position().map_or(0, csv::Position::byte);
                Some(Ok((begins(at), record.iter().map(|cell| String::from_utf8_lossy(cell).into_owned()).collect())))
            }
            Err(_) => Some(Err(begins(before))),
        }
    })
}

/// The cells of the header, as far as it can be one.
pub(crate) fn header_cells(text: &str, start: usize, separator: Separator) -> Vec<String> {
    let first = records(text, start, separator).next().and_then(Result::ok);
    first.map(|(_, cells)| cells).filter(|cells| cells.len() <= LONGEST_HEADER).unwrap_or_default()
}

/// Line ends in a piece of text: `\n`, `\r\n` and the lone `\r` each count once.
fn line_ends(text: &[u8]) -> usize {
    text.iter().enumerate().filter(|&(i, &b)| b == b'\n' || (b == b'\r' && text.get(i + 1) != Some(&b'\n'))).count()
}

fn read_rows(text: &str, start: usize, request: &TableRequest) -> (Option<Grid>, Vec<Fault>) {
    let separator = decide_separator(text, start, request);
    if let Some(fault) = wrong_separator(text, start, separator, request) {
        return (None, vec![fault]);
    }
    let mut rows = Rows::new(request, separator);
    let (mut counted_to, mut line) = (0, 1);
    for record in records(text, start, separator) {
        let (&at, cells) = match &record {
            Ok((at, cells)) => (at, Some(cells)),
            Err(at) => (at, None),
        };
        // A lone `\r` at the end of the piece counted so far is followed by what starts the next line.
        line += line_ends(&text.as_bytes()[counted_to..at]);
        counted_to = at;
        let Some(cells) = cells else {
            rows.faults.push(long_row(request, line));
            break;
        };
        if rows.header_row == 0 {
            if let Some(fault) = rows.begin(line, cells) {
                return (None, vec![fault]);
            }
        } else if !rows.take(line, cells) {
            break;
        }
    }
    rows.end()
}

/// The rows of a table as they come.
struct Rows<'a> {
    request: &'a TableRequest,
    separator: Separator,
    header: Vec<String>,
    /// 0 until there is one.
    header_row: usize,
    rows: Vec<GridRow>,
    cells: CellMaker,
    faults: Vec<Fault>,
    /// Faults beyond those that are reported one by one.
    more: usize,
}

impl<'a> Rows<'a> {
    fn new(request: &'a TableRequest, separator: Separator) -> Self {
        let (header, rows, cells, faults) = Default::default();
        Self { request, separator, header, header_row: 0, rows, cells, faults, more: 0 }
    }

    /// Takes the header; what is none is a fault.
    fn begin(&mut self, line: usize, cells: &[String]) -> Option<Fault> {
        self.header_row = line;
        // Empty header cells at the end are separators that a spreadsheet left behind.
        let wide = cells.iter().rposition(|cell| !cell.trim().is_empty()).map_or(0, |last| last + 1);
        if wide > MOST_COLUMNS || cells.len() > LONGEST_HEADER {
            let (found, needed) = (format!("{} columns", cells.len()), format!("at most {MOST_COLUMNS}"));
            return Some(Fault::at(&self.request.file, Place::Row(line), found, needed, "remove what is no table"));
        }
        self.header = cells[..wide].iter().map(|cell| cell.trim().to_owned()).collect();
        None
    }

    /// Takes a row; `false` where no more are taken.
    fn take(&mut self, line: usize, cells: &[String]) -> bool {
        let width = self.header.len();
        let last = cells.iter().rposition(|cell| !cell.trim().is_empty());
        let Some(last) = last else { return true };
        let cells = &cells[..(last + 1).max(width.min(cells.len()))];
        if cells.len() != width {
            self.fault(ragged(self.request, line, cells.len(), width, self.separator));
            return true;
        }
        let fault = |found, needed, action| Fault::at(&self.request.file, Place::Row(line), found, needed, action);
        match cells.iter().map(|cell| self.cells.text(cell)).collect() {
            Ok(cells) => self.rows.push(GridRow { number: line, cells }),
            Err(TooMuchText { found, needed }) => {
                let fault = fault(found, needed, "shorten the texts, or look for a quotation mark that is not closed");
                self.fault(fault);
                return false;
            }
        }
        if self.rows.len() as u64 > MOST_ROWS || self.rows.len() * width > MOST_CELLS {
            let needed = format!("at most {MOST_ROWS} rows and {MOST_CELLS} cells");
            self.faults.push(fault("more rows".to_owned(), needed, "split the table"));
            return false;
        }
        true
    }

    fn fault(&mut self, fault: Fault) {
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(fault);
        } else {
            self.more += 1;
        }
    }

    fn end(mut self) -> (Option<Grid>, Vec<Fault>) {
        if self.more > 0 {
            let found = format!("{} rows more of another length", self.more);
            self.faults.push(Fault::of_file(
                &self.request.file,
                found,
                "rows as the header",
                "correct what is named first",
            ));
        }
        // Without a header there is no table.
        if self.header_row == 0 {
            return (None, self.faults);
        }
        let kind = GridKind::Delimited { separator: self.separator.word() };
        let (header, header_row, rows) = (self.header, self.header_row, self.rows);
        (Some(Grid { kind, header_row, header, rows, left_out: Vec::new() }), self.faults)
    }
}

fn long_row(request: &TableRequest, line: usize) -> Fault {
    let most = LONGEST_ROW_BYTES / 1000;
    let action = "look for a quotation mark that is not closed";
    Fault::at(
        &request.file,
        Place::Row(line),
        format!("a row of more than {most} kB"),
        format!("at most {most} kB"),
        action,
    )
}

fn ragged(request: &TableRequest, line: usize, found: usize, needed: usize, separator: Separator) -> Fault {
    let action = match separator {
        Separator::Comma => {
            "look for a decimal comma, or for quotation marks that a text with a comma lacks or does not close"
        }
        _ => "look for a separator too few or too many, or a quotation mark that is not closed",
    };
    let cells = |n: usize| if n == 1 { "1 cell".to_owned() } else { format!("{n} cells") };
    Fault::at(
        &request.file,
        Place::Row(line),
        cells(found),
        format!("{} as in the header ({}-separated)", cells(needed), separator.word()),
        action,
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    fn numbers(text: &str) -> Vec<usize> {
        let (grid, faults) = read_delimited(text.as_bytes(), &TableRequest::of_file("t.csv"));
        assert!(faults.is_empty(), "{faults:?}");
        grid.unwrap().rows.iter().map(|row| row.number).collect()
    }

    fn messages(bytes: &[u8], request: &TableRequest) -> Vec<String> {
        read_delimited(bytes, request).1.iter().map(Fault::to_string).collect()
    }

    #[test]
    fn rows_keep_the_line_they_stand_in() {
        assert_eq!(numbers("trial,note\na,1\nb,2\n"), [2, 3]);
        // A comment, a blank line before and one between, a line of blanks.
        assert_eq!(numbers("# x\n\ntrial,note\na,1\n\n  \nb,2\n"), [4, 7]);
        // CRLF, with blank lines.
        assert_eq!(numbers("trial,note\r\na,1\r\n\r\nb,2\r\n"), [2, 4]);
        // A quoted line break makes the row two lines long.
        assert_eq!(numbers("trial,note\na,\"1\n2\"\nb,2\n"), [2, 4]);
        // Lone carriage returns.
        assert_eq!(numbers("trial,note\ra,1\rb,2"), [2, 3]);
        assert_eq!(numbers("\u{feff}trial;note\na;1"), [2]);
        assert_eq!(numbers("sep=;\r\ntrial;note\r\na;1"), [3]);
        // After the header a `#` is text like any other.
        assert_eq!(numbers("trial,note\n#1,x\n"), [2]);
    }

    #[test]
    fn a_stated_header_row_counts_lines_from_one() {
        let request = TableRequest { header_row: Some(3), ..TableRequest::of_file("t.csv") };
        let (grid, _) = read_delimited(b"junk;1,2\nmore \"junk\ntrial;note\na;x\n", &request);
        let grid = grid.unwrap();
        assert_eq!((grid.header_row, grid.rows[0].number), (3, 4));
        let request = TableRequest { header_row: Some(9), ..TableRequest::of_file("t.csv") };
        assert_eq!(
            messages(b"trial\na\n", &request),
            ["t.csv: found 2 lines, needed a header in row 9; correct header_row in the study"]
        );
    }

    #[test]
    fn ragged_rows_are_named_and_empty_cells_behind_the_header_are_not() {
        let request = TableRequest::of_file("t.csv");
        assert_eq!(
            messages(b"trial,ctwd_mm,note\na,18\nb,18,x,,\nc,18,5,x\n", &request),
            [
                "t.csv, row 2: found 2 cells, needed 3 cells as in the header (comma-separated); look for a decimal comma, or for quotation marks that a text with a comma lacks or does not close",
                "t.csv, row 4: found 4 cells, needed 3 cells as in the header (comma-separated); look for a decimal comma, or for quotation marks that a text with a comma lacks or does not close",
            ]
        );
    }

    #[test]
    fn what_is_no_text_is_refused_with_advice() {
        let request = TableRequest::of_file("t.csv");
        assert_eq!(
            messages(b"", &request),
            ["t.csv: found an empty file, needed a header row and a row for each trial; export the table again"]
        );
        assert_eq!(
            messages(b"# only\n", &request),
            ["t.csv: found nothing but comments, needed a header row and a row for each trial; export the table again"]
        );
        assert_eq!(
            messages(b"\xFF\xFEt\0", &request),
            [
                "t.csv: found text in UTF-16, needed text in UTF-8; save the table as CSV UTF-8, or state its encoding in the study, such as encoding = \"windows-1252\" or \"utf-16le\""
            ]
        );
        assert_eq!(
            messages(b"trial,note\na,Gr\xF6\xDFe\n", &request),
            [
                "t.csv, row 2: found byte 15 (counting from 0, hexadecimal F6) that is no UTF-8, needed text in UTF-8; save the table as CSV UTF-8, or state its encoding in the study, such as encoding = \"windows-1252\" or \"utf-16le\""
            ]
        );
        assert_eq!(
            messages(b"trial\na\0\n", &request),
            [
                "t.csv: found a NUL byte at byte 7 (counting from 0), needed text; export the table again; the file may be damaged or no text at all"
            ]
        );
    }
}

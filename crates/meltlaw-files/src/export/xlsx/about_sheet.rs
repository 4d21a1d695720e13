//! The sheet on the line itself: standing with its evidence, all facts, the way back, how codes are read.

use meltlaw_line::{Standing, Status, Support};
use rust_xlsxwriter::utility::cell_range_absolute;
use rust_xlsxwriter::{Worksheet, XlsxError};

use super::look::{Look, TITLE_HEIGHT, write};
use crate::document::LineDocument;
use crate::export::csv::STATUS_LINE;
use crate::export::facts::facts;

const ABOUT_SHEET: &str = "About";
/// First row of the table of standing, counted from 0.
const FIRST_STANDING: u32 = 4;
const STANDING_HEADS: [&str; 7] = ["Standing", "From, m/min", "To, m/min", "Rule", "Evidence", "Date", "By"];

/// Widths of the columns, in letters.
const WIDTHS: [usize; 7] = [24, 13, 13, 36, 44, 14, 22];

/// States, lower and upper ends of that table, as a formula names them.
pub(super) fn standing_ranges(count: usize) -> [String; 3] {
    let last = FIRST_STANDING + count as u32 - 1;
    [0, 1, 2].map(|column| format!("{ABOUT_SHEET}!{}", cell_range_absolute(FIRST_STANDING, column, last, column)))
}

pub(super) fn fill(sheet: &mut Worksheet, document: &LineDocument, look: &Look) -> Result<(), XlsxError> {
    sheet.set_name(ABOUT_SHEET)?.set_screen_gridlines(false).set_landscape().set_paper_size(9);
    sheet.set_print_fit_to_pages(1, 0).set_footer("&L&A&RPage &P of &N");
    for (column, width) in (0..).zip(WIDTHS) {
        sheet.set_column_width(column, width as f64)?;
    }
    write(sheet, (0, 0), "About this line", &look.title)?;
    sheet.set_row_height(0, TITLE_HEIGHT)?;
    let mut next = standing(sheet, document, look)? + 1;
    next = pairs(sheet, next, "What to know", &told(document), look)? + 1;
    next = pairs(sheet, next, "Made from", &made_from(document), look)? + 1;
    pairs(sheet, next, "How it is read", &codes(), look)?;
    Ok(())
}

/// The table of standing; gives the row after it.
fn standing(sheet: &mut Worksheet, document: &LineDocument, look: &Look) -> Result<u32, XlsxError> {
    write(sheet, (2, 0), "What confirmation welds said, by range of wire feed", &look.band)?;
    for column in 1..STANDING_HEADS.len() as u16 {
        write(sheet, (2, column), "", &look.band)?;
    }
    for (column, head) in (0..).zip(STANDING_HEADS) {
        write(sheet, (3, column), head, &look.head)?;
    }
    let ranges = &document.body().line.standing;
    for (row, range) in (FIRST_STANDING..).zip(ranges) {
        let state = range.standing();
        write(sheet, (row, 0), state.word(), look.standing(Some(state)))?;
        for (column, end) in (1..).zip(range.wire_feed_m_min) {
            sheet.write_number_with_format(row, column, end, &look.number("wire_feed_m_min"))?;
        }
        let mut lines = 1;
        for (column, words) in (3..).zip([&range.rule, &range.evidence, &range.date, &range.by]) {
            let words = words.as_deref().unwrap_or_default();
            write(sheet, (row, column), words, &look.wrapped)?;
            lines = lines.max(lines_of(words, WIDTHS[usize::from(column)] - 2));
        }
        sheet.set_row_height(row, lines as f64 * LINE_HEIGHT)?;
    }
    Ok(FIRST_STANDING + ranges.len() as u32)
}

/// A band, then a line for each pair; gives the row after them.
fn pairs(
    sheet: &mut Worksheet,
    at: u32,
    band: &str,
    pairs: &[(String, String)],
    look: &Look,
) -> Result<u32, XlsxError> {
    for column in 0..STANDING_HEADS.len() as u16 {
        write(sheet, (at, column), if column == 0 { band } else { "" }, &look.band)?;
    }
    let mut row = at + 1;
    for (about, words) in pairs {
        write(sheet, (row, 0), about, &Look::ruled(&look.soft))?;
        // Joined cells, so that a long text breaks over the width of the page.
        let last = STANDING_HEADS.len() as u16 - 1;
        sheet.merge_range(row, 1, row, last, "", &Look::ruled(&look.wrapped))?;
        write(sheet, (row, 1), words, &Look::ruled(&look.wrapped))?;
        sheet.set_row_height(row, lines_of(words, 130) as f64 * LINE_HEIGHT)?;
        row += 1;
    }
    Ok(row)
}

/// Height of a line of text, in points.
const LINE_HEIGHT: f64 = 15.0;

/// Lines that a text takes in a cell of so many letters: not every reader makes a row higher by itself, and none where
/// cells are joined. A row is at most 409 points high.
fn lines_of(words: &str, letters: usize) -> usize {
    words.chars().count().div_ceil(letters).clamp(1, 27)
}

fn told(document: &LineDocument) -> Vec<(String, String)> {
    // Standing has a table of its own.
    facts(document)
        .into_iter()
        .filter(|fact| fact.about != "standing")
        .map(|fact| (fact.about.to_owned(), fact.words))
        .collect()
}

fn made_from(document: &LineDocument) -> Vec<(String, String)> {
    let provenance = document.provenance();
    let file = |name: &str, sha256: &str| format!("{name}, SHA-256 {sha256}");
    let mut pairs = vec![("study".to_owned(), file(&provenance.study.file, &provenance.study.sha256))];
    for input in &provenance.inputs {
        let rows = format!("; {} rows, {} used", input.rows, input.rows_used);
        pairs.push(("trials".to_owned(), file(&input.file, &input.sha256) + &rows));
    }
    pairs.push(("random numbers".to_owned(), format!("seed {}, {} draws", provenance.seed, provenance.draws)));
    pairs.push(("checksum of laws.json".to_owned(), document.body().laws_checksum.clone()));
    pairs
}

fn codes() -> Vec<(String, String)> {
    fn list<T: Copy>(all: &[T], code: fn(T) -> u8, word: fn(T) -> &'static str) -> String {
        all.iter().map(|&each| format!("{} {}", code(each), word(each))).collect::<Vec<_>>().join(", ")
    }
    [
        ("rows", STATUS_LINE.to_owned()),
        ("status codes", list(Status::ALL, Status::code, Status::word)),
        ("support codes", format!("0 none, {}", list(Support::ALL, Support::code, Support::word))),
        ("standing codes", format!("0 none, {}", list(Standing::ALL, Standing::code, Standing::word))),
        (
            "formulas",
            "only those of the sheet At a feed are formulas; beside a contradicted or withdrawn range they refuse up to the next row. A text \
             that begins as a formula would has an apostrophe in front, so that it stays a text when a sheet is saved as CSV"
                .to_owned(),
        ),
        ("digits", "cells hold all digits and show those that matter at the bench".to_owned()),
    ]
    .map(|(about, words)| (about.to_owned(), words))
    .to_vec()
}

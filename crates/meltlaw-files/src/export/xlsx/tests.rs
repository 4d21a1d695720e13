//! The workbook as its readers find it: cells by calamine, formulas by the reckoner.
#![allow(clippy::unwrap_used, reason = "a test that fails may panic")]

use std::io::Cursor;

use calamine::{Data, Reader, Xlsx};
use meltlaw::line_at;
use meltlaw_line::{Standing, Status, Support};

use super::layout::{FEED_COLUMN, FIRST_NUMBER_COLUMN, FIRST_ROW, Layout, STATUS_COLUMN};
use super::look::status_words;
use super::reckoner::{Book, Worth};
use super::workbook;
use crate::document::LineDocument;
use crate::export::check_table::check_columns;
use crate::export::examples::{HOSTILE, changed, eventful, gap, standing, standing_words};
use crate::export::lookup::row_place;
use crate::export::rows::line_rows;
use crate::export::units::words_of;

const AT: &str = "At a feed";

fn opened(document: &LineDocument) -> Xlsx<Cursor<Vec<u8>>> {
    Xlsx::new(Cursor::new(workbook(document).unwrap())).unwrap()
}

/// All cells as they were written, formulas apart; `feed` stands in the cell for the wire feed.
fn book(document: &LineDocument, feed: Option<f64>) -> Book {
    let mut file = opened(document);
    let mut book = Book::default();
    for sheet in file.sheet_names() {
        for (row, column, formula) in file.worksheet_formula(&sheet).unwrap().used_cells() {
            let (row, column) = (row as u32, column as u32);
            let start = file.worksheet_formula(&sheet).unwrap().start().unwrap();
            if !formula.is_empty() {
                book.formulas.insert((sheet.clone(), start.0 + row, start.1 + column), formula.clone());
            }
        }
        let range = file.worksheet_range(&sheet).unwrap();
        let start = range.start().unwrap();
        for (row, column, value) in range.used_cells() {
            let worth = match value {
                Data::Float(number) => Worth::Number(*number),
                Data::Int(number) => Worth::Number(*number as f64),
                Data::String(words) => Worth::Words(words.clone()),
                _ => Worth::Blank,
            };
            book.values.insert((sheet.clone(), start.0 + row as u32, start.1 + column as u32), worth);
        }
    }
    if let Some(feed) = feed {
        book.values.insert((AT.to_owned(), 3, 1), Worth::Number(feed));
    }
    book
}

/// Row of the look-up with these words in its first column.
fn labelled(book: &Book, words: &str) -> u32 {
    let found = book.values.iter().filter(|((sheet, _, column), _)| sheet == AT && *column == 0);
    let mut rows = found.filter(|(_, worth)| **worth == Worth::Words(words.to_owned())).map(|((_, row, _), _)| *row);
    rows.next().unwrap_or_else(|| panic!("no row {words}"))
}

fn at(book: &Book, words: &str) -> Worth {
    book.cell(AT, labelled(book, words), 1)
}

fn capitalised(words: &str) -> String {
    super::line_sheet::capitalised(&words.replace("next weld ", ""))
}

#[test]
fn numbers_of_the_line_and_the_check_table_are_typed_and_the_same_to_the_last_bit() {
    let document = eventful();
    let rows = line_rows(&document.body().line);
    let layout = Layout::of(&rows);
    let book = book(&document, None);
    let number = |sheet: &str, row: u32, column: u32| match book.cell(sheet, row, column) {
        Worth::Number(number) => Some(number.to_bits()),
        _ => None,
    };
    let first_check =
        (0..30).find(|row| book.cell("Check table", *row, 0) == Worth::Words("wire_feed_m_min".to_owned()));
    for (index, row) in rows.iter().enumerate() {
        let at = FIRST_ROW + index as u32;
        assert_eq!(number("Line", at, u32::from(FEED_COLUMN)), Some(row.wire_feed_m_min.to_bits()));
        assert_eq!(number("Line", at, u32::from(STATUS_COLUMN)), Some(f64::from(row.status.code()).to_bits()));
        for (column, of) in (u32::from(FIRST_NUMBER_COLUMN)..).zip(&layout.columns) {
            assert_eq!(
                number("Line", at, column),
                row.number(of).map(f64::to_bits),
                "{} at {}",
                of.0,
                row.wire_feed_m_min
            );
        }
        let at = first_check.unwrap() + 1 + index as u32;
        for (column, of) in (4..).zip(check_columns().skip(1)) {
            assert_eq!(number("Check table", at, column), row.number(of).map(f64::to_bits), "{}", of.0);
        }
    }
}

#[test]
fn feeds_without_a_setting_have_words_and_a_reason_instead_of_numbers() {
    let document = eventful();
    let rows = line_rows(&document.body().line);
    let book = book(&document, None);
    for (at, row) in (FIRST_ROW..).zip(&rows).filter(|(_, row)| row.status != Status::Ok) {
        assert_eq!(book.cell("Line", at, 1), Worth::Words(status_words(row.status).to_owned()));
        assert!(
            matches!(book.cell("Line", at, u32::from(FIRST_NUMBER_COLUMN)), Worth::Words(words) if !words.is_empty())
        );
        assert!((5..60).all(|column| book.cell("Line", at, column) == Worth::Blank));
    }
}

#[test]
fn only_the_look_up_has_formulas_and_no_text_begins_as_one() {
    let document = eventful();
    let book = book(&document, None);
    assert!(book.formulas.len() > 30 && book.formulas.keys().all(|(sheet, ..)| sheet == AT));
    for formula in book.formulas.values() {
        let hostile = HOSTILE.iter().any(|words| formula.contains(words)) || formula.contains("invalid");
        assert!(!hostile, "{formula}");
    }
    let words =
        book.values.values().filter_map(|worth| if let Worth::Words(words) = worth { Some(words) } else { None });
    let words: Vec<&String> = words.collect();
    assert!(words.iter().any(|words| words.contains("HYPERLINK")) && words.iter().any(|words| words.contains("cmd|")));
    for words in words {
        assert!(!words.trim_start().starts_with(['=', '+', '-', '@']), "{words}");
        assert!(!words.contains(";=") && !words.chars().any(char::is_control), "{words}");
    }
}

#[test]
fn facts_standing_and_checksum_stand_on_the_last_sheet() {
    let document = eventful();
    let mut file = opened(&document);
    let all: String =
        file.worksheet_range("About").unwrap().used_cells().map(|(_, _, cell)| format!("{cell}\n")).collect();
    for words in standing_words() {
        assert!(all.contains(&words), "{words}");
    }
    for words in document.cautions().iter().map(String::as_str).chain([document.checksum(), "seed 1", "SHA-256"]) {
        assert!(all.contains(words), "{words}");
    }
    assert_eq!(file.sheet_names(), ["Line", AT, "Check table", "About"]);
}

/// Holds the look-up against `meltlaw at` at a feed.
fn holds(document: &LineDocument, feed: f64) {
    let book = book(document, Some(feed));
    let told = format!("at {feed} m/min");
    let rows = line_rows(&document.body().line);
    let status = row_place(&rows, feed).status;
    assert_eq!(at(&book, "Status, code"), Worth::Number(f64::from(status.code())), "{told}");
    assert_eq!(at(&book, "Answer"), Worth::Words(status_words(status).to_owned()), "{told}");
    let standing = match status {
        Status::Ok => Some(document.body().line.standing_at(feed)),
        Status::Withdrawn => Some(Standing::Withdrawn),
        Status::Contradicted => Some(Standing::Contradicted),
        _ => None,
    };
    assert_eq!(at(&book, "Standing"), Worth::Words(standing.map_or("none", Standing::word).to_owned()), "{told}");
    assert_eq!(at(&book, "Standing, code"), Worth::Number(f64::from(standing.map_or(0, Standing::code))), "{told}");
    let layout = Layout::of(&rows);
    let shown =
        layout.columns.iter().filter(|column| !column.0.starts_with("sensitivity_") && !column.0.starts_with("cost_"));
    let meant = line_at::at(document.body(), feed).ok().filter(|_| status == Status::Ok);
    for column in shown {
        let found = at_column(&book, column.0);
        match &meant {
            None => assert_eq!(found, Worth::Words("no setting".to_owned()), "{} {told}", column.0),
            Some(node) => {
                let Worth::Number(number) = found else { panic!("{} {told}: {found:?}", column.0) };
                let right = (column.1)(node).unwrap();
                // Sums of a few terms, a square root and a cube root, each rounded once.
                assert!((number - right).abs() <= 1e-13 * right.abs(), "{} {told}: {number}, {right} by at", column.0);
            }
        }
    }
    if let Some(node) = meant {
        assert_eq!(at(&book, "Support"), Worth::Words(node.support.clone()), "{told}");
        let code = Support::from_word(&node.support).map_or(0, Support::code);
        assert_eq!(at(&book, "Support, code"), Worth::Number(f64::from(code)), "{told}");
        assert_eq!(at(&book, "Why there is none"), Worth::Words("–".to_owned()));
    } else {
        assert!(matches!(at(&book, "Why there is none"), Worth::Words(words) if words.len() > 10), "{told}");
        assert_eq!(at(&book, "Support"), Worth::Words("none".to_owned()));
        assert_eq!(at(&book, "Support, code"), Worth::Number(0.0));
    }
}

/// The look-up's cell of a column: words repeat between the bands, names do not, so the band decides.
fn at_column(book: &Book, name: &str) -> Worth {
    let words = Worth::Words(capitalised(&words_of(name)));
    let reads = labelled(book, "What one new weld should read");
    let row = (4..120)
        .find(|row| book.cell(AT, *row, 0) == words && (*row > reads) == name.starts_with("next_weld_"))
        .unwrap_or_else(|| panic!("{name} is not shown"));
    book.cell(AT, row, 1)
}

#[test]
fn the_formulas_give_what_at_gives_and_refuse_what_it_refuses() {
    let document = changed(|body| {
        body.line.unsupported = vec![gap([2.0, 3.9]), gap([6.5, 7.0]), gap([8.1, 9.0])];
        body.line.standing = vec![standing("confirmed", [4.0, 5.0]), standing("contradicted", [7.2, 7.4])];
        body.line.nodes[1].support = "extended".to_owned();
        body.line.nodes[2].support = "carried".to_owned();
    });
    for feed in [
        0.0, 3.95, 3.9999, 4.0, 4.001, 4.7, 4.95, 5.2, 5.9, 6.0, 6.01, 6.8, 7.2, 7.3, 7.4, 7.6, 7.99, 8.0, 8.05, 8.5,
        12.0,
    ] {
        holds(&document, feed);
    }
}

#[test]
fn the_formulas_refuse_contradicted_and_withdrawn_ranges_and_lines_of_one_node_work() {
    for state in ["contradicted", "withdrawn"] {
        let refused = changed(|body| {
            body.line.unsupported.clear();
            body.line.standing = vec![standing("proposed", [4.0, 8.0]), standing(state, [4.5, 6.0])];
        });
        for feed in [4.0, 4.2, 4.5, 5.0, 6.0, 7.0, 8.0, 8.1] {
            holds(&refused, feed);
        }
    }
    let carried = changed(|body| {
        body.line.unsupported.clear();
        body.line.standing.clear();
        body.line.nodes[0].support = "carried".to_owned();
    });
    for feed in [4.0, 5.0, 6.0, 7.0] {
        holds(&carried, feed);
    }
    let alone = changed(|body| {
        body.line.nodes.truncate(1);
        body.line.unsupported.clear();
        body.line.standing.clear();
    });
    for feed in [3.9, 4.0, 4.1] {
        holds(&alone, feed);
    }
    let all_withdrawn = changed(|body| body.line.standing = vec![standing("withdrawn", [1.0, 9.0])]);
    for feed in [4.0, 5.0] {
        holds(&all_withdrawn, feed);
    }
}

#[test]
fn the_workbook_says_that_nobody_welded_what_the_laws_were_carried_to() {
    let document = changed(|body| body.line.nodes.iter_mut().for_each(|node| node.support = "carried".to_owned()));
    let mut file = opened(&document);
    for sheet in ["Line", AT, "About"] {
        let cells = file.worksheet_range(sheet).unwrap();
        assert!(cells.used_cells().any(|(_, _, cell)| cell.to_string().contains("nobody has welded")), "{sheet}");
    }
}

#[test]
fn an_empty_cell_or_words_for_a_feed_give_no_setting() {
    let document = changed(|_| {});
    for typed in [Worth::Blank, Worth::Words("five".to_owned())] {
        let mut book = book(&document, None);
        book.values.insert((AT.to_owned(), 3, 1), typed);
        assert_eq!(at(&book, "Status, code"), Worth::Number(4.0));
        assert_eq!(at(&book, "Standing"), Worth::Words("none".to_owned()));
        assert_eq!(at_column(&book, "pulse_current_a"), Worth::Words("no setting".to_owned()));
    }
}

#[test]
fn a_viewer_that_computes_nothing_shows_what_the_formulas_give() {
    for document in [eventful(), changed(|body| body.line.standing = vec![standing("withdrawn", [1.0, 9.0])])] {
        let book = book(&document, None);
        for (sheet, row, column) in book.formulas.keys() {
            let (now, written) = (book.cell(sheet, *row, *column), &book.values[&(sheet.clone(), *row, *column)]);
            match (&now, written) {
                (Worth::Number(now), Worth::Number(written)) => {
                    assert!((now - written).abs() <= 1e-12 * written.abs(), "row {row}: {now}, {written} written");
                }
                (Worth::Words(now), Worth::Words(written)) => assert_eq!(now, written, "row {row}"),
                (now, written) => panic!("row {row}: {now:?}, {written:?} written"),
            }
        }
    }
}

#[test]
fn the_same_line_gives_the_same_bytes_at_any_time() {
    let first = workbook(&eventful()).unwrap();
    // Times in a ZIP archive have steps of two seconds, those of a workbook of one.
    std::thread::sleep(std::time::Duration::from_millis(2100));
    assert!(first == workbook(&eventful()).unwrap(), "a clock or an order by hash is in the file");
}

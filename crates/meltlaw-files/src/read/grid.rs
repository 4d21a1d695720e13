//! A table as found, before any cell has a meaning: what CSV, XLSX and Parquet have in common.

use super::fault::Place;
use super::limits::{LONGEST_CELL_BYTES, MOST_TEXT_BYTES};

/// A cell as its file holds it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cell {
    /// Nothing, or only blanks.
    Blank,
    /// Text, trimmed.
    Text(String),
    /// A number that the file holds as one.
    Number(f64),
    /// Something that is neither, described: a date, a truth value, a formula's error.
    Odd(String),
}

impl Cell {
    /// As text, blank as nothing.
    pub(crate) fn text(&self) -> String {
        match self {
            Self::Blank => String::new(),
            Self::Text(text) | Self::Odd(text) => text.clone(),
            // Without an exponent and without `.0`: trial 7 of a sheet is `7`.
            Self::Number(value) => format!("{value}"),
        }
    }

    /// Whether nothing stands there.
    pub(crate) fn is_blank(&self) -> bool {
        *self == Self::Blank
    }
}

/// Text that a table does not hold: what was found and what was needed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct TooMuchText {
    pub(crate) found: String,
    pub(crate) needed: String,
}

/// The cells of a table as they are made, so that no small file becomes a large table: one text of a workbook or a
/// Parquet file may stand in any number of cells.
#[derive(Debug, Default)]
pub(crate) struct CellMaker {
    bytes: usize,
}

impl CellMaker {
    /// A cell of text.
    pub(crate) fn text(&mut self, text: &str) -> Result<Cell, TooMuchText> {
        let text = text.trim();
        self.bytes = self.bytes.saturating_add(text.len());
        let too_much =
            |found: String, most: usize| TooMuchText { found, needed: format!("at most {} kB", most / 1000) };
        if text.len() > LONGEST_CELL_BYTES {
            return Err(too_much(format!("a text of {} kB in one cell", text.len() / 1000), LONGEST_CELL_BYTES));
        }
        if self.bytes > MOST_TEXT_BYTES {
            let found = format!("more than {} kB of text in the cells so far", MOST_TEXT_BYTES / 1000);
            return Err(too_much(found, MOST_TEXT_BYTES));
        }
        Ok(if text.is_empty() { Cell::Blank } else { Cell::Text(text.to_owned()) })
    }
}

/// A row with its number as people count it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct GridRow {
    /// Line of a CSV file, row of a sheet, data row of a Parquet file; counts from 1.
    pub(crate) number: usize,
    /// The cells, as many as the header has.
    pub(crate) cells: Vec<Cell>,
}

/// What kind of file a grid came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum GridKind {
    /// Text with a separator.
    Delimited {
        /// The separator's name: comma, semicolon, tab.
        separator: &'static str,
    },
    /// A sheet of a workbook.
    Sheet {
        /// The sheet's name.
        name: String,
    },
    /// A Parquet file.
    Parquet,
}

/// A table as found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Grid {
    /// What it came from.
    pub(crate) kind: GridKind,
    /// Row of the header; 0 where the file has none.
    pub(crate) header_row: usize,
    /// The header, trimmed.
    pub(crate) header: Vec<String>,
    /// Rows that hold anything, each as long as the header.
    pub(crate) rows: Vec<GridRow>,
    /// Columns left out because of their type, for a remark.
    pub(crate) left_out: Vec<String>,
}

impl Grid {
    /// Where a cell lies, for messages.
    pub(crate) fn place(&self, row: usize, column: usize) -> Place {
        match self.kind {
            GridKind::Sheet { .. } => Place::Cell(cell_address(row, column)),
            _ => Place::Row(row),
        }
    }
}

/// `C7` for row 7 and the third column (index 2).
pub(crate) fn cell_address(row: usize, column: usize) -> String {
    let mut letters = Vec::new();
    let mut rest = column + 1;
    while rest > 0 {
        let digit = u8::try_from((rest - 1) % 26).expect("a remainder by 26 fits a byte");
        letters.push(char::from(b'A' + digit));
        rest = (rest - 1) / 26;
    }
    format!("{}{row}", letters.iter().rev().collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_addressed_as_spreadsheets_do() {
        assert_eq!(cell_address(7, 2), "C7");
        assert_eq!(cell_address(1, 25), "Z1");
        assert_eq!(cell_address(1, 26), "AA1");
        assert_eq!(cell_address(1, 701), "ZZ1");
        assert_eq!(cell_address(1, 702), "AAA1");
    }

    #[test]
    fn blanks_of_every_kind_are_blank() {
        // No-break space, thin space, tab.
        let mut cells = CellMaker::default();
        assert_eq!(cells.text(" \u{a0}\u{2009}\t"), Ok(Cell::Blank));
        assert_eq!(cells.text("\u{a0}1,5 "), Ok(Cell::Text("1,5".to_owned())));
        assert_eq!(Cell::Number(7.0).text(), "7");
    }
}

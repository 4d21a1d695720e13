//! Which table to read and how: one `[[trials]]` of the study file.

use std::collections::BTreeMap;

use super::header::{Meaning, fold};
use super::section::Section;
use super::wording::{misspelt, nearest, quoted};

/// Most rows that a table may have, header and comments included.
pub(crate) const MOST_ROWS: u64 = 1_000_000;

/// Most cells that a table may have, blank ones included: a small file can unpack to very many.
pub(crate) const MOST_CELLS: usize = 10_000_000;

/// Most columns that a table may have.
pub(crate) const MOST_COLUMNS: usize = 1000;

/// The mark between whole and fractional part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecimalMark {
    /// `12.5`
    Point,
    /// `12,5`
    Comma,
}

impl DecimalMark {
    /// The character.
    pub const fn character(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }

    /// The name, for people.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Point => "decimal point",
            Self::Comma => "decimal comma",
        }
    }
}

/// The mark between cells of a text table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Separator {
    /// `;`
    Semicolon,
    /// Tabulator.
    Tab,
    /// `,`
    Comma,
}

impl Separator {
    /// All, in the order in which a tie is decided.
    pub const ALL: [Self; 3] = [Self::Semicolon, Self::Tab, Self::Comma];

    /// The byte.
    pub const fn byte(self) -> u8 {
        match self {
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Comma => b',',
        }
    }

    /// The name, for people.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
            Self::Comma => "comma",
        }
    }
}

/// Which table to read and how.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TableRequest {
    /// Path below the study's folder, with `/`.
    pub file: String,
    /// Sheet of a workbook; the first where not stated.
    pub sheet: Option<String>,
    /// Row of the header, counting from 1; the first that is neither blank nor a comment where not
    /// stated.
    pub header_row: Option<usize>,
    /// Decimal mark; decided from the cells where not stated.
    pub decimal: Option<DecimalMark>,
    /// Separator; decided from the header where not stated.
    pub separator: Option<Separator>,
    /// Our name to theirs.
    pub columns: BTreeMap<String, String>,
}

impl TableRequest {
    /// A table read without further instructions.
    pub fn of_file(file: impl Into<String>) -> Self {
        Self { file: file.into(), ..Self::default() }
    }
}

/// The tables that a study names.
pub(crate) fn read_requests(root: &Section<'_>) -> Vec<TableRequest> {
    let sections = root.sections("trials");
    let mut requests: Vec<TableRequest> = Vec::new();
    for section in sections {
        let line = section.line();
        let Some(request) = read_request(section) else { continue };
        if requests.iter().any(|r| r.file == request.file && r.sheet == request.sheet) {
            root.fault(
                "trials",
                line,
                format!("{} a second time", quoted(&request.file)),
                "each table once",
                "remove one",
            );
        }
        requests.push(request);
    }
    requests
}

fn read_request(section: Section<'_>) -> Option<TableRequest> {
    if section.find("file").is_none() {
        section.fault(
            "file",
            section.line(),
            "no such key",
            "the path of a table below the study's folder",
            "state it",
        );
    }
    let file = section.text("file");
    let sheet = section.text("sheet");
    let header_row = section.find("header_row").map(|_| section.whole_or("header_row", 1, MOST_ROWS, 1));
    let decimal = section.word("decimal", &[".", ","]);
    let separator = section.word("separator", &[",", ";", "tab"]);
    let columns = read_columns(section.section("columns"));
    section.finish();
    Some(TableRequest {
        file: tidy(&file?),
        sheet,
        header_row: header_row.and_then(|row| usize::try_from(row).ok()),
        decimal: decimal.map(|mark| if mark == "," { DecimalMark::Comma } else { DecimalMark::Point }),
        separator: separator.map(|mark| match mark {
            "," => Separator::Comma,
            ";" => Separator::Semicolon,
            _ => Separator::Tab,
        }),
        columns,
    })
}

/// A path without its `.` parts; what leads elsewhere stays as it is, to be refused on reading.
fn tidy(file: &str) -> String {
    let parts: Vec<&str> = file.split('/').filter(|part| *part != "." && !part.is_empty()).collect();
    if file.starts_with('/') { file.to_owned() } else { parts.join("/") }
}

fn read_columns(section: Section<'_>) -> BTreeMap<String, String> {
    let mut columns = BTreeMap::new();
    let mut meanings: Vec<Meaning> = Vec::new();
    let names = Meaning::all_names();
    for (ours, theirs, line) in section.texts() {
        let Some(meaning) = Meaning::from_name(&fold(&ours)) else {
            let near = misspelt(&ours, names.iter().map(String::as_str));
            let near = near.or_else(|| nearest(&ours, names.iter().map(String::as_str))).unwrap_or("trial");
            let needed = format!("one of our column names on the left, the nearest is {near}");
            let action = format!("write ours = \"theirs\", such as {near} = {}", quoted(&theirs));
            section.fault(&ours, line, "an unknown column name", needed, &action);
            continue;
        };
        if meanings.iter().any(|m| m.is_same_quantity(&meaning)) {
            section.fault(&ours, line, "a column that is mapped already", "one column for each quantity", "remove one");
            continue;
        }
        if theirs.trim().is_empty() {
            section.fault(&ours, line, "no name", "the column's name in the table", "state it or remove the line");
            continue;
        }
        meanings.push(meaning);
        columns.insert(fold(&ours), theirs.trim().to_owned());
    }
    columns
}

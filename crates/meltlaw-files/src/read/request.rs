//! Which table to read and how: one `[[trials]]` of the study file.

use std::collections::{BTreeMap, BTreeSet};

use meltlaw::ranges::CHANNEL;

use super::encoding::TextEncoding;
use super::limits::{MOST_COLUMNS, MOST_UNKNOWN_KEYS};
use super::meaning::{Meaning, fold};
use super::section::Section;
use super::wording::{nearest, quoted};

/// Highest row number that a study may name.
const LAST_ROW: usize = 1_000_000;

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

/// The mark between the thousands of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ThousandsMark {
    /// `1.234`
    Point,
    /// `1,234`
    Comma,
    /// `1'234`, straight or curly.
    Apostrophe,
    /// `1 234`, with a space of any width.
    Space,
}

impl ThousandsMark {
    /// From the text of the study file.
    pub fn from_word(word: &str) -> Option<Self> {
        Some(match word {
            "." => Self::Point,
            "," => Self::Comma,
            "'" => Self::Apostrophe,
            " " => Self::Space,
            _ => return None,
        })
    }

    /// Whether a character is this mark.
    pub fn is(self, c: char) -> bool {
        match self {
            Self::Point => c == '.',
            Self::Comma => c == ',',
            Self::Apostrophe => matches!(c, '\'' | '\u{2019}'),
            Self::Space => c.is_whitespace(),
        }
    }

    /// The decimal mark that goes with it where only one can.
    pub const fn decimal(self) -> Option<DecimalMark> {
        match self {
            Self::Point => Some(DecimalMark::Comma),
            Self::Comma => Some(DecimalMark::Point),
            Self::Apostrophe | Self::Space => None,
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
#[derive(Debug, Clone, PartialEq, Default)]
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
    /// Encoding of a text table; UTF-8 where not stated.
    pub encoding: Option<TextEncoding>,
    /// Mark between thousands; none where not stated.
    pub thousands: Option<ThousandsMark>,
    /// Row that holds units; the first below the header where it holds nothing else.
    pub units_row: Option<usize>,
    /// First and last row to read, as the file counts them; all below the header where not stated.
    pub rows: Option<[usize; 2]>,
    /// Our name to theirs.
    pub columns: BTreeMap<String, String>,
    /// Our name to the factor that brings the file's numbers to that name's unit.
    pub scale: BTreeMap<String, f64>,
    /// Whether the table adds columns to trials of the other tables instead of further rows.
    pub joins: bool,
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
    let mut named = BTreeSet::new();
    for section in sections {
        let line = section.line();
        let Some(request) = read_request(section) else { continue };
        let which = (request.file.clone(), request.sheet.clone(), request.rows, request.header_row);
        if !named.insert(which) {
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
    let header_row = section.whole("header_row", 1, LAST_ROW);
    let separator = section.word("separator", &[",", ";", "tab"]);
    let encoding = section.word("encoding", &TextEncoding::WORDS).and_then(TextEncoding::from_word);
    let (thousands, decimal) = read_marks(&section);
    let units_row = section.whole("units_row", 1, LAST_ROW);
    let rows = section.first_and_last("rows", LAST_ROW);
    let columns = read_columns(section.section("columns"));
    let scale = read_scale(&section.section("scale"));
    let joins = section.word("join", &["trial"]).is_some();
    section.finish();
    Some(TableRequest {
        file: tidy(&file?),
        sheet,
        header_row,
        decimal,
        separator: separator.map(|mark| match mark {
            "," => Separator::Comma,
            ";" => Separator::Semicolon,
            _ => Separator::Tab,
        }),
        encoding,
        thousands,
        units_row,
        rows,
        columns,
        scale,
        joins,
    })
}

/// The mark between thousands, and the decimal mark that the study states or that goes with it.
fn read_marks(section: &Section<'_>) -> (Option<ThousandsMark>, Option<DecimalMark>) {
    let decimal = section.word("decimal", &[".", ","]);
    let decimal = decimal.map(|mark| if mark == "," { DecimalMark::Comma } else { DecimalMark::Point });
    let word = section.word("thousands", &[".", ",", "'", " "]);
    let thousands = word.and_then(ThousandsMark::from_word);
    if let (Some(mark), Some(word), Some(decimal)) = (thousands, word, decimal)
        && mark.is(decimal.character())
    {
        let line = section.find("thousands").map_or(section.line(), |f| f.line);
        let needed = format!("another mark than the {}", decimal.word());
        section.fault("thousands", line, quoted(word), needed, "correct one of the two");
    }
    (thousands, decimal.or(thousands.and_then(ThousandsMark::decimal)))
}

/// Factors by our names.
fn read_scale(section: &Section<'_>) -> BTreeMap<String, f64> {
    let names = Meaning::all_names();
    let mut scale = BTreeMap::new();
    let mut unknown = 0;
    for (ours, factor, line) in section.numbers(&CHANNEL) {
        let known = Meaning::from_name(&fold(&ours)).filter(Meaning::is_number);
        if known.is_none() {
            unknown += 1;
            let near =
                if unknown > MOST_UNKNOWN_KEYS { None } else { nearest(&ours, names.iter().map(String::as_str)) };
            let near = near.unwrap_or("power_mean_w");
            let needed = format!("one of our columns of numbers, the nearest is {near}");
            section.fault(&ours, line, "an unknown column name", needed, "correct or remove it");
        } else if factor == 0.0 {
            section.fault(&ours, line, "0", "a factor other than 0", "correct it");
        } else {
            scale.insert(fold(&ours), factor);
        }
    }
    scale
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
    let texts = section.texts();
    if texts.len() > MOST_COLUMNS {
        let (first, _, line) = &texts[0];
        let found = format!("{} columns", texts.len());
        section.fault(first, *line, found, format!("at most {MOST_COLUMNS}"), "map only the columns that differ");
        return columns;
    }
    let mut unknown = 0;
    for (ours, theirs, line) in texts {
        let Some(meaning) = Meaning::from_name(&fold(&ours)) else {
            unknown += 1;
            // The search for the nearest of some hundred names takes its time.
            let near =
                if unknown > MOST_UNKNOWN_KEYS { None } else { nearest(&ours, names.iter().map(String::as_str)) };
            let near = near.unwrap_or("trial");
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

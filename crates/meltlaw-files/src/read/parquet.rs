//! Tables in Parquet, page by page as logs are read. The schema is read first and only columns of types that are understood
//! are read at all: the library may panic on others, and a panic must not be the user's message.

use std::io::Cursor;

use polars_arrow::array::{Array, BooleanArray, Utf8ViewArray};
use polars_arrow::datatypes::{ArrowDataType, Field};
use polars_error::PolarsError;
use polars_parquet::read::{FileMetadata, infer_schema};

use super::fault::{Fault, Place};
use super::grid::{Cell, CellMaker, Grid, GridKind, GridRow, TooMuchText};
use super::limits::{LARGEST_UNPACKED_BYTES, MOST_CELLS, MOST_COLUMNS, MOST_ROWS};
use super::meaning::{Meaning, fold};
use super::quiet::quietly;
use super::request::TableRequest;
use super::wording::quoted;
use crate::parquet::{ColumnPages, RawPage, as_doubles, read_footer};

const EXPORT: &str = "write the table again, or as CSV";

/// Reads a Parquet table.
pub(crate) fn read_parquet(bytes: &[u8], request: &TableRequest) -> Result<Grid, Vec<Fault>> {
    let fault = |found: &str, needed: &str, action: &str| vec![Fault::of_file(&request.file, found, needed, action)];
    for (stated, key) in [
        (request.sheet.is_some(), "sheet"),
        (request.header_row.is_some(), "header_row"),
        (request.separator.is_some(), "separator"),
    ] {
        if stated {
            return Err(fault(&format!("{key} for a Parquet file"), "none", &format!("remove {key} from the study")));
        }
    }
    // Magic number at both ends: Apache Parquet format, "File format".
    if bytes.len() < 12 || !bytes.starts_with(b"PAR1") || !bytes.ends_with(b"PAR1") {
        return Err(fault("a file that is no Parquet or was cut short", "a Parquet table", EXPORT));
    }
    let read = quietly(|| read_columns(bytes, request));
    read.unwrap_or_else(|| Err(fault("a damaged Parquet file", "a Parquet table", EXPORT)))
}

fn read_columns(bytes: &[u8], request: &TableRequest) -> Result<Grid, Vec<Fault>> {
    let damaged = |why: &str| vec![unreadable(request, why)];
    let about = read_footer(&mut Cursor::new(bytes), bytes.len() as u64).map_err(|why| damaged(&why))?;
    let schema = infer_schema(&about).map_err(|e| damaged(&first_line(&e)))?;
    let rows = check_size(&about, schema.len(), request)?;
    let (wanted, left_out) = wanted(schema.iter_values(), request)?;
    let header = wanted.iter().map(|field| field.name.trim().to_owned()).collect();
    let mut table =
        Columns { bytes, about: &about, unpacked: 0, cells: CellMaker::default(), page: RawPage::default() };
    let columns =
        wanted.iter().map(|field| table.read(field, rows).map_err(|why| vec![why.fault(request, &field.name)]));
    let mut columns = columns.map(|cells| cells.map(Vec::into_iter)).collect::<Result<Vec<_>, _>>()?;
    let rows = (0..rows)
        .map(|row| GridRow {
            number: row + 1,
            cells: columns.iter_mut().map(|column| column.next().unwrap_or(Cell::Blank)).collect(),
        })
        .filter(|row| !row.cells.iter().all(Cell::is_blank))
        .collect();
    Ok(Grid { kind: GridKind::Parquet, header_row: 0, header, rows, left_out })
}

fn unreadable(request: &TableRequest, why: &str) -> Fault {
    Fault::of_file(&request.file, format!("a Parquet file that cannot be read ({why})"), "a Parquet table", EXPORT)
}

/// How many rows the table has.
fn check_size(about: &FileMetadata, columns: usize, request: &TableRequest) -> Result<usize, Vec<Fault>> {
    let rows = about.row_groups.iter().map(|group| group.num_rows()).fold(0_usize, usize::saturating_add);
    if columns > MOST_COLUMNS {
        let found = format!("{columns} columns");
        let action = "remove what is no table";
        return Err(vec![Fault::of_file(&request.file, found, format!("at most {MOST_COLUMNS}"), action)]);
    }
    if rows as u64 > MOST_ROWS || rows.saturating_mul(columns) > MOST_CELLS {
        let found = format!("{rows} rows of {columns} columns");
        let needed = format!("at most {MOST_ROWS} rows and {MOST_CELLS} cells");
        return Err(vec![Fault::of_file(&request.file, found, needed, "split the table")]);
    }
    Ok(rows)
}

/// The columns to read, each as the library is to give it, and the names of those that are left out.
fn wanted<'a>(
    fields: impl Iterator<Item = &'a Field>,
    request: &TableRequest,
) -> Result<(Vec<Field>, Vec<String>), Vec<Fault>> {
    let (mut wanted, mut left_out, mut faults) = (Vec::new(), Vec::new(), Vec::new());
    for field in fields {
        let name = field.name.as_str();
        let known = Meaning::from_name(&fold(name)).is_some() || request.columns.values().any(|c| c == name.trim());
        match (refused(&field.dtype), known) {
            (None, _) => wanted.push(Field::new(field.name.clone(), plain(&field.dtype), field.is_nullable)),
            (Some(kind), true) => {
                let (needed, action) = ("numbers, text or truth values", "write the column as one of these");
                let fault = Fault::of_file(&request.file, format!("a column of {kind}"), needed, action);
                faults.push(fault.in_column(name));
            }
            (Some(kind), false) => left_out.push(format!("{} ({kind})", quoted(name))),
        }
    }
    if faults.is_empty() { Ok((wanted, left_out)) } else { Err(faults) }
}

/// Texts as views, which share what repeats; categories as their texts.
fn plain(kind: &ArrowDataType) -> ArrowDataType {
    match kind {
        ArrowDataType::Utf8 | ArrowDataType::LargeUtf8 => ArrowDataType::Utf8View,
        ArrowDataType::Dictionary(_, values, _) => plain(values),
        other => other.clone(),
    }
}

/// Why a column cannot be read.
enum Why {
    /// In a few words.
    Damaged(String),
    /// Found and needed, in a row.
    TooMuch(usize, TooMuchText),
    /// The whole unpacks to too many bytes.
    TooLarge,
}

impl Why {
    fn fault(self, request: &TableRequest, column: &str) -> Fault {
        let file = &request.file;
        match self {
            Self::Damaged(why) => unreadable(request, &why),
            Self::TooMuch(row, TooMuchText { found, needed }) => {
                Fault::at(file, Place::Row(row), found, needed, "shorten the texts, or leave the column out")
                    .in_column(column)
            }
            Self::TooLarge => {
                let most = LARGEST_UNPACKED_BYTES / 1_000_000;
                Fault::of_file(file, format!("more than {most} MB unpacked"), format!("at most {most} MB"), "split it")
            }
        }
    }
}

/// The columns of a table, one after another.
struct Columns<'a> {
    bytes: &'a [u8],
    about: &'a FileMetadata,
    /// Bytes unpacked so far.
    unpacked: u64,
    cells: CellMaker,
    page: RawPage,
}

impl Columns<'_> {
    fn read(&mut self, field: &Field, rows: usize) -> Result<Vec<Cell>, Why> {
        let mut cells = Vec::with_capacity(rows);
        if field.dtype == ArrowDataType::Null {
            return Ok(cells);
        }
        let about = self.about;
        for group in &about.row_groups {
            let name = field.name.as_str();
            let column = group.parquet_columns().iter().find(|c| c.descriptor().path_in_schema.iter().eq([name]));
            let column =
                column.ok_or_else(|| Why::Damaged(format!("a group of rows without column {}", quoted(name))))?;
            let mut file = Cursor::new(self.bytes);
            let length = self.bytes.len() as u64;
            let mut pages = ColumnPages::new(column, group.num_rows(), length).map_err(Why::Damaged)?;
            while pages.unread() {
                pages.next(&mut file, &mut self.page).map_err(Why::Damaged)?;
                self.count()?;
                for values in self.page.unpack(column, field).map_err(|e| Why::Damaged(first_line(&e)))? {
                    self.take(values.as_ref(), &mut cells)?;
                }
            }
        }
        Ok(cells)
    }

    /// Counts what the page is about to unpack to.
    fn count(&mut self) -> Result<(), Why> {
        let each = if self.page.by_prefixes { self.page.values } else { 1 };
        self.unpacked = self.unpacked.saturating_add((self.page.claimed as u64).saturating_mul(each as u64));
        if self.unpacked > LARGEST_UNPACKED_BYTES { Err(Why::TooLarge) } else { Ok(()) }
    }

    fn take(&mut self, values: &dyn Array, cells: &mut Vec<Cell>) -> Result<(), Why> {
        if let Some(texts) = values.as_any().downcast_ref::<Utf8ViewArray>() {
            for text in texts {
                let row = cells.len() + 1;
                let cell = text.map_or(Ok(Cell::Blank), |text| self.cells.text(text));
                cells.push(cell.map_err(|more| Why::TooMuch(row, more))?);
            }
        } else if let Some(truths) = values.as_any().downcast_ref::<BooleanArray>() {
            cells.extend(truths.iter().map(|truth| truth.map_or(Cell::Blank, |truth| Cell::Odd(truth.to_string()))));
        } else {
            let numbers = as_doubles(values).map_err(|e| Why::Damaged(first_line(&e)))?;
            cells.extend(numbers.iter().map(|number| number.map_or(Cell::Blank, |number| Cell::Number(*number))));
        }
        Ok(())
    }
}

fn first_line(e: &PolarsError) -> String {
    e.to_string().lines().next().unwrap_or_default().to_owned()
}

/// The name of a column type that is not read.
fn refused(kind: &ArrowDataType) -> Option<String> {
    use ArrowDataType as A;
    match kind {
        A::Boolean
        | A::Int8
        | A::Int16
        | A::Int32
        | A::Int64
        | A::UInt8
        | A::UInt16
        | A::UInt32
        | A::UInt64
        | A::Float32
        | A::Float64
        | A::Decimal(..)
        | A::Utf8
        | A::LargeUtf8
        | A::Utf8View
        | A::Null => None,
        A::Dictionary(_, values, _) => refused(values),
        A::Float16 => Some("half-precision numbers".to_owned()),
        A::Date32 | A::Date64 => Some("dates".to_owned()),
        A::Timestamp(..) => Some("points in time".to_owned()),
        A::Time32(_) | A::Time64(_) => Some("times of day".to_owned()),
        A::Duration(_) | A::Interval(_) => Some("durations".to_owned()),
        A::Binary | A::LargeBinary | A::BinaryView | A::FixedSizeBinary(_) => Some("bytes".to_owned()),
        A::List(_) | A::LargeList(_) | A::FixedSizeList(..) => Some("lists".to_owned()),
        A::Struct(_) | A::Map(..) | A::Union(_) => Some("nested values".to_owned()),
        other => Some(format!("type {other:?}")),
    }
}

//! Tables in Parquet. The schema is read first and only columns of types that are understood are read
//! at all: the reader may panic on others, and a panic must not be the user's message.

use std::io::Cursor;

use polars::prelude::{
    AnyValue, ArrowDataType, Column, DataType, ParallelStrategy, ParquetReader, PolarsError, SerReader,
};

use super::disk::LARGEST_TABLE_BYTES;
use super::fault::Fault;
use super::grid::{Cell, Grid, GridKind, GridRow};
use super::header::{Meaning, fold};
use super::quiet::quietly;
use super::request::{MOST_CELLS, MOST_ROWS, TableRequest};
use super::wording::quoted;

const EXPORT: &str = "write the table again, or as CSV";

/// Reads a Parquet table.
pub(crate) fn read_parquet(bytes: Vec<u8>, request: &TableRequest) -> Result<Grid, Vec<Fault>> {
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

fn read_columns(bytes: Vec<u8>, request: &TableRequest) -> Result<Grid, Vec<Fault>> {
    let fault = |found: &str, needed: &str, action: &str| Fault::of_file(&request.file, found, needed, action);
    let damaged = |error: PolarsError| {
        let first = error.to_string().lines().next().unwrap_or_default().to_owned();
        vec![fault(&format!("a Parquet file that cannot be read ({first})"), "a Parquet table", EXPORT)]
    };
    // On this thread alone: small tables gain nothing from more, and a panic elsewhere is not caught here.
    let mut reader = ParquetReader::new(Cursor::new(bytes)).read_parallel(ParallelStrategy::None);
    let rows = reader.num_rows().map_err(damaged)?;
    let schema = reader.schema().map_err(damaged)?;
    if rows as u64 > MOST_ROWS || rows.saturating_mul(schema.len()) > MOST_CELLS {
        let found = format!("{rows} rows of {} columns", schema.len());
        let needed = format!("at most {MOST_ROWS} rows and {MOST_CELLS} cells");
        return Err(vec![fault(&found, &needed, "split the table")]);
    }
    let unpacked: i128 = reader
        .get_metadata()
        .map_err(damaged)?
        .row_groups
        .iter()
        .flat_map(|group| group.parquet_columns())
        .map(|chunk| i128::from(chunk.uncompressed_size().max(chunk.num_values())))
        .sum();
    if unpacked > i128::from(LARGEST_TABLE_BYTES) {
        let needed = format!("at most {} MB", LARGEST_TABLE_BYTES / 1_000_000);
        return Err(vec![fault(&format!("a table of {} MB unpacked", unpacked / 1_000_000), &needed, "split it")]);
    }
    let (mut wanted, mut left_out, mut faults) = (Vec::new(), Vec::new(), Vec::new());
    for (name, field) in schema.iter() {
        let known = Meaning::from_name(&fold(name)).is_some() || request.columns.values().any(|c| c == name.trim());
        match (refused(&field.dtype), known) {
            (None, _) => wanted.push(name.to_string()),
            (Some(kind), true) => faults.push(
                fault(
                    &format!("a column of {kind}"),
                    "numbers, text or truth values",
                    "write the column as one of these",
                )
                .in_column(name.as_str()),
            ),
            (Some(kind), false) => left_out.push(format!("{} ({kind})", quoted(name))),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let frame = reader.with_columns(Some(wanted)).finish().map_err(damaged)?;
    let columns =
        frame.columns().iter().map(|column| cells_of(column).map_err(damaged)).collect::<Result<Vec<_>, _>>()?;
    let header = frame.get_column_names().iter().map(|name| name.trim().to_owned()).collect();
    let mut columns: Vec<_> = columns.into_iter().map(Vec::into_iter).collect();
    let rows = (0..frame.height())
        .map(|row| GridRow {
            number: row + 1,
            cells: columns.iter_mut().map(|column| column.next().unwrap_or(Cell::Blank)).collect(),
        })
        .filter(|row| !row.cells.iter().all(Cell::is_blank))
        .collect();
    Ok(Grid { kind: GridKind::Parquet, header_row: 0, header, rows, left_out })
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

fn cells_of(column: &Column) -> Result<Vec<Cell>, PolarsError> {
    if column.dtype().is_numeric() || column.dtype().is_decimal() {
        let numbers = column.cast(&DataType::Float64)?;
        return Ok(numbers.f64()?.iter().map(|value| value.map_or(Cell::Blank, Cell::Number)).collect());
    }
    let series = column.as_materialized_series();
    Ok(series
        .iter()
        .map(|value| match value {
            AnyValue::Null => Cell::Blank,
            AnyValue::Boolean(value) => Cell::Odd(value.to_string()),
            other => Cell::from_text(&other.str_value()),
        })
        .collect())
}

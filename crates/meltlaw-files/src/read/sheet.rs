//! Tables in workbooks (XLSX). Cells are taken one by one, so a sheet with one stray cell in its last
//! corner costs one cell and not a grid of billions.

use std::collections::BTreeMap;
use std::io::Cursor;

use calamine::{DataRef, ExcelDateTime, Reader, SheetType, SheetVisible, Xlsx};

use super::fault::{Fault, Place};
use super::grid::{Cell, CellMaker, Grid, GridKind, GridRow, TooMuchText, cell_address};
use super::limits::{MOST_CELLS, MOST_COLUMNS, MOST_ROWS};
use super::quiet::quietly;
use super::request::TableRequest;
use super::wording::{nearest, quoted};
use super::workbook_gate::{is_archive, too_much};

/// Cells by row, each with its column.
type Rows = BTreeMap<usize, Vec<(usize, Cell)>>;

/// Most rows above a table: comments and whatever else stands there.
const MOST_COMMENTS: usize = 10_000;

/// Reads one sheet of a workbook.
pub(crate) fn read_sheet(bytes: &[u8], request: &TableRequest) -> Result<Grid, Box<Fault>> {
    let fault =
        |found: &str, needed: &str, action: &str| Box::new(Fault::of_file(&request.file, found, needed, action));
    if request.separator.is_some() {
        return Err(fault("a separator for a workbook", "none", "remove separator from the study"));
    }
    const EXPORT: &str = "save the table as XLSX again, or as CSV";
    if !is_archive(bytes) {
        return Err(fault("a file that is no workbook", "an XLSX workbook", EXPORT));
    }
    // A damaged workbook must end in a message whatever the reader makes of it.
    let read = quietly(|| match too_much(bytes) {
        Some(TooMuchText { found, needed }) => {
            Err(fault(&format!("a workbook with {found}"), &needed, "save the table alone as XLSX, or as CSV"))
        }
        None => read_cells(bytes, request),
    });
    let (name, rows) = read.unwrap_or_else(|| Err(fault("a damaged workbook", "an XLSX workbook", EXPORT)))?;
    grid_of(name, rows, request)
}

fn read_cells(bytes: &[u8], request: &TableRequest) -> Result<(String, Rows), Box<Fault>> {
    let fault =
        |found: &str, needed: &str, action: &str| Box::new(Fault::of_file(&request.file, found, needed, action));
    let damaged = |error: calamine::XlsxError| {
        let found = format!("a damaged workbook ({error})");
        fault(&found, "an XLSX workbook", "save the table as XLSX again, or as CSV")
    };
    let mut workbook = Xlsx::new(Cursor::new(bytes)).map_err(damaged)?;
    let mut sheets: Vec<_> =
        workbook.sheets_metadata().iter().filter(|sheet| sheet.typ == SheetType::WorkSheet).collect();
    // Hidden sheets last: the first one is what the user sees first.
    sheets.sort_by_key(|sheet| sheet.visible != SheetVisible::Visible);
    let sheets: Vec<String> = sheets.into_iter().map(|sheet| sheet.name.clone()).collect();
    let name = match &request.sheet {
        Some(wanted) => sheets.iter().find(|name| *name == wanted).cloned().ok_or_else(|| {
            let near = nearest(wanted, sheets.iter().map(String::as_str)).map_or("none".to_owned(), quoted);
            let found = format!("no sheet {}", quoted(wanted));
            fault(&found, "a sheet of the workbook", &format!("correct sheet in the study, the nearest is {near}"))
        })?,
        None => sheets.first().cloned().ok_or_else(|| fault("no sheet", "a sheet with a table", "add the table"))?,
    };
    let mut cells = workbook.worksheet_cells_reader(&name).map_err(damaged)?;
    let mut rows = Rows::new();
    let (mut count, mut maker) = (0, CellMaker::default());
    while let Some(cell) = cells.next_cell().map_err(damaged)? {
        let (row, column) = cell.get_position();
        let (row, column) = (row as usize + 1, column as usize);
        let value = understood(cell.get_value(), &mut maker).map_err(|TooMuchText { found, needed }| {
            let place = Place::Cell(cell_address(row, column));
            Box::new(Fault::at(&request.file, place, found, needed, "shorten the texts, or clear what is no table"))
        })?;
        if value.is_blank() {
            continue;
        }
        count += 1;
        if count > MOST_CELLS {
            return Err(fault("more filled cells", &format!("at most {MOST_CELLS}"), "split the table"));
        }
        rows.entry(row).or_default().push((column, value));
        if rows.len() > MOST_ROWS as usize + MOST_COMMENTS {
            return Err(fault("more rows", &format!("at most {MOST_ROWS}"), "split the table"));
        }
    }
    for cells in rows.values_mut() {
        // In their order and each once, whatever the file says; the last one counts.
        cells.reverse();
        cells.sort_by_key(|(column, _)| *column);
        cells.dedup_by_key(|(column, _)| *column);
    }
    Ok((name, rows))
}

fn understood(value: &DataRef<'_>, maker: &mut CellMaker) -> Result<Cell, TooMuchText> {
    Ok(match value {
        DataRef::Empty => Cell::Blank,
        #[allow(clippy::cast_precision_loss, reason = "spreadsheets hold numbers as f64")]
        DataRef::Int(value) => Cell::Number(*value as f64),
        DataRef::Float(value) => Cell::Number(*value),
        DataRef::String(text) => maker.text(text)?,
        DataRef::SharedString(text) => maker.text(text)?,
        DataRef::Bool(value) => Cell::Odd(if *value { "TRUE" } else { "FALSE" }.to_owned()),
        DataRef::DateTime(moment) => Cell::Odd(day_and_time(moment)),
        DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => Cell::Odd(text.clone()),
        DataRef::Error(error) => Cell::Odd(error.to_string()),
    })
}

/// A date without a time of day is a day.
fn day_and_time(moment: &ExcelDateTime) -> String {
    let (year, month, day, hour, minute, second, _) = moment.to_ymd_hms_milli();
    match (moment.is_duration(), hour, minute, second) {
        (true, ..) => format!("the duration of {} days", moment.as_f64()),
        (false, 0, 0, 0) => format!("{year:04}-{month:02}-{day:02}"),
        (false, ..) => format!("{year:04}-{month:02}-{day:02} {hour:02}:{minute:02}:{second:02}"),
    }
}

fn grid_of(name: String, mut rows: Rows, request: &TableRequest) -> Result<Grid, Box<Fault>> {
    let fault =
        |found: &str, needed: &str, action: &str| Box::new(Fault::of_file(&request.file, found, needed, action));
    let is_comment =
        |cells: &[(usize, Cell)]| matches!(cells.first(), Some((0, Cell::Text(text))) if text.starts_with('#'));
    let header_row = match request.header_row {
        Some(row) if rows.contains_key(&row) => row,
        Some(row) => {
            let found = format!("nothing in row {row} of sheet {}", quoted(&name));
            return Err(fault(&found, "the header there", "correct header_row in the study"));
        }
        None => rows.iter().find(|(_, cells)| !is_comment(cells)).map(|(&row, _)| row).ok_or_else(|| {
            let found = format!("an empty sheet {}", quoted(&name));
            fault(&found, "a header row and a row for each trial", "state the sheet in the study, or fill it")
        })?,
    };
    let heads = rows.remove(&header_row).unwrap_or_default();
    let body = rows.split_off(&(header_row + 1));
    // A cell beside the table makes a column without a name, which is kept as an unknown one.
    let width = body.values().chain([&heads]).filter_map(|cells| cells.last()).map(|(c, _)| c + 1).max();
    let width = width.unwrap_or(0);
    if width > MOST_COLUMNS {
        let found = format!("{width} columns");
        return Err(fault(&found, &format!("at most {MOST_COLUMNS}"), "clear the cells that are no part of the table"));
    }
    if body.len() as u64 > MOST_ROWS || body.len() * width > MOST_CELLS {
        let found = format!("{} rows of {width} columns", body.len());
        return Err(fault(&found, &format!("at most {MOST_ROWS} rows and {MOST_CELLS} cells"), "split the table"));
    }
    let spread = |cells: Vec<(usize, Cell)>| {
        let mut row = vec![Cell::Blank; width];
        cells.into_iter().for_each(|(column, cell)| row[column] = cell);
        row
    };
    let header = spread(heads).iter().map(Cell::text).collect();
    let rows = body.into_iter().map(|(number, cells)| GridRow { number, cells: spread(cells) }).collect();
    Ok(Grid { kind: GridKind::Sheet { name }, header_row, header, rows, left_out: Vec::new() })
}

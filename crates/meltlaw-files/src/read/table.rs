//! One table of a study: bytes by extension to a grid, header to meanings, rows to trials.

use std::path::Path;

use meltlaw::trials::{Column, TrialSource, Trials};

use super::delimited::read_delimited;
use super::disk::{FileBytes, read_below};
use super::encoding::as_utf8;
use super::fault::{Fault, Place, ReadError};
use super::grid::{Grid, GridKind};
use super::header::{Headed, remarks, resolve};
use super::join::join;
use super::limits::MOST_COLUMNS;
use super::meaning::Meaning;
use super::parquet::read_parquet;
use super::request::{DecimalMark, TableRequest};
use super::rows::{RowReader, decimal_mark};
use super::sheet::read_sheet;
use super::units_row::take_units_row;
use super::use_words::is_tick;
use super::wording::{quoted, spelt_out};

/// Reads one trial table below a folder.
///
/// # Errors
/// [`ReadError::BadTables`] with every fault of the table.
pub fn read_trial_table(folder: &Path, table: &TableRequest) -> Result<Trials, ReadError> {
    let (one, mut faults) = read_one(folder, table);
    if table.joins {
        let found = "a table that adds columns to trials of others";
        faults.push(Fault::of_file(&table.file, found, "a table of trials", "read it as part of a study"));
    }
    let (trials, more) = join(vec![one]);
    faults.extend(more);
    if faults.is_empty() { Ok(trials) } else { Err(ReadError::BadTables { faults }) }
}

/// One table as far as it could be read.
#[derive(Debug, Default)]
pub(crate) struct OneTable {
    pub(super) trials: Trials,
    /// Where each trial's identifier stands.
    pub(super) identifiers: Vec<Place>,
    /// What its columns mean, where it adds columns to trials of other tables.
    pub(super) joins: Option<Vec<Meaning>>,
}

/// Reads one table as far as it goes; trials of a table with faults serve to find further faults only.
pub(crate) fn read_one(folder: &Path, request: &TableRequest) -> (OneTable, Vec<Fault>) {
    let opened = kind_of(request).and_then(|kind| Ok((kind, read_below(folder, &request.file)?)));
    let (kind, FileBytes { bytes, sha256 }) = match opened {
        Ok(opened) => opened,
        Err(fault) => return (OneTable::default(), vec![*fault]),
    };
    let (grid, mut faults) = match grid_of(kind, bytes, request) {
        Ok((grid, faults)) => (grid, faults),
        Err(faults) => return (OneTable::default(), faults),
    };
    let mut table = understand(grid, request, &mut faults);
    for source in &mut table.trials.sources {
        source.sha256.clone_from(&sha256);
    }
    (table, faults)
}

/// The kinds of file that hold tables.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Text,
    Workbook,
    Parquet,
}

fn kind_of(request: &TableRequest) -> Result<Kind, Box<Fault>> {
    let extension = Path::new(&request.file).extension().and_then(|e| e.to_str()).unwrap_or_default().to_lowercase();
    match extension.as_str() {
        "csv" | "tsv" | "txt" => Ok(Kind::Text),
        "xlsx" => Ok(Kind::Workbook),
        "parquet" => Ok(Kind::Parquet),
        other => {
            let found =
                if other.is_empty() { "no extension".to_owned() } else { format!("the extension {}", quoted(other)) };
            let needed = "csv, tsv, txt, xlsx or parquet";
            Err(Fault::of_file(&spelt_out(&request.file), found, needed, "export the table as one of these").into())
        }
    }
}

fn grid_of(kind: Kind, bytes: Vec<u8>, request: &TableRequest) -> Result<(Grid, Vec<Fault>), Vec<Fault>> {
    if let (Some(encoding), false) = (request.encoding, matches!(kind, Kind::Text)) {
        let found = format!("encoding = {} for a file that states its own", quoted(encoding.word()));
        return Err(vec![Fault::of_file(&request.file, found, "none", "remove encoding from the study")]);
    }
    match kind {
        Kind::Text => {
            match read_delimited(&as_utf8(&request.file, bytes, request.encoding).map_err(|f| vec![*f])?, request) {
                (Some(grid), faults) => Ok((grid, faults)),
                (None, faults) => Err(faults),
            }
        }
        Kind::Workbook => read_sheet(&bytes, request).map(|grid| (grid, Vec::new())).map_err(|fault| vec![*fault]),
        Kind::Parquet => read_parquet(&bytes, request).map(|grid| (grid, Vec::new())),
    }
}

fn understand(mut grid: Grid, request: &TableRequest, faults: &mut Vec<Fault>) -> OneTable {
    let file = request.file.as_str();
    let header_place = if grid.kind == GridKind::Parquet { Place::File } else { Place::Row(grid.header_row) };
    if grid.header.len() > MOST_COLUMNS {
        let found = format!("{} columns", grid.header.len());
        faults.push(Fault::at(file, header_place, found, format!("at most {MOST_COLUMNS}"), "remove what is no table"));
        return OneTable::default();
    }
    let letter = request.columns.values().find(|theirs| theirs.starts_with('@') && !grid.header.contains(theirs));
    if let (Some(letter), GridKind::Parquet) = (letter, &grid.kind) {
        let found = format!("the column letter {} for a Parquet file", quoted(letter));
        faults.push(Fault::of_file(file, found, "the column's name", "correct columns in the study"));
        return OneTable::default();
    }
    let (mut headed, header_faults) = resolve(&grid.header, request, &header_place);
    // Without a sound header every cell would be reported for the wrong reason.
    if !header_faults.is_empty() {
        faults.extend(header_faults);
        return OneTable::default();
    }
    drop_empty_columns(&mut grid, &mut headed);
    let mut notes = remarks(file, &headed);
    notes.extend(grid.left_out.iter().map(|c| format!("{file}: column {c} is of a type that is not read")));
    let (units_row, unit_faults) = take_units_row(&mut grid, &headed, request);
    notes.extend(units_row.map(|row| format!("{file}: row {row} holds units and was skipped")));
    keep_rows(&mut grid, faults, request);
    faults.extend(unit_faults);
    if grid.rows.is_empty() && faults.is_empty() {
        let found = "a header and no row below it";
        faults.push(Fault::at(file, header_place, found, "a row for each trial", "add the trials"));
    }
    let (mark, any_text) = decimal_mark(&grid, &headed, request).unwrap_or_else(|fault| {
        faults.push(*fault);
        (DecimalMark::Point, true)
    });
    let ticked = ticks_with_blanks(&grid, &headed);
    if ticked {
        notes.push(format!("{file}: rows to use are ticked; rows without a tick are left out"));
    }
    let thousands = request.thousands;
    let mut reader =
        RowReader { grid: &grid, headed: &headed, mark, thousands, ticked, file, faults: Vec::new(), more: 0 };
    let rows: Vec<_> = grid.rows.iter().map(|row| reader.read(row)).collect();
    faults.append(&mut reader.faults);
    let more = reader.more;
    // Rows of another length were found before any cell; cells of a sheet are in order already.
    faults.sort_by_key(|fault| if let Place::Row(row) = fault.place { row } else { 0 });
    if more > 0 {
        let found = format!("{more} bad cells more");
        faults.push(Fault::of_file(file, found, "cells as above", "correct what is named first"));
    }
    let source = TrialSource {
        file: file.to_owned(),
        sha256: String::new(),
        read_as: read_as(&grid, mark, any_text),
        rows: rows.len(),
        joined: Vec::new(),
    };
    let at = headed.iter().position(|h| h.meaning == Some(Meaning::Trial)).unwrap_or(0);
    let identifiers =
        grid.rows.iter().map(|row| grid.place(row.number, headed.get(at).map_or(at, |h| h.place))).collect();
    let trials = Trials {
        rows,
        sources: vec![source],
        other_columns: headed.iter().filter(|h| h.meaning.is_none()).map(|h| h.name.clone()).collect(),
        has_column: Column::ALL.iter().copied().filter(|&c| headed.iter().any(|h| holds(h, c))).collect(),
        reading_notes: notes,
    };
    let joins = request.joins.then(|| headed.iter().filter_map(|h| h.meaning).collect());
    OneTable { trials, identifiers, joins }
}

fn holds(headed: &Headed, column: Column) -> bool {
    matches!(headed.meaning, Some(Meaning::Value(c, _)) if c == column)
}

/// A column without name and without any cell is a separator too many, no column.
fn drop_empty_columns(grid: &mut Grid, headed: &mut Vec<Headed>) {
    for index in (0..grid.header.len()).rev() {
        let unnamed = grid.header[index].is_empty() && headed[index].meaning.is_none();
        if unnamed && grid.rows.iter().all(|row| row.cells[index].is_blank()) {
            grid.header.remove(index);
            headed.remove(index);
            for row in &mut grid.rows {
                row.cells.remove(index);
            }
        }
    }
}

/// Keeps the rows that the study asks for; what is wrong with others is nobody's business.
fn keep_rows(grid: &mut Grid, faults: &mut Vec<Fault>, request: &TableRequest) {
    let Some([first, last]) = request.rows else { return };
    let inside = |row: usize| (first..=last).contains(&row);
    grid.rows.retain(|row| inside(row.number));
    faults.retain(|fault| !matches!(fault.place, Place::Row(row) if row > grid.header_row && !inside(row)));
    if grid.rows.is_empty() && faults.is_empty() {
        let found = format!("nothing in rows {first} to {last} below the header");
        faults.push(Fault::of_file(&request.file, found, "a row for each trial", "correct rows in the study"));
    }
}

/// Whether all that stands in the column `use` are ticks, and some rows have none.
fn ticks_with_blanks(grid: &Grid, headed: &[Headed]) -> bool {
    let Some(at) = headed.iter().position(|h| h.meaning == Some(Meaning::Use)) else { return false };
    let (blank, filled): (Vec<_>, Vec<_>) = grid.rows.iter().map(|row| &row.cells[at]).partition(|c| c.is_blank());
    !blank.is_empty() && !filled.is_empty() && filled.iter().all(|cell| is_tick(&cell.text()))
}

fn read_as(grid: &Grid, mark: DecimalMark, any_text: bool) -> String {
    let in_texts = if any_text { format!(", numbers in texts with a {}", mark.word()) } else { String::new() };
    match &grid.kind {
        GridKind::Delimited { separator } => {
            format!("{separator}-separated, {}, header in row {}", mark.word(), grid.header_row)
        }
        GridKind::Sheet { name } => {
            format!("XLSX, sheet {}, header in row {}{in_texts}", quoted(name), grid.header_row)
        }
        GridKind::Parquet => format!("Parquet{in_texts}"),
    }
}

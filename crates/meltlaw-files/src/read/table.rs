//! One table of a study: bytes by extension to a grid, header to meanings, rows to trials.

use std::collections::BTreeMap;
use std::path::Path;

use meltlaw::trials::{Column, TrialSource, Trials};

use super::delimited::read_delimited;
use super::disk::{FileBytes, read_below};
use super::fault::{Fault, Place, ReadError};
use super::grid::{Grid, GridKind};
use super::header::{Headed, Meaning, remarks, resolve};
use super::parquet::read_parquet;
use super::request::{DecimalMark, MOST_COLUMNS, TableRequest};
use super::rows::{RowReader, decimal_mark, is_unit_row};
use super::sheet::read_sheet;
use super::wording::{quoted, spelt_out};

/// Reads one trial table below a folder.
///
/// # Errors
/// [`ReadError::BadTables`] with every fault of the table.
pub fn read_trial_table(folder: &Path, table: &TableRequest) -> Result<Trials, ReadError> {
    let (one, mut faults) = read_one(folder, table);
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
    match kind {
        Kind::Text => match read_delimited(&bytes, request) {
            (Some(grid), faults) => Ok((grid, faults)),
            (None, faults) => Err(faults),
        },
        Kind::Workbook => read_sheet(&bytes, request).map(|grid| (grid, Vec::new())).map_err(|fault| vec![*fault]),
        Kind::Parquet => read_parquet(bytes, request).map(|grid| (grid, Vec::new())),
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
    drop_empty_columns(&mut grid);
    let (headed, header_faults) = resolve(&grid.header, request, &header_place);
    // Without a sound header every cell would be reported for the wrong reason.
    if !header_faults.is_empty() {
        faults.extend(header_faults);
        return OneTable::default();
    }
    let mut notes = remarks(file, &headed);
    notes.extend(grid.left_out.iter().map(|c| format!("{file}: column {c} is of a type that is not read")));
    if grid.rows.first().is_some_and(|row| is_unit_row(row, &headed)) {
        notes.push(format!("{file}: row {} holds units and was skipped", grid.rows[0].number));
        grid.rows.remove(0);
    }
    if grid.rows.is_empty() && faults.is_empty() {
        let found = "a header and no row below it";
        faults.push(Fault::at(file, header_place, found, "a row for each trial", "add the trials"));
    }
    let (mark, any_text) = decimal_mark(&grid, &headed, request).unwrap_or_else(|fault| {
        faults.push(*fault);
        (DecimalMark::Point, true)
    });
    let mut reader = RowReader { grid: &grid, headed: &headed, mark, file, faults: Vec::new(), more: 0 };
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
    };
    let at = headed.iter().position(|h| h.meaning == Some(Meaning::Trial)).unwrap_or(0);
    let identifiers = grid.rows.iter().map(|row| grid.place(row.number, at)).collect();
    let trials = Trials {
        rows,
        sources: vec![source],
        other_columns: headed.iter().filter(|h| h.meaning.is_none()).map(|h| h.name.clone()).collect(),
        has_column: Column::ALL.iter().copied().filter(|&c| headed.iter().any(|h| holds(h, c))).collect(),
        reading_notes: notes,
    };
    OneTable { trials, identifiers }
}

fn holds(headed: &Headed, column: Column) -> bool {
    matches!(headed.meaning, Some(Meaning::Value(c, _)) if c == column)
}

/// A column without name and without any cell is a separator too many, no column.
fn drop_empty_columns(grid: &mut Grid) {
    for index in (0..grid.header.len()).rev() {
        if grid.header[index].is_empty() && grid.rows.iter().all(|row| row.cells[index].is_blank()) {
            grid.header.remove(index);
            for row in &mut grid.rows {
                row.cells.remove(index);
            }
        }
    }
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

/// Joins the tables of a study; identifiers must be unique over all of them.
pub(crate) fn join(tables: Vec<OneTable>) -> (Trials, Vec<Fault>) {
    let mut all = Trials::default();
    let mut faults = Vec::new();
    let mut seen: BTreeMap<String, (usize, Place)> = BTreeMap::new();
    for table in &tables {
        for name in &table.trials.other_columns {
            if !all.other_columns.contains(name) {
                all.other_columns.push(name.clone());
            }
        }
    }
    for OneTable { trials: table, identifiers } in tables {
        let first_source = all.sources.len();
        let places: Vec<usize> = all
            .other_columns
            .iter()
            .map(|name| table.other_columns.iter().position(|n| n == name).unwrap_or(usize::MAX))
            .collect();
        all.sources.extend(table.sources);
        all.reading_notes.extend(table.reading_notes);
        all.has_column.extend(table.has_column);
        for (mut trial, place) in table.rows.into_iter().zip(identifiers) {
            trial.source += first_source;
            trial.other = places.iter().map(|&at| trial.other.get(at).cloned().unwrap_or_default()).collect();
            if let Some((source, first)) = seen.get(&trial.name) {
                let needed =
                    format!("an identifier of its own, as this one stands in {}{first}", all.sources[*source].file);
                let fault = Fault::at(
                    &all.sources[trial.source].file,
                    place,
                    quoted(&trial.name),
                    needed,
                    "rename one of the two",
                );
                faults.push(fault.in_column("trial"));
            } else if !trial.name.is_empty() {
                seen.insert(trial.name.clone(), (trial.source, place));
            }
            all.rows.push(trial);
        }
    }
    all.has_column.sort_unstable();
    all.has_column.dedup();
    (all, faults)
}

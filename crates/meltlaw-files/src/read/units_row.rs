//! The row of units that some tables have below their header.

use super::fault::{Fault, Place};
use super::grid::{Cell, Grid, GridRow};
use super::header::{Headed, unit_conflict};
use super::meaning::Meaning;
use super::request::TableRequest;
use super::unit_words::unit_word;
use super::wording::quoted;

/// Takes the row of units out of the table, the stated one or the first where it holds nothing but units. Returns its
/// number, and a fault for each column whose unit contradicts the column's name.
pub(crate) fn take_units_row(
    grid: &mut Grid,
    headed: &[Headed],
    request: &TableRequest,
) -> (Option<usize>, Vec<Fault>) {
    let at = match request.units_row {
        Some(stated) => grid.rows.iter().position(|row| row.number == stated),
        None => grid.rows.first().filter(|row| looks_like_units(row, headed)).map(|_| 0),
    };
    let Some(at) = at else {
        let missing = request.units_row.map(|row| {
            let found = format!("nothing in row {row} below the header");
            Fault::at(&request.file, Place::File, found, "the units there", "correct units_row in the study")
        });
        return (None, missing.into_iter().collect());
    };
    let row = grid.rows.remove(at);
    let faults = headed.iter().zip(&row.cells).filter_map(|(column, cell)| {
        let (found, needed, action) = contradiction(column, cell)?;
        let place = grid.place(row.number, column.place);
        Some(Fault::at(&request.file, place, found, needed, action).in_column(column.label.clone()))
    });
    (Some(row.number), faults.collect())
}

/// Whether the cells of the number columns are texts, most of them units.
fn looks_like_units(row: &GridRow, headed: &[Headed]) -> bool {
    let numbers = row.cells.iter().zip(headed).filter_map(|(cell, column)| {
        let unit = column.meaning.as_ref().and_then(Meaning::unit)?;
        Some((cell, unit)).filter(|(cell, _)| !cell.is_blank())
    });
    let (mut texts, mut units) = (0_usize, 0_usize);
    for (cell, unit) in numbers {
        let Cell::Text(text) = cell else { return false };
        // `1` is the unit of a count, but far more often a count.
        if text.trim().bytes().all(|b| b.is_ascii_digit() || b".,+-eE".contains(&b)) && !is_dash(text) {
            return false;
        }
        texts += 1;
        // A dash is the unit of a pure number, and in any other column a missing value.
        units += usize::from(unit_word(text).is_some() && (!is_dash(text) || unit == "1"));
    }
    units > 0 && 2 * units >= texts
}

fn is_dash(text: &str) -> bool {
    matches!(text.trim(), "-" | "–" | "—")
}

fn contradiction(column: &Headed, cell: &Cell) -> Option<(String, String, String)> {
    let unit = column.meaning.as_ref().and_then(Meaning::unit).filter(|_| column.scale.is_none())?;
    match cell {
        Cell::Blank => None,
        Cell::Text(text) if is_dash(text) => None,
        Cell::Text(text) if unit_word(text).is_some() => {
            let conflict = unit_conflict(column, text, "in the row of units", true)?;
            Some((conflict.found, conflict.needed, conflict.action))
        }
        Cell::Text(text) if text.trim_matches(['[', ']', '(', ')', ' ']).is_empty() => None,
        other => {
            let found = format!("{} in the row of units", quoted(&other.text()));
            Some((found, format!("{unit}, as the column's name states"), "correct it, or leave it blank".to_owned()))
        }
    }
}

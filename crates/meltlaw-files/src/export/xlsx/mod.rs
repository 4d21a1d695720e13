//! The line as a workbook: the line itself, a look-up at one wire feed, the check table, and what to know about it.
//!
//! Text is written as text, never as a formula; the only formulas are ours, on the sheet of the look-up. Two workbooks
//! of one line are the same bytes: no clock.

mod about_sheet;
mod at_formulas;
mod at_sheet;
mod check_sheet;
mod layout;
mod line_sheet;
mod look;
#[cfg(test)]
mod reckoner;
#[cfg(test)]
mod tests;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use super::ExportError;
use super::rows::line_rows;
use crate::document::LineDocument;
use layout::Layout;
use look::{Look, safe};

/// Rows of a sheet by ECMA-376, less those above the table.
const MOST_ROWS: usize = 1_048_576 - 20;

/// The bytes of the workbook.
pub(super) fn workbook(document: &LineDocument) -> Result<Vec<u8>, ExportError> {
    let rows = line_rows(&document.body().line);
    if rows.len() > MOST_ROWS {
        return Err(ExportError::TooLong { rows: rows.len(), most: MOST_ROWS, format: "XLSX" });
    }
    written(document, &Layout::of(&rows))
        .map_err(|error| ExportError::NotWritten { format: "XLSX", cause: error.to_string() })
}

fn written(document: &LineDocument, layout: &Layout<'_>) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    // The day is that of the ZIP format's first entry: whoever asks when a line was made finds no clock anywhere.
    workbook.set_properties(
        &DocProperties::new()
            .set_title(safe(&document.body().name))
            .set_comment(format!(
                "made by {}, checksum of line.json {}",
                document.provenance().tool,
                document.checksum()
            ))
            .set_creation_datetime(&ExcelDateTime::from_ymd(1980, 1, 1)?),
    );
    let look = Look::new();
    line_sheet::fill(workbook.add_worksheet(), document, layout, &look)?;
    at_sheet::fill(workbook.add_worksheet(), document, layout, &look)?;
    check_sheet::fill(workbook.add_worksheet(), document, layout, &look)?;
    about_sheet::fill(workbook.add_worksheet(), document, &look)?;
    workbook.save_to_buffer()
}

//! The sheet of the check table: what one new weld should read.

use rust_xlsxwriter::{Worksheet, XlsxError};

use super::layout::Layout;
use super::line_sheet::capitalised;
use super::look::{Look, TITLE_HEIGHT, number_format, status_words, write};
use crate::document::LineDocument;
use crate::export::check_table::{CHECK_COLUMNS, check_columns, meaning};
use crate::export::units::{unit_of, words_of};

/// Columns before the readings: wire feed, support, standing, status.
const BEFORE: u16 = 4;

pub(super) fn fill(
    sheet: &mut Worksheet,
    document: &LineDocument,
    layout: &Layout<'_>,
    look: &Look,
) -> Result<(), XlsxError> {
    sheet.set_name("Check table")?.set_screen_gridlines(false).set_landscape().set_paper_size(9);
    sheet.set_print_fit_to_pages(1, 0).set_footer("&L&A&RPage &P of &N");
    write(sheet, (0, 0), "What one new weld should read", &look.title)?;
    sheet.set_row_height(0, TITLE_HEIGHT)?;
    let mut next: u32 = 1;
    for line in meaning(document) {
        write(sheet, (next, 0), &capitalised(&line), &look.plain)?;
        next += 1;
    }
    let heads = next + 1;
    head(sheet, heads, look)?;
    let first = heads + 4;
    // Long reasons end at the table's edge on paper.
    let last = first + layout.rows.len() as u32 - 1;
    sheet.set_print_area(0, 0, last, BEFORE + CHECK_COLUMNS.len() as u16 - 2)?;
    sheet.set_freeze_panes(first, 1)?.set_repeat_rows(heads, first - 1)?;
    for (at, row) in (first..).zip(layout.rows) {
        let feed = look.plain.clone().set_num_format(number_format("wire_feed_m_min")).set_bold();
        sheet.write_number_with_format(at, 0, row.wire_feed_m_min, &Look::ruled(&feed))?;
        let support = row.support_word();
        let words = if row.node.is_some() { support } else { status_words(row.status) };
        write(sheet, (at, 1), words, &Look::ruled(look.support(row.status, support)))?;
        write(sheet, (at, 2), row.standing_word(), &Look::ruled(look.standing(row.standing)))?;
        sheet.write_number_with_format(at, 3, row.status.code(), &Look::ruled(&look.code))?;
        if row.node.is_none() {
            write(sheet, (at, BEFORE), &row.reason, &look.reason)?;
            continue;
        }
        for (column, of) in (BEFORE..).zip(check_columns().skip(1)) {
            if let Some(number) = row.number(of) {
                sheet.write_number_with_format(at, column, number, &Look::ruled(&look.number(of.0)))?;
            }
        }
    }
    Ok(())
}

fn head(sheet: &mut Worksheet, at: u32, look: &Look) -> Result<(), XlsxError> {
    let mut head = |column: u16, width: f64, [band, words, unit, name]: [&str; 4]| -> Result<(), XlsxError> {
        sheet.set_column_width(column, width)?;
        let cells = [(band, &look.band), (words, &look.head), (unit, &look.unit), (name, &look.name)];
        for (row, (cell, format)) in (at..).zip(cells) {
            sheet.write_string_with_format(row, column, cell, format)?;
        }
        Ok(())
    };
    head(0, 10.0, ["Line", "Wire feed", "m/min", CHECK_COLUMNS[0]])?;
    head(1, 27.0, ["", "Support", "", "support"])?;
    head(2, 13.0, ["", "Standing", "", "standing"])?;
    head(3, 7.0, ["", "Status", "code", "status"])?;
    let bands = ["Mean current", "", "", "Mean voltage", "", "", "Mean power", "", ""];
    for ((column, name), band) in (BEFORE..).zip(&CHECK_COLUMNS[1..]).zip(bands) {
        let words = match words_of(name) {
            words if words.ends_with(", low") => "Lowest",
            words if words.ends_with(", high") => "Highest",
            _ => "Expected",
        };
        head(column, 16.0, [band, words, unit_of(name).unit, name])?;
    }
    sheet.set_row_height(at + 3, 21)?;
    Ok(())
}

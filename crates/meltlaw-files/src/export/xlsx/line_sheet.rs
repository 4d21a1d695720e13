//! The sheet of the line: a row for each node and for each end of a range without a setting.

use rust_xlsxwriter::{Format, Worksheet, XlsxError};

use super::layout::{
    FEED_COLUMN, FIRST_NUMBER_COLUMN, FIRST_ROW, LINE_SHEET, Layout, STANDING_COLUMN, STATUS_COLUMN, SUPPORT_COLUMN,
    group,
};
use super::look::{Look, TITLE_HEIGHT, number_format, safe, status_words, write};
use crate::document::LineDocument;
use crate::export::facts::{facts, feeds, usable_words};
use crate::export::rows::LineRow;
use crate::export::units::{unit_of, words_of};

const BAND_ROW: u32 = FIRST_ROW - 4;

pub(super) fn fill(
    sheet: &mut Worksheet,
    document: &LineDocument,
    layout: &Layout<'_>,
    look: &Look,
) -> Result<(), XlsxError> {
    sheet.set_name(LINE_SHEET)?.set_screen_gridlines(false).set_landscape().set_paper_size(9);
    sheet.set_freeze_panes(FIRST_ROW, STATUS_COLUMN)?;
    sheet.set_repeat_rows(BAND_ROW, FIRST_ROW - 1)?.set_repeat_columns(FEED_COLUMN, STANDING_COLUMN)?;
    // Some fifty columns: four pages side by side can still be read.
    sheet.set_print_fit_to_pages(4, 0).set_footer("&L&A&RPage &P of &N");
    opening(sheet, document, look)?;
    heads(sheet, layout, look)?;
    let formats: Vec<Format> = layout.columns.iter().map(|(name, _)| Look::ruled(&look.number(name))).collect();
    for (index, row) in layout.rows.iter().enumerate() {
        fill_row(sheet, FIRST_ROW + index as u32, row, layout, (look, &formats))?;
    }
    Ok(())
}

/// What must be known before the first number is read; the rest stands on the last sheet.
fn opening(sheet: &mut Worksheet, document: &LineDocument, look: &Look) -> Result<(), XlsxError> {
    let body = document.body();
    let told = |about: &str| {
        let fact = facts(document).into_iter().find(|fact| fact.about == about);
        fact.map(|fact| fact.words).unwrap_or_default()
    };
    let standing: Vec<String> =
        body.line.standing.iter().map(|range| format!("{} {}", range.state, feeds(range.wire_feed_m_min))).collect();
    write(sheet, (0, 0), &body.name, &look.title)?;
    sheet.set_row_height(0, TITLE_HEIGHT)?;
    let lines = [
        format!("Wire: {}. Gas: {}. Conditions: {}.", told("wire"), told("gas"), told("conditions")),
        usable_words(&body.line),
        format!("Standing: {}.", standing.join(", ")),
        "Between two neighbouring rows that both have a setting go straight, as the sheet At a feed does; nowhere else."
            .to_owned(),
    ];
    for (row, line) in (1..).zip(&lines) {
        write(sheet, (row, 0), line, &look.plain)?;
    }
    let warning = "A line is a starting point: qualify the procedure under the code that applies. Cautions, evidence and \
        checksum: sheet About.";
    write(sheet, (5, 0), warning, &look.warning)
}

fn heads(sheet: &mut Worksheet, layout: &Layout<'_>, look: &Look) -> Result<(), XlsxError> {
    let mut head = |column: u16, width: f64, [band, words, unit, name]: [&str; 4]| -> Result<(), XlsxError> {
        sheet.set_column_width(column, width)?;
        let cells = [(band, &look.band), (words, &look.head), (unit, &look.unit), (name, &look.name)];
        for (row, (cell, format)) in (BAND_ROW..).zip(cells) {
            sheet.write_string_with_format(row, column, cell, format)?;
        }
        Ok(())
    };
    head(FEED_COLUMN, 10.0, ["Line", "Wire feed", "m/min", "wire_feed_m_min"])?;
    head(SUPPORT_COLUMN, 27.0, ["", "Support", "", "support"])?;
    head(STANDING_COLUMN, 13.0, ["", "Standing", "", "standing"])?;
    head(STATUS_COLUMN, 7.0, ["", "Status", "code", "status"])?;
    let mut last = "";
    for (column, (name, _)) in (FIRST_NUMBER_COLUMN..).zip(&layout.columns) {
        let band = group(name);
        let words = capitalised(&words_of(name).replace("next weld ", "").replace("tip distance ", ""));
        head(column, 14.0, [if band == last { "" } else { band }, &words, unit_of(name).unit, name])?;
        last = band;
    }
    let words = layout.first_word_column();
    head(words, 18.0, ["Remarks", "Pinned by the study", "", "pinned"])?;
    head(layout.limits_column(), 24.0, ["", "Limits that bind", "", "limits"])?;
    head(words + 2, 70.0, ["", "Notes", "", "notes"])?;
    sheet.set_row_height(BAND_ROW + 1, 62)?;
    // The longest names take two lines.
    sheet.set_row_height(BAND_ROW + 3, 21)?;
    Ok(())
}

fn fill_row(
    sheet: &mut Worksheet,
    at: u32,
    row: &LineRow<'_>,
    layout: &Layout<'_>,
    (look, formats): (&Look, &[Format]),
) -> Result<(), XlsxError> {
    let feed = look.plain.clone().set_num_format(number_format("wire_feed_m_min")).set_bold();
    sheet.write_number_with_format(at, FEED_COLUMN, row.wire_feed_m_min, &Look::ruled(&feed))?;
    let [support, standing, pinned, limits, notes] = row.words();
    let support_words = if row.node.is_some() { support.as_str() } else { status_words(row.status) };
    write(sheet, (at, SUPPORT_COLUMN), support_words, &Look::ruled(look.support(row.status, &support)))?;
    write(sheet, (at, STANDING_COLUMN), &standing, &Look::ruled(look.standing(row.standing)))?;
    sheet.write_number_with_format(at, STATUS_COLUMN, row.status.code(), &Look::ruled(&look.code))?;
    if row.node.is_none() {
        // Words where numbers would stand: whoever computes with them gets an error and no setting.
        let limits = if limits.is_empty() { limits } else { format!(" ({limits})") };
        return write(sheet, (at, FIRST_NUMBER_COLUMN), &format!("{}{limits}", row.reason), &look.reason);
    }
    for ((column, of), format) in (FIRST_NUMBER_COLUMN..).zip(&layout.columns).zip(formats) {
        match row.number(of) {
            Some(number) => sheet.write_number_with_format(at, column, number, format)?,
            None => sheet.write_blank(at, column, format)?,
        };
    }
    for (column, words) in (layout.first_word_column()..).zip([pinned, limits, notes]) {
        sheet.write_string_with_format(at, column, safe(&words), &Look::ruled(&look.words))?;
    }
    Ok(())
}

pub(super) fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

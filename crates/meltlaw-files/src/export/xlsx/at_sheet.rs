//! The sheet of the look-up: a cell for the wire feed, and what the line says there. Each formula is written with its
//! result at the feed that stands in the cell, so that a viewer that computes nothing shows something true.

use meltlaw_line::{Standing, Status, Support};
use rust_xlsxwriter::{
    ConditionalFormatFormula, DataValidation, DataValidationErrorStyle, DataValidationRule, FormatAlign, Formula,
    Worksheet, XlsxError,
};

use super::at_formulas::{Cells, Formulas, NO_SETTING, NONE, NOTHING};
use super::layout::{Layout, SETTINGS};
use super::line_sheet::capitalised;
use super::look::{Look, TITLE_HEIGHT, number_format, safe, status_words, write};
use crate::document::{LineDocument, number_text};
use crate::export::facts::usable_words;
use crate::export::rows::LineRow;
use crate::export::units::{unit_of, words_of};

/// Row of the cell for the wire feed, counted from 0.
const FEED_ROW: u32 = 3;
const ANSWER_ROW: u32 = FEED_ROW + 1;
const VALUE: u16 = 1;

/// A line of the sheet.
enum Entry {
    Band(&'static str),
    Value {
        words: String,
        /// Column of the line that it is a number of; none for words.
        column: Option<&'static str>,
        formula: String,
        /// What the formula gives at the feed shown first.
        result: String,
    },
}

pub(super) fn fill(
    sheet: &mut Worksheet,
    document: &LineDocument,
    layout: &Layout<'_>,
    look: &Look,
) -> Result<(), XlsxError> {
    let first = &layout.rows[layout.shown_first()];
    sheet.set_name("At a feed")?.set_screen_gridlines(false).set_paper_size(9).set_print_fit_to_pages(1, 1);
    sheet.set_column_width(0, 38)?.set_column_width(VALUE, 18)?.set_column_width(2, 12)?;
    sheet.set_footer("&L&A&RPage &P of &N");
    write(sheet, (0, 0), "The line at one wire feed", &look.title)?;
    sheet.set_row_height(0, TITLE_HEIGHT)?;
    write(
        sheet,
        (1, 0),
        "Type a wire feed into the framed cell. Outside the usable range, across a gap and where the line was contradicted or withdrawn there is no setting, and no number.",
        &look.soft,
    )?;
    write(sheet, (2, 0), &usable_words(&document.body().line), &look.plain)?;
    write(sheet, (FEED_ROW, 0), "Wire feed", &look.head)?;
    let input = look.input.clone().set_num_format(number_format("wire_feed_m_min")).set_align(FormatAlign::Right);
    sheet.write_number_with_format(FEED_ROW, VALUE, first.wire_feed_m_min, &input)?;
    write(sheet, (FEED_ROW, 2), "m/min", &look.words)?;
    sheet.add_data_validation(FEED_ROW, VALUE, FEED_ROW, VALUE, &only_feeds()?)?;
    let entries = entries(document, layout, first);
    for (row, entry) in (ANSWER_ROW..).zip(&entries) {
        match entry {
            Entry::Band(words) => {
                for column in 0..3 {
                    write(sheet, (row, column), if column == 0 { words } else { "" }, &look.band)?;
                }
            }
            Entry::Value { words, column, formula, result } => {
                // Words to the left: a long reason then goes on over the cells beside it.
                let format = column.map_or_else(|| look.words.clone(), |name| look.number(name));
                let unit = column.map_or("", |name| unit_of(name).unit);
                write(sheet, (row, 0), words, &Look::ruled(&look.plain))?;
                let formula = Formula::new(formula).set_result(result);
                sheet.write_formula_with_format(row, VALUE, formula, &Look::ruled(&format))?;
                write(sheet, (row, 2), unit, &Look::ruled(&look.words))?;
            }
        }
    }
    colours(sheet, entries.len() as u32, look)?;
    sheet.set_selection(FEED_ROW, VALUE, FEED_ROW, VALUE)?;
    Ok(())
}

/// A number, any: what is outside the line is answered by the sheet and not by a box.
fn only_feeds() -> Result<DataValidation, XlsxError> {
    DataValidation::new()
        .allow_decimal_number(DataValidationRule::Between(0.0, 1000.0))
        .set_input_title("Wire feed")?
        .set_input_message("in m/min; 240 in/min are 6.096 m/min")?
        .set_error_title("Not a wire feed")?
        .set_error_message("A number of m/min is needed, from 0 to 1000.")
        .map(|rule| rule.set_error_style(DataValidationErrorStyle::Stop))
}

/// Words and colours together: the answer, the support, the standing.
fn colours(sheet: &mut Worksheet, count: u32, look: &Look) -> Result<(), XlsxError> {
    let status = cell(ANSWER_ROW + 2);
    let rules = [
        (ANSWER_ROW, format!("={status}=0"), &look.good),
        (ANSWER_ROW, format!("={status}<>0"), &look.none),
        (ANSWER_ROW + 3, format!("={}=\"covered\"", cell(ANSWER_ROW + 3)), &look.good),
        (ANSWER_ROW + 3, format!("=OR({0}=\"extended\",{0}=\"carried\")", cell(ANSWER_ROW + 3)), &look.careful),
        (ANSWER_ROW + 3, format!("={}=\"none\"", cell(ANSWER_ROW + 3)), &look.none),
        (ANSWER_ROW + 5, format!("={}=\"confirmed\"", cell(ANSWER_ROW + 5)), &look.good),
        (ANSWER_ROW + 5, format!("=OR({0}=\"contradicted\",{0}=\"withdrawn\")", cell(ANSWER_ROW + 5)), &look.none),
    ];
    for (row, rule, format) in rules {
        let rule = ConditionalFormatFormula::new().set_rule(rule.as_str()).set_format(format);
        sheet.add_conditional_format(row, VALUE, row, VALUE, &rule)?;
    }
    let refused = format!("={status}<>0");
    let rule = ConditionalFormatFormula::new().set_rule(refused.as_str()).set_format(&look.reason);
    // Not the look-up's own lines, the last four.
    sheet.add_conditional_format(ANSWER_ROW + 7, VALUE, ANSWER_ROW + count - 5, VALUE, &rule)?;
    Ok(())
}

fn cell(row: u32) -> String {
    rust_xlsxwriter::utility::row_col_to_cell_absolute(row, VALUE)
}

/// All lines below the wire feed.
fn entries(document: &LineDocument, layout: &Layout<'_>, first: &LineRow<'_>) -> Vec<Entry> {
    // The two cells of the look-up itself come last: where, is known when the columns are.
    let shown = columns_shown(layout);
    let bands = 4;
    let row = ANSWER_ROW + 7 + shown.iter().map(|(_, names)| names.len() as u32).sum::<u32>() + bands + 1;
    let cells = Cells {
        feed: cell(FEED_ROW),
        status: cell(ANSWER_ROW + 2),
        support: cell(ANSWER_ROW + 3),
        standing: cell(ANSWER_ROW + 5),
        row: cell(row),
        weight: cell(row + 1),
    };
    let formulas = Formulas { layout, cells: &cells };
    let mut entries = opening(document, &formulas, first);
    let first_column = ANSWER_ROW + entries.len() as u32;
    let position = |name: &str| {
        let mut at = first_column;
        for (_, names) in &shown {
            at += 1;
            match names.iter().position(|shown| *shown == name) {
                Some(index) => return cell(at + index as u32),
                None => at += names.len() as u32,
            }
        }
        String::new()
    };
    for (band, names) in &shown {
        entries.push(Entry::Band(band));
        for name in names {
            let formula = match computed(name, document, &position, &cells.feed) {
                Some(formula) => formulas.if_setting(&formula),
                None => formulas.linear(layout.column_of(name).unwrap_or_default()),
            };
            let number = layout.columns.iter().find(|column| column.0 == *name).and_then(|column| first.number(column));
            entries.push(Entry::Value {
                words: capitalised(&words_of(name).replace("next weld ", "")),
                column: Some(name),
                formula,
                result: number.map_or_else(|| NO_SETTING.to_owned(), number_text),
            });
        }
    }
    entries.push(Entry::Band("What binds, and how it was looked up"));
    let limits = first.node.map(|node| safe(&node.limits.join(" "))).unwrap_or_default();
    let limits = if limits.is_empty() { NOTHING.to_owned() } else { limits };
    entries.push(words("Limits that bind", formulas.limits(), limits));
    let place = layout.shown_first() + 1;
    entries.push(words("Row of the line, the last not above the feed", formulas.row(), place.to_string()));
    entries.push(words("Weight of the row after it", formulas.weight(), "0".to_owned()));
    entries
}

fn words(about: &str, formula: String, result: String) -> Entry {
    Entry::Value { words: about.to_owned(), column: None, formula, result }
}

/// Answer, status, support, standing: words first, then their codes.
fn opening(document: &LineDocument, formulas: &Formulas<'_>, first: &LineRow<'_>) -> Vec<Entry> {
    let line = &document.body().line;
    // Beside a number there is its support; a feed without a setting has none here.
    let support = first.node.and(first.support);
    let standing = first.standing;
    let reason = if first.status == Status::Ok { NOTHING } else { first.reason.as_str() };
    vec![
        words("Answer", formulas.answer(), status_words(first.status).to_owned()),
        words("Why there is none", formulas.reason(), safe(reason)),
        words("Status, code", formulas.status(), first.status.code().to_string()),
        words("Support", formulas.support(), support.map_or(NONE, Support::word).to_owned()),
        words("Support, code", formulas.support_code(), support.map_or(0, Support::code).to_string()),
        words("Standing", formulas.standing(line.standing.len()), standing.map_or(NONE, Standing::word).to_owned()),
        words("Standing, code", formulas.standing_code(), standing.map_or(0, Standing::code).to_string()),
    ]
}

/// The numbers that are shown, by band.
fn columns_shown(layout: &Layout<'_>) -> [(&'static str, Vec<&'static str>); 3] {
    let among = |wanted: &dyn Fn(&str) -> bool| {
        let names = layout.columns.iter().map(|column| column.0);
        names.filter(|name| wanted(name) && layout.column_of(name).is_some()).collect()
    };
    let moves = |name: &str| ["sensitivity_", "cost_"].iter().any(|start| name.starts_with(start));
    let reads = |name: &str| name.starts_with("next_weld_");
    [
        ("Settings", SETTINGS.to_vec()),
        ("What they do", among(&|name| !SETTINGS.contains(&name) && !moves(name) && !reads(name))),
        ("What one new weld should read", among(&reads)),
    ]
}

/// What is computed from the settings between rows, by the contract.
fn computed(name: &str, document: &LineDocument, cell_of: &dyn Fn(&str) -> String, feed: &str) -> Option<String> {
    let [peak, time, frequency, background, rise, fall] = [
        "pulse_current_a",
        "pulse_time_ms",
        "pulse_frequency_hz",
        "background_current_a",
        "rise_a_per_ms",
        "fall_a_per_ms",
    ]
    .map(cell_of);
    let step = format!("({peak}-{background})");
    let wire = &document.body().wire;
    Some(match name {
        "background_time_ms" => format!("1000/{frequency}-{time}"),
        "current_mean_a" => format!("{background}+{step}*{time}*{frequency}/1000"),
        "current_rms_a" => format!(
            "SQRT({background}*{background}+(2*{background}*{step}*{time}+{step}*{step}*({time}-({step}/{rise}+{step}/{fall})/6))*{frequency}/1000)"
        ),
        "drop_diameter_mm" => {
            format!("(6*{}*{feed}/0.06/(PI()*{frequency}))^(1/3)", number_text(wire.section_mm2()))
        }
        "melting_rate_kg_h" => format!("{feed}*{}", number_text(wire.melting_rate_kg_h(1.0 / 0.06))),
        _ => return None,
    })
}

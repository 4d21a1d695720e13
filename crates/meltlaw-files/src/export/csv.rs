//! The line as a table that looks up safely: beside the nodes stand the ends of every range without a setting, with
//! a status and no numbers, so that no reader interpolates across a gap.

use meltlaw::node_columns::NODE_COLUMNS;

use super::facts::facts;
use super::rows::{LineRow, WORD_COLUMNS, line_rows};
use crate::document::LineDocument;
use crate::write::tables::{Table, UNITS_LINE, number, text};

/// How the status of a row is read.
pub(super) const STATUS_LINE: &str = "status: 0 a setting; 1 below the range, 2 above it, 3 in a gap, 5 withdrawn, 6 \
    contradicted by confirmation welds: no setting. Interpolate only between neighbouring rows that both have status 0";

/// Comment lines with the facts, then the rows.
pub(super) fn line_table(document: &LineDocument) -> String {
    let mut table = opening(document);
    let mut header = vec!["status".to_owned()];
    header.extend(NODE_COLUMNS.iter().map(|(name, _)| (*name).to_owned()));
    header.extend(WORD_COLUMNS.map(str::to_owned));
    table.row(header);
    for row in line_rows(&document.body().line) {
        table.row(cells(&row));
    }
    table.into_csv()
}

/// A table with the comment lines that every table of a line begins with.
pub(super) fn opening(document: &LineDocument) -> Table {
    let mut table = Table::default();
    for fact in facts(document) {
        table.comment(&format!("{}: {}", fact.about, fact.words));
    }
    table.comment(UNITS_LINE);
    table.comment(STATUS_LINE);
    table
}

fn cells(row: &LineRow<'_>) -> Vec<String> {
    let mut cells = vec![row.status.code().to_string()];
    cells.extend(NODE_COLUMNS.iter().map(|column| number(row.number(column))));
    cells.extend(row.words().iter().map(|word| text(word)));
    cells
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::super::examples::{changed, eventful, read, standing_words};
    use super::*;

    #[test]
    fn numbers_read_back_to_the_same_bits_and_rows_without_a_setting_have_none() {
        let document = eventful();
        let rows = line_rows(&document.body().line);
        let found = read(&line_table(&document));
        assert_eq!(found.len(), rows.len());
        for (found, row) in found.iter().zip(&rows) {
            assert_eq!(found["status"], row.status.code().to_string());
            for column in NODE_COLUMNS {
                let cell = found[column.0].parse::<f64>().ok().map(f64::to_bits);
                assert_eq!(cell, row.number(column).map(f64::to_bits), "{} at {}", column.0, row.wire_feed_m_min);
            }
            assert_eq!(found["support"].is_empty(), matches!(row.status.code(), 1..=3));
        }
        let status: Vec<&str> = found.iter().map(|row| row["status"].as_str()).collect();
        assert_eq!(status, ["1", "1", "0", "3", "3", "0", "6", "6", "5", "5", "2", "2"]);
    }

    #[test]
    fn every_standing_travels_with_rule_evidence_date_and_name() {
        let csv = line_table(&eventful());
        for words in standing_words() {
            assert!(csv.contains(&words), "{words}");
        }
        assert!(csv.contains(eventful().checksum()));
    }

    #[test]
    fn no_cell_begins_a_formula_whatever_separator_a_spreadsheet_takes() {
        let csv = line_table(&eventful());
        assert!(csv.contains("HYPERLINK") && csv.contains("cmd|"), "the hostile words are there");
        for separator in [b',', b';', b'\t'] {
            // As a spreadsheet reads it: comment lines are rows too.
            let mut reader = csv::ReaderBuilder::new()
                .has_headers(false)
                .flexible(true)
                .delimiter(separator)
                .from_reader(csv.as_bytes());
            for cell in reader.records().flat_map(|row| row.unwrap().iter().map(str::to_owned).collect::<Vec<_>>()) {
                let starts = cell.trim_start_matches(|c: char| c.is_whitespace() || c == '"');
                let formula =
                    starts.starts_with(['=', '+', '@']) || starts.starts_with('-') && cell.parse::<f64>().is_err();
                assert!(!formula, "{cell:?}, separator {:?}", char::from(separator));
            }
        }
    }

    #[test]
    fn a_line_whose_nodes_are_all_withdrawn_has_rows_and_no_setting() {
        let document =
            changed(|body| body.line.standing = vec![super::super::examples::standing("withdrawn", [0.0, 9.0])]);
        let found = read(&line_table(&document));
        assert!(!found.is_empty() && found.iter().all(|row| row["status"] != "0" && row["pulse_current_a"].is_empty()));
    }
}

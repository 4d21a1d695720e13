//! Where the line stands on its sheet, so that the look-up's formulas point at it.

use meltlaw::node_columns::{NODE_COLUMNS, NodeColumn};
use meltlaw_line::Status;
use rust_xlsxwriter::utility::cell_range_absolute;

use crate::export::rows::LineRow;

pub(super) const LINE_SHEET: &str = "Line";
/// First row of the table below its heads, counted from 0.
pub(super) const FIRST_ROW: u32 = 10;
pub(super) const FEED_COLUMN: u16 = 0;
pub(super) const SUPPORT_COLUMN: u16 = 1;
pub(super) const STANDING_COLUMN: u16 = 2;
pub(super) const STATUS_COLUMN: u16 = 3;
/// First column of settings; where there is none the reason stands in it.
pub(super) const FIRST_NUMBER_COLUMN: u16 = 4;

/// The rows and columns of the sheet of the line.
pub(super) struct Layout<'a> {
    pub(super) rows: &'a [LineRow<'a>],
    /// Columns of numbers beside the wire feed; those that this line does not know are left out.
    pub(super) columns: Vec<&'static NodeColumn>,
}

impl<'a> Layout<'a> {
    pub(super) fn of(rows: &'a [LineRow<'a>]) -> Self {
        let known = |column: &&NodeColumn| rows.iter().any(|row| row.node.is_some() && row.number(column).is_some());
        let settings = |column: &&NodeColumn| SETTINGS.contains(&column.0);
        let columns = NODE_COLUMNS.iter().filter(|column| column.0 != "wire_feed_m_min");
        Self { rows, columns: columns.filter(|column| known(column) || settings(column)).collect() }
    }

    /// Columns of words after those of numbers.
    pub(super) fn first_word_column(&self) -> u16 {
        FIRST_NUMBER_COLUMN + self.columns.len() as u16
    }

    pub(super) fn limits_column(&self) -> u16 {
        self.first_word_column() + 1
    }

    /// The column of a number, where every setting has it: between rows it can be looked up then.
    pub(super) fn column_of(&self, name: &str) -> Option<u16> {
        let index = self.columns.iter().position(|column| column.0 == name)?;
        let everywhere = self.rows.iter().all(|row| row.node.is_none() || row.number(self.columns[index]).is_some());
        everywhere.then_some(FIRST_NUMBER_COLUMN + index as u16)
    }

    /// All rows of a column, as a formula names them.
    pub(super) fn range(&self, column: u16) -> String {
        let last = FIRST_ROW + self.rows.len() as u32 - 1;
        format!("{LINE_SHEET}!{}", cell_range_absolute(FIRST_ROW, column, last, column))
    }

    /// The row that the look-up shows first: a setting in the middle of the line, if it has one.
    pub(super) fn shown_first(&self) -> usize {
        let settings: Vec<usize> = (0..self.rows.len()).filter(|i| self.rows[*i].status == Status::Ok).collect();
        settings.get(settings.len() / 2).copied().unwrap_or(0)
    }
}

/// What a machine is told.
pub(super) const SETTINGS: [&str; 7] = [
    "pulse_current_a",
    "pulse_time_ms",
    "pulse_frequency_hz",
    "background_current_a",
    "background_time_ms",
    "rise_a_per_ms",
    "fall_a_per_ms",
];

/// The group of a column, as its head says.
pub(super) fn group(column: &str) -> &'static str {
    match column {
        name if SETTINGS.contains(&name) => "Settings",
        name if name.starts_with("next_weld_") => "What one new weld should read",
        name if name.starts_with("sensitivity_ctwd") => "What +1 mm of contact-tip-to-work distance does",
        name if name.starts_with("sensitivity_wire_feed") => "What +1 % of wire feed does",
        name if name.starts_with("sensitivity_") => "What +1 % of wire diameter does",
        name if name.starts_with("cost_") => "What was given up here",
        _ => "What they do",
    }
}

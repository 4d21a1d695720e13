//! The table of rows that stands already, when a run goes on: its rows stay, cell for cell; rows of logs that are read now
//! are added or take the place of their own earlier row.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::time::SystemTime;

use super::LogRequest;
use super::options::{LogOptions, OPTION_COLUMNS};
use super::rows::is_from_log;
use crate::read::read_bytes;
use crate::write::same_file;

/// Largest table that is gone on with.
const LARGEST_BYTES: u64 = 200_000_000;

/// A table as text: every cell as it stands in the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct TextTable {
    /// Lines before the header.
    comments: String,
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// What is known of a row that stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct StandingRow<'a> {
    table: &'a TextTable,
    cells: &'a [String],
}

impl TextTable {
    /// Takes a table of ours apart; the error is what was found instead.
    pub(super) fn parse(text: &str) -> Result<Self, String> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let comments: usize = text.split_inclusive('\n').take_while(|l| l.starts_with('#')).map(str::len).sum();
        let (comments, table) = text.split_at(comments);
        let mut lines = csv::ReaderBuilder::new().has_headers(false).from_reader(table.as_bytes()).into_records();
        let wrong = |e: csv::Error| format!("holds a table that cannot be read ({e})");
        let cells = |record: csv::StringRecord| record.iter().map(str::to_owned).collect::<Vec<String>>();
        let header = lines.next().transpose().map_err(wrong)?.map(cells).unwrap_or_default();
        let rows = lines.map(|row| row.map(cells)).collect::<Result<Vec<_>, _>>().map_err(wrong)?;
        let table = Self { comments: comments.to_owned(), header, rows };
        if table.place("trial").is_none() {
            return Err(no_column("trial"));
        }
        let mut names = BTreeSet::new();
        match table.rows.iter().map(|row| table.cell(row, "trial")).find(|name| !names.insert(*name)) {
            Some(twice) => Err(format!("holds two rows of the trial '{}'", crate::read::spelt_out(twice))),
            None => Ok(table),
        }
    }

    fn place(&self, column: &str) -> Option<usize> {
        self.header.iter().position(|name| name == column)
    }

    fn cell<'a>(&self, row: &'a [String], column: &str) -> &'a str {
        self.place(column).and_then(|place| row.get(place)).map_or("", String::as_str)
    }

    /// The row of a trial, by its name as it is written in a table.
    pub(super) fn row(&self, trial: &str) -> Option<StandingRow<'_>> {
        let cells = self.rows.iter().find(|row| self.cell(row, "trial") == trial)?;
        Some(StandingRow { table: self, cells })
    }

    pub(super) const fn len(&self) -> usize {
        self.rows.len()
    }

    /// Takes over the rows of a newer table: each in the place of the row of the same trial, else at the end. Columns of the
    /// user stay, what a log had given before and does not give now goes.
    pub(super) fn take_over(&mut self, newer: &Self) {
        self.add_columns(newer);
        for row in &newer.rows {
            let trial = newer.cell(row, "trial");
            let place = self.rows.iter().position(|old| self.cell(old, "trial") == trial).unwrap_or_else(|| {
                self.rows.push(vec![String::new(); self.header.len()]);
                self.rows.len() - 1
            });
            for (at, name) in self.header.iter().enumerate() {
                match newer.place(name) {
                    Some(theirs) => self.rows[place][at].clone_from(&row[theirs]),
                    None if is_from_log(name) => self.rows[place][at].clear(),
                    None => {}
                }
            }
        }
    }

    /// Lays what a table beside the logs states over the rows of the same trials.
    pub(super) fn lay_over(&mut self, beside: &Self) {
        self.add_columns(beside);
        // These are written for every row, stated or not.
        let stated = |name: &str, cell: &str| match name {
            "trial" | "source_file" | "source_row" => false,
            _ if is_from_log(name) => false,
            "mode" => cell != "pulsed",
            "use" => cell != "yes",
            "origin" => cell != "measured",
            _ => !cell.is_empty(),
        };
        for row in &beside.rows {
            let trial = beside.cell(row, "trial");
            let Some(place) = self.rows.iter().position(|old| self.cell(old, "trial") == trial) else { continue };
            for (name, cell) in beside.header.iter().zip(row).filter(|(name, cell)| stated(name, cell)) {
                if let Some(at) = self.place(name) {
                    self.rows[place][at].clone_from(cell);
                }
            }
        }
    }

    fn add_columns(&mut self, of: &Self) {
        for name in &of.header {
            if self.place(name).is_none() {
                self.header.push(name.clone());
            }
        }
        let columns = self.header.len();
        self.rows.iter_mut().for_each(|row| row.resize(columns, String::new()));
    }

    pub(super) fn to_csv(&self) -> String {
        let mut writer = csv::Writer::from_writer(self.comments.clone().into_bytes());
        for row in std::iter::once(&self.header).chain(&self.rows) {
            writer.write_record(row).expect("writing to memory, every row as long as the header");
        }
        String::from_utf8(writer.into_inner().expect("writing to memory")).expect("made of text")
    }
}

impl StandingRow<'_> {
    /// The log that the row is of, as its path was typed.
    pub(super) fn log(&self) -> &str {
        self.table.cell(self.cells, "log")
    }

    /// Whether the row is of this log: the same file, or one of the same name where that file is gone.
    pub(super) fn is_of(&self, log: &Path, shown: &str) -> bool {
        let earlier = Path::new(self.log());
        self.log() == shown
            || if earlier.exists() { same_file(earlier, log) } else { earlier.file_name() == log.file_name() }
    }

    /// How the log was read.
    pub(super) fn options(&self) -> LogOptions {
        let cells = OPTION_COLUMNS.iter().map(|column| (*column, self.table.cell(self.cells, column)));
        LogOptions::of(&LogOptions::of_cells(cells).unwrap_or_default().on(&LogRequest::default()))
    }
}

fn no_column(name: &str) -> String {
    format!("holds no table with a column '{name}' between commas, so it is no table of logs")
}

/// The table at a path and when it was written; none where nothing is there. The error is what is there instead.
pub(super) fn read_standing(path: &Path) -> Result<Option<(TextTable, SystemTime)>, String> {
    let Ok(about) = fs::metadata(path) else { return Ok(None) };
    let written = about.modified().unwrap_or(SystemTime::UNIX_EPOCH);
    let bytes = read_bytes(path, "", LARGEST_BYTES, "").map_err(|fault| format!("holds {}", fault.found))?.bytes;
    let text = String::from_utf8(bytes).map_err(|_| "holds bytes that are no UTF-8".to_owned())?;
    let table = TextTable::parse(&text)?;
    if table.place("log").is_none() { Err(no_column("log")) } else { Ok(Some((table, written))) }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    const TABLE: &str = "# trials: x\n# units\ntrial,current_mean_a,pulse_time_ms,note,seen by,log\n\
                         w1,150,2.1,\"good, \"\"quiet\"\"\",Anna,w1.csv\nw2,160,2.2,,Ben,w2.csv\n";

    #[test]
    fn rows_that_stand_stay_cell_for_cell_and_new_ones_are_added() {
        let mut table = TextTable::parse(TABLE).unwrap();
        assert_eq!(table.to_csv(), TABLE);
        let newer =
            TextTable::parse("trial,current_mean_a,log,warnings\nw3,170,w3.csv,arc_out\nw2,161,w2.csv,\n").unwrap();
        table.take_over(&newer);
        // The second row has the new mean current and no pulse time any more; what a person wrote stays.
        assert_eq!(
            table.to_csv(),
            "# trials: x\n# units\ntrial,current_mean_a,pulse_time_ms,note,seen by,log,warnings\n\
             w1,150,2.1,\"good, \"\"quiet\"\"\",Anna,w1.csv,\nw2,161,,,Ben,w2.csv,\nw3,170,,,,w3.csv,arc_out\n"
        );
        let beside = "trial,wire_feed_m_min,mode,use,note,log\nw1,6.5,pulsed,yes,,\nw9,7,pulsed,yes,x,\n";
        table.lay_over(&TextTable::parse(beside).unwrap());
        let row = table.row("w1").unwrap();
        assert_eq!(
            (row.table.cell(row.cells, "wire_feed_m_min"), row.table.cell(row.cells, "note")),
            ("6.5", "good, \"quiet\"")
        );
        assert_eq!(table.len(), 3);
    }

    #[test]
    fn what_is_no_table_of_logs_is_named() {
        let wrong = |text: &str| TextTable::parse(text).unwrap_err();
        assert!(wrong("").contains("no table with a column 'trial'"));
        assert!(wrong("trial;log\n1;2\n").contains("'trial' between commas"));
        assert!(wrong("trial,log\nw1,a\nw1,b\n").contains("two rows of the trial 'w1'"));
        assert!(wrong("trial,log\nw1\n").contains("cannot be read"));
    }
}

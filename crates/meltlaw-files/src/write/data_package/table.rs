//! A CSV file of a result folder as its bytes will be read: comment lines, header, rows.

use serde_json::{Value, json};

use super::PROFILES;

/// A table read back.
#[derive(Debug)]
pub(super) struct TableRead {
    /// Lines before the header.
    comments: usize,
    pub(super) header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl TableRead {
    /// Reads a table of ours; `None` where it has no header.
    pub(super) fn of(bytes: &[u8]) -> Option<Self> {
        let text = std::str::from_utf8(bytes).ok()?;
        let comments = text.split('\n').take_while(|line| line.starts_with('#')).count();
        let table = text.split_inclusive('\n').skip(comments).collect::<String>();
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(table.as_bytes());
        let mut rows = reader.records().map(|row| row.map(|r| r.iter().map(str::to_owned).collect()));
        let header = rows.next()?.ok()?;
        let rows = rows.collect::<Result<_, _>>().ok()?;
        Some(Self { comments, header, rows })
    }

    /// The cells of a column that are not blank.
    pub(super) fn filled(&self, column: usize) -> impl Iterator<Item = &str> {
        self.rows.iter().filter_map(move |row| row.get(column)).map(String::as_str).filter(|cell| !cell.is_empty())
    }

    /// Whether each row has another text in this column.
    pub(super) fn is_key(&self, column: usize) -> bool {
        let distinct: std::collections::BTreeSet<&str> = self.filled(column).collect();
        distinct.len() == self.rows.len()
    }

    /// How the file differs from a plain table: nothing without comment lines.
    ///
    /// A row whose first cell begins with `#` must not be taken for a comment: then the lines are numbered instead.
    pub(super) fn dialect(&self) -> Option<Value> {
        if self.comments == 0 {
            return None;
        }
        let mut dialect = json!({
            "$schema": format!("{PROFILES}/tabledialect.json"), "delimiter": ",", "headerRows": [self.comments + 1],
        });
        if self.filled(0).any(|cell| cell.starts_with('#')) {
            dialect["commentRows"] = (1..=self.comments).collect();
        } else {
            dialect["commentChar"] = Value::from("#");
        }
        Some(dialect)
    }
}

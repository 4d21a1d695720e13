//! What cannot be read, said so that the reader can mend it: where, what stands there, what was
//! needed, what to do. Every fault of a file at once.

use std::fmt;

use serde::Serialize;

/// Where in a file a fault lies.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Place {
    /// The file as a whole.
    File,
    /// A line of the study file, and the key concerned where there is one.
    Line {
        /// Counts from 1.
        line: usize,
        /// Full path of the key, such as `wire.diameter_mm`; empty where no key is meant.
        key: String,
    },
    /// A row of a table as people count it: the line of a CSV file, the data row of a Parquet file.
    Row(usize),
    /// A cell of a sheet, such as `C7`.
    Cell(String),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File => Ok(()),
            Self::Line { line, key } if key.is_empty() => write!(f, ", line {line}"),
            Self::Line { line, key } => write!(f, ", line {line}, key {key}"),
            Self::Row(row) => write!(f, ", row {row}"),
            Self::Cell(address) => write!(f, ", cell {address}"),
        }
    }
}

/// One thing that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// The file, relative to the study.
    pub file: String,
    /// Where in it.
    pub place: Place,
    /// The column as the file names it, where one is meant.
    pub column: Option<String>,
    /// What stands there.
    pub found: String,
    /// What was needed.
    pub needed: String,
    /// What to do.
    pub action: String,
}

impl Fault {
    /// A fault of the whole file.
    pub fn of_file(file: &str, found: impl Into<String>, needed: impl Into<String>, action: impl Into<String>) -> Self {
        Self::at(file, Place::File, found, needed, action)
    }

    /// A fault at a place.
    pub fn at(
        file: &str,
        place: Place,
        found: impl Into<String>,
        needed: impl Into<String>,
        action: impl Into<String>,
    ) -> Self {
        Self {
            file: file.to_owned(),
            place,
            column: None,
            found: found.into(),
            needed: needed.into(),
            action: action.into(),
        }
    }

    /// The same fault in a column.
    #[must_use]
    pub fn in_column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.file, self.place)?;
        if let Some(column) = &self.column {
            write!(f, ", column {column}")?;
        }
        write!(f, ": found {}, needed {}; {}", self.found, self.needed, self.action)
    }
}

/// Why a study could not be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The study file cannot be had at all.
    #[error("{fault}")]
    NoStudy {
        /// Why.
        fault: Box<Fault>,
    },
    /// The study file is there and cannot be understood.
    #[error("{}", lines(faults))]
    BadStudy {
        /// Everything wrong with it, by line.
        faults: Vec<Fault>,
    },
    /// The study is sound, its tables are not.
    #[error("{}", lines(faults))]
    BadTables {
        /// Everything wrong with them, by table and row.
        faults: Vec<Fault>,
    },
}

impl ReadError {
    /// Every fault.
    pub fn faults(&self) -> Vec<Fault> {
        match self {
            Self::NoStudy { fault } => vec![fault.as_ref().clone()],
            Self::BadStudy { faults } | Self::BadTables { faults } => faults.clone(),
        }
    }
}

fn lines(faults: &[Fault]) -> String {
    faults.iter().map(Fault::to_string).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_names_file_place_column_found_needed_and_cure() {
        let fault = Fault::at("a.csv", Place::Row(7), "\"abc\"", "a number in A", "correct the cell")
            .in_column("current_mean_a");
        assert_eq!(
            fault.to_string(),
            "a.csv, row 7, column current_mean_a: found \"abc\", needed a number in A; correct the cell"
        );
    }

    #[test]
    fn an_error_prints_one_fault_a_line() {
        let fault = Fault::of_file("a.csv", "an empty file", "a header row and trials", "export the table again");
        let error = ReadError::BadTables { faults: vec![fault.clone(), fault] };
        assert_eq!(error.to_string().lines().count(), 2);
        assert_eq!(error.faults().len(), 2);
    }
}

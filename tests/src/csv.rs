//! Small tables of this folder, read by name; not the reader of the program.

use std::collections::BTreeMap;

/// A table as text.
#[derive(Debug, Clone)]
pub struct Table {
    /// Names of the columns.
    pub header: Vec<String>,
    /// Cells, row by row.
    pub rows: Vec<Vec<String>>,
    decimal: char,
}

impl Table {
    /// Reads `text` with its header in line `header_row` (counted from 1). Quotes may hold separators.
    pub fn read(text: &str, separator: char, decimal: char, header_row: usize) -> Self {
        let mut lines = text.lines().skip(header_row - 1).filter(|l| !l.trim().is_empty()).map(|l| cells(l, separator));
        let header = lines.next().expect("a table has a header");
        Self { header, rows: lines.collect(), decimal }
    }

    /// Reads a table with commas and decimal points from the folder of data.
    pub fn of(path: &str) -> Self {
        Self::read(&crate::reference::text(path), ',', '.', 1)
    }

    /// The cells of a column.
    pub fn words(&self, name: &str) -> Vec<String> {
        let place = self.header.iter().position(|h| h == name).unwrap_or_else(|| panic!("no column {name}"));
        self.rows.iter().map(|r| r[place].clone()).collect()
    }

    /// The numbers of a column.
    pub fn numbers(&self, name: &str) -> Vec<f64> {
        self.words(name)
            .iter()
            .map(|w| self.number(w).unwrap_or_else(|| panic!("{w} is no number in {name}")))
            .collect()
    }

    /// A cell as a number; `None` where blank.
    pub fn number(&self, cell: &str) -> Option<f64> {
        let cell = cell.trim().replace(self.decimal, ".");
        (!cell.is_empty()).then(|| cell.parse().unwrap_or_else(|_| panic!("{cell} is no number")))
    }

    /// Rows as maps from the name of the column to its cell.
    pub fn by_name(&self) -> Vec<BTreeMap<&str, &str>> {
        self.rows
            .iter()
            .map(|r| self.header.iter().map(String::as_str).zip(r.iter().map(String::as_str)).collect())
            .collect()
    }
}

fn cells(line: &str, separator: char) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        if c == '"' {
            quoted = !quoted;
        } else if c == separator && !quoted {
            cells.push(String::new());
        } else if let Some(cell) = cells.last_mut() {
            cell.push(c);
        }
    }
    cells
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quotes_hold_separators_and_commas_are_decimals_where_said() {
        let table = Table::read("a title\nx;y\n1,5;\"p;q\"\n", ';', ',', 2);
        assert_eq!(table.numbers("x"), [1.5]);
        assert_eq!(table.words("y"), ["p;q"]);
    }
}

//! Cells and comment lines: numbers that read back exactly, text that no spreadsheet runs as a formula.

use crate::document::number_text;

/// A number as the shortest text that reads back to it; nothing where it is missing.
pub(crate) fn number(value: Option<f64>) -> String {
    value.filter(|v| v.is_finite()).map(number_text).unwrap_or_default()
}

/// A text. Where a spreadsheet would take it, or what follows a separator in it, for a formula, an apostrophe stands in
/// front; a number stays a number.
///
/// A spreadsheet set to semicolons splits a cell of ours at each of its own, and begins a row at each line end.
///
/// # Source
/// OWASP, CSV Injection: cells that begin with `=`, `+`, `-`, `@`, tab, carriage return or line feed,
/// and the full-width forms of the first four; separators and quotes within a text that begin a new cell.
pub(crate) fn text(value: &str) -> String {
    if is_number(value) {
        return value.to_owned();
    }
    let starts_badly =
        value.starts_with(['\t', '\r', '\n']) || value.trim_start_matches(blank_or_quote).starts_with(FORMULA_STARTS);
    let harmless = harmless_after(value, &[';', '\t', '\r', '\n']);
    if starts_badly { format!("'{harmless}") } else { harmless }
}

/// What a spreadsheet reads as the beginning of a formula.
const FORMULA_STARTS: [char; 8] = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];

fn blank_or_quote(c: char) -> bool {
    c.is_whitespace() || c == '"'
}

/// The text with an apostrophe wherever a formula would begin after one of the separators.
fn harmless_after(value: &str, separators: &[char]) -> String {
    let mut harmless = String::with_capacity(value.len());
    let mut cell_begins = false;
    for c in value.chars() {
        if cell_begins && FORMULA_STARTS.contains(&c) {
            harmless.push('\'');
        }
        cell_begins = separators.contains(&c) || cell_begins && blank_or_quote(c);
        harmless.push(c);
    }
    harmless
}

fn is_number(value: &str) -> bool {
    value.bytes().all(|b| b.is_ascii_digit() || b"+-.,eE".contains(&b))
        && value.replace(',', ".").parse::<f64>().is_ok()
}

/// Comment lines, then the table.
#[derive(Debug, Default)]
pub(crate) struct Table {
    comments: String,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Adds a comment line; line ends in the text become blanks, so that it stays one. A spreadsheet reads it as a row of
    /// cells: none becomes a formula, and no quote that opens a cell swallows the rows below.
    pub(crate) fn comment(&mut self, line: &str) {
        let line: String = line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let line = harmless_after(&line, &[',', ';']).replace(",\"", ", \"").replace(";\"", "; \"");
        self.comments.push_str(&format!("# {line}\n"));
    }

    /// Adds a row of ready cells; the first one is the header.
    pub(crate) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    pub(crate) fn into_csv(self) -> String {
        let mut writer = csv::Writer::from_writer(self.comments.into_bytes());
        for row in &self.rows {
            writer.write_record(row).expect("writing to memory, every row as long as the header");
        }
        let bytes = writer.into_inner().expect("writing to memory");
        String::from_utf8(bytes).expect("made of text")
    }
}

/// The rule by which every column states its unit.
pub(crate) const UNITS_LINE: &str = "units: the end of a column's name before _se, _low or _high states its unit, \
    such as _m_min, _a, _ms, _hz, _v, _w, _mm, _mm_s, \
    _kg_h, _kj_mm, _a_per_ms; none or relative is dimensionless";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_lose_their_force_and_numbers_stay_numbers() {
        for bad in ["=1+2", "+SUM(A1)", "-2+3", "@x", "\r1", " =1", "\"=1", "－1+1", "+inf", "-"] {
            assert_eq!(text(bad), format!("'{bad}"));
        }
        // A tab splits the cell where the spreadsheet separates by tabs.
        for (bad, harmless) in
            [("\t=1", "'\t'=1"), ("a;=1", "a;'=1"), ("a; \"=1\"", "a; \"'=1\""), ("a\r\n-1+1", "a\r\n'-1+1")]
        {
            assert_eq!(text(bad), harmless);
        }
        for good in ["-12.5", "+3", "-1e-3", "-1,5", "B01", "", "2-3", "a=b", "a, b; c"] {
            assert_eq!(text(good), good);
        }
    }

    #[test]
    fn numbers_read_back_to_the_same_bits() {
        for value in [0.1 + 0.2, 1e-27, -3.33, 4.0, 1e21, f64::MIN_POSITIVE] {
            let written = number(Some(value));
            assert_eq!(written.parse::<f64>().map(f64::to_bits), Ok(value.to_bits()), "{written}");
        }
        assert_eq!(number(Some(4.0)), "4");
        assert_eq!(number(None), "");
        assert_eq!(number(Some(f64::NAN)), "");
    }

    #[test]
    fn a_comment_begins_neither_a_formula_nor_a_quoted_cell() {
        let mut table = Table::default();
        for line in ["name: x,=1+1", "y;  -2+3", "z,\"=1\"", "plain, a - b; c"] {
            table.comment(line);
        }
        table.row(vec!["a".to_owned()]);
        assert_eq!(table.into_csv(), "# name: x,'=1+1\n# y;  '-2+3\n# z, \"'=1\"\n# plain, a - b; c\na\n");
    }

    #[test]
    fn a_comment_stays_one_line() {
        let mut table = Table::default();
        table.comment("two\nlines");
        table.row(vec!["a,b".to_owned(), "say \"x\"".to_owned()]);
        assert_eq!(table.into_csv(), "# two lines\n\"a,b\",\"say \"\"x\"\"\"\n");
    }
}

//! Cells and comment lines: numbers that read back exactly, text that no spreadsheet runs as a formula.

use crate::document::number_text;

/// A number as the shortest text that reads back to it; nothing where it is missing.
pub(crate) fn number(value: Option<f64>) -> String {
    value.filter(|v| v.is_finite()).map(number_text).unwrap_or_default()
}

/// A text. One that a spreadsheet would take for a formula gets an apostrophe in front; a number stays
/// a number.
///
/// # Source
/// OWASP, CSV Injection: cells that begin with `=`, `+`, `-`, `@`, tab, carriage return or line feed,
/// and the full-width forms of the first four.
pub(crate) fn text(value: &str) -> String {
    let starts_badly = value.starts_with(['\t', '\r', '\n'])
        || value.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']);
    if starts_badly && !is_number(value) { format!("'{value}") } else { value.to_owned() }
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
    /// Adds a comment line; line ends in the text become blanks, so that it stays one.
    pub(crate) fn comment(&mut self, line: &str) {
        self.comments.push_str("# ");
        self.comments.extend(line.chars().map(|c| if c.is_control() { ' ' } else { c }));
        self.comments.push('\n');
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
        for bad in ["=1+2", "+SUM(A1)", "-2+3", "@x", "\t=1", "\r1", " =1", "－1+1", "+inf", "-"] {
            assert_eq!(text(bad), format!("'{bad}"));
        }
        for good in ["-12.5", "+3", "-1e-3", "-1,5", "B01", "", "2-3", "a=b"] {
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
    fn a_comment_stays_one_line() {
        let mut table = Table::default();
        table.comment("two\nlines");
        table.row(vec!["a,b".to_owned(), "say \"x\"".to_owned()]);
        assert_eq!(table.into_csv(), "# two lines\n\"a,b\",\"say \"\"x\"\"\"\n");
    }
}

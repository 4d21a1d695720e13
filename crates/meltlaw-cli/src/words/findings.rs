//! Findings of the checks as people read them.

use meltlaw::checks::{Finding, RowReference, Severity};

use crate::told::{Told, Tone};

/// Rows listed for one finding before the rest is only counted.
const ROWS_SHOWN: usize = 8;

/// What is seen against what was expected, what to do, in which rows. `!` in the margin is to be looked at.
pub(crate) fn finding_lines(finding: &Finding) -> Vec<Told> {
    let (start, tone) = match finding.severity {
        Severity::Stop => ("! stop     ", Tone::Stop),
        Severity::Warning => ("! warning  ", Tone::Warning),
        Severity::Note => ("  note     ", Tone::Plain),
    };
    let reading = &finding.reading;
    let seen = format!("{}: {} (expected: {})", finding.check.replace('_', " "), reading.seen, reading.expected);
    let mut lines = vec![Told::new(start, seen).toned(tone)];
    if reading.asks() {
        lines.push(Told::new("           do: ", reading.action.as_str()));
    }
    if !finding.rows.is_empty() {
        lines.push(Told::new("           at: ", rows_words(&finding.rows)));
    }
    lines
}

/// `trials.csv, wire_feed_m_min: row 2 (B01) 131.1 m/min, row 3 …`: file and column once for all rows that
/// share them.
fn rows_words(rows: &[RowReference]) -> String {
    let mut text = String::new();
    let mut before: Option<(&str, Option<&str>)> = None;
    for row in rows.iter().take(ROWS_SHOWN) {
        let place = (row.file.as_str(), row.column.as_deref());
        if before == Some(place) {
            text.push_str(", ");
        } else {
            let start = if before.is_some() { "; " } else { "" };
            let column = place.1.map_or(String::new(), |c| format!(", {c}"));
            text.push_str(&format!("{start}{}{column}: ", row.file));
            before = Some(place);
        }
        let found = row.found.as_deref().map_or(String::new(), |f| format!(" {f}"));
        text.push_str(&format!("row {} ({}){found}", row.row, row.trial));
    }
    if rows.len() > ROWS_SHOWN {
        text.push_str(&format!(", {} more rows (all with --json)", rows.len() - ROWS_SHOWN));
    }
    text
}

//! The statements as a table for a spreadsheet and for a paper.

use meltlaw::compare::laws::{LawStatement, LawsComparison};

use super::spread::words;
use crate::embedded::{csv, number, text};
use crate::numbers::{fixed, signed};

const HEADER: [&str; 17] = [
    "wire",
    "law",
    "quantity",
    "unit",
    "verdict",
    "first",
    "difference",
    "difference_low",
    "difference_high",
    "margin",
    "current_mean_a",
    "extension_rms_squared_mm_a2",
    "pulse_current_a",
    "arc_length_mm",
    "extension_mm",
    "trials_to_settle",
    "reason",
];

/// In full digits.
pub(super) fn csv_table(c: &LawsComparison) -> String {
    csv(&HEADER, c.comparisons.iter().map(row))
}

fn row(s: &LawStatement) -> Vec<String> {
    let at = s.at.unwrap_or_default();
    let mut cells = vec![text(&s.wire), s.law.clone(), s.quantity.clone(), s.unit.clone(), s.verdict.word().to_owned()];
    cells.extend([s.first, s.difference, s.interval.map(|i| i[0]), s.interval.map(|i| i[1]), s.margin].map(number));
    cells.extend(
        [at.current_mean_a, at.extension_rms_squared_mm_a2, at.pulse_current_a, at.arc_length_mm, at.extension_mm]
            .map(number),
    );
    cells.push(s.trials_to_settle.map_or(String::new(), |n| n.to_string()));
    cells.push(text(s.reason.as_deref().unwrap_or("")));
    cells
}

/// A `table` environment that compiles without packages.
pub(super) fn latex(c: &LawsComparison) -> String {
    let first = c.wires.first().map_or("", |w| w.name.as_str());
    let mut rows = String::new();
    for s in &c.comparisons {
        let cells = match (s.difference, s.interval, s.margin, s.first) {
            (Some(d), Some([low, high]), Some(margin), Some(value)) => {
                let (by, places) = if s.unit == "V" { (1.0, 2) } else { (100.0 / value, 1) };
                let plain = |v: f64| signed(by * v, places).replace('−', "-");
                format!("${}$ & ${}$ to ${}$ & ${}$", plain(d), plain(low), plain(high), fixed(by * margin, places))
            }
            _ => "-- & -- & --".to_owned(),
        };
        let unit = if s.unit == "V" { "V" } else { "\\%" };
        rows.push_str(&format!(
            "{} & {} ({unit}) & {cells} & {} \\\\\n",
            escaped(&s.wire),
            words(&s.quantity),
            s.verdict.word()
        ));
    }
    format!(
        "% Simultaneous intervals at {:.0} per cent; margins: {}\n\\begin{{table}}\n\\caption{{Differences from {}, where they decide. Intervals \
         hold at {:.0}~\\% over all places at which both wires were welded.}}\n\\begin{{tabular}}{{llrrrl}}\n\\hline\nwire & quantity & difference & interval & margin & verdict \
         \\\\\n\\hline\n{rows}\\hline\n\\end{{tabular}}\n\\end{{table}}\n",
        100.0 * c.confidence,
        one_line(&c.margins_from),
        escaped(first),
        100.0 * c.confidence,
    )
}

fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// A user's text for LaTeX.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in one_line(text).chars() {
        match c {
            '\\' => out.push_str("\\textbackslash{}"),
            '{' | '}' | '$' | '&' | '#' | '_' | '%' => {
                out.push('\\');
                out.push(c);
            }
            '~' => out.push_str("\\textasciitilde{}"),
            '^' => out.push_str("\\textasciicircum{}"),
            _ => out.push(c),
        }
    }
    out
}

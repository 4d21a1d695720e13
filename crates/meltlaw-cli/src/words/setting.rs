//! A setting with what it does, in columns.

use meltlaw::line::Node;
use meltlaw::record::LineRecord;
use meltlaw_report::composing::PINNED;
use meltlaw_report::setting::{self, Part, Row};

use super::{drift, heat};
use crate::told::{HELD, Told};

/// Letters of the columns of names, values and units.
const NAME: usize = 22;
const VALUE: usize = 7;
const UNIT: usize = 6;

/// What is set, what it does, what is to be known besides.
pub(crate) fn node_lines(record: &LineRecord, node: &Node, width: usize) -> Vec<Told> {
    let rows = setting::rows(record, node);
    let mut lines = Vec::new();
    for (part, heading) in [(Part::Set, "  to be set"), (Part::Does, "  what it does")] {
        lines.push(Told::line(heading));
        lines.extend(rows.iter().filter(|row| row.part == part).flat_map(|row| row_lines(row, width)));
    }
    if let Some(range) = heat::transition_range(record) {
        lines.push(columns("transition current", &range, ' ', "A", "pulse above it, background below"));
    }
    lines.extend(drift::node_lines(node));
    if !node.pinned.is_empty() {
        let is_node = record.line.nodes.iter().any(|other| other.wire_feed_m_min == node.wire_feed_m_min);
        let place = if is_node { "here" } else { "at a neighbouring node" };
        lines.push(Told::line(format!("  {PINNED} pinned by the study {place}")));
    }
    if !node.limits.is_empty() {
        let limits: Vec<String> = node.limits.iter().map(|l| l.replace('_', " ")).collect();
        lines.push(Told::new("  at a limit: ", limits.join(", ")));
    }
    // What is pinned stands marked above.
    let notes = node.notes.iter().filter(|note| !note.starts_with("pinned by the study"));
    lines.extend(notes.map(|note| Told::new("  note: ", note.as_str())));
    lines
}

/// A row; where all that stands beside its value is too long for a line, each part has its own.
fn row_lines(row: &Row, width: usize) -> Vec<Told> {
    let mark = if row.pinned { PINNED } else { ' ' };
    let whole = columns(row.name, &row.value, mark, row.unit, &row.beside);
    if whole.letters() <= width {
        return vec![whole];
    }
    let mut parts = row.beside.split("; ").map(held);
    let first = parts.next().unwrap_or_default();
    let mut lines = vec![columns(row.name, &row.value, mark, row.unit, &first)];
    lines.extend(parts.map(|part| columns("", "", ' ', "", &part)));
    lines
}

/// An interval with its level is not broken.
fn held(part: &str) -> String {
    part.replace(" (", &format!("{HELD}(")).replace(" to ", &format!("{HELD}to{HELD}"))
}

fn columns(name: &str, value: &str, mark: char, unit: &str, beside: &str) -> Told {
    Told::new(format!("    {name:<NAME$} {value:>VALUE$}{mark}{unit:<UNIT$} "), beside)
}

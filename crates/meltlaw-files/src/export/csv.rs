//! The line as a table that looks up safely: beside the nodes stand the ends of every range without a setting, with
//! a status and no numbers, so that no reader interpolates across a gap.

use meltlaw::line::Node;
use meltlaw::node_columns::NODE_COLUMNS;

use super::facts::facts;
use super::rows::{LineRow, line_rows};
use crate::document::LineDocument;
use crate::write::tables::{Table, UNITS_LINE, number, text};

/// Comment lines with the facts, then the rows.
pub(super) fn line_table(document: &LineDocument) -> String {
    let mut table = Table::default();
    for fact in facts(document) {
        table.comment(&format!("{}: {}", fact.about, fact.words));
    }
    table.comment(UNITS_LINE);
    table.comment(
        "status: 0 a setting; 1 below the range, 2 above it, 3 in a gap, 5 withdrawn: no setting. Interpolate only between \
         neighbouring rows that both have status 0",
    );
    let mut header = vec!["status".to_owned()];
    header.extend(NODE_COLUMNS.iter().map(|(name, _)| (*name).to_owned()));
    header.extend(["support", "standing", "pinned", "limits", "notes"].map(str::to_owned));
    table.row(header);
    for row in line_rows(&document.body().line) {
        table.row(cells(&row));
    }
    table.into_csv()
}

fn cells(row: &LineRow<'_>) -> Vec<String> {
    let mut cells = vec![row.status.code().to_string()];
    let standing = row.standing.word();
    match row.node {
        Some(node) => {
            cells.extend(NODE_COLUMNS.iter().map(|(_, of)| number(of(node))));
            cells.extend(words(node, standing));
        }
        None => {
            cells.push(number(Some(row.wire_feed_m_min)));
            cells.extend(std::iter::repeat_n(String::new(), NODE_COLUMNS.len() - 1));
            cells.extend([String::new(), standing.to_owned(), String::new(), text(&row.limits), text(&row.reason)]);
        }
    }
    cells
}

fn words(node: &Node, standing: &str) -> [String; 5] {
    [
        node.support.clone(),
        standing.to_owned(),
        text(&node.pinned.join(" ")),
        text(&node.limits.join(" ")),
        text(&node.notes.join("; ")),
    ]
}

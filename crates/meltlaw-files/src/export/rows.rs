//! The line as rows in the order of wire feed: nodes, and the ends of every range without a setting.

use meltlaw::line::{Line, Node};
use meltlaw_line::{Standing, Status};

/// A row of an exported table. Only one with status `Ok` has a setting.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LineRow<'a> {
    pub(crate) status: Status,
    pub(crate) wire_feed_m_min: f64,
    pub(crate) node: Option<&'a Node>,
    pub(crate) standing: Standing,
    /// Limits that stand in the way, where there is no setting.
    pub(crate) limits: String,
    /// Why there is none, in words.
    pub(crate) reason: String,
}

/// Rows of a line with at least one node.
pub(crate) fn line_rows(line: &Line) -> Vec<LineRow<'_>> {
    let mut rows: Vec<LineRow<'_>> = line.nodes.iter().map(|node| node_row(line, node)).collect();
    let (Some(first), Some(last)) = (line.nodes.first(), line.nodes.last()) else { return rows };
    let (first, last) = (first.wire_feed_m_min, last.wire_feed_m_min);
    for gap in &line.unsupported {
        let status = match gap.wire_feed_m_min {
            [_, high] if high <= first => Status::BelowRange,
            [low, _] if low >= last => Status::AboveRange,
            _ => Status::UnsupportedGap,
        };
        rows.extend(empty(line, status, gap.wire_feed_m_min, &gap.limits.join(" "), &gap.reason));
    }
    for range in line.standing.iter().filter(|range| range.state == Standing::Withdrawn.word()) {
        let ends = range.wire_feed_m_min.map(|end| end.clamp(first, last));
        rows.extend(empty(line, Status::Withdrawn, ends, "", "the line was withdrawn here"));
    }
    // A withdrawn end that falls on a node says no more than the node's own row.
    rows.sort_by(|a, b| a.wire_feed_m_min.total_cmp(&b.wire_feed_m_min).then(b.node.is_some().cmp(&a.node.is_some())));
    rows.dedup_by(|later, earlier| later.wire_feed_m_min == earlier.wire_feed_m_min);
    rows
}

fn node_row<'a>(line: &Line, node: &'a Node) -> LineRow<'a> {
    let standing = line.standing_at(node.wire_feed_m_min);
    let withdrawn = standing == Standing::Withdrawn;
    LineRow {
        status: if withdrawn { Status::Withdrawn } else { Status::Ok },
        wire_feed_m_min: node.wire_feed_m_min,
        node: (!withdrawn).then_some(node),
        standing,
        limits: String::new(),
        reason: if withdrawn { "the line was withdrawn here".to_owned() } else { String::new() },
    }
}

fn empty<'a>(line: &Line, status: Status, ends: [f64; 2], limits: &str, reason: &str) -> [LineRow<'a>; 2] {
    ends.map(|end| LineRow {
        status,
        wire_feed_m_min: end,
        node: None,
        standing: line.standing_at(end),
        limits: limits.to_owned(),
        reason: reason.to_owned(),
    })
}

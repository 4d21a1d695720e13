//! The line as rows in the order of wire feed: nodes, and the ends of every range without a setting. One rule reads
//! them safely: a setting stands in a row of status 0, or is linear between two neighbouring rows that both have it.

use meltlaw::line::{Line, Node};
use meltlaw::line_table::LineTable;
use meltlaw::node_columns::NodeColumn;
use meltlaw_line::{Refused, Standing, Status, Support};

/// A row of an exported table. Only one with status `Ok` has a setting.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LineRow<'a> {
    pub(crate) status: Status,
    pub(crate) wire_feed_m_min: f64,
    pub(crate) node: Option<&'a Node>,
    /// None outside the line and in a gap.
    pub(crate) support: Option<Support>,
    /// None outside the line and in a gap that it does not refuse.
    pub(crate) standing: Option<Standing>,
    /// Limits that stand in the way, where there is no setting.
    pub(crate) limits: String,
    /// Why there is none, in words.
    pub(crate) reason: String,
}

/// Columns of words, after those of numbers.
pub(crate) const WORD_COLUMNS: [&str; 5] = ["support", "standing", "pinned", "limits", "notes"];

impl LineRow<'_> {
    /// The number in a column; without a setting the wire feed alone.
    pub(crate) fn number(&self, (name, of): &NodeColumn) -> Option<f64> {
        match self.node {
            Some(node) => of(node),
            None => (*name == "wire_feed_m_min").then_some(self.wire_feed_m_min),
        }
        .filter(|value| value.is_finite())
    }

    /// The words in [`WORD_COLUMNS`], as they are: each format escapes them in its own way.
    pub(crate) fn words(&self) -> [String; WORD_COLUMNS.len()] {
        let (support, standing) = (self.support_word().to_owned(), self.standing_word().to_owned());
        match self.node {
            Some(node) => [support, standing, node.pinned.join(" "), node.limits.join(" "), node.notes.join("; ")],
            None => [support, standing, String::new(), self.limits.clone(), self.reason.clone()],
        }
    }

    /// Empty where there is none.
    pub(crate) fn support_word(&self) -> &'static str {
        self.support.map_or("", Support::word)
    }

    /// Empty where there is none.
    pub(crate) fn standing_word(&self) -> &'static str {
        self.standing.map_or("", Standing::word)
    }
}

/// Rows of a line with at least one node.
pub(crate) fn line_rows(line: &Line) -> Vec<LineRow<'_>> {
    let table = LineTable::<f64>::of(line);
    // The evaluator decides, so that no table says otherwise than a controller.
    let at = |feed: f64| row(line, feed, table.as_table().place(feed).map(|place| (place.support, place.standing)));
    let mut rows: Vec<LineRow<'_>> = line
        .nodes
        .iter()
        .map(|node| {
            let row = at(node.wire_feed_m_min);
            LineRow { node: (row.status == Status::Ok).then_some(node), ..row }
        })
        .collect();
    let stands = |feed: f64| line.nodes.iter().any(|node| node.wire_feed_m_min == feed);
    rows.extend(without_setting(line).into_iter().filter(|feed| !stands(*feed)).map(at));
    rows.sort_by(|a, b| a.wire_feed_m_min.total_cmp(&b.wire_feed_m_min));
    rows.dedup_by(|later, earlier| later.wire_feed_m_min == earlier.wire_feed_m_min);
    rows
}

/// Feeds that must stand between nodes, so that nobody interpolates across them.
fn without_setting(line: &Line) -> Vec<f64> {
    let (Some(first), Some(last)) = (line.nodes.first(), line.nodes.last()) else { return Vec::new() };
    let (first, last) = (first.wire_feed_m_min, last.wire_feed_m_min);
    let mut feeds: Vec<f64> = line.unsupported.iter().flat_map(|gap| gap.wire_feed_m_min).collect();
    for range in line.refused() {
        let [low, high] = range.wire_feed_m_min;
        if low <= last && high >= first {
            feeds.extend([low.max(first), high.min(last)]);
        }
    }
    // A gap whose ends are the two nodes, or lie beyond them, would else leave them neighbours.
    for pair in line.nodes.windows(2) {
        let (low, high) = (pair[0].wire_feed_m_min, pair[1].wire_feed_m_min);
        let gap = line.unsupported.iter().any(|gap| gap.lies_between(low, high));
        if gap && !feeds.iter().any(|feed| low < *feed && *feed < high) {
            feeds.push(f64::midpoint(low, high));
        }
    }
    feeds
}

/// A row without a node, by what the evaluator says of its feed.
fn row(line: &Line, wire_feed_m_min: f64, said: Result<(Support, Standing), Refused>) -> LineRow<'_> {
    let (status, support, standing) = match said {
        Ok((support, standing)) => (Status::Ok, Some(support), Some(standing)),
        Err(refused) => (refused.status, refused.support, refused.standing),
    };
    // The range, since a reader between two rows reads the reason of the next one.
    let refused = line.refused().find(|range| range.holds(wire_feed_m_min) && Some(range.standing()) == standing);
    let holds = |range: &[f64; 2]| (range[0]..=range[1]).contains(&wire_feed_m_min);
    let gap = line.unsupported.iter().find(|gap| holds(&gap.wire_feed_m_min));
    let (limits, reason) = match (status, refused, gap) {
        (Status::Ok, ..) => (String::new(), String::new()),
        (_, Some(range), _) => (String::new(), range.refusal_words()),
        (_, None, Some(gap)) => (gap.limits.join(" "), gap.reason.clone()),
        (_, None, None) => (String::new(), "the line gives no setting here".to_owned()),
    };
    LineRow { status, wire_feed_m_min, node: None, support, standing, limits, reason }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::super::examples::{changed, gap, standing};
    use super::*;

    /// Feeds and codes of the rows of the example (nodes at 4, 6, 8 m/min) with these gaps and withdrawn ranges.
    fn codes(gaps: &[[f64; 2]], withdrawn: &[[f64; 2]]) -> Vec<(f64, u8)> {
        codes_with("withdrawn", gaps, withdrawn)
    }

    fn codes_with(state: &str, gaps: &[[f64; 2]], refused: &[[f64; 2]]) -> Vec<(f64, u8)> {
        let document = changed(|body| {
            body.line.unsupported = gaps.iter().map(|range| gap(*range)).collect();
            body.line.standing = refused.iter().map(|range| standing(state, *range)).collect();
        });
        let rows = line_rows(&document.body().line);
        for row in &rows {
            assert_eq!(row.node.is_some(), row.status == Status::Ok, "a row has a setting or a reason");
            assert_eq!(row.reason.is_empty(), row.status == Status::Ok);
        }
        rows.iter().map(|row| (row.wire_feed_m_min, row.status.code())).collect()
    }

    #[test]
    fn ends_of_gaps_stand_between_the_nodes() {
        assert_eq!(
            codes(&[[4.5, 5.5], [2.0, 3.9], [8.1, 9.0]], &[]),
            [(2.0, 1), (3.9, 1), (4.0, 0), (4.5, 3), (5.5, 3), (6.0, 0), (8.0, 0), (8.1, 2), (9.0, 2)]
        );
    }

    #[test]
    fn a_gap_from_node_to_node_or_beyond_keeps_them_apart_too() {
        for wide in [[4.0, 6.0], [3.0, 6.0], [4.0, 6.5]] {
            let between = codes(&[wide], &[]).into_iter().filter(|(feed, _)| (4.0..6.0).contains(feed) && *feed > 4.0);
            assert_eq!(between.collect::<Vec<_>>(), [(5.0, 3)], "{wide:?}");
        }
        assert_eq!(codes(&[[5.0, 5.0]], &[]), [(4.0, 0), (5.0, 3), (6.0, 0), (8.0, 0)]);
    }

    #[test]
    fn withdrawn_ranges_take_the_numbers_of_their_nodes_and_have_their_ends() {
        assert_eq!(codes(&[], &[[4.5, 6.0]]), [(4.0, 0), (4.5, 5), (6.0, 5), (8.0, 0)]);
        assert_eq!(codes(&[], &[[1.0, 4.0]]), [(4.0, 5), (6.0, 0), (8.0, 0)]);
        assert_eq!(codes(&[], &[[1.0, 3.0], [9.0, 12.0]]), [(4.0, 0), (6.0, 0), (8.0, 0)]);
        assert_eq!(codes(&[], &[[0.0, 20.0]]), [(4.0, 5), (6.0, 5), (8.0, 5)]);
    }

    #[test]
    fn contradicted_ranges_take_the_numbers_of_their_nodes_and_have_their_ends() {
        let contradicted = |ranges: &[[f64; 2]]| codes_with("contradicted", &[], ranges);
        assert_eq!(contradicted(&[[4.5, 6.0]]), [(4.0, 0), (4.5, 6), (6.0, 6), (8.0, 0)]);
        // A word that nobody knows permits nothing.
        assert_eq!(codes_with("tested", &[], &[[0.0, 20.0]]), [(4.0, 6), (6.0, 6), (8.0, 6)]);
    }

    #[test]
    fn support_and_standing_of_a_refused_feed_are_told_and_empty_where_there_are_none() {
        let document = changed(|body| {
            body.line.unsupported = vec![gap([6.5, 7.0]), gap([8.1, 9.0])];
            body.line.standing = vec![standing("proposed", [0.0, 9.0]), standing("contradicted", [4.0, 5.0])];
            body.line.nodes[0].support = "carried".to_owned();
        });
        let rows = line_rows(&document.body().line);
        let told = |feed: f64| {
            let row = rows.iter().find(|row| row.wire_feed_m_min == feed).unwrap();
            (row.support_word(), row.standing_word())
        };
        assert_eq!([4.0, 5.0].map(told), [("carried", "contradicted"); 2]);
        assert_eq!([6.5, 8.1].map(told), [("", ""); 2]);
        assert_eq!(told(6.0), ("covered", "proposed"));
    }
}

//! The line as ranges of wire feed: how well the trials support each, and where there is no setting.

pub use meltlaw_line::Support;

use crate::line::{Line, Node};

/// A range of feeds with settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// How well the trials support it.
    pub support: Support,
    /// Its first feed.
    pub from_m_min: f64,
    /// Its last feed.
    pub to_m_min: f64,
}

/// Runs of nodes that may be joined by lines: indices of first and last node.
///
/// Nodes are not joined across feeds without a setting.
pub fn runs(line: &Line) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for index in 0..line.nodes.len() {
        match runs.last_mut() {
            Some((_, last)) if !gap_between(line, *last, index) => *last = index,
            _ => runs.push((index, index)),
        }
    }
    runs
}

/// Ranges with settings, ascending; between two nodes the weaker support holds. What was contradicted or withdrawn is
/// taken out; an end of a range beside it has no setting itself.
pub fn spans(line: &Line) -> Vec<Span> {
    let support = |index: usize| support_of(&line.nodes[index]);
    let feed = |index: usize| line.nodes[index].wire_feed_m_min;
    let mut spans: Vec<Span> = Vec::new();
    for (first, last) in runs(line) {
        if first == last {
            spans.push(Span { support: support(first), from_m_min: feed(first), to_m_min: feed(first) });
            continue;
        }
        let start = spans.len();
        for index in first..last {
            let weaker = support(index).max(support(index + 1));
            match spans[start..].last_mut() {
                Some(span) if span.support == weaker => span.to_m_min = feed(index + 1),
                _ => spans.push(Span { support: weaker, from_m_min: feed(index), to_m_min: feed(index + 1) }),
            }
        }
    }
    line.refused()
        .fold(spans, |spans, range| spans.into_iter().flat_map(|span| outside(span, range.wire_feed_m_min)).collect())
}

/// What a refused range leaves of a span.
fn outside(span: Span, [low, high]: [f64; 2]) -> Vec<Span> {
    if high < span.from_m_min || low > span.to_m_min {
        return vec![span];
    }
    let before = (span.from_m_min < low).then(|| Span { to_m_min: low, ..span.clone() });
    let after = (high < span.to_m_min).then_some(Span { from_m_min: high, ..span });
    before.into_iter().chain(after).collect()
}

/// The support of a node; an unknown word is read as the weakest, so that it never promises too much.
pub fn support_of(node: &Node) -> Support {
    Support::from_word(&node.support).unwrap_or(Support::Carried)
}

fn gap_between(line: &Line, before: usize, after: usize) -> bool {
    let (low, high) = (line.nodes[before].wire_feed_m_min, line.nodes[after].wire_feed_m_min);
    line.unsupported.iter().any(|gap| gap.lies_between(low, high))
}

/// Ranges over which each limit binds, by the nodes; ascending, one entry per unbroken range.
pub fn binding(line: &Line) -> Vec<(String, f64, f64)> {
    let mut found: Vec<(String, f64, f64, usize)> = Vec::new();
    for (index, node) in line.nodes.iter().enumerate() {
        for limit in &node.limits {
            match found.iter_mut().find(|(name, .., last)| name == limit && *last + 1 == index) {
                Some((_, _, to, last)) => (*to, *last) = (node.wire_feed_m_min, index),
                None => found.push((limit.clone(), node.wire_feed_m_min, node.wire_feed_m_min, index)),
            }
        }
    }
    found.into_iter().map(|(name, from, to, _)| (name, from, to)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A line with nodes at feeds, `true` for covered, and feeds without a setting.
    fn line(nodes: &[(f64, bool)], gaps: &[[f64; 2]]) -> Line {
        let example: crate::record::LineRecord =
            serde_json::from_str(include_str!("../../../datasets/worked_example/line.json"))
                .expect("a line file of ours");
        let mut line = example.line;
        let node = line.nodes[0].clone();
        let at = |&(feed, covered): &(f64, bool)| {
            let mut node = node.clone();
            node.wire_feed_m_min = feed;
            node.support = if covered { "covered" } else { "extended" }.to_owned();
            node.limits = if feed > 5.0 { vec!["background_high".to_owned()] } else { Vec::new() };
            node
        };
        line.nodes = nodes.iter().map(at).collect();
        let gap = line.unsupported[0].clone();
        line.unsupported =
            gaps.iter().map(|g| crate::line::Unsupported { wire_feed_m_min: *g, ..gap.clone() }).collect();
        line
    }

    fn texts(line: &Line) -> Vec<String> {
        spans(line).iter().map(|s| format!("{:?} {}-{}", s.support, s.from_m_min, s.to_m_min)).collect()
    }

    #[test]
    fn between_two_nodes_the_weaker_support_holds() {
        let line = line(&[(3.0, false), (4.0, true), (5.0, true), (6.0, false)], &[]);
        assert_eq!(texts(&line), ["Extended 3-4", "Covered 4-5", "Extended 5-6"]);
    }

    #[test]
    fn feeds_without_a_setting_split_the_line() {
        let line = line(&[(3.0, true), (4.0, true), (6.0, true), (7.0, true)], &[[4.2, 5.9], [7.0, 9.0]]);
        assert_eq!(runs(&line), [(0, 1), (2, 3)]);
        assert_eq!(texts(&line), ["Covered 3-4", "Covered 6-7"]);
    }

    #[test]
    fn contradicted_and_withdrawn_feeds_are_no_range_with_settings() {
        let mut line = line(&[(3.0, true), (4.0, true), (6.0, false)], &[]);
        let said = |state: &str, wire_feed_m_min| crate::line::StandingRange {
            state: state.to_owned(),
            wire_feed_m_min,
            rule: None,
            evidence: None,
            date: None,
            by: None,
        };
        line.standing =
            vec![said("confirmed", [3.0, 6.0]), said("contradicted", [3.5, 4.5]), said("withdrawn", [5.0, 9.0])];
        assert_eq!(texts(&line), ["Covered 3-3.5", "Extended 4.5-5"]);
        line.standing = vec![said("contradicted", [0.0, 9.0])];
        assert!(texts(&line).is_empty());
    }

    #[test]
    fn a_node_alone_is_a_range_of_its_own() {
        let line = line(&[(4.0, true), (5.0, true)], &[[4.3, 4.7]]);
        assert_eq!(texts(&line), ["Covered 4-4", "Covered 5-5"]);
    }

    #[test]
    fn a_limit_is_told_once_for_each_unbroken_range() {
        let line = line(&[(5.0, true), (5.5, true), (6.0, true)], &[]);
        assert_eq!(binding(&line), [("background_high".to_owned(), 5.5, 6.0)]);
    }
}

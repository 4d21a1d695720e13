//! Feeds with a setting: in both lines, gained, lost and why.

use meltlaw_line::Standing;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::line::Line;
use crate::line_spans::runs;
use crate::record::LineRecord;

/// Feeds that only one of two lines has.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RangeChange {
    /// From which to which feed.
    pub wire_feed_m_min: [f64; 2],
    /// What stands in the way in the line that has no setting.
    pub limits: Vec<String>,
    /// In the words of that line.
    pub reason: String,
}

pub(super) struct Ranges {
    pub(super) common: Vec<[f64; 2]>,
    pub(super) gained: Vec<RangeChange>,
    pub(super) lost: Vec<RangeChange>,
}

impl Ranges {
    pub(super) fn of(first: &LineRecord, second: &LineRecord) -> Self {
        let (a, b) = (usable(&first.line), usable(&second.line));
        Self {
            common: both(&a, &b),
            gained: without(&b, &a).into_iter().map(|range| explained(range, &first.line)).collect(),
            lost: without(&a, &b).into_iter().map(|range| explained(range, &second.line)).collect(),
        }
    }
}

/// Ranges with a setting, ascending; what was contradicted or withdrawn is taken out.
fn usable(line: &Line) -> Vec<[f64; 2]> {
    let feed = |index: usize| line.nodes[index].wire_feed_m_min;
    let all: Vec<[f64; 2]> = runs(line).into_iter().map(|(first, last)| [feed(first), feed(last)]).collect();
    let mut refused: Vec<[f64; 2]> = line.refused().map(|range| range.wire_feed_m_min).collect();
    refused.sort_by(|a, b| a[0].total_cmp(&b[0]));
    without(&all, &refused)
}

fn both(a: &[[f64; 2]], b: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let meet = |x: &[f64; 2], y: &[f64; 2]| [x[0].max(y[0]), x[1].min(y[1])];
    a.iter().flat_map(|x| b.iter().map(move |y| meet(x, y))).filter(|[low, high]| low <= high).collect()
}

/// What of `a` lies outside every range of `b`, which ascend. Ends are not told apart from what lies just inside.
fn without(a: &[[f64; 2]], b: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut left = Vec::new();
    for &[low, high] in a {
        if low == high {
            if !b.iter().any(|[from, to]| (*from..=*to).contains(&low)) {
                left.push([low, high]);
            }
            continue;
        }
        let mut from = low;
        for &[start, end] in b.iter().filter(|[start, end]| *end > low && *start < high) {
            if start > from {
                left.push([from, start]);
            }
            from = from.max(end);
        }
        if from < high {
            left.push([from, high]);
        }
    }
    left
}

/// A range with what the line that lacks it says of most of it.
fn explained(range: [f64; 2], line: &Line) -> RangeChange {
    let [low, high] = range;
    let overlap = |[from, to]: [f64; 2]| to.min(high) - from.max(low);
    let gaps = line.unsupported.iter().filter(|gap| overlap(gap.wire_feed_m_min) >= 0.0);
    let gap = gaps.max_by(|a, b| overlap(a.wire_feed_m_min).total_cmp(&overlap(b.wire_feed_m_min)));
    let refused = line.refused().filter(|refused| overlap(refused.wire_feed_m_min) > 0.0);
    let refused = refused.map(crate::line::StandingRange::standing).max_by_key(|standing| standing.caution());
    let (limits, reason) = match gap {
        Some(gap) => (gap.limits.clone(), gap.reason.clone()),
        None if refused == Some(Standing::Withdrawn) => (Vec::new(), "it was withdrawn there".to_owned()),
        None if refused.is_some() => (Vec::new(), "confirmation welds contradict it there".to_owned()),
        None => (Vec::new(), "it was not asked for there".to_owned()),
    };
    RangeChange { wire_feed_m_min: range, limits, reason }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_cut_where_the_other_has_none() {
        let (a, b) = ([[3.0, 6.0], [7.0, 9.0]], [[2.0, 4.0], [5.0, 8.0]]);
        assert_eq!(both(&a, &b), [[3.0, 4.0], [5.0, 6.0], [7.0, 8.0]]);
        assert_eq!(without(&a, &b), [[4.0, 5.0], [8.0, 9.0]]);
        assert_eq!(without(&b, &a), [[2.0, 3.0], [6.0, 7.0]]);
        assert!(without(&a, &a).is_empty());
        assert_eq!(without(&[[4.5, 4.5]], &b), [[4.5, 4.5]]);
        assert!(without(&[[4.0, 4.0]], &b).is_empty());
    }
}

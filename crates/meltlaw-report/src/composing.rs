//! How a line was composed, as page and terminal both tell it: weights in words, what the rule gained, what
//! the nodes gave up and to which limit.

use meltlaw::line::{Composing, Line, Node};
use meltlaw::study::Weights;

use crate::spans;

/// One unit of cost in words of the bench, at weights of 1.
pub const UNIT_OF_COST: &str = "what a drop 10 % off its target costs";

/// A weight of the optimum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weight {
    /// Its key in the study's `[line.weights]`.
    pub key: &'static str,
    /// Its value.
    pub value: f64,
    /// What costs this much.
    pub meaning: &'static str,
}

/// The weights in the order of the study.
pub fn weights(w: &Weights) -> [Weight; 4] {
    [
        Weight {
            key: "one_drop",
            value: w.one_drop,
            meaning: "chance of not one drop a tenth above that of the surest pulse; it grows with the fourth power",
        },
        Weight { key: "drop_size", value: w.drop_size, meaning: "drop diameter 10 % off its target" },
        Weight {
            key: "pulse_current",
            value: w.pulse_current,
            meaning: "pulse current off the mean of the trials by a quarter of their range, on the logarithm",
        },
        Weight {
            key: "smoothness",
            value: w.smoothness,
            meaning: "pulse current, pulse time or drop bending by 60 % per (m/min)², over 1 m/min",
        },
    ]
}

/// Range and probability of a line and of the midpoint rule, bounds of both to first order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beside {
    /// Feeds with a setting, m/min altogether: of the line, of the midpoint rule.
    pub usable_m_min: [f64; 2],
    /// Smallest lower bound of the one-drop probability where both have a setting.
    pub one_drop_bound: Option<[f64; 2]>,
    /// The line's smallest bound anywhere, where it is lower than beside the midpoint rule.
    pub elsewhere: Option<f64>,
}

/// The line beside the midpoint rule; `None` where it follows that rule itself or does not say.
///
/// The midpoint rule's bound is known to first order only, so the line's is told to the same order.
pub fn beside_midpoint(line: &Line) -> Option<Beside> {
    let composing = line.composing.as_ref()?;
    let midpoint = composing.midpoint?;
    let beside = midpoint.one_drop_bound_beside;
    let smallest = first_order_bound(line, composing);
    Some(Beside {
        usable_m_min: [composing.usable_m_min, midpoint.usable_m_min],
        one_drop_bound: beside.zip(midpoint.smallest_one_drop_bound).map(|(a, b)| [a, b]),
        elsewhere: smallest.filter(|s| beside.is_none_or(|b| *s < b - 1e-3)),
    })
}

fn first_order_bound(line: &Line, composing: &Composing) -> Option<f64> {
    let lost = line.nodes.iter().filter_map(|n| Some(n.cost.as_ref()?.one_drop_bound));
    lost.max_by(f64::total_cmp).map(|most| composing.best_pulse.one_drop_bound - most)
}

/// A limit that binds over an unbroken range of nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Binding {
    /// Its name in the files.
    pub limit: String,
    /// Lowest feed.
    pub from_m_min: f64,
    /// Highest feed.
    pub to_m_min: f64,
    /// The largest saving if the limit lay 1 % further out, in units of cost, and the feed where; `None` where
    /// the rule has no cost.
    pub saved: Option<(f64, f64)>,
}

/// A saving in units of cost; at a feed that has a single setting it grows without bound and says only that.
pub fn saved(units: f64) -> String {
    if units > 10.0 { "over 10".to_owned() } else { crate::numbers::significant(units, 2) }
}

/// All limits that bind, by their lowest feed.
pub fn binding(line: &Line) -> Vec<Binding> {
    let of = |(limit, from_m_min, to_m_min): (String, f64, f64)| {
        let inside = line.nodes.iter().filter(|n| (from_m_min..=to_m_min).contains(&n.wire_feed_m_min));
        let saved = inside
            .filter_map(|n| Some((*n.cost.as_ref()?.by_limit.get(&limit)?, n.wire_feed_m_min)))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        Binding { limit, from_m_min, to_m_min, saved }
    };
    spans::binding(line).into_iter().map(of).collect()
}

/// The node that gave up most of each: one-drop bound, drop size, pulse current; `None` where no node tells.
pub fn given_up_most(line: &Line) -> Option<[&Node; 3]> {
    let most = |of: fn(&meltlaw::line::Cost) -> f64| {
        let told = line.nodes.iter().filter_map(|n| Some((n, of(n.cost.as_ref()?))));
        told.reduce(|a, b| if b.1 > a.1 { b } else { a }).map(|(node, _)| node)
    };
    Some([most(|c| c.one_drop_bound)?, most(|c| c.drop_relative.abs())?, most(|c| c.pulse_current_a.abs())?])
}

/// Nodes with settings that the study fixes.
pub fn pinned(nodes: &[Node]) -> impl Iterator<Item = &Node> {
    nodes.iter().filter(|n| !n.pinned.is_empty())
}

/// The mark of a pinned value.
pub const PINNED: char = '*';

/// The mark beside a setting, where the study fixes it.
pub fn mark(node: &Node, setting: &str) -> Option<char> {
    node.pinned.iter().any(|p| p == setting).then_some(PINNED)
}

#[cfg(test)]
mod tests {
    use super::*;
    use meltlaw::line::{BestPulse, Cost, MidpointLine};

    fn worked() -> Line {
        let record: meltlaw::record::LineRecord =
            serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap();
        record.line
    }

    #[test]
    fn a_line_that_does_not_say_how_it_was_composed_compares_with_nothing() {
        let line = worked();
        assert_eq!(beside_midpoint(&line), None);
        assert_eq!(given_up_most(&line), None);
        assert!(binding(&line).iter().all(|b| b.saved.is_none()));
    }

    #[test]
    fn both_bounds_are_of_first_order_and_the_dearest_node_is_named() {
        let mut line = worked();
        for (n, lost) in line.nodes.iter_mut().zip([0.01, 0.03, 0.02]) {
            n.limits = vec!["background_high".to_owned()];
            n.cost = Some(Cost {
                one_drop_bound: lost,
                drop_relative: -lost,
                pulse_current_a: -100.0 * lost,
                by_limit: [("background_high".to_owned(), 2.0 * lost)].into(),
            });
        }
        line.composing = Some(Composing {
            rule: "optimised".to_owned(),
            meaning: String::new(),
            weights: Some(Weights::default()),
            best_pulse: BestPulse { pulse_current_a: 400.0, pulse_time_ms: 2.6, one_drop_bound: 0.95 },
            smallest_one_drop_bound: Some(0.91),
            usable_m_min: 4.0,
            midpoint: Some(MidpointLine {
                smallest_one_drop_bound: Some(0.90),
                one_drop_bound_beside: Some(0.94),
                usable_m_min: 3.0,
            }),
        });
        // 0.95 less the 0.03 lost at 6 m/min.
        let beside = beside_midpoint(&line).unwrap();
        assert_eq!(beside.usable_m_min, [4.0, 3.0]);
        assert_eq!(beside.one_drop_bound, Some([0.94, 0.90]));
        assert!((beside.elsewhere.unwrap() - 0.92).abs() < 1e-12);
        assert_eq!(binding(&line)[0].saved, Some((0.06, 6.0)));
        assert!(given_up_most(&line).unwrap().iter().all(|n| n.wire_feed_m_min == 6.0));
    }

    #[test]
    fn only_a_pinned_setting_is_marked() {
        let mut node = worked().nodes[0].clone();
        node.pinned = vec!["pulse_time_ms".to_owned()];
        assert_eq!((mark(&node, "pulse_time_ms"), mark(&node, "pulse_current_a")), (Some('*'), None));
    }
}

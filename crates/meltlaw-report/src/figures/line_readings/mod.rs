//! What the figures of the line and its window show, in words and numbers, computed from what is drawn.
//!
//! Readings are parts of sentences, small letters first and no full stop, as those of the tests of the laws are; an
//! action that starts with `nothing` asks for nothing.

pub(super) mod admissible;
pub(super) mod budget;
pub(super) mod currents;
pub(super) mod drop;
pub(super) mod effects;
pub(super) mod map;
pub(super) mod settings;
pub(super) mod shares;

use meltlaw::laws::Reading;
use meltlaw::line::Node;

use super::feed_view::FeedView;
use crate::{numbers, words};

/// Nodes beside the end of a range lie a hundredth of a m/min apart; a slope over so little says nothing.
const SHORTEST_STEP_M_MIN: f64 = 0.02;

/// The text alternative of a figure: its course, then what its reading has seen.
pub(super) fn aloud(course: &str, reading: &Reading) -> String {
    format!("{course} {}.", words::capital(&reading.seen)).trim_start().to_owned()
}

/// All that is asked for, or that nothing is.
fn asked_or_nothing(todo: &[String]) -> String {
    if todo.is_empty() { "nothing".to_owned() } else { todo.join("; ") }
}

/// Smallest and largest value along the line, each with the feed where it is met first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    pub(super) low: f64,
    pub(super) low_at: f64,
    pub(super) high: f64,
    pub(super) high_at: f64,
}

impl Range {
    /// `None` where no node has the value.
    pub(super) fn of(nodes: &[Node], value: impl Fn(&Node) -> f64) -> Option<Self> {
        let found = nodes.iter().map(|n| (value(n), n.wire_feed_m_min)).filter(|(v, _)| v.is_finite());
        found.fold(None, |range, (v, at)| {
            let mut range = range.unwrap_or(Self { low: v, low_at: at, high: v, high_at: at });
            if v < range.low {
                (range.low, range.low_at) = (v, at);
            }
            if v > range.high {
                (range.high, range.high_at) = (v, at);
            }
            Some(range)
        })
    }

    /// Whether what it spans is rounding and no change.
    pub(super) fn is_constant(&self) -> bool {
        self.high - self.low <= NO_CHANGE * self.high.abs().max(self.low.abs())
    }

    /// `between 331 and 450 A`, or `399 A` where both ends print alike.
    pub(super) fn between(&self, places: i32, unit: &str) -> String {
        let [low, high] = [self.low, self.high].map(|v| numbers::fixed(v, places));
        if low == high { format!("{low} {unit}") } else { format!("between {low} and {high} {unit}") }
    }
}

/// `at 9.2 m/min`.
pub(super) fn at(feed_m_min: f64) -> String {
    format!("at {} m/min", numbers::feed(feed_m_min))
}

/// At which feeds something holds, by the nodes: `at every feed`, `from 7.25 m/min on`; `None` where it nowhere does.
pub(super) fn feeds(view: &FeedView<'_>, holds: impl Fn(&Node) -> bool) -> Option<String> {
    let (first, last) = (view.nodes.first()?.wire_feed_m_min, view.nodes.last()?.wire_feed_m_min);
    if view.nodes.len() > 1 && view.nodes.iter().all(&holds) {
        return Some("at every feed".to_owned());
    }
    let mut pieces = Vec::new();
    for nodes in view.run_nodes() {
        for piece in nodes.chunk_by(|a, b| holds(a) == holds(b)).filter(|piece| holds(&piece[0])) {
            let (from, to) = (piece[0].wire_feed_m_min, piece[piece.len() - 1].wire_feed_m_min);
            pieces.push(match (from, to) {
                _ if from == to => at(from),
                _ if from == first => format!("up to {} m/min", numbers::feed(to)),
                _ if to == last => format!("from {} m/min on", numbers::feed(from)),
                _ => format!("from {} to {} m/min", numbers::feed(from), numbers::feed(to)),
            });
        }
    }
    (!pieces.is_empty()).then(|| words::listed(&pieces))
}

/// Which of these limits bind, and where: `the background current reaches the source's highest from 7.25 m/min on`.
pub(super) fn binding(view: &FeedView<'_>, limits: &[&str]) -> Vec<String> {
    let told = |limit: &&str| {
        let feeds = feeds(view, |n| n.limits.iter().any(|l| l == limit))?;
        Some(format!("{} {feeds}", words::limit(limit).0))
    };
    limits.iter().filter_map(told).collect()
}

/// What lifts those of these limits that bind: for who wants feeds beyond.
pub(super) fn lifted(view: &FeedView<'_>, limits: &[&str]) -> Option<String> {
    let bind = |limit: &&&str| view.nodes.iter().any(|n| n.limits.iter().any(|l| l == **limit));
    let cures: Vec<String> = limits.iter().filter(bind).map(|l| words::limit(l).1.to_owned()).collect();
    (!cures.is_empty()).then(|| cures.join("; "))
}

/// The change of a value between two neighbouring nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slope {
    /// Per m/min.
    pub(super) slope: f64,
    pub(super) from_m_min: f64,
    pub(super) to_m_min: f64,
}

/// All slopes, run by run: none across feeds without a setting.
pub(super) fn slopes(view: &FeedView<'_>, value: impl Fn(&Node) -> f64) -> Vec<Vec<Slope>> {
    let of = |pair: &[Node]| {
        let (from, to) = (pair[0].wire_feed_m_min, pair[1].wire_feed_m_min);
        let slope = (value(&pair[1]) - value(&pair[0])) / (to - from);
        (to - from >= SHORTEST_STEP_M_MIN && slope.is_finite()).then_some(Slope {
            slope,
            from_m_min: from,
            to_m_min: to,
        })
    };
    view.run_nodes().map(|nodes| nodes.windows(2).filter_map(of).collect()).collect()
}

/// A change along the whole line below this share of the largest value is rounding and no change.
const NO_CHANGE: f64 = 1e-4;

/// `changes fastest near 9.2 m/min, by 12 A per m/min`, or that it does not change; `None` for a node alone.
pub(super) fn steepest(view: &FeedView<'_>, unit: &str, value: impl Fn(&Node) -> f64) -> Option<String> {
    let slopes = slopes(view, &value);
    let most = slopes.iter().flatten().reduce(|a, b| if b.slope.abs() > a.slope.abs() { b } else { a })?;
    if Range::of(view.nodes, &value)?.is_constant() {
        return Some("no change along the line".to_owned());
    }
    let sign = if most.slope < 0.0 { numbers::MINUS } else { '+' };
    Some(format!(
        "changes fastest near {} m/min, by {sign}{} {unit} per m/min",
        numbers::feed(f64::midpoint(most.from_m_min, most.to_m_min)),
        numbers::significant(most.slope.abs(), 2)
    ))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use meltlaw::line::Unsupported;
    use meltlaw::record::LineRecord;

    use crate::window::Window;

    /// Thresholds at 1.75 and 4 ms, no trial scatter.
    pub(crate) const ROUND_WINDOW: Window = Window {
        exponent: 2.0,
        steepness: 8.0,
        one_drop_from: 0.559_615_788,   // ln 1.75
        more_drops_from: 1.386_294_361, // ln 4
        trial_scatter: 0.0,
        reference_current_a: 400.0,
    };

    /// The worked example with one node at each feed, all alike but for what `change` makes of them.
    pub(crate) fn record(feeds: &[f64], change: impl Fn(&mut Node)) -> LineRecord {
        let mut record: LineRecord =
            serde_json::from_str(include_str!("../../../../../datasets/worked_example/line.json")).unwrap();
        let node = record.line.nodes[0].clone();
        let at = |feed: &f64| {
            let mut node = Node { wire_feed_m_min: *feed, limits: Vec::new(), ..node.clone() };
            change(&mut node);
            node
        };
        record.line.nodes = feeds.iter().map(at).collect();
        record.line.unsupported.clear();
        record
    }

    /// What the study asks for, with a floor of 80 % and the melting rate to 2 %.
    pub(crate) fn request() -> meltlaw::study::LineRequest {
        meltlaw::study::LineRequest {
            wire_feed_m_min: [4.0, 8.0],
            step_m_min: 0.5,
            drop_to_wire_ratio: 1.1,
            drop_to_wire_limits: [0.8, 1.4],
            interpolation_tolerance: 0.002,
            one_drop_floor: 0.8,
            extended_by: 0.15,
            extended_melting_rate_relative_se: 0.02,
            travel_speed_mm_s: None,
            pins: Vec::new(),
            composing: meltlaw::study::ComposingRule::default(),
            weights: meltlaw::study::Weights::default(),
        }
    }

    #[test]
    fn feeds_are_told_by_unbroken_pieces_and_never_across_a_gap() {
        let mut record = record(&[4.0, 5.0, 6.0, 7.0, 8.0], |_| ());
        let told = |record: &LineRecord, holds: fn(f64) -> bool| {
            feeds(&FeedView::of(record).unwrap(), |n| holds(n.wire_feed_m_min))
        };
        assert_eq!(told(&record, |_| true).as_deref(), Some("at every feed"));
        assert_eq!(told(&record, |_| false), None);
        assert_eq!(told(&record, |f| f > 5.5).as_deref(), Some("from 6.0 m/min on"));
        assert_eq!(told(&record, |f| f < 5.5 || f == 7.0).as_deref(), Some("up to 5.0 m/min and at 7.0 m/min"));
        record.line.unsupported =
            vec![Unsupported { wire_feed_m_min: [6.1, 6.9], limits: Vec::new(), reason: String::new() }];
        assert_eq!(
            told(&record, |f| f > 4.5).as_deref(),
            Some("from 5.0 to 6.0 m/min and from 7.0 m/min on"),
            "there is no setting between 6.1 and 6.9"
        );
    }

    #[test]
    fn rounding_is_no_change() {
        let record = record(&[4.0, 5.0, 6.0], |n| n.pulse_current_a = 400.0 + 2.7e-6 * n.wire_feed_m_min);
        let view = FeedView::of(&record).unwrap();
        assert_eq!(steepest(&view, "A", |n| n.pulse_current_a).unwrap(), "no change along the line");
    }

    #[test]
    fn the_steepest_change_is_not_sought_across_a_gap_or_over_a_hundredth() {
        let by_feed = |n: &mut Node| {
            n.pulse_current_a = match n.wire_feed_m_min {
                f if f < 5.0 => 400.0,
                f if f < 5.5 => 401.0,
                f if f < 5.505 => 410.0,
                _ => 500.0,
            };
        };
        let mut record = record(&[4.0, 5.0, 5.5, 5.505, 7.0], by_feed);
        record.line.unsupported =
            vec![Unsupported { wire_feed_m_min: [5.6, 6.9], limits: Vec::new(), reason: String::new() }];
        let said = steepest(&FeedView::of(&record).unwrap(), "A", |n| n.pulse_current_a).unwrap();
        // 9 A over half a metre, neither 90 A over the gap nor the step of 0.005 m/min.
        assert_eq!(said, "changes fastest near 5.25 m/min, by +18 A per m/min");
    }
}

//! Two lines side by side: what changed at which feeds, and whether it is beyond error.
//!
//! Settings are decisions and have no error: they are set alike or set differently. What they do has one: the
//! background that balances the melting, mean current, voltage, power, one drop per pulse, and how much wire the first
//! line's setting melts by either line's law. Those differences carry an interval from both lines' intervals
//! (`combined.rs`), wide enough that for each quantity all feeds together hold at the stated confidence (Bonferroni's bound
//! or Scheffé's, whichever is narrower). Several quantities together hold a little less.

mod consequences;
mod ranges;
mod relation;
mod settings;
#[cfg(test)]
mod tests;

pub use consequences::{Consequence, MELTED};
pub use ranges::RangeChange;
pub use relation::{Relation, Shared};
pub use settings::{AtFeed, BandChange, Room, SettingChange, SettingVerdict};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::line::Node;
use crate::line_at::at;
use crate::line_conditions::{ConditionDifference, condition_differences};
use crate::record::{LineRecord, Provenance};

/// A line and where it comes from.
#[derive(Debug, Clone, Copy)]
pub struct LineWithOrigin<'a> {
    /// The line.
    pub record: &'a LineRecord,
    /// What it was made from.
    pub provenance: &'a Provenance,
}

/// What a comparison of two lines comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Overall {
    /// No value, support or standing differs at any feed; ends of intervals may, by other draws.
    Same,
    /// Something differs, but nothing that is measured differs beyond error.
    Changed,
    /// Something measured differs beyond error.
    ChangedBeyondError,
    /// No feed has a setting in both lines.
    NothingInCommon,
}

/// One line against the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LineComparison {
    /// In a word.
    pub overall: Overall,
    /// Wire, gas, geometry, source and request, where they are others.
    pub conditions: Vec<ConditionDifference>,
    /// What the errors of both lines share, and the rule that follows.
    pub relation: Relation,
    /// For each quantity all feeds together hold at this confidence: the higher of both lines'.
    pub confidence: f64,
    /// How many feeds are looked at together.
    pub feeds_together: usize,
    /// Feeds that have a setting in both lines.
    pub common_m_min: Vec<[f64; 2]>,
    /// Feeds that have a setting in the second line only.
    pub gained: Vec<RangeChange>,
    /// Feeds that have a setting in the first line only, with the second line's reason.
    pub lost: Vec<RangeChange>,
    /// At every node of either line that both have.
    pub feeds: Vec<AtFeed>,
    /// By quantity, then by feed.
    pub comparisons: Vec<Consequence>,
}

impl LineComparison {
    /// Feeds from the first to the last of each unbroken run of those looked at for which something holds, by their
    /// place among `feeds`.
    pub fn stretches(&self, holds: impl Fn(usize) -> bool) -> Vec<[f64; 2]> {
        let mut found: Vec<[f64; 2]> = Vec::new();
        let mut before: Option<f64> = None;
        for (place, feed) in self.feeds.iter().map(|f| f.wire_feed_m_min).enumerate() {
            if !holds(place) {
                before = None;
                continue;
            }
            let joined = before.is_some_and(|b| self.common_m_min.iter().any(|[low, high]| *low <= b && feed <= *high));
            match found.last_mut() {
                Some(last) if joined => last[1] = feed,
                _ => found.push([feed, feed]),
            }
            before = Some(feed);
        }
        found
    }

    /// A quantity at all feeds that were looked at, in their order; empty where the files do not tell it.
    pub fn of(&self, quantity: &str) -> &[Consequence] {
        let start = self.comparisons.iter().position(|c| c.quantity == quantity).unwrap_or(self.comparisons.len());
        let all = &self.comparisons[start..];
        &all[..all.iter().take_while(|c| c.quantity == quantity).count()]
    }

    /// Quantities in the order of the comparisons, each once.
    pub fn quantities(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.comparisons.iter().map(|c| c.quantity.as_str()).collect();
        names.dedup();
        names
    }

    /// At which of the feeds any quantity is beyond error.
    pub fn beyond_error(&self) -> Vec<bool> {
        let mut beyond = vec![false; self.feeds.len()];
        for quantity in self.quantities() {
            let told = self.of(quantity).iter().map(|c| c.differs_from_zero == Some(true));
            beyond.iter_mut().zip(told).for_each(|(any, this)| *any |= this);
        }
        beyond
    }
}

/// Compares a line with the first.
pub fn compare_lines(first: LineWithOrigin<'_>, second: LineWithOrigin<'_>) -> LineComparison {
    let conditions = condition_differences(second.record, first.record);
    let relation = Relation::of(first, second);
    let ranges = ranges::Ranges::of(first.record, second.record);
    let pairs = pairs(first.record, second.record);
    let confidence = first.record.confidence.max(second.record.confidence);
    let feeds: Vec<AtFeed> = pairs.iter().map(|p| settings::at_feed(first.record, second.record, p)).collect();
    let comparisons = consequences::of(first.record, second.record, &pairs, confidence, relation.rule);
    let same_settings = feeds.iter().all(AtFeed::is_same);
    let same_ranges = ranges.gained.is_empty() && ranges.lost.is_empty();
    let overall = if comparisons.iter().any(|c| c.differs_from_zero == Some(true)) {
        Overall::ChangedBeyondError
    } else if feeds.is_empty() {
        Overall::NothingInCommon
    } else if conditions.is_empty() && same_settings && same_ranges && comparisons.iter().all(|c| c.difference == 0.0) {
        Overall::Same
    } else {
        Overall::Changed
    };
    LineComparison {
        overall,
        conditions,
        relation,
        confidence,
        feeds_together: pairs.len(),
        common_m_min: ranges.common,
        gained: ranges.gained,
        lost: ranges.lost,
        feeds,
        comparisons,
    }
}

/// Both lines at one feed.
struct Pair {
    wire_feed_m_min: f64,
    first: Node,
    second: Node,
}

/// Every node of either line at which both have a setting. Between them both lines are straight, so that a
/// difference is largest at one of them.
fn pairs(first: &LineRecord, second: &LineRecord) -> Vec<Pair> {
    let nodes = first.line.nodes.iter().chain(&second.line.nodes);
    let mut feeds: Vec<f64> = nodes.map(|n| n.wire_feed_m_min).collect();
    feeds.sort_by(f64::total_cmp);
    feeds.dedup();
    feeds
        .into_iter()
        .filter_map(|feed| {
            Some(Pair { wire_feed_m_min: feed, first: at(first, feed).ok()?, second: at(second, feed).ok()? })
        })
        .collect()
}

//! *Finds* studies whose blocks (days, spools, stations) were welded at separate wire feeds or separate distances.
//!
//! *Why it matters*: if Monday had all slow feeds and Tuesday all fast ones, what changed between the
//! days cannot be told from what the feed does.
//!
//! *What to do*: weld a few settings of each block in the other block too.
//!
//! *Example*: block `coil 1` 3 to 5 m/min, block `coil 2` 6 to 9 m/min.

use std::collections::BTreeMap;

use super::rows::{finding, quantity};
use super::{Check, Finding, Severity};
use crate::factors::Factor;
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "blocks_confounded",
    about: "Blocks welded at wire feeds or distances that do not overlap: what changed between them cannot be told from what the setting does.",
    look,
};

/// Ranges of blocks with fewer trials mean nothing.
const LEAST_IN_BLOCK: usize = 3;

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let columns = [Column::WireFeed, Column::Ctwd];
    trials.factors().flat_map(|f| columns.into_iter().filter_map(move |column| separate(trials, f, column))).collect()
}

fn separate(trials: &Trials, factor: Factor, column: Column) -> Option<Finding> {
    let mut blocks: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for trial in trials.used() {
        if let (Some(block), Some(value)) = (trial.level(factor), trial.get(column)) {
            blocks.entry(block).or_default().push(value);
        }
    }
    let mut ranges: Vec<(&str, f64, f64)> = blocks
        .into_iter()
        .filter(|(_, values)| values.len() >= LEAST_IN_BLOCK)
        .map(|(block, values)| {
            let low = values.iter().copied().fold(f64::INFINITY, f64::min);
            (block, low, values.into_iter().fold(f64::NEG_INFINITY, f64::max))
        })
        .collect();
    ranges.sort_by(|a, b| a.1.total_cmp(&b.1));
    if ranges.len() < 2 || ranges.windows(2).any(|pair| pair[1].1 <= pair[0].2) {
        return None;
    }
    let said: Vec<String> = ranges
        .iter()
        .map(|(block, low, high)| format!("{block}: {} to {}", quantity(*low, column), quantity(*high, column)))
        .collect();
    let reading = Reading::new(
        format!("{} that overlap in {}", factor.levels(), column.name()),
        said.join("; "),
        format!("weld two or three settings of each {0} in the other {1} too", factor.name(), factor.levels()),
    );
    Some(finding(CHECK.name, Severity::Warning, Vec::new(), reading))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{severities, steel_study, steel_trials};

    fn in_two_blocks(first: impl Fn(usize, f64) -> bool) -> Trials {
        let mut trials = steel_trials();
        for (index, trial) in trials.rows.iter_mut().enumerate() {
            let feed = trial.get(Column::WireFeed).unwrap_or(f64::NAN);
            trial.set_level(Factor::Block, Some(if first(index, feed) { "coil 1" } else { "coil 2" }.to_owned()));
        }
        trials
    }

    #[test]
    fn days_are_judged_as_blocks_are() {
        let mut trials = in_two_blocks(|_, feed| feed < 6.0);
        for trial in &mut trials.rows {
            let coil = trial.level(Factor::Block).map(str::to_owned);
            trial.set_level(Factor::Day, coil);
            trial.set_level(Factor::Block, None);
        }
        let findings = crate::checks::testing::found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].reading.expected, "days that overlap in wire_feed_m_min");
    }

    #[test]
    fn slow_feeds_in_one_block_and_fast_in_the_other_are_flagged() {
        assert_eq!(severities(&CHECK, &steel_study(), &in_two_blocks(|_, feed| feed < 6.0)), [Severity::Warning]);
    }

    #[test]
    fn mixed_blocks_are_silent() {
        assert!(severities(&CHECK, &steel_study(), &in_two_blocks(|index, _| index % 2 == 0)).is_empty());
    }
}

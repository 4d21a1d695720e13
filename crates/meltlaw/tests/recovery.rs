//! The recovery study in small: invented laboratories of three kinds, every 95 % interval held against the
//! truth. The limits are exact binomial tails: a program whose intervals cover what is promised fails one of
//! these in ten thousand times, once and for all, since the laboratories are seeded.

use meltlaw::virtual_bench::{Kind, Reach, SUPPORTED, SupportTally, Tally, binomial_limits, examine, examine_support};
use rayon::prelude::*;

/// Share of outcomes on one side that count as too unlikely.
const TAIL: f64 = 1e-4;

/// Promised: 95 ± 1 % for burn-off, voltage and nodes, 93 to 97 % for detachment.
fn promised(name: &str) -> [f64; 2] {
    if name.starts_with("detachment") { [0.93, 0.97] } else { [0.94, 0.96] }
}

fn recovers(kind: Kind, labs: u64) {
    let tally = Tally::new((0..labs).into_par_iter().map(|number| examine(&kind.lab(2, number), false)).collect());
    assert_eq!(tally.unusable(), [], "{}: laws that could not be fitted", kind.name());
    let nodes = tally.share(|e| e.nodes == 5);
    assert!(nodes == 1.0, "{}: all five nodes in {nodes} of the labs", kind.name());
    let rows = tally.rows();
    for row in &rows {
        // The feeds of one lab share its laws, so each feed is held against the limits on its own.
        for place in 0..5 {
            let (held, all) = tally.held(&row.name, place);
            let [fewest, most] = binomial_limits(all, promised(&row.name), TAIL);
            assert!(
                (fewest..=most).contains(&held),
                "{}: {} at {place} holds the truth in {held} of {all} labs, {fewest} to {most} expected",
                kind.name(),
                row.name
            );
        }
    }
    // Five burn-off and voltage coefficients at least, five of detachment, six numbers of the line.
    assert!(rows.len() >= 16, "{}: only {} numbers were scored", kind.name(), rows.len());
}

#[test]
fn aluminium_labs_recover_their_laws() {
    // Seventy trials cost ten times as much as eighteen.
    recovers(Kind::Aluminium, 40);
}

#[test]
fn small_labs_recover_their_laws() {
    recovers(Kind::Small, 200);
}

#[test]
fn small_labs_that_measure_feeds_and_drops_in_different_trials_recover_their_laws() {
    recovers(Kind::SmallApart, 200);
}

/// Of nodes called `covered`, and of those called `extended`, no more miss the truth than stated. One node of each
/// lab counts, the lowest or the highest of its support: those in between share its laws.
fn support_is_worth_what_it_says(kind: Kind, labs: u64) {
    let tally = SupportTally::new((0..labs).into_par_iter().map(|n| examine_support(&kind.lab(3, n))).collect());
    for reach in [Reach::Covered, Reach::Extended] {
        for (quantity, name) in SUPPORTED.iter().enumerate() {
            for end in 0..2 {
                let (missed, all) = tally.missed_at_end(reach, quantity, end);
                let [_, most] = binomial_limits(all, [0.0, 0.05], TAIL);
                assert!(
                    missed <= most && 10 * all >= 9 * labs,
                    "{}: {name} of {} nodes misses the truth in {missed} of {all} labs, {most} at most expected",
                    kind.name(),
                    reach.name()
                );
            }
        }
    }
    // Where the process leaves the laws beyond the trials, support keeps the line from most of the harm.
    let [inside, beyond] = [Reach::Covered, Reach::Refused].map(|reach| tally.missed(reach, 0).0[1]);
    assert!(beyond > 3.0 * inside, "{}: {inside} of covered, {beyond} of refused", kind.name());
}

#[test]
fn measured_and_extended_nodes_of_small_labs_miss_no_more_than_stated() {
    support_is_worth_what_it_says(Kind::Small, 100);
}

#[test]
fn measured_and_extended_nodes_off_a_thin_cloud_miss_no_more_than_stated() {
    support_is_worth_what_it_says(Kind::OneRecipe, 40);
}

/// Labs of a kind that carry any warning.
fn warned(kind: Kind, labs: u64) -> u64 {
    (0..labs)
        .into_par_iter()
        .filter(|number| {
            let lab = kind.lab(2, *number);
            let laws = meltlaw::fit::fit_laws(&lab.study, &lab.trials).laws;
            !meltlaw::virtual_bench::warnings(&lab.study, &lab.trials, &laws).is_empty()
        })
        .count() as u64
}

#[test]
fn planted_faults_are_named() {
    // 95 % of such labs at least are promised a warning.
    for kind in [Kind::Drift, Kind::Blocks, Kind::Outliers, Kind::ErrorsHalved, Kind::Overdispersed] {
        let (found, labs) = (warned(kind, 40), 40);
        let [fewest, _] = binomial_limits(labs, [0.95, 1.0], TAIL);
        assert!(found >= fewest, "{}: {found} of {labs} labs carry a warning, {fewest} expected", kind.name());
    }
}

#[test]
fn good_labs_are_left_in_peace() {
    // 5 % of good labs at most are promised any warning.
    for kind in [Kind::Steel, Kind::SteelBlocks, Kind::Small] {
        let (found, labs) = (warned(kind, 60), 60);
        let [_, most] = binomial_limits(labs, [0.0, 0.05], TAIL);
        assert!(found <= most, "{}: {found} of {labs} labs carry a warning, {most} at most expected", kind.name());
    }
}

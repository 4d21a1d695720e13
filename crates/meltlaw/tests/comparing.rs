//! Lines of invented laboratories held against each other: two that welded the same wire are seldom told apart, a wire
//! that melts faster nearly always.

use meltlaw::compare::lines::{LineComparison, LineWithOrigin, MELTED, compare_lines};
use meltlaw::develop;
use meltlaw::record::{InputReference, LineRecord, Provenance, StudyReference};
use meltlaw::trials::Column;
use meltlaw::virtual_bench::{Kind, Lab, binomial_limits};
use rayon::prelude::*;

const PAIRS: u64 = 100;
/// Share of outcomes on one side that count as too unlikely.
const TAIL: f64 = 1e-4;

fn line(lab: &Lab, feeds_times: f64) -> LineRecord {
    let mut study = lab.study.clone();
    study.numerics.draws = 200;
    let mut trials = lab.trials.clone();
    for trial in &mut trials.rows {
        let feed = trial.get(Column::WireFeed);
        trial.set(Column::WireFeed, feed.map(|f| feeds_times * f));
    }
    let laws = develop::laws(&study, &trials).expect("a good laboratory has usable trials");
    develop::line(&study, &laws, "")
}

fn compared(first: &LineRecord, second: &LineRecord) -> LineComparison {
    let whence = |hash: &str| Provenance {
        tool: String::new(),
        study: StudyReference { file: String::new(), sha256: hash.to_owned() },
        inputs: vec![InputReference { file: String::new(), sha256: hash.to_owned(), rows: 1, rows_used: 1 }],
        seed: 1,
        draws: 1,
    };
    let (one, other) = (whence("one"), whence("other"));
    compare_lines(
        LineWithOrigin { record: first, provenance: &one },
        LineWithOrigin { record: second, provenance: &other },
    )
}

/// Pairs of laboratories in which the melting is beyond error at some feed.
fn told_apart(kind: Kind, feeds_times: f64) -> u64 {
    (0..PAIRS)
        .into_par_iter()
        .filter(|pair| {
            let (first, second) = (kind.lab(5, 2 * pair), kind.lab(5, 2 * pair + 1));
            let found = compared(&line(&first, 1.0), &line(&second, feeds_times));
            assert!(found.feeds_together > 3, "the lines of pair {pair} have few feeds in common");
            found.of(MELTED).iter().any(|c| c.differs_from_zero == Some(true))
        })
        .count() as u64
}

#[test]
fn the_same_wire_is_told_apart_no_more_often_than_stated_and_a_faster_one_nearly_always() {
    let kind = Kind::Small;
    let same = told_apart(kind, 1.0);
    let [_, most] = binomial_limits(PAIRS, [0.0, 0.05], TAIL);
    assert!(same <= most, "{same} of {PAIRS} pairs of the same wire are told apart, {most} at most expected");
    let faster = told_apart(kind, 1.1);
    // A tenth is several times what so small a laboratory leaves open.
    assert!(faster >= 95, "{faster} of {PAIRS} pairs are told apart where one wire melts 10 % faster");
}

//! The evaluator of the line: what `at` gives to the last bit, and single precision within its stated bound.
#![allow(missing_docs, clippy::unwrap_used, reason = "tests stop at the first surprise")]

use meltlaw::line::{Node, StandingRange, Unsupported};
use meltlaw::line_at::at;
use meltlaw::line_table::LineTable;
use meltlaw::record::LineRecord;
use meltlaw_line::{Evaluated, Standing, Status, TableNode};
use proptest::prelude::*;

/// Half a unit in the last place of f32, relative.
const U: f64 = 1.0 / 16_777_216.0;

fn worked() -> LineRecord {
    serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap()
}

/// A node with all the members of the worked line's and these settings.
fn node(feed: f64, s: [f64; 7], extended: bool) -> Node {
    Node {
        wire_feed_m_min: feed,
        pulse_current_a: s[0],
        pulse_time_ms: s[1],
        pulse_frequency_hz: s[2],
        background_current_a: s[3],
        rise_a_per_ms: s[4],
        fall_a_per_ms: s[5],
        voltage_mean_v: s[6],
        support: if extended { "extended" } else { "covered" }.to_owned(),
        ..worked().line.nodes[0].clone()
    }
}

fn range(low: f64, width: f64) -> [f64; 2] {
    [low, low + width]
}

prop_compose! {
    /// Neighbours that have nothing to do with each other: far rougher than any composed line.
    fn any_line()(
        first in 1.0..5.0_f64,
        steps in prop::collection::vec((0.02..1.0_f64, any::<bool>()), 1..24),
        settings in prop::collection::vec(
            [250.0..500.0_f64, 1.0..3.0_f64, 40.0..250.0_f64, 20.0..200.0_f64, 600.0..2000.0_f64, 600.0..2000.0_f64, 18.0..35.0_f64],
            24,
        ),
        gaps in prop::collection::vec((1.0..12.0_f64, 0.0..0.1_f64), 0..3),
        said in prop::collection::vec((1.0..12.0_f64, 0.0..0.3_f64, 0..4_usize), 0..4),
    ) -> LineRecord {
        let mut record = worked();
        let mut feed = first;
        record.line.nodes = Vec::new();
        for ((step, extended), s) in steps.into_iter().zip(settings) {
            record.line.nodes.push(node(feed, s, extended));
            feed += step;
        }
        record.line.unsupported = gaps
            .into_iter()
            .map(|(low, width)| Unsupported {
                wire_feed_m_min: range(low, width),
                limits: Vec::new(),
                reason: "invented".to_owned(),
            })
            .collect();
        record.line.standing = said
            .into_iter()
            .map(|(low, width, standing)| StandingRange {
                state: Standing::ALL[standing].word().to_owned(),
                wire_feed_m_min: range(low, width),
                rule: None,
                evidence: None,
                date: None,
                by: None,
            })
            .collect();
        record
    }
}

/// Feeds along a line: random ones, a little beyond either end, and about every node.
fn feeds(record: &LineRecord, shares: &[f64]) -> Vec<f64> {
    let nodes = &record.line.nodes;
    let (first, last) = (nodes[0].wire_feed_m_min, nodes[nodes.len() - 1].wire_feed_m_min);
    let along = shares.iter().map(|share| first + (share * 1.02 - 0.01) * (last - first).max(0.1));
    let about =
        nodes.iter().flat_map(|n| [n.wire_feed_m_min.next_down(), n.wire_feed_m_min, n.wire_feed_m_min.next_up()]);
    along.chain(about).collect()
}

fn bits(e: &Evaluated<f64>) -> [u64; 10] {
    [
        e.pulse_current_a,
        e.pulse_time_ms,
        e.pulse_frequency_hz,
        e.background_current_a,
        e.rise_a_per_ms,
        e.fall_a_per_ms,
        e.background_time_ms,
        e.current_mean_a,
        e.current_rms_a,
        e.voltage_mean_v,
    ]
    .map(f64::to_bits)
}

fn node_bits(n: &Node) -> [u64; 10] {
    [
        n.pulse_current_a,
        n.pulse_time_ms,
        n.pulse_frequency_hz,
        n.background_current_a,
        n.rise_a_per_ms,
        n.fall_a_per_ms,
        n.background_time_ms,
        n.current_mean_a,
        n.current_rms_a,
        n.voltage_mean_v,
    ]
    .map(f64::to_bits)
}

fn same_as_at(record: &LineRecord, feeds: &[f64]) {
    let table = LineTable::<f64>::of(&record.line);
    for &feed in feeds {
        match (at(record, feed), table.as_table().evaluate(feed)) {
            (Ok(n), Ok(e)) => {
                assert_eq!(node_bits(&n), bits(&e), "{feed}");
                assert_eq!(n.support, e.support.word(), "{feed}");
                assert_eq!(record.line.standing_at(feed), e.standing, "{feed}");
            }
            (Err(no), Err(refused)) => {
                assert_eq!(
                    (no.status, no.support, no.standing),
                    (refused.status, refused.support, refused.standing),
                    "{feed}"
                );
            }
            (a, b) => panic!("{feed}: {a:?} and {b:?}"),
        }
    }
}

const SETTINGS: [fn(&TableNode<f64>) -> f64; 7] = [
    |n| n.pulse_current_a,
    |n| n.pulse_time_ms,
    |n| n.pulse_frequency_hz,
    |n| n.background_current_a,
    |n| n.rise_a_per_ms,
    |n| n.fall_a_per_ms,
    |n| n.voltage_mean_v,
];

/// u·E of a setting at a feed and the same relative to its smaller neighbour, as the documentation of `Table` has it.
fn bound(nodes: &[TableNode<f64>], index: usize, of: fn(&TableNode<f64>) -> f64) -> (f64, f64) {
    let upper = (index + 1).min(nodes.len() - 1);
    let (a, b) = (of(&nodes[index]), of(&nodes[upper]));
    let steepest = nodes[index.saturating_sub(1)..(index + 3).min(nodes.len())]
        .windows(2)
        .map(|p| ((of(&p[1]) - of(&p[0])) / (p[1].wire_feed_m_min - p[0].wire_feed_m_min)).abs())
        .fold(0.0, f64::max);
    let e = U * (2.0 * a.max(b) + 5.0 * (b - a).abs() + steepest * nodes[upper].wire_feed_m_min);
    (e, e / a.min(b))
}

/// Largest share of the bound that an error takes, and the largest error relative to its quantity.
#[derive(Debug, Default)]
struct Worst {
    of_bound: f64,
    relative: f64,
}

fn within_the_bound(record: &LineRecord, feeds: &[f64]) -> Worst {
    let (double, single) = (LineTable::<f64>::of(&record.line), LineTable::<f32>::of(&record.line));
    let mut worst = Worst::default();
    for &feed in feeds {
        let feed = feed as f32;
        let x = f64::from(feed);
        let (exact, found) = (double.as_table().evaluate(x), single.as_table().evaluate(feed));
        let (exact, found) = match (exact, found) {
            (Ok(exact), Ok(found)) => (exact, found),
            (exact, found) => {
                let ends = double.nodes.iter().map(|n| n.wire_feed_m_min);
                let said = double.standing.iter().map(|span| &span.wire_feed_m_min);
                let ranges = double.gaps_m_min.iter().chain(said).flatten().copied();
                let beside = ends.chain(ranges).any(|end| (end - x).abs() <= U * end.max(x));
                assert!(
                    exact.err().map(|e| e.status) == found.err().map(|f| f.status) || beside,
                    "{x}: {exact:?} and {found:?}"
                );
                continue;
            }
        };
        let index = single.as_table().place(feed).unwrap().index;
        let bounds = SETTINGS.map(|of| bound(&double.nodes, index, of));
        let e = bounds[..6].iter().map(|b| b.1).fold(0.0, f64::max);
        let settings = [
            (f64::from(found.pulse_current_a), exact.pulse_current_a),
            (f64::from(found.pulse_time_ms), exact.pulse_time_ms),
            (f64::from(found.pulse_frequency_hz), exact.pulse_frequency_hz),
            (f64::from(found.background_current_a), exact.background_current_a),
            (f64::from(found.rise_a_per_ms), exact.rise_a_per_ms),
            (f64::from(found.fall_a_per_ms), exact.fall_a_per_ms),
            (f64::from(found.voltage_mean_v), exact.voltage_mean_v),
        ];
        let period = 1000.0 / exact.pulse_frequency_hz;
        let (mean, rms, rest) = (exact.current_mean_a, exact.current_rms_a, exact.background_time_ms);
        let computed = [
            (f64::from(found.current_mean_a), mean, (3.0 * e + 5.0 * U) * mean),
            (f64::from(found.current_rms_a), rms, (2.75 * e + 11.0 * U) * rms),
            (f64::from(found.background_time_ms), rest, (e + U) * period + e * exact.pulse_time_ms + U * rest),
        ];
        let all = settings.into_iter().zip(bounds).map(|((found, exact), (b, _))| (found, exact, b)).chain(computed);
        for (i, (found, exact, bound)) in all.enumerate() {
            let error = (found - exact).abs();
            // What the first order leaves out: e stays below 1e-3 here.
            assert!(error <= 1.01 * bound, "quantity {i} at {x}: {found} for {exact}, off {error}, bound {bound}");
            worst.of_bound = worst.of_bound.max(error / bound);
            worst.relative = worst.relative.max(error / exact);
        }
    }
    worst
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn at_and_the_evaluator_give_the_same_bits(record in any_line(), shares in prop::collection::vec(0.0..1.0_f64, 40)) {
        same_as_at(&record, &feeds(&record, &shares));
    }

    #[test]
    fn single_precision_keeps_its_bound(record in any_line(), shares in prop::collection::vec(0.0..1.0_f64, 40)) {
        within_the_bound(&record, &feeds(&record, &shares));
    }

    #[test]
    fn nothing_makes_it_panic(
        numbers in prop::collection::vec(any::<f64>(), 0..60),
        ranges in prop::collection::vec([any::<f64>(), any::<f64>()], 0..4),
        feed in any::<f64>(),
    ) {
        let mut record = worked();
        record.line.nodes = numbers.chunks_exact(8).map(|c| node(c[0], [c[1], c[2], c[3], c[4], c[5], c[6], c[7]], false)).collect();
        let invented = |wire_feed_m_min| Unsupported { wire_feed_m_min, limits: Vec::new(), reason: String::new() };
        record.line.unsupported = ranges.iter().copied().map(invented).collect();
        for feed in feeds_or(&record, feed) {
            let _ = at(&record, feed);
            let _ = LineTable::<f64>::of(&record.line).as_table().evaluate(feed);
            let _ = LineTable::<f32>::of(&record.line).as_table().evaluate(feed as f32);
            let _ = LineTable::<f32>::of(&record.line).as_table().check();
        }
    }
}

fn feeds_or(record: &LineRecord, feed: f64) -> Vec<f64> {
    let own = record.line.nodes.iter().map(|n| n.wire_feed_m_min);
    own.chain([feed, 0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY]).collect()
}

#[test]
fn on_the_worked_line_single_precision_is_off_by_less_than_one_part_in_two_million() {
    let record = worked();
    let feeds: Vec<f64> = (0..=4000).map(|i| 4.0 + f64::from(i) / 1000.0).collect();
    same_as_at(&record, &feeds);
    let worst = within_the_bound(&record, &feeds);
    assert!(worst.relative < 5e-7, "{worst:?}");
}

#[test]
fn at_a_node_it_is_the_node() {
    let record = worked();
    let table = LineTable::<f64>::of(&record.line);
    assert_eq!(table.as_table().check(), Ok(()));
    for n in &record.line.nodes {
        let e = table.as_table().evaluate(n.wire_feed_m_min).unwrap();
        assert_eq!(bits(&e)[..6], node_bits(n)[..6]);
        let found = at(&record, n.wire_feed_m_min).unwrap();
        // The worked line was written by another program: the last bit of what is computed may differ.
        assert!((found.current_rms_a / n.current_rms_a - 1.0).abs() < 1e-15);
        assert_eq!((found.power_mean_w, &found.notes, &found.limits), (n.power_mean_w, &n.notes, &n.limits));
    }
    assert_eq!(table.as_table().evaluate(9.0).map_err(|refused| refused.status), Err(Status::AboveRange));
}

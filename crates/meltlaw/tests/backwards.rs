//! The line backwards: numbers by hand on small invented lines, and that no answer is lost on any line.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use meltlaw::backwards::{Backwards, Nearest, Wanted, feeds_for};
use meltlaw::line::{StandingRange, Unsupported};
use meltlaw::line_at::at;
use meltlaw::record::LineRecord;
use proptest::prelude::*;

/// Nodes at 4, 5, 6 … m/min with these backgrounds and mean currents that hand arithmetic gives: pulses
/// of 400 A and 2 ms at 100 Hz are a fifth of the time, so Ī = 0.8·I_b + 80 A.
fn line(backgrounds_a: &[f64]) -> LineRecord {
    let mut record: LineRecord =
        serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap();
    let like = record.line.nodes[0].clone();
    record.line.unsupported.clear();
    record.line.nodes = backgrounds_a
        .iter()
        .enumerate()
        .map(|(i, &background_current_a)| {
            let mean = 0.8 * background_current_a + 80.0;
            let mut node = like.clone();
            node.wire_feed_m_min = 4.0 + i as f64;
            node.pulse_current_a = 400.0;
            node.pulse_time_ms = 2.0;
            node.pulse_frequency_hz = 100.0;
            node.background_current_a = background_current_a;
            node.current_mean_a = mean;
            node.balancing_current_mean_a_interval = Some([mean - 4.0, mean + 4.0]);
            node.power_mean_w = 25.0 * mean;
            node.power_mean_w_interval = Some([25.0 * mean - 50.0, 25.0 * mean + 50.0]);
            node.heat_input_kj_mm = Some(0.8 * node.power_mean_w / 7.0 / 1000.0);
            node
        })
        .collect();
    record
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

fn current(record: &LineRecord, a: f64) -> Backwards {
    feeds_for(record, Wanted::CurrentMeanA(a))
}

#[test]
fn one_answer_with_the_interval_that_hand_arithmetic_gives() {
    // Means of 120, 160 and 200 A at 4, 5 and 6 m/min: 170 A at 5.25. Ends of 166 and 174 A lie 0.1 m/min off.
    let found = current(&line(&[50.0, 100.0, 150.0]), 170.0);
    let [answer] = &found.answers[..] else { panic!("{found:?}") };
    assert!(near(answer.wire_feed_m_min, 5.25));
    let [low, high] = answer.wire_feed_m_min_interval.map(Option::unwrap);
    assert!(near(low, 5.15) && near(high, 5.35), "{low} {high}");
    assert_eq!((answer.support.as_str(), found.reason.as_str()), ("covered", "at one wire feed"));
    assert_eq!(answer.wire_feed_m_min_interval_reason, None);
}

#[test]
fn an_interval_goes_over_nodes_and_is_open_where_the_line_ends() {
    // 158 A at 4.95: 154 A at 4.85, 162 A at 5.05 beyond the node at 5.
    let [low, high] = current(&line(&[50.0, 100.0, 150.0]), 158.0).answers[0].wire_feed_m_min_interval;
    assert!(near(low.unwrap(), 4.85) && near(high.unwrap(), 5.05));
    let first = &current(&line(&[50.0, 100.0, 150.0]), 122.0).answers[0];
    assert_eq!(first.wire_feed_m_min_interval[0], None);
    assert!(near(first.wire_feed_m_min_interval[1].unwrap(), 4.15));
    assert_eq!(
        first.wire_feed_m_min_interval_reason.as_deref(),
        Some("open below: the line ends at 4 m/min before the interval does")
    );
}

#[test]
fn a_line_without_these_intervals_says_so() {
    let mut record = line(&[50.0, 100.0]);
    record.line.nodes[0].balancing_current_mean_a_interval = None;
    let answer = &current(&record, 140.0).answers[0];
    assert_eq!(answer.wire_feed_m_min_interval, [None, None]);
    assert!(answer.wire_feed_m_min_interval_reason.as_ref().unwrap().contains("compose the line again"));
}

#[test]
fn several_answers_come_in_order_and_a_common_node_only_once() {
    // 120, 160, 120, 160 A: 140 A at 4.5, 5.5 and 6.5; 160 A at the nodes 5 and 7.
    let record = line(&[50.0, 100.0, 50.0, 100.0]);
    let feeds = |a: f64| current(&record, a).answers.iter().map(|a| a.wire_feed_m_min).collect::<Vec<_>>();
    let found = feeds(140.0);
    assert!(found.len() == 3 && near(found[0], 4.5) && near(found[1], 5.5) && near(found[2], 6.5), "{found:?}");
    assert_eq!(feeds(160.0), [5.0, 7.0]);
    assert_eq!(current(&record, 140.0).reason, "at 3 wire feeds");
}

#[test]
fn a_current_that_turns_between_two_nodes_is_found_twice() {
    // 1 → 3 ms and 150 → 60 Hz at 100 and 400 A: Ī = 100 + 300·(1 + 2t)·(0.15 − 0.09t) = 145 + 63·t − 54·t²:
    // 145 A at 0, 154 A at 1, turn at t = 63/108; 160 A where 54·t² − 63·t + 15 = 0: t = 1/3 and 5/6.
    let mut record = line(&[100.0, 100.0]);
    for (node, ms, hz) in [(0, 1.0, 150.0), (1, 3.0, 60.0)] {
        record.line.nodes[node].pulse_time_ms = ms;
        record.line.nodes[node].pulse_frequency_hz = hz;
    }
    let found = current(&record, 160.0);
    let feeds: Vec<f64> = found.answers.iter().map(|a| a.wire_feed_m_min).collect();
    assert!(feeds.len() == 2 && near(feeds[0], 4.0 + 1.0 / 3.0) && near(feeds[1], 4.0 + 5.0 / 6.0), "{feeds:?}");
    // The summit, 145 + 63²/216 = 163.375 A, is one answer; above it there is none, and it is the nearest.
    let summit = current(&record, 163.375);
    assert_eq!(summit.answers.len(), 1, "{summit:?}");
    assert!((summit.answers[0].wire_feed_m_min - 4.0 - 63.0 / 108.0).abs() < 1e-6);
    let above = current(&record, 170.0).nearest.unwrap();
    assert!(near(above.value, 163.375) && near(above.wire_feed_m_min, 4.0 + 63.0 / 108.0));
}

#[test]
fn a_constant_stretch_is_one_answer_with_its_range() {
    let found = current(&line(&[50.0, 100.0, 100.0, 100.0, 150.0]), 160.0);
    let [answer] = &found.answers[..] else { panic!("{found:?}") };
    assert_eq!(answer.constant_over_m_min, Some([5.0, 7.0]));
    assert_eq!(answer.wire_feed_m_min, 6.0);
    // Ends of 156 and 164 A lie 0.1 m/min outside the stretch.
    let [low, high] = answer.wire_feed_m_min_interval.map(Option::unwrap);
    assert!(near(low, 4.9) && near(high, 7.1));
    assert_eq!(found.reason, "at every wire feed from 5 to 7 m/min");
}

#[test]
fn what_the_line_does_not_give_names_the_nearest_value_and_the_side() {
    let record = line(&[50.0, 100.0, 150.0]);
    let below = current(&record, 100.0);
    assert!(below.answers.is_empty());
    assert_eq!(below.nearest, Some(Nearest { value: 120.0, wire_feed_m_min: 4.0 }));
    assert!(
        below.reason.starts_with("at no wire feed: from 4 to 6 m/min the line gives more than 100 A"),
        "{}",
        below.reason
    );
    assert!(current(&record, 300.0).reason.contains("gives less than 300 A everywhere"));
    assert!(current(&record, f64::NAN).reason.contains("not a number"));
    let mut empty = record;
    empty.line.nodes.clear();
    assert!(current(&empty, 150.0).reason.contains("no setting at any wire feed"));
}

#[test]
fn a_value_in_a_gap_is_said_to_be_there() {
    let mut record = line(&[50.0, 100.0, 150.0]);
    record.line.unsupported = vec![Unsupported {
        wire_feed_m_min: [5.01, 5.99],
        limits: vec!["background_high".to_owned()],
        reason: "no setting keeps the highest background current".to_owned(),
    }];
    let found = current(&record, 190.0);
    assert!(found.answers.is_empty());
    assert_eq!(found.in_gaps_wire_feed_m_min, [[5.0, 6.0]]);
    assert_eq!(found.nearest, Some(Nearest { value: 200.0, wire_feed_m_min: 6.0 }));
    assert!(found.reason.contains("gap from 5 to 6 m/min") && found.reason.contains("background_high"));
    // The node at 6 stands alone now: its own value is an answer, and its interval open on both sides.
    let alone = &current(&record, 200.0).answers[0];
    assert_eq!((alone.wire_feed_m_min, alone.wire_feed_m_min_interval), (6.0, [None, None]));
}

#[test]
fn a_contradicted_or_withdrawn_range_gives_no_answer() {
    for (state, ending) in
        [("withdrawn", "withdrawn from 4.5 to 5.5"), ("contradicted", "contradict the line from 4.5 to 5.5")]
    {
        let mut record = line(&[50.0, 100.0, 150.0]);
        record.line.standing = vec![StandingRange {
            state: state.to_owned(),
            wire_feed_m_min: [4.5, 5.5],
            rule: None,
            evidence: None,
            date: None,
            by: None,
        }];
        let found = current(&record, 160.0);
        assert!(found.answers.is_empty(), "{found:?}");
        assert!(found.reason.contains(state), "{}", found.reason);
        let beside = &current(&record, 182.0).answers[0];
        assert!(beside.wire_feed_m_min_interval_reason.as_ref().unwrap().contains(ending));
    }
}

#[test]
fn heat_input_and_melting_rate_are_answered_too() {
    let record = line(&[50.0, 100.0, 150.0]);
    // 25 V · 170 A · 0.8 / 7 mm/s = 485.7 J/mm at 5.25 m/min; ± 50 W are ± 2 A or ± 0.05 m/min.
    let heat = feeds_for(&record, Wanted::HeatInputKjMm(0.8 * 25.0 * 170.0 / 7.0 / 1000.0));
    let answer = &heat.answers[0];
    assert!(near(answer.wire_feed_m_min, 5.25));
    let [low, high] = answer.wire_feed_m_min_interval.map(Option::unwrap);
    assert!(near(low, 5.2) && near(high, 5.3), "{low} {high}");
    // ρ·A·w at 5 m/min; t of 37 degrees over a trials' share of 0.0722 squared is the normal's 1.9600.
    let rate = feeds_for(&record, Wanted::MeltingRateKgH(record.wire.melting_rate_kg_h(5.0 / 0.06)));
    let [low, high] = rate.answers[0].wire_feed_m_min_interval.map(Option::unwrap);
    let half = 1.96 * 0.007_356_11 * 5.0;
    assert!((high - 5.0 - half).abs() < 1e-4 && (5.0 - low - half).abs() < 1e-4, "{low} {high}");
    let mut without = record;
    without.line.nodes[1].heat_input_kj_mm = None;
    let none = feeds_for(&without, Wanted::HeatInputKjMm(0.4));
    assert!(none.answers.is_empty() && none.reason.contains("travel_speed_mm_s"));
}

fn any_line() -> impl Strategy<Value = LineRecord> {
    let node = (300.0..500.0, 1.0..4.0, 40.0..200.0, 20.0..150.0);
    proptest::collection::vec(node, 2..8).prop_map(|nodes| {
        let mut record = line(&vec![50.0; nodes.len()]);
        for (node, (current, time, frequency, background)) in record.line.nodes.iter_mut().zip(nodes) {
            node.pulse_current_a = current;
            node.pulse_time_ms = time;
            node.pulse_frequency_hz = frequency;
            node.background_current_a = background;
            node.current_mean_a = node.waveform().moments().mean_a;
            node.heat_input_kj_mm = Some(background / 100.0);
        }
        record
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn every_answer_gives_what_was_wanted_and_none_is_lost(record in any_line(), part in 0.0..1.0f64) {
        // Wanted is what the line gives somewhere, so there is an answer.
        let last = record.line.nodes.last().unwrap().wire_feed_m_min;
        let there = at(&record, 4.0 + part * (last - 4.0)).unwrap();
        let found = current(&record, there.current_mean_a);
        prop_assert!(found.answers.iter().any(|a| near(at(&record, a.wire_feed_m_min).unwrap().current_mean_a,
            there.current_mean_a)));
        for answer in &found.answers {
            let given = at(&record, answer.wire_feed_m_min).unwrap().current_mean_a;
            prop_assert!((given / there.current_mean_a - 1.0).abs() < 1e-9, "{given} {}", there.current_mean_a);
        }
        prop_assert!(found.answers.windows(2).all(|p| p[0].wire_feed_m_min < p[1].wire_feed_m_min));
        // Where a fine walk along the line passes the value, an answer stands.
        let walk: Vec<f64> = (0..=500).map(|i| 4.0 + f64::from(i) / 500.0 * (last - 4.0)).collect();
        let off = |f: f64| at(&record, f).unwrap().current_mean_a - there.current_mean_a;
        for step in walk.windows(2).filter(|s| off(s[0]) * off(s[1]) < 0.0) {
            let answered = found.answers.iter().any(|a| {
                (step[0] - 1e-9..=step[1] + 1e-9).contains(&a.wire_feed_m_min)
            });
            prop_assert!(answered, "{step:?} {found:?}");
        }
        let heat = feeds_for(&record, Wanted::HeatInputKjMm(there.heat_input_kj_mm.unwrap()));
        prop_assert!(!heat.answers.is_empty());
        for answer in &heat.answers {
            let given = at(&record, answer.wire_feed_m_min).unwrap().heat_input_kj_mm.unwrap();
            prop_assert!((given / there.heat_input_kj_mm.unwrap() - 1.0).abs() < 1e-9);
        }
        let rate = feeds_for(&record, Wanted::MeltingRateKgH(there.melting_rate_kg_h));
        prop_assert!(rate.answers.len() == 1);
        prop_assert!(near(rate.answers[0].wire_feed_m_min, there.wire_feed_m_min));
    }
}

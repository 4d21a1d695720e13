//! Times the evaluator of the line: one call at a random wire feed, on lines of 19 and 200 nodes, in f64 and f32.
//!
//! `cargo run --release -p meltlaw-line --example evaluator`; with `--table N` it prints the line of N nodes and its
//! settings at a thousand feeds as CSV instead, for `tests/benchmark_evaluator.py`. The line is invented.
#![allow(clippy::print_stdout, missing_docs, reason = "a program for people at a bench")]

use std::hint::black_box;
use std::time::Instant;

use meltlaw_line::{Number, Support, Table, TableNode};

/// Calls of one round: shorter than the slice that a busy machine gives a process.
const CALLS: usize = 20_000;
/// Rounds; the median is told, and the fastest, which other processes disturbed least.
const ROUNDS: usize = 501;

fn main() {
    let mut arguments = std::env::args().skip(1);
    if arguments.next().as_deref() == Some("--table") {
        let count = arguments.next().and_then(|n| n.parse().ok()).expect("--table is followed by a number of nodes");
        return print_table(count);
    }
    println!("nodes,precision,median_ns,fastest_ns");
    for count in [19, 200] {
        timed(count, "f64", &nodes::<f64>(count));
        timed(count, "f32", &nodes::<f32>(count));
    }
}

/// An invented line from 3 to 12 m/min, its nodes not evenly spaced.
fn nodes<T: Number>(count: usize) -> Vec<TableNode<T>> {
    (0..count)
        .map(|i| {
            let share = i as f64 / (count - 1).max(1) as f64;
            let feed = 3.0 + 9.0 * share * (0.8 + 0.2 * share);
            TableNode {
                wire_feed_m_min: T::nearest(feed),
                pulse_current_a: T::nearest(380.0 + 6.0 * feed),
                pulse_time_ms: T::nearest(2.4 - 0.03 * feed),
                pulse_frequency_hz: T::nearest(16.0 * feed),
                background_current_a: T::nearest(40.0 + 9.0 * feed + 0.3 * feed * feed),
                rise_a_per_ms: T::nearest(600.0),
                fall_a_per_ms: T::nearest(600.0),
                voltage_mean_v: T::nearest(21.0 + 0.7 * feed),
                support: if share < 0.9 { Support::Covered } else { Support::Extended },
            }
        })
        .collect()
}

/// Feeds along the line without a pattern that a processor could learn: a linear congruential sequence.
fn feeds(count: usize) -> impl Iterator<Item = f64> {
    let mut state = 1_u64;
    (0..count).map(move |_| {
        // Multiplier and increment of Knuth's MMIX, from memory.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        3.0 + 9.0 * (state >> 11) as f64 / (1_u64 << 53) as f64
    })
}

fn timed<T: Number>(count: usize, precision: &str, nodes: &[TableNode<T>]) {
    let table = Table { nodes, gaps_m_min: &[[T::nearest(12.5), T::nearest(13.0)]], standing: &[] };
    let feeds: Vec<T> = feeds(CALLS).map(T::nearest).collect();
    let mut rounds: Vec<f64> = (0..ROUNDS)
        .map(|_| {
            let start = Instant::now();
            for &feed in &feeds {
                let _ = black_box(black_box(&table).evaluate(feed));
            }
            start.elapsed().as_secs_f64() * 1e9 / CALLS as f64
        })
        .collect();
    rounds.sort_by(f64::total_cmp);
    println!("{count},{precision},{:.1},{:.1}", rounds[ROUNDS / 2], rounds[0]);
}

fn print_table(count: usize) {
    let nodes = nodes::<f64>(count);
    let table = Table { nodes: &nodes, gaps_m_min: &[], standing: &[] };
    println!(
        "what,wire_feed_m_min,pulse_current_a,pulse_time_ms,pulse_frequency_hz,background_current_a,rise_a_per_ms,fall_a_per_ms,voltage_mean_v,background_time_ms,current_mean_a,current_rms_a"
    );
    let at_nodes = nodes.iter().map(|n| ("node", n.wire_feed_m_min));
    for (what, feed) in at_nodes.chain(feeds(1000).map(|f| ("feed", f))) {
        let e = table.evaluate(feed).expect("the feed lies on the line");
        let numbers = [
            feed,
            e.pulse_current_a,
            e.pulse_time_ms,
            e.pulse_frequency_hz,
            e.background_current_a,
            e.rise_a_per_ms,
            e.fall_a_per_ms,
            e.voltage_mean_v,
            e.background_time_ms,
            e.current_mean_a,
            e.current_rms_a,
        ];
        println!("{what},{}", numbers.map(|v| v.to_string()).join(","));
    }
}

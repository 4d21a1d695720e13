//! How long one log takes, asked for by whoever times it beside another library: `tests/benchmark_logs.py`.
//!
//! Each line of the input is one request, answered by one line of milliseconds and pulses:
//! `file THREADS PATH` reads and reduces a log; `memory PATH` reduces records of three singles that are kept in memory.
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::io::Write as _;
use std::path::Path;
use std::sync::atomic::AtomicU64;
use std::time::Instant;

use meltlaw::reduce::{ReduceSettings, Reducer};
use meltlaw_files::{LogRequest, NumberKind, reduce_log};

const SAMPLE_RATE_HZ: f64 = 100_000.0;

fn main() {
    let mut samples: (String, Vec<f32>, Vec<f32>) = Default::default();
    for request in std::io::stdin().lines() {
        let request = request.expect("a line of text");
        let words: Vec<&str> = request.split_whitespace().collect();
        let (begun, reduced) = match words[..] {
            ["file", threads, path] => {
                let raw = path.ends_with(".f32");
                let columns = [("current_a", "2"), ("voltage_v", "3")].map(|(a, b)| (a.to_owned(), b.to_owned()));
                let request = LogRequest {
                    threads: threads.parse().expect("a number of threads"),
                    raw: raw.then_some(NumberKind::F32),
                    record_numbers: raw.then_some(3),
                    sample_rate_hz: raw.then_some(SAMPLE_RATE_HZ),
                    columns: if raw { columns.into() } else { Default::default() },
                    ..LogRequest::default()
                };
                (Instant::now(), reduce_log(Path::new(path), &request, &AtomicU64::new(0)).expect("a log"))
            }
            ["memory", path] => {
                if samples.0 != path {
                    let bytes = std::fs::read(path).expect("a file");
                    let of = |at: usize| {
                        bytes
                            .chunks_exact(12)
                            .map(move |r| f32::from_le_bytes([r[at], r[at + 1], r[at + 2], r[at + 3]]))
                    };
                    samples = (path.to_owned(), of(4).collect(), of(8).collect());
                }
                let begun = Instant::now();
                let mut reducer = Reducer::new(ReduceSettings::usual(SAMPLE_RATE_HZ));
                reducer.push(&samples.1, &samples.2);
                (begun, reducer.finish().expect("a weld"))
            }
            _ => panic!("'{request}': wanted 'file THREADS PATH' or 'memory PATH'"),
        };
        let milliseconds = begun.elapsed().as_secs_f64() * 1e3;
        println!("{milliseconds} {}", reduced.pulsed.map_or(0, |p| p.pulses));
        std::io::stdout().flush().expect("somebody who listens");
    }
}

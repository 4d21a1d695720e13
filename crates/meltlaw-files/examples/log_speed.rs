//! How long logs take, asked for by whoever times them beside another library: `tests/benchmark_logs.py`.
//!
//! Each line of the input is one request, answered by one line of milliseconds and of what was found:
//! `file THREADS PATH` reads and reduces a log, `folder THREADS PATH` all logs in a folder, `memory PATH` reduces records
//! of three singles that are kept in memory.
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;
use std::time::Instant;

use meltlaw::reduce::{ReduceSettings, Reduced, Reducer};
use meltlaw_files::{Inputs, LogOptions, LogRequest, LogTable, NamedLog, NumberKind, WhereItStands, reduce_log};
use serde_json::json;

const SAMPLE_RATE_HZ: f64 = 100_000.0;

fn main() {
    let mut samples: (String, Vec<f32>, Vec<f32>) = Default::default();
    for request in std::io::stdin().lines() {
        let request = request.expect("a line of text");
        let words: Vec<&str> = request.split_whitespace().collect();
        let (begun, reduced) = match words[..] {
            ["file", threads, path] => {
                let request = request_for(path, threads);
                (Instant::now(), reduce_log(Path::new(path), &request, &AtomicU64::new(0)).expect("a log"))
            }
            ["folder", threads, path] => {
                let logs = std::fs::read_dir(path).expect("a folder").map(|log| log.expect("a log").path());
                let mut logs: Vec<PathBuf> = logs.collect();
                logs.sort();
                let table = Path::new(path).with_extension("rows.csv");
                let named = |(k, path): (usize, PathBuf)| NamedLog {
                    trial: k.to_string(),
                    path,
                    options: LogOptions::default(),
                };
                let logs: Vec<NamedLog> = logs.into_iter().enumerate().map(named).collect();
                let begun = Instant::now();
                let mut table = LogTable::open(&table, WhereItStands::Replace, Inputs::default()).expect("a journal");
                let rows = table.reduce(&logs, &request_for(path, threads), |_| ()).expect("a journal");
                (begun, rows.first().and_then(|row| row.reduced()).expect("a weld").clone())
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
            _ => panic!("'{request}': wanted 'file THREADS PATH', 'folder THREADS PATH' or 'memory PATH'"),
        };
        println!("{} {}", begun.elapsed().as_secs_f64() * 1e3, row(&reduced));
        std::io::stdout().flush().expect("somebody who listens");
    }
}

/// Formats with columns are read as the other side reads them: current and voltage, the sample rate known.
fn request_for(path: &str, threads: &str) -> LogRequest {
    let raw = path.ends_with(".f32");
    let columns = [("current_a", "2"), ("voltage_v", "3")].map(|(a, b)| (a.to_owned(), b.to_owned()));
    LogRequest {
        threads: threads.parse().expect("a number of threads"),
        raw: raw.then_some(NumberKind::F32),
        record_numbers: raw.then_some(3),
        sample_rate_hz: (raw || path.ends_with(".parquet")).then_some(SAMPLE_RATE_HZ),
        columns: if raw { columns.into() } else { Default::default() },
        ..LogRequest::default()
    }
}

fn row(r: &Reduced) -> serde_json::Value {
    let p = r.pulsed.as_ref();
    json!({
        "window": r.window_s,
        "pulses": p.map_or(0, |p| p.pulses),
        "short_circuits": r.short_circuits,
        "current_mean_a": r.current_mean_a.value,
        "current_rms_a": r.current_rms_a.value,
        "voltage_mean_v": r.voltage_mean_v.value,
        "power_mean_w": r.power_mean_w.value,
        "pulse_current_a": p.map(|p| p.pulse_current_a.value),
        "background_current_a": p.map(|p| p.background_current_a.value),
        "pulse_time_ms": p.map(|p| p.pulse_time_ms.value),
    })
}

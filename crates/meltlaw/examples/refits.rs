//! How long refits take: prints one JSON object with the median seconds of each job after a warm-up and the
//! standard deviations of the refitted coefficients, for `tests/benchmark_refits.py`.
//!
//! `cargo run --release -p meltlaw --example refits TABLE.csv [--runs N] [--replicates N] [--general N]`
//!
//! The table is one of `datasets/lab70/` or any other with the same columns; errors are those of that lab: gain
//! 0.8 %, feed 0.4 %, extension 0.15 mm, settings exact. `--general N` also times N refits with trial scatter.
#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs, reason = "a program for people at a bench")]

use std::time::Instant;

use meltlaw::fit::burn_off;
use meltlaw::fit::errors_in_variables::{Observation, ReadingError};
use meltlaw::fit::newton::minimise;
use meltlaw::fit::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use meltlaw::fit::resampling::{self, BurnOffRequest, DetachmentRequest, Replicates, Scatter, Truth};
use meltlaw::statistics::GaussHermite;
use meltlaw::study::BurnOffForm;
use serde_json::json;

struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    fn read(path: &str) -> Self {
        let text = std::fs::read_to_string(path).unwrap();
        let mut lines = text.lines().map(|l| l.split(',').map(str::to_owned).collect::<Vec<_>>());
        Self { header: lines.next().unwrap(), rows: lines.collect() }
    }

    fn column(&self, name: &str) -> Vec<f64> {
        let at = self.header.iter().position(|h| h == name).unwrap();
        self.rows.iter().map(|r| r[at].parse().unwrap()).collect()
    }
}

fn observations(table: &Table) -> Vec<Observation> {
    let column = |name: &str| table.column(name);
    let (feed, mean, rms) = (column("wire_feed_m_min"), column("current_mean_a"), column("current_rms_a"));
    let (ctwd, arc) = (column("ctwd_mm"), column("arc_length_mm"));
    (0..feed.len())
        .map(|i| Observation {
            y: feed[i] / 0.06,
            y_se: 0.004 * feed[i] / 0.06,
            row: [mean[i], rms[i], ctwd[i] - arc[i], 0.0],
            errors: vec![
                ReadingError { standard_deviation: 0.008, direction: [mean[i], rms[i], 0.0, 0.0] },
                ReadingError { standard_deviation: 0.15, direction: [0.0, 0.0, 1.0, 0.0] },
            ],
        })
        .collect()
}

fn counted(table: &Table) -> Vec<CountedTrial> {
    let column = |name: &str| table.column(name);
    let (current, time) = (column("pulse_current_a"), column("pulse_time_ms"));
    let classes = ["pulses_without_drop", "pulses_with_one_drop", "pulses_with_more_drops"].map(column);
    (0..current.len())
        .map(|i| CountedTrial {
            log_current: (current[i] / 400.0).ln(),
            log_time: time[i].ln(),
            unknown: [0.0; 3],
            count: Count::Classes { none: classes[0][i], one: classes[1][i], more: classes[2][i] },
        })
        .collect()
}

fn spread<const N: usize>(found: &Replicates<N>, count: usize) -> Vec<f64> {
    let n = found.fitted.len() as f64;
    (0..count)
        .map(|i| {
            let mean = found.fitted.iter().map(|r| r.coefficients[i]).sum::<f64>() / n;
            (found.fitted.iter().map(|r| (r.coefficients[i] - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
        })
        .collect()
}

/// Median seconds of `runs` calls after one that warms up, and the last result.
fn timed<T>(runs: usize, job: impl Fn() -> T) -> (f64, T) {
    let mut last = job();
    let mut seconds: Vec<f64> = (0..runs)
        .map(|_| {
            let begun = Instant::now();
            last = job();
            begun.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_by(f64::total_cmp);
    (seconds[runs / 2], last)
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let option = |name: &str, usual: usize| {
        arguments.iter().position(|a| a == name).map_or(usual, |i| arguments[i + 1].parse().unwrap())
    };
    let (runs, replicates) = (option("--runs", 7).max(1), option("--replicates", 2000));
    let table = Table::read(&arguments[0]);

    let observations = observations(&table);
    let fit = burn_off::fit(BurnOffForm::Proportional, &observations).unwrap();
    let request = BurnOffRequest { replicates, seed: 1, truth: Truth::Readings, feed_error_in_proportion: true };
    let (burn_seconds, burn) =
        timed(runs, || resampling::burn_off(BurnOffForm::Proportional, &observations, &fit, request));

    let trials = counted(&table);
    let rule = GaussHermite::new(31);
    let fixed = [2.0, 8.0_f64.ln(), 0.56, 0.82_f64.ln(), f64::NEG_INFINITY];
    let likelihood = Likelihood {
        trials: &trials,
        rule: &rule,
        thresholds: Thresholds::Both,
        with_unknown: false,
        free: vec![0, 1, 2, 3],
        fixed,
    };
    let found = minimise(&likelihood, &fixed[..4], 1.0);
    assert!(found.converged);
    let q = [found.x[0], found.x[1], found.x[2], found.x[3], f64::NEG_INFINITY];
    let request = DetachmentRequest { replicates, seed: 1, scatter: Scatter::Held };
    let (logit_seconds, logit) = timed(runs, || resampling::detachment(&trials, &q, request));

    let mut out = json!({
        "trials": trials.len(),
        "threads": rayon::current_num_threads(),
        "replicates": replicates,
        "burn_off": {
            "median_s": burn_seconds, "coefficients": fit.b, "sd": spread(&burn, 2), "failed": burn.failed.len(),
        },
        "detachment": {
            "median_s": logit_seconds, "coefficients": &q[..4], "sd": spread(&logit, 4), "failed": logit.failed.len(),
        },
    });
    let general = option("--general", 0);
    if general > 0 {
        let mut q = q;
        q[4] = 0.03_f64.ln();
        let request = DetachmentRequest { replicates: general, seed: 1, scatter: Scatter::Refitted };
        let (seconds, found) = timed(1, || resampling::detachment(&trials, &q, request));
        out["detachment_with_scatter"] =
            json!({ "median_s": seconds, "replicates": general, "failed": found.failed.len() });
    }
    println!("{out}");
}

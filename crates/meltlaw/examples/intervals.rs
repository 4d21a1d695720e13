//! Which interval of the detachment law holds its truth? Student's t with the trial scatter by the adjusted
//! likelihood (what the program gives) or by maximum likelihood, the profile likelihood, and percentiles of
//! parametric refits, on the same invented labs.
//!
//! `cargo run --release -p meltlaw --example intervals [labs] [replicates] [seed]`
#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs, reason = "a program for people at a bench")]

use meltlaw::fit::detachment::{self, DetachmentFit, Outcome};
use meltlaw::fit::profile::profiles;
use meltlaw::fit::resampling::{self, DetachmentRequest, Scatter};
use meltlaw::statistics::{interval_of, student_t_quantile};
use meltlaw::study::ScatterFrom;
use meltlaw::virtual_bench::Kind;
use rayon::prelude::*;

const METHODS: [&str; 4] = ["t, adjusted", "t, maximum likelihood", "profile", "refits, percentiles"];
const NAMES: [&str; 4] = ["exponent", "steepness", "one drop from", "more drops from"];

/// Ends of the 95 % interval of n, ln k, s1, s2 by each method.
type Ends = [[Option<[f64; 2]>; 4]; 4];

fn main() {
    let arguments: Vec<u64> = std::env::args().skip(1).map(|a| a.parse().unwrap()).collect();
    let at = |i: usize, usual: u64| arguments.get(i).copied().unwrap_or(usual);
    let (labs, replicates, seed) = (at(0, 500), at(1, 200), at(2, 1));
    println!("{labs} invented labs of each kind, {replicates} refits of each, seed {seed}; 95 % intervals, per cent");
    println!("that hold the truth (mean width over that of the first method)\n");
    for kind in [Kind::Steel, Kind::Small, Kind::Overdispersed] {
        let all: Vec<([f64; 4], Ends)> =
            (0..labs).into_par_iter().filter_map(|number| one(kind, seed, number, replicates as usize)).collect();
        println!("{}, {} labs fitted", kind.name(), all.len());
        println!("  {:16} {}", "", METHODS.map(|m| format!("{m:>24}")).join(""));
        for (place, name) in NAMES.iter().enumerate() {
            let width = |method: usize| {
                let widths: Vec<f64> = all.iter().filter_map(|(_, e)| e[method][place]).map(|[l, h]| h - l).collect();
                widths.iter().sum::<f64>() / widths.len() as f64
            };
            let cells: Vec<String> = (0..METHODS.len())
                .map(|method| {
                    let held = all
                        .iter()
                        .filter(|(truth, e)| {
                            e[method][place].is_some_and(|[l, h]| l <= truth[place] && truth[place] <= h)
                        })
                        .count();
                    format!("{:14.1} ({:6.3}) ", 100.0 * held as f64 / all.len() as f64, width(method) / width(0))
                })
                .collect();
            println!("  {name:16} {}", cells.join(""));
        }
        println!();
    }
}

fn one(kind: Kind, seed: u64, number: u64, replicates: usize) -> Option<([f64; 4], Ends)> {
    let lab = kind.lab(seed, number);
    let selection = detachment::select(&lab.study, &lab.trials);
    let fitted = |from| match detachment::fit(&selection, 0.95, from, None) {
        Outcome::Fitted(fit) => Some(*fit),
        Outcome::Bounded(_) => None,
    };
    let (adjusted, likely) = (fitted(ScatterFrom::AdjustedLikelihood)?, fitted(ScatterFrom::Likelihood)?);
    let t = lab.truth.detachment();
    let truth = [t.exponent, t.steepness.ln(), t.one_drop_s, t.more_drops_s];
    let log = |ends: [Option<f64>; 2], place: usize| -> Option<[f64; 2]> {
        let read = |x: f64| if place == 0 { x } else { x.ln() };
        Some([read(ends[0]?), read(ends[1]?)])
    };
    let mut by_profile = [None; 4];
    for (place, profile) in profiles(&adjusted, 0.95).iter().enumerate() {
        by_profile[place] = log(profile.interval, place);
    }
    Some((truth, [by_t(&adjusted), by_t(&likely), by_profile, by_refits(&adjusted, replicates, number)]))
}

fn scale(q: &[f64; 5]) -> [f64; 4] {
    [q[0], q[1], q[2], q[2] + q[3].exp()]
}

fn by_t(fit: &DetachmentFit) -> [Option<[f64; 2]>; 4] {
    let t = student_t_quantile(0.975, fit.degrees_of_freedom as f64);
    let (c, gap) = (&fit.covariance_q, fit.q[3].exp());
    let variance = [c[(0, 0)], c[(1, 1)], c[(2, 2)], c[(2, 2)] + 2.0 * gap * c[(2, 3)] + gap * gap * c[(3, 3)]];
    let values = scale(&fit.q);
    std::array::from_fn(|i| {
        let half = t * variance[i].sqrt();
        Some([values[i] - half, values[i] + half])
    })
}

fn by_refits(fit: &DetachmentFit, replicates: usize, seed: u64) -> [Option<[f64; 2]>; 4] {
    let request = DetachmentRequest { replicates, seed, scatter: Scatter::Held };
    let refits = resampling::detachment(&fit.trials, &fit.q, request);
    let rows: Vec<[f64; 4]> = refits.fitted.iter().map(|r| scale(&r.coefficients)).collect();
    std::array::from_fn(|i| {
        let mut column: Vec<f64> = rows.iter().map(|r| r[i]).collect();
        (column.len() > 40).then(|| interval_of(&mut column, 0.95))
    })
}

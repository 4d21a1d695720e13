//! What the optimum along the line gains over the midpoint rule, and what that costs, on invented wires.
//!
//! `cargo run --release -p meltlaw --example gains -- --labs 20 --markdown tests/gains.md`
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::fmt::Write as _;

use meltlaw::compose::{compose, settings_at};
use meltlaw::fit::{FittedStudy, fit_laws};
use meltlaw::line::Line;
use meltlaw::materials::Material;
use meltlaw::study::{ComposingRule, Study};
use meltlaw::virtual_bench::{self, Size, Truth};

/// A wire: name, material, diameter, metal section where cored.
const WIRES: [(&str, Material, f64, Option<f64>); 8] = [
    ("steel 0.8 mm", Material::CarbonSteel, 0.8, None),
    ("steel 1.0 mm", Material::CarbonSteel, 1.0, None),
    ("steel 1.2 mm", Material::CarbonSteel, 1.2, None),
    ("stainless 1.0 mm", Material::StainlessSteel, 1.0, None),
    ("stainless 1.2 mm", Material::StainlessSteel, 1.2, None),
    ("aluminium 1.2 mm", Material::Aluminium, 1.2, None),
    ("aluminium 1.6 mm", Material::Aluminium, 1.6, None),
    ("cored steel 1.2 mm", Material::CarbonSteel, 1.2, Some(0.9)),
];

/// What is told of a line, on the feeds that both rules have where it says so.
#[derive(Clone, Copy, Default)]
struct Told {
    usable_m_min: f64,
    smallest_bound: f64,
    drop_off_percent: f64,
    current_off_percent: f64,
    steepest_percent: f64,
    nodes: f64,
}

fn main() {
    let mut labs = 20;
    let mut file = None;
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match (argument.as_str(), arguments.next()) {
            ("--labs", Some(n)) => labs = n.parse().expect("a number of labs"),
            ("--markdown", Some(path)) => file = Some(path),
            (other, _) => panic!("unknown argument {other}: --labs N, --markdown FILE"),
        }
    }
    let mut text = String::from(
        "# What the optimum gains over the midpoint rule\n\n\
         Medians over invented labs (36 burn-off and 30 detachment trials each), asked from 0.8 times the lowest to 1.3 \
         times the highest feed of the trials; made by `cargo run --release -p meltlaw --example gains -- --markdown \
         tests/gains.md`. `limits`: background 8 to 38 % of the reference current, duty at most 0.3. Each cell: midpoint → \
         optimum. Lower bound, drop and current: over the feeds that both rules have; the steepest setting is the largest \
         change of pulse current, pulse time or drop diameter per m/min.\n\n\
         | wire | usable, m/min | smallest lower bound of one drop | drop off target, % at most | pulse current off best known, % at most | steepest, % per m/min | nodes |\n|---|---|---|---|---|---|---|\n",
    );
    for limits in [false, true] {
        for (name, material, diameter, section) in WIRES {
            let told: Vec<[Told; 2]> = (0..labs).map(|lab| one_lab(material, diameter, section, limits, lab)).collect();
            let median = |rule: usize, of: fn(&Told) -> f64| {
                let mut all: Vec<f64> = told.iter().map(|t| of(&t[rule])).collect();
                all.sort_by(f64::total_cmp);
                all[all.len() / 2]
            };
            let cell = |of: fn(&Told) -> f64, digits: usize| {
                format!("{:.digits$} → {:.digits$}", median(0, of), median(1, of))
            };
            let _ = writeln!(
                text,
                "| {name}{} | {} | {} | {} | {} | {} | {} |",
                if limits { ", limits" } else { "" },
                cell(|t| t.usable_m_min, 2),
                cell(|t| t.smallest_bound, 3),
                cell(|t| t.drop_off_percent, 1),
                cell(|t| t.current_off_percent, 1),
                cell(|t| t.steepest_percent, 0),
                cell(|t| t.nodes, 0),
            );
        }
    }
    print!("{text}");
    if let Some(path) = file {
        std::fs::write(path, text).expect("a file that can be written");
    }
}

fn one_lab(material: Material, diameter: f64, section: Option<f64>, limits: bool, lab: u64) -> [Told; 2] {
    let mut study = virtual_bench::study(virtual_bench::wire(material, diameter, section));
    let truth = Truth::of_wire(&study.wire);
    let size = Size { burn_off: 36, detachment: 30, pulses: 150 };
    let fitted = fit_laws(&study, &virtual_bench::trials(&study, &truth, size, 5, lab));
    let [low, high] = truth.wire_feed_m_min;
    study.line.wire_feed_m_min = [0.8 * low, 1.3 * high];
    if limits {
        let reference = study.reference_current_a();
        study.source.background_current_a = Some([0.08 * reference, 0.38 * reference]);
        study.source.pulse_duty = Some([0.02, 0.3]);
    }
    let studies = [ComposingRule::Midpoint, ComposingRule::Optimised].map(|rule| {
        let mut study = study.clone();
        study.line.composing = rule;
        study
    });
    let lines = studies.each_ref().map(|s| compose(s, &fitted.laws, &fitted.calibration));
    let mut told = lines.each_ref().map(|line| Told {
        usable_m_min: line.composing.as_ref().map_or(0.0, |c| c.usable_m_min),
        nodes: line.nodes.len() as f64,
        smallest_bound: 1.0,
        ..Told::default()
    });
    on_common_feeds(&studies, &fitted, &lines, &mut told);
    told
}

/// Fills in what is told on the feeds that both rules have, every 0.05 m/min.
fn on_common_feeds(studies: &[Study; 2], fitted: &FittedStudy, lines: &[Line; 2], told: &mut [Told; 2]) {
    let [low, high] = studies[0].line.wire_feed_m_min;
    let feeds: Vec<f64> = (0..).map(|i| low + 0.05 * f64::from(i)).take_while(|f| *f <= high).collect();
    let [a, b] = studies.each_ref().map(|s| settings_at(s, &fitted.laws, &fitted.calibration, &feeds));
    let reference = studies[0].reference_current_a();
    let best = reference * fitted.laws.detachment.mean_log_pulse_current.unwrap_or(0.0).exp();
    let target = studies[0].line.drop_to_wire_ratio * studies[0].wire.diameter_mm;
    let mut before: [Option<(f64, [f64; 3])>; 2] = [None, None];
    for ((feed, a), b) in feeds.iter().zip(&a).zip(&b) {
        let (Ok(a), Ok(b)) = (a, b) else {
            before = [None, None];
            continue;
        };
        for (rule, c) in [a, b].into_iter().enumerate() {
            let t = &mut told[rule];
            t.drop_off_percent = t.drop_off_percent.max(100.0 * (c.drop_diameter_mm / target - 1.0).abs());
            t.current_off_percent = t.current_off_percent.max(100.0 * (c.wave.pulse_current_a / best - 1.0).abs());
            let now = [c.wave.pulse_current_a.ln(), c.wave.pulse_time_ms.ln(), c.drop_diameter_mm.ln()];
            if let Some((at, last)) = before[rule] {
                let step = now.iter().zip(last).map(|(n, l)| (n - l).abs()).fold(0.0, f64::max);
                t.steepest_percent = t.steepest_percent.max(100.0 * step / (feed - at));
            }
            before[rule] = Some((*feed, now));
            t.smallest_bound = t.smallest_bound.min(bound_at(&lines[rule], *feed));
        }
    }
}

/// The lower bound of the one-drop probability between the nodes of a line.
fn bound_at(line: &Line, feed: f64) -> f64 {
    let upper = line.nodes.partition_point(|n| n.wire_feed_m_min < feed);
    let node = |i: usize| line.nodes.get(i).map(|n| (n.wire_feed_m_min, n.one_drop_probability.interval[0]));
    match (upper.checked_sub(1).and_then(node), node(upper)) {
        (Some((a, p)), Some((b, q))) => p + (q - p) * (feed - a) / (b - a),
        (one, other) => one.or(other).map_or(1.0, |(_, p)| p),
    }
}

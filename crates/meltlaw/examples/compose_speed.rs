//! How long composing takes: `cargo run --release -p meltlaw --example compose_speed`.
//!
//! Both rules, 2000 draws, an invented steel wire with limits that bind, nodes every 0.5 and every 0.03 m/min.
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::time::Instant;

use meltlaw::compose::compose;
use meltlaw::fit::fit_laws;
use meltlaw::materials::Material;
use meltlaw::study::ComposingRule;
use meltlaw::virtual_bench::{self, Size, Truth};

fn main() {
    let mut study = virtual_bench::study(virtual_bench::wire(Material::CarbonSteel, 1.2, None));
    let truth = Truth::of_wire(&study.wire);
    let size = Size { burn_off: 36, detachment: 30, pulses: 150 };
    let fitted = fit_laws(&study, &virtual_bench::trials(&study, &truth, size, 1, 0));
    study.line.wire_feed_m_min = [3.0, 9.0];
    study.source.background_current_a = Some([25.0, 160.0]);
    study.numerics.draws = 2000;
    for composing in [ComposingRule::Midpoint, ComposingRule::Optimised] {
        for step in [0.5, 0.03] {
            study.line.composing = composing;
            study.line.step_m_min = step;
            let mut times: Vec<f64> = Vec::new();
            let mut nodes = 0;
            for _ in 0..11 {
                let start = Instant::now();
                nodes = compose(&study, &fitted.laws, &fitted.calibration).nodes.len();
                times.push(1000.0 * start.elapsed().as_secs_f64());
            }
            times.sort_by(f64::total_cmp);
            println!("{}: {nodes} nodes, median {:.1} ms, fastest {:.1} ms", composing.word(), times[5], times[0]);
        }
    }
}

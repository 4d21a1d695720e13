//! How long a report takes to draw and how large it is:
//! `cargo run --release -p meltlaw-report --example draw_speed [FOLDER]`.
//!
//! An invented steel wire of the virtual bench with 70 and with 300 trials; pages are kept in FOLDER.
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::time::Instant;

use meltlaw::cautions::cautions;
use meltlaw::develop;
use meltlaw::materials::Material;
use meltlaw::record::{Provenance, StudyReference};
use meltlaw::virtual_bench::{self, Size, Truth};
use meltlaw_report::{ReportInput, draw};

fn main() {
    let folder = std::env::args().nth(1);
    let mut study = virtual_bench::study(virtual_bench::wire(Material::CarbonSteel, 1.2, None));
    study.line.wire_feed_m_min = [3.0, 9.0];
    study.line.travel_speed_mm_s = Some(7.0);
    study.numerics.draws = 2000;
    let truth = Truth::of_wire(&study.wire);
    let cautions = cautions(&[Material::CarbonSteel]);
    let provenance = Provenance {
        tool: "draw_speed".to_owned(),
        study: StudyReference { file: "study.toml".to_owned(), sha256: "53b2".repeat(16) },
        inputs: Vec::new(),
        seed: 1,
        draws: study.numerics.draws,
    };
    for (burn_off, detachment) in [(36, 34), (160, 140)] {
        let size = Size { burn_off, detachment, pulses: 150 };
        let trials = virtual_bench::trials(&study, &truth, size, 1, 0);
        let laws = develop::laws(&study, &trials).expect("a good lab passes the checks");
        let line = develop::line(&study, &laws, "f2741e8b");
        let input = ReportInput {
            laws: &laws,
            line: &line,
            trials: &trials,
            provenance: &provenance,
            cautions: &cautions,
            checksum_laws: "f2741e8b",
            checksum_line: "c3cae89a",
        };
        let mut times: Vec<f64> = Vec::new();
        let mut bytes = 0;
        for _ in 0..21 {
            let start = Instant::now();
            let report = draw(&input);
            times.push(1000.0 * start.elapsed().as_secs_f64());
            bytes = report.html.len();
            if let (1, Some(folder)) = (times.len(), &folder) {
                let file = format!("{folder}/report_{}.html", trials.rows.len());
                std::fs::write(file, &report.html).expect("the folder can be written to");
            }
        }
        times.sort_by(f64::total_cmp);
        println!(
            "{} trials, {} nodes: {bytes} bytes, median {:.1} ms, fastest {:.1} ms",
            trials.rows.len(),
            line.line.nodes.len(),
            times[10],
            times[0]
        );
    }
}

//! The recovery study: do the program's numbers tell the truth? Invented laboratories whose laws are known
//! are fitted and their lines composed as the program does; every interval is held against the truth, and
//! every planted fault against what the program warns of.
//!
//! ```text
//! cargo run --release -p meltlaw --example recovery -- [--labs N] [--kind NAME]... [--seed S]
//!     [--threads N] [--markdown FILE]
//! ```
//!
//! Results depend on the seed alone, not on the number of threads or on which kinds run.
#![allow(clippy::print_stdout, clippy::print_stderr, clippy::exit, reason = "a program for people at a terminal")]

mod arguments;
mod bars;
mod table;

use std::fmt::Write;
use std::time::Instant;

use meltlaw::virtual_bench::{Kind, SupportTally, Tally, examine, examine_support};
use rayon::prelude::*;

/// Every so many labs are examined at all confidences and against the oracle: that costs three times as much,
/// and the default confidence is what the demands are about.
const THOROUGH_EVERY: u64 = 4;

/// One lab of so many composes a line beyond its trials too: each gives some twenty nodes.
const SUPPORT_EVERY: u64 = 4;

fn main() {
    let arguments = arguments::read(std::env::args().skip(1)).unwrap_or_else(|message| {
        eprintln!("{message}");
        std::process::exit(2);
    });
    if let Some(threads) = arguments.threads {
        // Fails only where the pool exists already, and nothing has used it yet.
        let _ = rayon::ThreadPoolBuilder::new().num_threads(threads).build_global();
    }
    let mut page = table::heading(&arguments);
    let mut verdicts = Vec::new();
    print!("{page}");
    for &kind in &arguments.kinds {
        let begun = Instant::now();
        let tally = Tally::new(
            (0..arguments.labs)
                .into_par_iter()
                .map(|number| examine(&kind.lab(arguments.seed, number), number % THOROUGH_EVERY == 0))
                .collect(),
        );
        let mut section = table::section(kind, &tally);
        if !kind.has_fault() {
            let labs = (0..arguments.labs / SUPPORT_EVERY).into_par_iter();
            let scored = labs.map(|number| examine_support(&kind.lab(arguments.seed, number))).collect();
            section.push_str(&table::support(&SupportTally::new(scored)));
        }
        print!("{section}");
        eprintln!("{}: {:.0} s", kind.name(), begun.elapsed().as_secs_f64());
        page.push_str(&section);
        verdicts.extend(bars::verdicts(kind, &tally));
    }
    let mut end = "\n## Bars\n\n".to_owned();
    for verdict in &verdicts {
        let _ = writeln!(end, "- {verdict}");
    }
    print!("{end}");
    page.push_str(&end);
    if let Some(file) = arguments.markdown
        && let Err(error) = std::fs::write(&file, page)
    {
        eprintln!("{}: {error}", file.display());
        std::process::exit(1);
    }
}

/// All kinds, for the message that names them.
fn kind_names() -> String {
    Kind::ALL.map(Kind::name).join(", ")
}

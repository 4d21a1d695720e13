//! Does `compare` keep its word? Invented pairs of wires whose difference is known: how often the band holds the truth
//! everywhere, and how often it says `alike` or `different` where the truth lies at the margin.
//!
//! `cargo run --release -p meltlaw --example comparisons -- --pairs 1000 --markdown tests/comparison.md`
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::fmt::Write as _;

use meltlaw::compare::laws::Verdict;
use meltlaw::study::Margins;
use meltlaw::virtual_bench::{COMPARED, Difference, Said, Scatter, Setup, Size, compared_pair};
use rayon::prelude::*;

fn main() {
    let mut pairs = 200;
    let mut file = None;
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match (argument.as_str(), arguments.next()) {
            ("--pairs", Some(n)) => pairs = n.parse().expect("a number of pairs"),
            ("--markdown", Some(path)) => file = Some(path),
            (other, _) => panic!("unknown argument {other}: --pairs N, --markdown FILE"),
        }
    }
    let many = Size { burn_off: 24, detachment: 20, pulses: 150 };
    let few = Size { burn_off: 8, detachment: 10, pulses: 150 };
    let exact = [0.0; 3];
    let instruments = [0.005, 0.003, 0.1];
    let plain = Setup { size: many, instruments: exact, same: false, batches: 1, between: Scatter::default() };
    let between = Scatter { relative: 0.005, voltage_v: 0.1 };
    let setups = [
        ("24 and 20 trials of each, exact instruments", plain),
        ("8 and 10 trials of each, exact instruments", Setup { size: few, ..plain }),
        ("24 and 20 trials, instruments of their own", Setup { instruments, ..plain }),
        ("24 and 20 trials, the same instruments", Setup { instruments, same: true, ..plain }),
        (
            "four batches of each wire that scatter by 0.5 % and 0.1 V, 24 and 20 trials of each",
            Setup { batches: 4, between, ..plain },
        ),
    ];
    let mut text = format!(
        "# Does compare keep its word?\n\n\
         Invented pairs of steel wires of 1.2 mm whose true difference is known and the same everywhere: nothing, half the margins, the \
         margins (2 %, 5 %, 0.5 V), twice the margins; {pairs} pairs each. `holds`: the 90 % band holds the truth at every \
         place. `alike` and `different` are verdicts; at one margin and beyond `alike` is false, up to one margin `different` \
         is. `not zero`: zero is left out somewhere. Instruments: standard uncertainties of 0.5 % of current, 0.3 % of feed, 0.1 V, \
         stated and drawn. Shares in per cent. Made by `cargo run --release -p meltlaw --example comparisons -- --pairs \
         {pairs} --markdown tests/comparison.md`.\n"
    );
    for (name, setup) in setups {
        let _ = writeln!(
            text,
            "\n## {name}\n\n| quantity | truth in margins | holds | alike | different | undecided | not zero |\n|---|---|---|---|---|---|---|"
        );
        for times in [0.0, 0.5, 1.0, 2.0] {
            let difference = Difference::of_margins(&Margins::default(), times);
            let said: Vec<[Option<Said>; 4]> =
                (0..pairs).into_par_iter().map(|number| compared_pair(&difference, &setup, 7, number)).collect();
            for (place, quantity) in COMPARED.iter().enumerate() {
                let of: Vec<Said> = said.iter().filter_map(|s| s[place]).collect();
                let share =
                    |is: &dyn Fn(&Said) -> bool| 100.0 * of.iter().filter(|s| is(s)).count() as f64 / of.len() as f64;
                let _ = writeln!(
                    text,
                    "| {quantity} | {times} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} |",
                    share(&|s| s.holds),
                    share(&|s| s.verdict == Verdict::Alike),
                    share(&|s| s.verdict == Verdict::Different),
                    share(&|s| s.verdict == Verdict::Undecided),
                    share(&|s| s.differs_from_zero)
                );
            }
        }
    }
    print!("{text}");
    if let Some(file) = file {
        std::fs::write(file, text).expect("the page can be written");
    }
}

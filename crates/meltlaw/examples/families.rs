//! Do extended laws tell the truth? Invented families of wires of which one diameter is not welded.
//!
//! `cargo run --release -p meltlaw --example families -- --families 400 --markdown tests/extension.md`
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::collections::BTreeMap;
use std::fmt::Write as _;

use meltlaw::virtual_bench::{Breach, Family, FamilyScored, Size, extended_family};
use rayon::prelude::*;

fn main() {
    let mut families = 100;
    let mut file = None;
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match (argument.as_str(), arguments.next()) {
            ("--families", Some(n)) => families = n.parse().expect("a number of families"),
            ("--markdown", Some(path)) => file = Some(path),
            (other, _) => panic!("unknown argument {other}: --families N, --markdown FILE"),
        }
    }
    let mut text = format!(
        "# Do extended laws tell the truth?\n\n\
         Invented families of steel wires: one process carried to several diameters by 1/A, 1/A² and the square of the \
         diameter, alpha, beta and both thresholds each 2 % off it at random, the voltage 0.1 V. Every diameter but the target is \
         welded (20 burn-off and 20 detachment trials), fitted, and the laws extended to the target; {families} families each. \
         `holds`: share of 95 % intervals that hold the truth; `half width`: median, in per cent of the truth. Made by `cargo run \
         --release -p meltlaw --example families -- --families {families} --markdown tests/extension.md`.\n"
    );
    let size = Size { burn_off: 20, detachment: 20, pulses: 150 };
    let plain = Family {
        welded_mm: vec![0.9, 1.2],
        target_mm: 1.0,
        heterogeneity_relative: 0.02,
        heterogeneity_v: 0.1,
        size,
        breach: None,
        stated_power: None,
    };
    let with = |welded: &[f64], target_mm: f64| Family { welded_mm: welded.to_vec(), target_mm, ..plain.clone() };
    let kinds = [
        ("two diameters, 0.9 and 1.2 mm, to 1.0 mm: 2 % stated", plain.clone()),
        ("three, 0.9, 1.2 and 1.4 mm, to 1.0 mm", with(&[0.9, 1.2, 1.4], 1.0)),
        ("three, the power of the diameter stated", Family { stated_power: Some(2.0), ..with(&[0.9, 1.2, 1.4], 1.0) }),
        ("three, 0.9, 1.0 and 1.2 mm, to 1.4 mm", with(&[0.9, 1.0, 1.2], 1.4)),
        ("four, 0.9, 1.1, 1.2 and 1.4 mm, to 1.0 mm", with(&[0.9, 1.1, 1.2, 1.4], 1.0)),
        ("five, 0.9, 1.1, 1.2, 1.3 and 1.4 mm, to 1.0 mm", with(&[0.9, 1.1, 1.2, 1.3, 1.4], 1.0)),
        ("five batches of 1.2 mm, to any batch", with(&[1.2; 5], 1.2)),
    ];
    let scored = |family: &Family, seed: u64| -> Vec<FamilyScored> {
        (0..families).into_par_iter().filter_map(|number| extended_family(family, 1000, seed, number).ok()).collect()
    };
    for (name, family) in &kinds {
        let all = scored(family, 17);
        let warned = all.iter().filter(|s| !s.warnings.is_empty()).count();
        let (inside, of) = all.iter().fold((0, 0), |(a, b), s| (a + s.left_out.0, b + s.left_out.1));
        let _ = writeln!(
            text,
            "\n## {name}\n\nWarned although all is well: {:.1} %.",
            100.0 * warned as f64 / all.len() as f64
        );
        if of > 0 {
            let _ = writeln!(
                text,
                "Left out and predicted from the others: {:.1} % inside.",
                100.0 * inside as f64 / of as f64
            );
        }
        let _ = writeln!(text, "\n| claim | families | holds | half width |\n|---|---|---|---|");
        let mut by_name: BTreeMap<&str, Vec<(bool, f64)>> = BTreeMap::new();
        for claim in all.iter().flat_map(|s| &s.claims) {
            by_name.entry(&claim.name).or_default().push((claim.holds(), claim.half_width()));
        }
        for (claim, found) in by_name {
            let holds = found.iter().filter(|f| f.0).count() as f64 / found.len() as f64;
            let mut widths: Vec<f64> = found.iter().map(|f| f.1).collect();
            widths.sort_by(f64::total_cmp);
            let _ = writeln!(
                text,
                "| {claim} | {} | {:.1} | {:.2} |",
                found.len(),
                100.0 * holds,
                100.0 * widths[widths.len() / 2]
            );
        }
    }
    let _ = writeln!(
        text,
        "\n## Breaches\n\nOne study does not belong. `warned`: a test says so; `named`: it names that study.\n\n| breach | warned | named |\n|---|---|---|"
    );
    let four = with(&[0.9, 1.1, 1.2, 1.4], 1.0);
    let three = with(&[0.9, 1.2, 1.4], 1.0);
    for (name, family, place) in [
        (
            "four, heat content of 1.2 mm 12 % less",
            Family { breach: Some((2, Breach::HeatContent(1.12))), ..four.clone() },
            2,
        ),
        (
            "four, heat content of 0.9 mm 12 % more",
            Family { breach: Some((0, Breach::HeatContent(0.88))), ..four.clone() },
            0,
        ),
        (
            "three, heat content of 1.2 mm 15 % less",
            Family { breach: Some((1, Breach::HeatContent(1.15))), ..three.clone() },
            1,
        ),
        ("four, 1.2 mm labelled, 1.0 mm welded", Family { breach: Some((2, Breach::Labelled(1.0))), ..four }, 2),
        ("three, 1.2 mm labelled, 1.0 mm welded", Family { breach: Some((1, Breach::Labelled(1.0))), ..three }, 1),
    ] {
        let all = scored(&family, 23);
        let odd = format!("study {place}");
        let share =
            |is: &dyn Fn(&FamilyScored) -> bool| 100.0 * all.iter().filter(|s| is(s)).count() as f64 / all.len() as f64;
        let _ = writeln!(
            text,
            "| {name} | {:.1} | {:.1} |",
            share(&|s| !s.warnings.is_empty()),
            share(&|s| s.named.contains(&odd))
        );
    }
    print!("{text}");
    if let Some(file) = file {
        std::fs::write(file, text).expect("the page can be written");
    }
}

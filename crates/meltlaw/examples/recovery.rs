//! Do the fits tell the truth? Welds invented laboratories whose laws are known and counts how often the
//! 95 % intervals hold them.
//!
//! `cargo run --release -p meltlaw --example recovery [labs] [burn-off trials] [detachment trials] [pulses] [scatter] [seed]`
#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs, reason = "a program for people at a bench")]

#[path = "../tests/lab/mod.rs"]
mod lab;

use std::collections::BTreeMap;

use meltlaw::fit::fit_laws;
use meltlaw::materials::Material;
use rayon::prelude::*;

fn main() {
    let arguments: Vec<f64> = std::env::args().skip(1).map(|a| a.parse().unwrap()).collect();
    let at = |i: usize, usual: f64| arguments.get(i).copied().unwrap_or(usual);
    let labs = at(0, 500.0) as u64;
    let size =
        lab::Size { burn_off: at(1, 40.0) as usize, detachment: at(2, 30.0) as usize, pulses: at(3, 150.0) as usize };
    let study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    let truth = lab::Truth { scatter: at(4, 0.03), ..lab::STEEL };
    let t = truth;
    let expected: BTreeMap<&str, f64> = [
        ("burn_off.alpha_mm_per_a_s", t.alpha),
        ("burn_off.beta_per_a2_s", t.beta),
        ("detachment.exponent", t.exponent),
        ("detachment.steepness", t.steepness),
        ("detachment.one_drop_from_ms", t.one_ms),
        ("detachment.more_drops_from_ms", t.more_ms),
        ("detachment.trial_scatter", t.scatter),
        ("arc_voltage.intercept_v", t.voltage[0]),
        ("arc_voltage.slope_ohm", t.voltage[1]),
        ("arc_voltage.gradient_v_per_mm", t.voltage[2]),
        ("arc_voltage.extension_ohm_per_mm", t.voltage[3]),
    ]
    .into_iter()
    .collect();
    let found: Vec<BTreeMap<String, (f64, f64, [f64; 2])>> = (0..labs)
        .into_par_iter()
        .map(|lab| {
            let trials = lab::trials(&study, &truth, size, at(5, 1.0) as u64, lab);
            let fitted = fit_laws(&study, &trials);
            let mut out = BTreeMap::new();
            for (name, law) in fitted.laws.by_name() {
                if let Some(chi) = law.chi_squared_per_degree {
                    out.insert(format!("{name}.chi"), (chi, 1.0, [0.0; 2]));
                }
                if !law.ended.usable || (name == "arc_voltage" && law.form != "current_arc_extension") {
                    continue;
                }
                for (k, c) in &law.coefficients {
                    let (Some(value), [Some(low), Some(high)]) = (c.value, c.interval) else { continue };
                    out.insert(format!("{name}.{k}"), (value, c.standard_error.unwrap_or(f64::NAN), [low, high]));
                }
            }
            out
        })
        .collect();
    println!("{labs} labs of {size:?}, scatter {}", truth.scatter);
    println!(
        "{:34} {:>6} {:>9} {:>10} {:>9} {:>9} {:>9} {:>8}",
        "coefficient", "labs", "coverage", "bias/se", "z spread", "below", "above", "width"
    );
    for (name, truth) in &expected {
        let rows: Vec<&(f64, f64, [f64; 2])> = found.iter().filter_map(|f| f.get(*name)).collect();
        let n = rows.len() as f64;
        let below = rows.iter().filter(|r| r.2[1] < *truth).count() as f64;
        let above = rows.iter().filter(|r| r.2[0] > *truth).count() as f64;
        let z: Vec<f64> = rows.iter().filter(|r| r.1 > 0.0).map(|r| (r.0 - truth) / r.1).collect();
        let mean = z.iter().sum::<f64>() / z.len() as f64;
        let spread = (z.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / z.len() as f64).sqrt();
        let mut widths: Vec<f64> = rows.iter().map(|r| (r.2[1] - r.2[0]) / truth).collect();
        println!(
            "{name:34} {n:6} {:8.1}% {mean:10.3} {spread:9.3} {:8.1}% {:8.1}% {:8.3}",
            100.0 * (n - below - above) / n,
            100.0 * below / n,
            100.0 * above / n,
            meltlaw::statistics::median(&mut widths)
        );
    }
    for law in ["burn_off.chi", "arc_voltage.chi"] {
        let chi: Vec<f64> = found.iter().filter_map(|f| f.get(law)).map(|r| r.0).collect();
        println!("{law}: mean {:.4} over {} labs", chi.iter().sum::<f64>() / chi.len() as f64, chi.len());
    }
    let zero = found.iter().filter_map(|f| f.get("detachment.trial_scatter")).filter(|r| r.0 == 0.0).count();
    println!(
        "scatter at zero in {zero} labs; detachment unusable in {}",
        found.iter().filter(|f| !f.contains_key("detachment.exponent")).count()
    );
}

//! Laws of wires, gases and batches held against margins: do they melt and detach alike?
//!
//! `known` a law of one wire as numbers, `spots` the places at which two wires were both welded, `band` how wide an
//! interval is that holds at all of them, `statement` the verdict of one quantity with its words, `settle` the trials that
//! would decide, `batches` several batches of one specification as one wire, `regions` and `likelihood_ratio` what stands
//! beside.

mod band;
mod batches;
mod known;
mod likelihood_ratio;
mod record;
mod regions;
mod settle;
mod spots;
mod statement;
mod words;

pub use record::*;

use std::collections::BTreeSet;

use crate::laws::{BurnOff, FittedLaw, Law};
use crate::line_conditions::welding_differences;
use crate::record::LawsWithOrigin;
use crate::study::{BurnOffForm, CalibrationTerm, Margins};
use known::{Known, law_named};
use spots::{Pair, Quantity, Spot};

/// Each law's intervals hold at this confidence over all places, quantities and wires.
pub const CONFIDENCE: f64 = 0.9;

/// The laws in the order of the answer.
const LAWS: [&str; 3] = ["burn_off", "detachment", "arc_voltage"];

/// A wire that takes part: the laws of one study, or of several batches of one specification.
#[derive(Debug, Clone, PartialEq)]
pub struct WireLaws<'a> {
    /// What it is called in the answer.
    pub name: String,
    /// One laws file, or one of each batch.
    pub batches: Vec<LawsWithOrigin<'a>>,
}

/// What laws are compared by.
#[derive(Debug, Clone, PartialEq)]
pub struct Terms {
    /// Margins within which two laws count as alike.
    pub margins: Margins,
    /// Where they come from, in words.
    pub margins_from: String,
    /// Calibration terms that are of the same instrument in all files.
    pub same_instruments: Vec<CalibrationTerm>,
    /// Seed of the draws that set how wide a simultaneous interval is.
    pub seed: u64,
}

/// Why laws cannot be compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NotComparable {
    /// A record is not what it should be.
    #[error("{name}: {found}; {needed}; {remedy}")]
    Record {
        /// The file.
        name: String,
        /// What was found.
        found: String,
        /// What was needed.
        needed: String,
        /// What to do.
        remedy: String,
    },
}

/// Holds every wire against the first. A single wire of several batches is answered by its batches, each against the
/// first, and their spread.
///
/// # Errors
/// [`NotComparable`] where a file holds laws of other units or forms than this program knows.
pub fn compare_laws(wires: &[WireLaws<'_>], terms: &Terms) -> Result<LawsComparison, NotComparable> {
    known::check(wires)?;
    let mut notes = shared_trials(wires);
    let batch_spread: Vec<BatchSpread> =
        wires.iter().filter(|w| w.batches.len() > 1).flat_map(batches::spread).collect();
    let alone;
    let wires = match wires {
        [one] if one.batches.len() > 1 => {
            alone =
                one.batches.iter().map(|&b| WireLaws { name: b.name.to_owned(), batches: vec![b] }).collect::<Vec<_>>();
            &alone
        }
        several => several,
    };
    let mut all = LawsComparison {
        overall: Verdict::Undecided,
        confidence: CONFIDENCE,
        margins: terms.margins,
        margins_from: terms.margins_from.clone(),
        wires: wires.iter().map(|w| compared_wire(w, &wires[0])).collect(),
        instruments: words::instruments(wires, &terms.same_instruments),
        comparisons: Vec::new(),
        bands: Vec::new(),
        regions: Vec::new(),
        likelihood_ratio: Vec::new(),
        batch_spread,
        notes: Vec::new(),
    };
    for law in LAWS {
        compare_law(law, wires, terms, &mut all, &mut notes);
    }
    // By wire, as people read it; within a wire the laws stay in order.
    all.comparisons.sort_by_key(|c| wires.iter().position(|w| w.name == c.wire));
    all.overall = overall(&all.comparisons);
    notes.dedup();
    all.notes = notes;
    Ok(all)
}

fn overall(statements: &[LawStatement]) -> Verdict {
    if statements.iter().any(|s| s.verdict == Verdict::Different) {
        Verdict::Different
    } else if !statements.is_empty() && statements.iter().all(|s| s.verdict == Verdict::Alike) {
        Verdict::Alike
    } else {
        Verdict::Undecided
    }
}

/// One law of all wires.
fn compare_law(
    law: &'static str,
    wires: &[WireLaws<'_>],
    terms: &Terms,
    all: &mut LawsComparison,
    notes: &mut Vec<String>,
) {
    let records: Vec<Vec<&FittedLaw>> =
        wires.iter().map(|w| w.batches.iter().map(|b| law_named(&b.record.laws, law)).collect()).collect();
    let known: Vec<Option<Known>> = wires.iter().map(|w| batches::known(law, w)).collect();
    let missing = |wire: usize| {
        let without = |&i: &usize| known[i].is_none();
        [0, wire].into_iter().find(without).map(|i| words::not_usable(law, &wires[i].name, &records[i]))
    };
    // Wires whose law is missing take no part in the draws but keep their places.
    let present: Vec<usize> = (0..wires.len()).filter(|&i| known[i].is_some()).collect();
    let taking_part: Vec<Known> = present.iter().filter_map(|&i| known[i].clone()).collect();
    let mut spots: Vec<Spot> = Vec::new();
    let mut nothing: Vec<(usize, String)> = Vec::new();
    for wire in 1..wires.len() {
        if let Some(reason) = missing(wire) {
            nothing.push((wire, reason));
            continue;
        }
        let place = present.iter().position(|&i| i == wire).unwrap_or(0);
        let pair = Pair {
            wire: place,
            known: [&taking_part[0], &taking_part[place]],
            laws: [&records[0], &records[wire]],
            margins: &terms.margins,
            same: &terms.same_instruments,
            identical: records[0] == records[wire],
        };
        match spots::spots(law, &pair, notes) {
            Ok(found) => spots.extend(found),
            Err(reason) => nothing.push((wire, reason)),
        }
    }
    let critical = if spots.is_empty() {
        f64::NAN
    } else {
        band::critical(&taking_part, &spots, &terms.same_instruments, terms.seed, CONFIDENCE)
    };
    for wire in 1..wires.len() {
        let name = &wires[wire].name;
        let names = [wires[0].name.as_str(), name.as_str()];
        if let Some((_, reason)) = nothing.iter().find(|(w, _)| *w == wire) {
            all.comparisons.extend(Quantity::of_law(law).iter().map(|&q| statement::not_made(law, q, name, reason)));
            all.likelihood_ratio.push(words::no_ratio(law, name, reason));
            continue;
        }
        let place = present.iter().position(|&i| i == wire).unwrap_or(0);
        let pair = [&taking_part[0], &taking_part[place]];
        for &quantity in Quantity::of_law(law) {
            let of: Vec<Spot> = spots.iter().filter(|s| s.wire == place && s.quantity == quantity).cloned().collect();
            let asked = statement::Asked { law, quantity, names, critical, margins: &terms.margins, known: pair };
            all.comparisons.push(statement::statement(&asked, &of));
            all.bands.push(statement::band(&asked, &of));
        }
        all.likelihood_ratio.push(ratio(law, pair, names, [&records[0], &records[wire]], terms));
    }
    if law == "burn_off" {
        let names = BurnOff(BurnOffForm::Proportional).coefficients();
        let of = |wire: usize, difference: bool| {
            let of = regions::Of { name: &wires[present[wire]].name, wires: &taking_part, wire, difference };
            regions::region(of, names, &terms.same_instruments, terms.seed)
        };
        all.regions.extend((0..taking_part.len()).filter_map(|wire| of(wire, false)));
        let against_first = if known[0].is_some() { 1..taking_part.len() } else { 0..0 };
        all.regions.extend(against_first.filter_map(|wire| of(wire, true)));
    }
}

fn ratio(
    law: &str,
    known: [&Known; 2],
    names: [&str; 2],
    records: [&[&FittedLaw]; 2],
    terms: &Terms,
) -> LikelihoodRatio {
    let forms = records.map(|r| r.first().map(|l| l.form.as_str()));
    if forms[0] != forms[1] {
        let why = format!(
            "the laws have other forms, {} and {}: no common law lies between them",
            forms[0].unwrap_or("none"),
            forms[1].unwrap_or("none")
        );
        return words::no_ratio(law, names[1], &why);
    }
    let reference = |r: &[&FittedLaw]| r.first().and_then(|l| l.reference_current_a);
    if reference(records[0]) != reference(records[1]) {
        return words::no_ratio(law, names[1], "the thresholds stand at other reference currents");
    }
    match likelihood_ratio::likelihood_ratio(known, &terms.same_instruments, terms.seed) {
        Some((statistic, p_value)) => {
            words::ratio(law, names, statistic, p_value, likelihood_ratio::compared(known[0]).len())
        }
        None => words::no_ratio(law, names[1], "the covariance of a law cannot be turned over"),
    }
}

/// What is other than with the first wire, and how much was welded.
fn compared_wire(wire: &WireLaws<'_>, first: &WireLaws<'_>) -> ComparedWire {
    let side = |w: &WireLaws<'_>| w.batches.first().map(|b| b.record.clone());
    let conditions = match (side(wire), side(first)) {
        (Some(found), Some(first)) => welding_differences(
            (&found.wire, found.gas.as_ref(), &found.conditions),
            (&first.wire, first.gas.as_ref(), &first.conditions),
        ),
        _ => Vec::new(),
    };
    let strings = |of: fn(&LawsWithOrigin<'_>) -> String| wire.batches.iter().map(of).collect();
    let trials = |of: fn(&crate::laws::Laws) -> usize| wire.batches.iter().map(|b| of(&b.record.laws)).sum();
    ComparedWire {
        name: wire.name.clone(),
        studies: strings(|b| b.record.name.clone()),
        files: strings(|b| b.name.to_owned()),
        checksums: strings(|b| b.checksum.to_owned()),
        words: wire.batches.first().map_or(String::new(), |b| words::wire(b.record)),
        batches: wire.batches.len(),
        trials: [
            trials(|l| l.burn_off.trials_used.len()),
            trials(|l| l.detachment.trials_used.len()),
            trials(|l| l.arc_voltage.trials_used.len()),
        ],
        conditions,
    }
}

/// Remarks on files that rest on the same trials.
fn shared_trials(wires: &[WireLaws<'_>]) -> Vec<String> {
    let all: Vec<&LawsWithOrigin<'_>> = wires.iter().flat_map(|w| &w.batches).collect();
    let hashes = |l: &LawsWithOrigin<'_>| {
        l.provenance.inputs.iter().map(|i| i.sha256.clone()).filter(|h| !h.is_empty()).collect::<BTreeSet<_>>()
    };
    let mut notes = Vec::new();
    for (place, one) in all.iter().enumerate() {
        for other in &all[place + 1..] {
            if one.checksum == other.checksum && !one.checksum.is_empty() {
                notes.push(format!(
                    "{} and {} are the same laws: nothing can differ, and nothing is learnt",
                    one.name, other.name
                ));
            } else if !hashes(one).is_disjoint(&hashes(other)) {
                notes.push(format!(
                    "{} and {} were fitted to the same trials: their errors are shared, so the intervals, which take them as independent, are too wide",
                    one.name, other.name
                ));
            }
        }
    }
    notes
}

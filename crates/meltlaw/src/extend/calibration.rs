//! Errors of instruments in extended laws. The studies may have been read by the same instruments, so what an error does to
//! each is carried in full and not averaged away; where they were not, the scatter between studies holds it besides.

use std::collections::BTreeMap;

use super::bases::Base;
use super::carried::Effects;
use super::law_of;
use crate::laws::{CalibrationEffect, FittedLaw};
use crate::study::CalibrationTerm;

/// What each term does to the coefficients of a law at the target: relative as in the studies where a coefficient is
/// carried by size, as it is for voltage.
pub(super) fn effects(law: &str, bases: &[Base<'_>], middle: &[f64]) -> Effects {
    terms(bases)
        .map(|(term, u)| {
            let names: Vec<String> = law_of(bases[0].laws.record, law).coefficient_order.clone();
            let relative = law == "burn_off" || law == "detachment";
            let values = natural(law, middle);
            let each = names.iter().take(values.len()).zip(&values).map(|(name, value)| {
                let of = |b: &Base<'_>| -> Option<f64> {
                    let record = b.laws.record;
                    let effect = record
                        .calibration
                        .iter()
                        .find(|c| c.name == term.name())?
                        .effects
                        .get(&format!("{law}.{name}"))?;
                    let own = law_of(record, law).coefficients.get(name)?.value?;
                    Some(if relative && own != 0.0 { effect / own } else { *effect })
                };
                let found: Vec<f64> = bases.iter().filter_map(of).collect();
                let mean = if found.is_empty() { 0.0 } else { crate::statistics::mean(&found) };
                if relative { mean * value } else { mean }
            });
            (term.name().to_owned(), u, each.collect())
        })
        .collect()
}

/// Coefficients as in the files from those that are drawn from.
fn natural(law: &str, middle: &[f64]) -> Vec<f64> {
    match (law, middle) {
        ("detachment", [n, k, s1, gap]) => vec![*n, k.exp(), s1.exp(), (s1 + gap.exp()).exp()],
        _ => middle.to_vec(),
    }
}

/// Terms that every study states, with the largest uncertainty.
fn terms<'a>(bases: &'a [Base<'a>]) -> impl Iterator<Item = (CalibrationTerm, f64)> + 'a {
    CalibrationTerm::ALL.into_iter().filter_map(move |term| {
        let stated = |b: &Base<'_>| {
            b.laws.record.calibration.iter().find(|c| c.name == term.name()).map(|c| c.standard_uncertainty)
        };
        let all: Option<Vec<f64>> = bases.iter().map(stated).collect();
        Some((term, all?.into_iter().fold(0.0, f64::max)))
    })
}

/// Enters a law's effects under their names in files.
pub(super) fn name(law: &str, record: &FittedLaw, effects: Effects, all: &mut BTreeMap<String, BTreeMap<String, f64>>) {
    for (term, _, values) in effects {
        let named = record.coefficient_order.iter().zip(values).map(|(c, v)| (format!("{law}.{c}"), v));
        all.entry(term).or_default().extend(named);
    }
}

/// The entries of the record.
pub(super) fn entries(
    bases: &[Base<'_>],
    mut effects: BTreeMap<String, BTreeMap<String, f64>>,
) -> Vec<CalibrationEffect> {
    terms(bases)
        .map(|(term, standard_uncertainty)| CalibrationEffect {
            name: term.name().to_owned(),
            standard_uncertainty,
            unit: term.unit().to_owned(),
            effects: effects.remove(term.name()).unwrap_or_default(),
        })
        .collect()
}

/// Terms that a study does not state.
pub(super) fn not_covered(bases: &[Base<'_>]) -> Vec<String> {
    let covered: Vec<CalibrationTerm> = terms(bases).map(|(t, _)| t).collect();
    CalibrationTerm::ALL.into_iter().filter(|t| !covered.contains(t)).map(|t| t.name().to_owned()).collect()
}

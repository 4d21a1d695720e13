//! Laws for what nobody welded: another diameter, another batch, more carbon dioxide, beyond the welded feeds.
//!
//! `bases` the studies and whether they carry so far, `law_pool` what of each law is the wire's substance and what its
//! size, `pool` how studies scatter and a new one is drawn, `carried` the law at the target as a record, `mapped` the
//! trials' ranges there, `scaling` whether the studies agree with it, `left_out` each study predicted from the others,
//! `confirm` the welds to make, `reach` the same wire beyond the ranges of its trials.

mod bases;
mod calibration;
mod carried;
mod confirm;
mod law_pool;
mod left_out;
mod mapped;
mod pool;
mod reach;
mod readings;
mod record;
mod scaling;
mod traits;

pub use law_pool::USUAL_VOLTAGE_HETEROGENEITY_V;
pub use record::*;

use std::collections::BTreeMap;

use crate::fit::assemble::unusable;
use crate::gas::Gas;
use crate::laws::{ArcVoltage, BurnOff, CarriedTo, Detachment, FittedLaw, Laws};
use crate::record::{LawsRecord, LawsWithOrigin};
use crate::study::{ArcVoltageForm, BurnOffForm, CovarianceFrom};
use bases::{Base, Place};
use carried::Carried;

/// Standard deviation between studies that is taken where two cannot tell it, and by which the odd one out is named
/// (assumed: tolerance of diameter and composition within a standard; nobody has published one).
pub const USUAL_HETEROGENEITY_RELATIVE: f64 = 0.02;

/// The laws in the order of the files.
const LAWS: [&str; 3] = ["burn_off", "detachment", "arc_voltage"];

/// What laws are to be extended to, and what is stated about it.
#[derive(Debug, Clone, PartialEq)]
pub struct ExtensionRequest {
    /// To what.
    pub target: Target,
    /// Stated relative heterogeneity between the studies; else [`USUAL_HETEROGENEITY_RELATIVE`] where two studies
    /// cannot tell it and for naming the odd one out.
    pub heterogeneity_relative: Option<f64>,
    /// Stated power of the diameter by which the pulse time for detachment grows; else estimated.
    pub detachment_power: Option<f64>,
    /// Seed of the draws.
    pub seed: u64,
    /// Number of draws.
    pub draws: usize,
}

/// Laws for the target from the laws of the studies.
///
/// # Errors
/// [`ExtensionError::Lacking`] where the studies do not carry so far, with what is missing.
pub fn extend(laws: &[LawsWithOrigin<'_>], request: &ExtensionRequest) -> Result<LawsRecord, ExtensionError> {
    let (bases, to) = bases::bases(laws, request)?;
    let target = &request.target;
    let beyond = target.ctwd_mm.is_some() || target.wire_feed_m_min.is_some();
    if !beyond && target.wire_diameter_mm.is_none() && target.carbon_dioxide_per_cent.is_none() && !target.any_batch {
        return Err(ExtensionError::Lacking {
            found: "no target was given".to_owned(),
            needed: "a wire diameter, a gas, any batch, a distance or feeds are needed".to_owned(),
            remedy: "give for example --wire-diameter-mm 1.6".to_owned(),
        });
    }
    let record = match &bases[..] {
        [one] => one.laws.record.clone(),
        several => pooled(several, to, request),
    };
    let mut record = if beyond { reach::reached(record, &bases, request)? } else { record };
    let welds = confirm::confirming(&record, &bases, request).unwrap_or_default();
    if let Some(extension) = &mut record.extension {
        extension.confirm = welds;
    }
    Ok(record)
}

/// The law of a record by its name in files.
fn law_of<'a>(record: &'a LawsRecord, name: &str) -> &'a FittedLaw {
    match name {
        "burn_off" => &record.laws.burn_off,
        "detachment" => &record.laws.detachment,
        _ => &record.laws.arc_voltage,
    }
}

/// Laws of several studies carried to one that nobody welded.
fn pooled(bases: &[Base<'_>], to: Place, request: &ExtensionRequest) -> LawsRecord {
    let first = bases[0].laws.record;
    let confidence = first.confidence;
    let mut tests = BTreeMap::new();
    let mut stated: Vec<String> = Vec::new();
    let mut same: Vec<String> = Vec::new();
    let mut traits = Vec::new();
    let mut laws: Vec<FittedLaw> = Vec::with_capacity(3);
    let mut effects = BTreeMap::new();
    for (place, name) in LAWS.into_iter().enumerate() {
        let pool = law_pool::law_pool(name, bases, to, request);
        if let Ok(pool) = &pool {
            tests.extend(scaling::tests(pool, bases, request));
            stated.extend(pool.stated.iter().cloned());
            same.extend(pool.same.iter().cloned());
        }
        let open =
            "the studies leave a coefficient open: weld them at clearly different currents, distances and arc lengths";
        let carried = pool.and_then(|p| Carried::new(p, request, place as u64).ok_or_else(|| open.to_owned()));
        match carried {
            Ok(carried) => {
                let found = calibration::effects(name, bases, &carried.middle);
                let scatter = (name == "detachment").then(|| traits::scatter(bases));
                let mut law = carried::record(&carried, bases, to, confidence, scatter, &found);
                traits.extend(traits::of_law(&carried, bases, &law));
                calibration::name(name, &law, found, &mut effects);
                law.notes.push(match carried_to(bases, request) {
                    Some(to) => to.sentence(),
                    None => format!("extended {}", words(bases, request)),
                });
                laws.push(law);
            }
            Err(reason) => laws.push(missing(name, &reason)),
        }
    }
    let [burn, detachment, arc_voltage] =
        <[FittedLaw; 3]>::try_from(laws).unwrap_or_else(|_| LAWS.map(|n| missing(n, "")));
    stated.sort();
    stated.dedup();
    if !same.is_empty() {
        let p = law_pool::CONTRADICTED;
        stated.push(format!("the same in all studies, which do not contradict it (p above {p}): {}", same.join(", ")));
    }
    LawsRecord {
        name: format!("{}, extended", words(bases, request)),
        wire: wire(bases, to, request),
        gas: gas(first, to, request),
        conditions: first.conditions.clone(),
        reading_errors: None,
        calibration: calibration::entries(bases, effects),
        not_covered: calibration::not_covered(bases),
        assumed: Vec::new(),
        findings: Vec::new(),
        reading_notes: Vec::new(),
        laws: Laws { burn_off: burn, detachment, arc_voltage, carried: carried_to(bases, request) },
        constant_voltage_welds: Vec::new(),
        extension: Some(Extension {
            target: request.target.clone(),
            words: words(bases, request),
            rests_on: bases.iter().map(Base::rests_on).collect(),
            traits,
            tests,
            left_out: left_out::left_out(bases, request, confidence),
            confirm: Vec::new(),
            stated,
        }),
        ..first.clone()
    }
}

fn missing(name: &str, reason: &str) -> FittedLaw {
    let (form, equation, unit) = match name {
        "burn_off" => (BurnOffForm::Proportional.word(), BurnOff(BurnOffForm::Proportional).equation(), "mm/s"),
        "detachment" => ("ordered_logit", Detachment::EQUATION, "drops per pulse"),
        _ => (ArcVoltageForm::Current.word(), ArcVoltage(ArcVoltageForm::Current).equation(), "V"),
    };
    unusable(form, equation, unit, "not_extended", reason, Vec::new(), Vec::new(), CovarianceFrom::Residuals)
}

/// What the pooled laws carry to what nobody welded; nothing for another batch of what was welded.
fn carried_to(bases: &[Base<'_>], request: &ExtensionRequest) -> Option<CarriedTo> {
    let target = &request.target;
    let (what, mapped) = if target.wire_diameter_mm.is_some() {
        ("wire diameter", mapped::words())
    } else if target.carbon_dioxide_per_cent.is_some() {
        ("gas", BTreeMap::new())
    } else {
        return None;
    };
    Some(CarriedTo {
        what: what.to_owned(),
        words: words(bases, request),
        studies: bases.iter().map(|b| b.laws.record.name.clone()).collect(),
        ctwd_mm: None,
        mapped,
    })
}

/// `to 1.6 mm from 0.8, 1.0 and 1.2 mm`.
fn words(bases: &[Base<'_>], request: &ExtensionRequest) -> String {
    let target = &request.target;
    let list = |of: &dyn Fn(&Base<'_>) -> String| {
        let all: Vec<String> = bases.iter().map(of).collect();
        match all.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
            _ => all.concat(),
        }
    };
    if let Some(d) = target.wire_diameter_mm {
        format!("to {d:?} mm from {} mm", list(&|b| format!("{:?}", b.at.diameter_mm)))
    } else if let Some(c) = target.carbon_dioxide_per_cent {
        format!("to {c} % carbon dioxide from {} %", list(&|b| format!("{}", b.at.carbon_dioxide_per_cent)))
    } else {
        format!("to any batch from {} batches", bases.len())
    }
}

fn wire(bases: &[Base<'_>], to: Place, request: &ExtensionRequest) -> crate::study::Wire {
    let mut wire = bases[0].laws.record.wire.clone();
    if request.target.wire_diameter_mm.is_some() {
        wire.diameter_mm = to.diameter_mm;
        wire.metal_section_mm2 = wire.metal_section_mm2.map(|_| to.section_mm2);
        // A cored wire's mass goes with its section.
        wire.linear_mass_g_m = wire.linear_mass_g_m.map(|m| m * to.section_mm2 / bases[0].at.section_mm2);
    }
    wire
}

fn gas(first: &LawsRecord, to: Place, request: &ExtensionRequest) -> Option<Gas> {
    match request.target.carbon_dioxide_per_cent {
        Some(_) => Some(Gas {
            argon: 100.0 - to.carbon_dioxide_per_cent,
            carbon_dioxide: to.carbon_dioxide_per_cent,
            ..Gas::default()
        }),
        None => first.gas,
    }
}

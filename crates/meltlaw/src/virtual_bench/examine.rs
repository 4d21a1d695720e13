//! What the program says of one laboratory, held against the truth.

use std::collections::{BTreeMap, BTreeSet};

use super::kinds::Lab;
use super::line_score::node_claims;
use super::oracle::Oracle;
use super::truth::Truth;
use super::warnings::warnings;
use crate::compose::compose;
use crate::fit::fit_laws;
use crate::laws::{FittedLaw, Laws};
use crate::statistics::{mean, normal_quantile};

/// Confidences that are tried; the middle one is the default of a study.
pub const LEVELS: [f64; 3] = [0.80, 0.95, 0.99];

/// Place of the default in [`LEVELS`].
const DEFAULT: usize = 1;

/// One statement of the program with the truth beside it.
#[derive(Debug, Clone)]
pub(super) struct Claim {
    pub(super) name: String,
    /// Which of several of that name (the feeds of the line).
    pub(super) place: usize,
    pub(super) truth: f64,
    pub(super) estimate: Option<f64>,
    pub(super) standard_error: Option<f64>,
    /// An open end is infinite.
    pub(super) interval: [f64; 2],
    pub(super) oracle_width: f64,
}

/// A statement scored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scored {
    /// Estimate less truth; NaN where the program gives no value.
    pub error: f64,
    /// Stated standard error; where the program states none, half the 95 % interval over 1.96.
    pub standard_error: f64,
    /// Whether the interval held the truth, at each of [`LEVELS`]; `None` where there was none.
    pub held: [Option<bool>; 3],
    /// Width of the 95 % interval; infinite where it is open.
    pub width: f64,
    /// Width of somebody's who knows the true errors; NaN where that was not asked.
    pub oracle_width: f64,
}

/// One laboratory examined.
#[derive(Debug, Clone, Default)]
pub struct Examined {
    /// By name (`law.coefficient`, `line.quantity`), one entry per place.
    pub scored: BTreeMap<String, BTreeMap<usize, Scored>>,
    /// Laws that could not be fitted.
    pub unusable: Vec<&'static str>,
    /// Form of the voltage law.
    pub arc_voltage_form: String,
    /// How many of the five nodes asked for are there.
    pub nodes: usize,
    /// What the program warns of.
    pub warnings: BTreeSet<String>,
}

/// Fits a laboratory's trials and composes its line as the program does, and holds all intervals against the
/// truth: at the default confidence, and where the examination is thorough at the others and against the
/// oracle too.
///
/// Each confidence is a run of the whole program with `[numerics].confidence` set to it: no interval is
/// derived from another.
pub fn examine(lab: &Lab, thorough: bool) -> Examined {
    let oracle = thorough.then(|| Oracle::new(lab));
    let mut examined = Examined::default();
    let levels: &[usize] = if thorough { &[DEFAULT, 0, 2] } else { &[DEFAULT] };
    for &level in levels {
        let mut study = lab.study.clone();
        study.numerics.confidence = LEVELS[level];
        study.numerics.seed = lab.seed.wrapping_add(lab.number);
        let fitted = fit_laws(&study, &lab.trials);
        let line = compose(&study, &fitted.laws, &fitted.calibration);
        let mut claims = coefficient_claims(&fitted.laws, lab, oracle.as_ref());
        claims.extend(node_claims(&study, lab, &fitted.laws, &line, oracle.as_ref()));
        if level == DEFAULT {
            examined.unusable = fitted.laws.missing();
            examined.arc_voltage_form.clone_from(&fitted.laws.arc_voltage.form);
            examined.nodes = claims.iter().filter(|c| c.name == "line.melting_rate").count();
            examined.warnings = warnings(&study, &lab.trials, &fitted.laws);
        }
        for claim in &claims {
            examined.add(claim, level);
        }
    }
    examined
}

impl Examined {
    fn add(&mut self, claim: &Claim, level: usize) {
        let blank = Scored {
            error: f64::NAN,
            standard_error: f64::NAN,
            held: [None; 3],
            width: f64::NAN,
            oracle_width: f64::NAN,
        };
        let scored = self.scored.entry(claim.name.clone()).or_default().entry(claim.place).or_insert(blank);
        let [low, high] = claim.interval;
        scored.held[level] = Some(low <= claim.truth && claim.truth <= high);
        if level == DEFAULT {
            scored.width = high - low;
            scored.error = claim.estimate.map_or(f64::NAN, |e| e - claim.truth);
            scored.standard_error = claim.standard_error.unwrap_or_else(|| (high - low) / 2.0 / normal_quantile(0.975));
            scored.oracle_width = claim.oracle_width;
        }
    }
}

/// The truth of a law's coefficients in the order of its record.
///
/// Where r is dropped, R is the value at the trials' mean extension; where E is dropped too, U0 holds at the
/// mean arc length.
fn truths(name: &str, law: &FittedLaw, truth: &Truth, lab: &Lab) -> Vec<f64> {
    match name {
        "burn_off" => truth.burn_off().to_vec(),
        "detachment" => truth.detachment_coefficients().to_vec(),
        _ => {
            let [u0, slope, gradient, by_extension] = truth.arc_voltage();
            let used = |pick: fn(&super::weld::TrueWeld) -> f64| mean(&lab.welds.iter().map(pick).collect::<Vec<_>>());
            match law.form.as_str() {
                "current_arc_extension" => vec![u0, slope, gradient, by_extension],
                "current_arc" => vec![u0, slope + by_extension * used(|w| w.extension_mm), gradient],
                _ => vec![
                    u0 + gradient * used(|w| w.setting.arc_length_mm),
                    slope + by_extension * used(|w| w.extension_mm),
                ],
            }
        }
    }
}

fn coefficient_claims(laws: &Laws, lab: &Lab, oracle: Option<&Oracle>) -> Vec<Claim> {
    let mut claims = Vec::new();
    for (name, law) in laws.by_name() {
        let truths = truths(name, law, &lab.truth, lab);
        for (place, (coefficient, truth)) in law.coefficient_order.iter().zip(truths).enumerate() {
            let Some(found) = law.coefficients.get(coefficient) else { continue };
            let [low, high] = found.interval;
            claims.push(Claim {
                name: format!("{name}.{coefficient}"),
                place: 0,
                truth,
                estimate: found.value,
                standard_error: found.standard_error_with_calibration,
                interval: [low.unwrap_or(f64::NEG_INFINITY), high.unwrap_or(f64::INFINITY)],
                oracle_width: oracle.map_or(f64::NAN, |o| o.coefficient_width(name, place)),
            });
        }
    }
    claims
}

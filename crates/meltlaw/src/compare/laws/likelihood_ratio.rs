//! One law for both wires, or one for each?
//!
//! ```text
//! Λ = min over b of Σᵢ nᵢ·ln(1 + Qᵢ/νᵢ),  Qᵢ = (b − bᵢ)ᵀ·Cᵢ⁻¹·(b − bᵢ)        spread estimated from residuals
//! Λ = min over b of Σᵢ Qᵢ                                                       counts, stated errors
//! ```
//!
//! Cᵢ holds the trials' covariance and what instruments do not share. The first is the likelihood ratio of two lines
//! with a spread of their own each, exactly so for errors in the fed wire alone. With few trials Λ does not follow χ²,
//! so its probability is drawn: pairs of wires that follow one law, with the errors of these.
//!
//! # Source
//! S. S. Wilks, Ann. Math. Stat. 9 (1938) 60–62.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::band::Errors;
use super::known::{Known, Weights};
use crate::study::CalibrationTerm;

/// Draws of the ratio: a probability of 5 % is had within 0.5 %.
pub(super) const DRAWS: usize = 2000;

/// The ratio and its probability; `None` where a covariance cannot be turned over.
pub(super) fn likelihood_ratio(wires: [&Known; 2], same: &[CalibrationTerm], seed: u64) -> Option<(f64, f64)> {
    let coefficients = compared(wires[0]);
    let calibration = calibration(wires, same, &coefficients);
    let start = [1.0, 1.0];
    let off = DVector::from_iterator(coefficients.len(), coefficients.iter().map(|&i| wires[1].b[i] - wires[0].b[i]));
    let found = ratio(wires, &coefficients, &calibration, &off, start)?;
    let both = [wires[0].clone(), wires[1].clone()];
    let beyond: usize = (0..DRAWS)
        .into_par_iter()
        .with_min_len(64)
        .map_init(
            || Errors::none(2),
            |errors, index| {
                errors.draw(&both, same, seed, index);
                let pick = |w: &Weights, i: usize| w[i];
                let off = DVector::from_iterator(
                    coefficients.len(),
                    coefficients.iter().map(|&i| pick(&errors.coefficients[1], i) - pick(&errors.coefficients[0], i)),
                );
                let factors = [errors.variance_factor[0], errors.variance_factor[1]];
                ratio(wires, &coefficients, &calibration, &off, factors).is_some_and(|drawn| drawn >= found)
            },
        )
        .filter(|beyond| *beyond)
        .count();
    // One more than drawn: a probability from draws is never nought.
    Some((found, (beyond + 1) as f64 / (DRAWS + 1) as f64))
}

/// Coefficients that are compared: of a law fitted to counts not its scatter, which may have no covariance.
pub(super) fn compared(known: &Known) -> Vec<usize> {
    (0..known.b.len()).filter(|&i| known.covariance[(i, i)] > 0.0 && !(known.counted && i == 4)).collect()
}

/// Covariance of the difference by what instruments do not share.
fn calibration(wires: [&Known; 2], same: &[CalibrationTerm], coefficients: &[usize]) -> DMatrix<f64> {
    let p = coefficients.len();
    let mut sum = DMatrix::zeros(p, p);
    let mut add = |effects: DVector<f64>, u: f64| sum += &effects * effects.transpose() * (u * u);
    for &term in &CalibrationTerm::ALL {
        let of = |i: usize| wires[i].common.iter().find(|c| c.term == term);
        let vector = |i: usize| of(i).map(|c| DVector::from_iterator(p, coefficients.iter().map(|&k| c.effects[k])));
        match (of(0), of(1)) {
            (Some(a), Some(b)) if same.contains(&term) => {
                let u = a.standard_uncertainty.max(b.standard_uncertainty);
                if let (Some(x), Some(y)) = (vector(0), vector(1)) {
                    add(y - x, u);
                }
            }
            both => {
                for (i, c) in [both.0, both.1].into_iter().enumerate() {
                    if let (Some(c), Some(x)) = (c, vector(i)) {
                        add(x, c.standard_uncertainty);
                    }
                }
            }
        }
    }
    sum
}

/// Λ for a difference of coefficients, each wire's variance times its factor.
///
/// With w the ratio of the weights of both terms the best common law lies on the straight way between both, in the
/// metric of the covariances: a fixed point in two numbers, reached in a few steps.
fn ratio(
    wires: [&Known; 2],
    coefficients: &[usize],
    calibration: &DMatrix<f64>,
    off: &DVector<f64>,
    factors: [f64; 2],
) -> Option<f64> {
    let p = coefficients.len();
    let of = |i: usize| {
        let own = DMatrix::from_fn(p, p, |a, b| wires[i].covariance[(coefficients[a], coefficients[b])] * factors[i]);
        (own + calibration * 0.5).cholesky().map(|c| c.inverse())
    };
    let information = [of(0)?, of(1)?];
    let estimated = |i: usize| !wires[i].counted && wires[i].degrees.is_finite();
    let n = |i: usize| wires[i].degrees + p as f64;
    let mut weights = [1.0, 1.0];
    let mut value = f64::INFINITY;
    for _ in 0..50 {
        let sum = &information[0] * weights[0] + &information[1] * weights[1];
        let best = sum.cholesky()?.solve(&(&information[1] * off * weights[1]));
        let q = [best.dot(&(&information[0] * &best)), {
            let rest = off - &best;
            rest.dot(&(&information[1] * &rest))
        }];
        let term = |i: usize| if estimated(i) { n(i) * (q[i] / wires[i].degrees).ln_1p() } else { q[i] };
        let now = term(0) + term(1);
        for i in 0..2 {
            if estimated(i) {
                weights[i] = n(i) / (wires[i].degrees + q[i]);
            }
        }
        if (value - now).abs() <= 1e-10 * now.abs() {
            return Some(now);
        }
        value = now;
    }
    Some(value)
}

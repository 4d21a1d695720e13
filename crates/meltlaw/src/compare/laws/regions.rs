//! Joint confidence regions of two coefficients, α and β above all: each of both intervals alone says too little, since
//! the estimates lean on each other.
//!
//! ```text
//! (b − b̂)ᵀ·C⁻¹·(b − b̂) ≤ c²,  C trials and instruments,  c² the drawn quantile of the same with true errors
//! ```

use nalgebra::{Matrix2, Vector2};
use rayon::prelude::*;

use super::Region;
use super::band::{DRAWS, Errors};
use super::known::Known;
use crate::laws::CoefficientName;
use crate::statistics::quantile;
use crate::study::CalibrationTerm;

/// At which confidence regions are drawn.
const CONFIDENCE: f64 = 0.95;
/// Points of a rim.
const POINTS: usize = 73;

/// What a region is of: one wire, or the difference of a wire from the first.
#[derive(Debug, Clone, Copy)]
pub(super) struct Of<'a> {
    pub(super) name: &'a str,
    pub(super) wires: &'a [Known],
    /// Place of the wire.
    pub(super) wire: usize,
    pub(super) difference: bool,
}

/// The region of the first two coefficients; `None` where they leave no area.
pub(super) fn region(of: Of<'_>, names: &[CoefficientName], same: &[CalibrationTerm], seed: u64) -> Option<Region> {
    let second = &of.wires[of.wire];
    let first = of.difference.then(|| &of.wires[0]);
    let centre = [0, 1].map(|i| second.b[i] - first.map_or(0.0, |f| f.b[i]));
    let own = |k: &Known| Matrix2::from_fn(|i, j| k.covariance[(i, j)]);
    let calibration = calibration(first, second, same);
    let covariance = own(second) + first.map_or_else(Matrix2::zeros, own) + calibration;
    // In standard errors: α and β differ by four powers of ten.
    let scale = Vector2::new(covariance[(0, 0)].sqrt(), covariance[(1, 1)].sqrt());
    let scaled = |m: Matrix2<f64>| Matrix2::from_fn(|i, j| m[(i, j)] / (scale[i] * scale[j]));
    let root = scaled(covariance).cholesky()?.l();
    let mut distances: Vec<f64> = (0..DRAWS)
        .into_par_iter()
        .with_min_len(256)
        .map_init(
            || Errors::none(of.wires.len()),
            |errors, index| {
                errors.draw(of.wires, same, seed, index);
                let error = |i: usize| {
                    let base = if of.difference { errors.coefficients[0][i] } else { 0.0 };
                    errors.coefficients[of.wire][i] - base
                };
                let off = Vector2::new(error(0) / scale[0], error(1) / scale[1]);
                let estimated = own(second) * errors.variance_factor[of.wire]
                    + first.map_or_else(Matrix2::zeros, |f| own(f) * errors.variance_factor[0])
                    + calibration;
                scaled(estimated).cholesky().map_or(f64::INFINITY, |c| off.dot(&c.solve(&off)))
            },
        )
        .collect();
    let reach = quantile(&mut distances, CONFIDENCE).sqrt();
    let rim = (0..POINTS)
        .map(|i| {
            let angle = std::f64::consts::TAU * i as f64 / (POINTS - 1) as f64;
            let on = root * Vector2::new(angle.cos(), angle.sin()) * reach;
            [centre[0] + on[0] * scale[0], centre[1] + on[1] * scale[1]]
        })
        .collect();
    Some(Region {
        wire: of.name.to_owned(),
        of_difference: of.difference,
        coefficients: [names[0].name.to_owned(), names[1].name.to_owned()],
        units: [names[0].unit.to_owned(), names[1].unit.to_owned()],
        centre,
        rim,
        confidence: CONFIDENCE,
    })
}

fn calibration(first: Option<&Known>, second: &Known, same: &[CalibrationTerm]) -> Matrix2<f64> {
    let mut sum = Matrix2::zeros();
    for &term in &CalibrationTerm::ALL {
        let of = |k: &Known| {
            k.common
                .iter()
                .find(|c| c.term == term)
                .map(|c| (Vector2::new(c.effects[0], c.effects[1]), c.standard_uncertainty))
        };
        let mut add = |(x, u): (Vector2<f64>, f64)| sum += x * x.transpose() * (u * u);
        match (first.and_then(of), of(second)) {
            (Some((x, ux)), Some((y, uy))) if same.contains(&term) => add((y - x, ux.max(uy))),
            (a, b) => a.into_iter().chain(b).for_each(&mut add),
        }
    }
    sum
}

//! How wide an interval must be to hold at every place, for every quantity of a law and for every wire at once.
//!
//! ```text
//! T = max over all places of |d̂ − d|/se(d̂);   band: d̂ ± c·se,  c the quantile of T at the confidence
//! ```
//!
//! T is drawn: coefficients of each wire err normally with their covariance, each wire's estimated variance by
//! χ²_ν/ν, instruments that the wires share err alike. So wires with unequal scatter and few trials keep the level, the
//! first wire's error counts once for all others, and no place is paid for twice.
//!
//! # Source
//! The largest standardised error over a region as the width of a band: W. Liu, Simultaneous Inference in Regression
//! (2010); drawn: J. L. Montiel Olea, M. Plagborg-Møller, J. Appl. Econometrics 34 (2019) 1–17. Drawn pivots for unequal
//! variances: K. Krishnamoorthy, F. Lu, T. Mathew, Comput. Stat. Data Anal. 51 (2007) 5731–5742.

use rayon::prelude::*;

use super::known::{Known, MOST, Weights};
use super::spots::Spot;
use crate::statistics::{DrawStream, Purpose, quantile};
use crate::study::CalibrationTerm;

/// Draws of the largest error: they leave 0.3 % of the level uncertain.
pub(super) const DRAWS: usize = 10_000;

/// Errors of every wire's coefficients in one draw, those of instruments among them.
#[derive(Debug, Clone)]
pub(super) struct Errors {
    /// Error of the coefficients by wire.
    pub(super) coefficients: Vec<Weights>,
    /// χ²_ν/ν by wire: by how much its variance is misjudged.
    pub(super) variance_factor: Vec<f64>,
}

impl Errors {
    pub(super) fn none(wires: usize) -> Self {
        Self { coefficients: vec![[0.0; MOST]; wires], variance_factor: vec![1.0; wires] }
    }

    /// Draws anew.
    pub(super) fn draw(&mut self, wires: &[Known], same: &[CalibrationTerm], seed: u64, index: usize) {
        let mut stream = DrawStream::new(seed, Purpose::Comparing, index as u64);
        for (wire, known) in wires.iter().enumerate() {
            self.variance_factor[wire] = known.draw(&mut stream, &mut self.coefficients[wire]);
        }
        for &term in &CalibrationTerm::ALL {
            let shared = stream.normal();
            let of = |k: &Known| k.common.iter().find(|c| c.term == term).map(|c| c.standard_uncertainty);
            let largest = wires.iter().filter_map(of).fold(0.0, f64::max);
            for (known, coefficients) in wires.iter().zip(&mut self.coefficients) {
                let own = stream.normal();
                let Some(common) = known.common.iter().find(|c| c.term == term) else { continue };
                let error = if same.contains(&term) { shared * largest } else { own * common.standard_uncertainty };
                coefficients.iter_mut().zip(&common.effects).for_each(|(c, e)| *c += e * error);
            }
        }
    }
}

/// Standard errors that a band over the spots needs at a confidence; NaN where there is nothing to err.
pub(super) fn critical(wires: &[Known], spots: &[Spot], same: &[CalibrationTerm], seed: u64, confidence: f64) -> f64 {
    let mut largest: Vec<f64> = (0..DRAWS)
        .into_par_iter()
        .with_min_len(256)
        .map_init(
            || Errors::none(wires.len()),
            |errors, index| {
                errors.draw(wires, same, seed, index);
                spots.iter().map(|spot| standardised(spot, errors)).fold(0.0, f64::max)
            },
        )
        .collect();
    quantile(&mut largest, confidence)
}

fn standardised(spot: &Spot, errors: &Errors) -> f64 {
    let sum =
        |wire: usize, weights: &Weights| errors.coefficients[wire].iter().zip(weights).map(|(e, g)| e * g).sum::<f64>();
    let off = sum(spot.wire, &spot.weights[1]) - sum(0, &spot.weights[0]);
    let variance = spot.variances[0] * errors.variance_factor[0]
        + spot.variances[1] * errors.variance_factor[spot.wire]
        + spot.calibration_variance;
    if variance > 0.0 { off.abs() / variance.sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use crate::compare::laws::PlaceOfLaw;
    use crate::compare::laws::spots::Quantity;
    use nalgebra::DMatrix;

    fn known(covariance: [f64; 3], degrees: f64) -> Known {
        let [a, b, c] = covariance;
        Known::new(vec![0.3, 5.0], DMatrix::from_row_slice(2, 2, &[a, b, b, c]), degrees, 20, Vec::new(), false)
    }

    fn spot(known: [&Known; 2], x: f64) -> Spot {
        let weights = [[1.0, x, 0.0, 0.0, 0.0]; 2];
        Spot {
            wire: 1,
            quantity: Quantity::Voltage,
            at: PlaceOfLaw::default(),
            sums: [0.0; 2],
            limits: [-1.0, 1.0],
            variances: [0, 1].map(|i| known[i].variance(&weights[i])),
            calibration_variance: 0.0,
            weights,
            along: true,
        }
    }

    #[test]
    fn one_place_asks_for_students_quantile_and_a_plane_for_scheffes() {
        let exact = known([1e-12, 0.0, 1e-12], f64::INFINITY);
        let wire = known([1.0, 0.0, 1.0], 10.0);
        let wires = [exact.clone(), wire.clone()];
        // Student's t with 10 degrees at 0.95 two-sided 0.90: 1.8125. 10 000 draws leave 0.003 of the level, and the
        // density of |t| there is 0.15, so 0.02 is one standard error; three of them.
        let c = critical(&wires, &[spot([&exact, &wire], 0.0)], &[], 1, 0.9);
        assert!((c - 1.8125).abs() < 0.06, "{c}");
        // Places in all directions of two coefficients: √(2·F(0.90; 2, 10)) = √(2·2.9245) = 2.4184.
        let all: Vec<Spot> =
            (0..200).map(|i| spot([&exact, &wire], (PI * (f64::from(i) / 200.0 - 0.5)).tan())).collect();
        let c = critical(&wires, &all, &[], 1, 0.9);
        assert!((c - 2.4184).abs() < 0.08, "{c}");
    }
}

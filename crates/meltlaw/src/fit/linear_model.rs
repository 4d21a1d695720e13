//! A model linear in its coefficients, with residuals to about twice the digits of a double.

use nalgebra::DMatrix;

use super::careful::{TwoPart, dot};
use super::least_squares::LeastSquares;

/// y ≈ X·b.
#[derive(Debug, Clone)]
pub struct LinearModel {
    /// X, one row per value.
    pub design: DMatrix<f64>,
    /// y.
    pub y: Vec<f64>,
}

impl LinearModel {
    fn residual(&self, b: &[f64], i: usize) -> TwoPart {
        dot(-self.y[i], self.design.row(i).iter().copied(), b.iter().copied())
    }
}

impl LeastSquares for LinearModel {
    fn residual_count(&self) -> usize {
        self.y.len()
    }

    fn residuals(&self, b: &[f64], out: &mut [f64]) {
        for (i, e) in out.iter_mut().enumerate() {
            *e = self.residual(b, i).value;
        }
    }

    fn jacobian(&self, _: &[f64], out: &mut DMatrix<f64>) {
        out.copy_from(&self.design);
    }

    fn residual_rests(&self, b: &[f64], out: &mut [f64]) -> bool {
        for (i, rest) in out.iter_mut().enumerate() {
            *rest = self.residual(b, i).rest;
        }
        true
    }
}

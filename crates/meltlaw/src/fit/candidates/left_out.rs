//! A least-squares fit without one trial, for every trial at the price of a few fits.
//!
//! ```text
//! rⱼ(b + δ) = rⱼ + Jⱼδ + ½ δᵀKⱼδ,  δ₋ᵢ = the minimum of ½ Σ_{j≠i} rⱼ² by Newton's method
//! ```
//!
//! The weighted residuals of errors in variables are expanded to second order about the full fit, and their
//! sums are kept: a trial is taken out by subtracting its own part. What is neglected is of third order in
//! the shift, which is of the size of a standard error at most, so that refits agree to six digits.

use nalgebra::{DMatrix, DVector};

use crate::fit::errors_in_variables::{EivFit, Observation, weighted_residuals};
use crate::laws::Law;

/// The fit of the other trials.
#[derive(Debug, Clone)]
pub(super) struct WithoutOne {
    pub(super) b: Vec<f64>,
    /// χ² per degree of freedom of the others.
    pub(super) chi_squared_per_degree: f64,
    /// Covariance by the stated errors.
    pub(super) stated_covariance: DMatrix<f64>,
}

/// Coefficients without each trial in turn; `None` where the others do not determine them, or where prior
/// knowledge takes part (the expansion is about the trials' own minimum).
pub fn without_each(law: &impl Law, observations: &[Observation], fit: &EivFit) -> Vec<Option<Vec<f64>>> {
    if observations.len() <= fit.b.len() + 1 || !fit.prior.rows.is_empty() {
        return vec![None; observations.len()];
    }
    let expansion = Expansion::new(law, observations, fit);
    (0..observations.len()).map(|i| expansion.without(i).map(|w| w.b)).collect()
}

/// Residual, its first and its second derivatives at the full fit.
struct Part {
    r: f64,
    j: DVector<f64>,
    k: DMatrix<f64>,
}

/// The expansion about a fit.
pub(super) struct Expansion {
    b: Vec<f64>,
    degrees: f64,
    parts: Vec<Part>,
    sums: Sums,
}

/// Σ r², Σ J Jᵀ, Σ r K and Σ Jₐ K (one matrix per a).
#[derive(Clone)]
struct Sums {
    squares: f64,
    product: DMatrix<f64>,
    bend: DMatrix<f64>,
    third: Vec<DMatrix<f64>>,
}

impl Sums {
    fn of(part: &Part) -> Self {
        Self {
            squares: part.r * part.r,
            product: &part.j * part.j.transpose(),
            bend: &part.k * part.r,
            third: part.j.iter().map(|j| &part.k * *j).collect(),
        }
    }

    fn add(&mut self, other: &Self, sign: f64) {
        self.squares += sign * other.squares;
        self.product += &other.product * sign;
        self.bend += &other.bend * sign;
        for (a, b) in self.third.iter_mut().zip(&other.third) {
            *a += b * sign;
        }
    }

    /// Change of Σ J Jᵀ over δ to first order: Σ J (Kδ)ᵀ + (Kδ) Jᵀ.
    fn product_change(&self, delta: &DVector<f64>) -> DMatrix<f64> {
        let mut change = DMatrix::zeros(delta.len(), delta.len());
        for (a, matrix) in self.third.iter().enumerate() {
            let row = matrix * delta;
            for (b, v) in row.iter().enumerate() {
                change[(a, b)] += v;
                change[(b, a)] += v;
            }
        }
        change
    }

    /// Change of Σ r K over δ to first order: Σ (Jδ) K.
    fn bend_change(&self, delta: &DVector<f64>) -> DMatrix<f64> {
        self.third.iter().zip(delta.iter()).fold(DMatrix::zeros(delta.len(), delta.len()), |sum, (m, d)| sum + m * *d)
    }
}

impl Expansion {
    /// About a fit. Second derivatives are central differences of the exact Jacobian over half a standard
    /// error.
    pub(super) fn new(law: &impl Law, observations: &[Observation], fit: &EivFit) -> Self {
        let p = fit.b.len();
        let (r, j) = weighted_residuals(law, observations, &fit.b);
        let mut second = vec![DMatrix::zeros(p, p); r.len()];
        for a in 0..p {
            let h = 0.5 * fit.stated_covariance[(a, a)].sqrt();
            if !(h > 0.0) {
                continue;
            }
            let side = |h: f64| {
                let mut b = fit.b.clone();
                b[a] += h;
                weighted_residuals(law, observations, &b).1
            };
            let (low, high) = (side(-h), side(h));
            for (i, k) in second.iter_mut().enumerate() {
                for c in 0..p {
                    let slope = (high[(i, c)] - low[(i, c)]) / (2.0 * h);
                    k[(a, c)] += 0.5 * slope;
                    k[(c, a)] += 0.5 * slope;
                }
            }
        }
        let parts: Vec<Part> =
            second.into_iter().enumerate().map(|(i, k)| Part { r: r[i], j: j.row(i).transpose(), k }).collect();
        let zero = DMatrix::zeros(p, p);
        let mut sums = Sums { squares: 0.0, product: zero.clone(), bend: zero.clone(), third: vec![zero; p] };
        for part in &parts {
            sums.add(&Sums::of(part), 1.0);
        }
        Self { b: fit.b.clone(), degrees: fit.degrees_of_freedom() as f64, parts, sums }
    }

    /// The fit without a trial; `None` where the others do not determine it.
    pub(super) fn without(&self, i: usize) -> Option<WithoutOne> {
        let part = &self.parts[i];
        let mut rest = self.sums.clone();
        rest.add(&Sums::of(part), -1.0);
        let gradient = &part.j * -part.r;
        let hessian = &rest.product + &rest.bend;
        let mut delta = DVector::zeros(self.b.len());
        let mut change = DMatrix::zeros(self.b.len(), self.b.len());
        // The first step is the whole shift to first order; the second and third take up the bend.
        for _ in 0..3 {
            let slope = &gradient + &hessian * &delta + 0.5 * (&change * &delta);
            delta -= (&hessian + &change).cholesky()?.solve(&slope);
            change = rest.product_change(&delta) + rest.bend_change(&delta);
        }
        let squares = rest.squares
            + 2.0 * gradient.dot(&delta)
            + delta.dot(&(&hessian * &delta))
            + delta.dot(&(&change * &delta)) / 3.0;
        let stated_covariance = (&rest.product + rest.product_change(&delta)).cholesky()?.inverse();
        Some(WithoutOne {
            b: self.b.iter().zip(delta.iter()).map(|(b, d)| b + d).collect(),
            chi_squared_per_degree: squares.max(0.0) / (self.degrees - 1.0),
            stated_covariance,
        })
    }
}

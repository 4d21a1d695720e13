//! What the derivatives of the residuals say of the coefficients: their covariance, the leverage of each
//! residual, and how well the coefficients can be told apart.

use nalgebra::{DMatrix, DVector};

use super::careful::{TwoPart, dot, sum};

/// Relative size below which a diagonal of R counts as zero: columns are scaled to about length 1 first, and
/// half the digits of a double must remain for a standard error to mean anything.
const RANK_TOLERANCE: f64 = 1e-13;

/// Condition above which columns are strongly collinear: the errors of some coefficients are large and go
/// together, and a change of the readings by one part in it would make the coefficients inseparable.
///
/// # Source
/// Belsley, Kuh and Welsch (1980), Regression Diagnostics: condition indices of 30 and more with columns of
/// length 1 (the book is in public lists; its number 30 is from memory).
pub const STRONGLY_COLLINEAR: f64 = 30.0;

/// Covariance, leverage and condition of a linear problem.
#[derive(Debug, Clone)]
pub struct Information {
    /// (JᵀJ)⁻¹, for residuals of standard deviation 1.
    pub covariance: DMatrix<f64>,
    /// Leverage of each residual.
    pub leverage: Vec<f64>,
    /// Largest over smallest singular value of the derivatives with every column scaled to length 1.
    pub condition: f64,
}

impl Information {
    /// From the QR factor of the column-scaled derivatives; `None` where the columns are dependent.
    pub fn of(jacobian: &DMatrix<f64>) -> Option<Self> {
        let (scaled, scales) = scale_columns(jacobian)?;
        let qr = scaled.clone().qr();
        let r = qr.r();
        if !full_rank(&r) {
            return None;
        }
        let p = r.ncols();
        let inverse = r.solve_upper_triangular(&DMatrix::identity(p, p))?;
        let refined = refined(&scaled, &r, &inverse * inverse.transpose());
        let covariance =
            DMatrix::from_fn(p, p, |i, j| f64::midpoint(refined[(i, j)], refined[(j, i)]) / (scales[i] * scales[j]));
        let leverage = qr.q().row_iter().map(|row| row.norm_squared()).collect();
        Some(Self { covariance, leverage, condition: condition_of_factor(r) })
    }

    /// Digits of a double that the condition leaves to the worst coefficient.
    pub fn digits_left(&self) -> f64 {
        digits_left(self.condition)
    }
}

/// Digits of a double that a condition leaves to the worst coefficient.
pub fn digits_left(condition: f64) -> f64 {
    -(condition * f64::EPSILON / 2.0).log10()
}

/// Condition of derivatives with every column scaled to length 1; infinite where they are dependent.
pub fn condition(jacobian: &DMatrix<f64>) -> f64 {
    scale_columns(jacobian).map_or(f64::INFINITY, |(scaled, _)| condition_of_factor(scaled.qr().r()))
}

fn condition_of_factor(mut r: DMatrix<f64>) -> f64 {
    for mut column in r.column_iter_mut() {
        let length = column.norm();
        column.unscale_mut(length);
    }
    let singular = r.singular_values();
    // Not a number where a column is.
    let condition = singular.max() / singular.min();
    if condition.is_finite() { condition } else { f64::INFINITY }
}

/// Rounds of refinement at most: each gains the digits that the condition leaves, 3 at the limit of
/// [`RANK_TOLERANCE`].
const ROUNDS: usize = 5;

/// (AᵀA)⁻¹ with the rounding of R taken out: what AᵀA·C lacks of the identity, with twice the digits of a
/// double, put right through R. The entries are kept in two parts meanwhile, since their own rounding would
/// come back multiplied by the condition.
fn refined(a: &DMatrix<f64>, r: &DMatrix<f64>, mut inverse: DMatrix<f64>) -> DMatrix<f64> {
    for j in 0..inverse.ncols() {
        let mut column = inverse.column(j).into_owned();
        let mut rest = DVector::zeros(column.len());
        let mut last = 0.1;
        for _ in 0..ROUNDS {
            let lacking = lacking(a, &column, &rest, j);
            let Some(step) = r.tr_solve_upper_triangular(&lacking).and_then(|z| r.solve_upper_triangular(&z)) else {
                break;
            };
            let share = step.norm() / column.norm();
            if !(share < last) {
                break;
            }
            for (i, step) in step.iter().enumerate() {
                let next = sum(column[i], rest[i] + step);
                (column[i], rest[i]) = (next.value, next.rest);
            }
            last = 0.1 * share;
            if share < f64::EPSILON {
                break;
            }
        }
        inverse.set_column(j, &column);
    }
    inverse
}

/// eⱼ − Aᵀ(A·(c + rest)).
fn lacking(a: &DMatrix<f64>, c: &DVector<f64>, rest: &DVector<f64>, j: usize) -> DVector<f64> {
    let along: Vec<TwoPart> = a
        .row_iter()
        .map(|row| {
            let most = dot(0.0, row.iter().copied(), c.iter().copied());
            TwoPart { rest: most.rest + row.tr_dot(rest), ..most }
        })
        .collect();
    DVector::from_fn(c.len(), |k, _| {
        let start = if k == j { -1.0 } else { 0.0 };
        let column = a.column(k);
        let most = dot(start, column.iter().copied(), along.iter().map(|t| t.value));
        let little: f64 = column.iter().zip(&along).map(|(a, t)| a * t.rest).sum();
        -(most.value + (most.rest + little))
    })
}

/// Whether no diagonal of R is rounding.
pub(super) fn full_rank(r: &DMatrix<f64>) -> bool {
    let diagonal = r.diagonal().abs();
    diagonal.min() > RANK_TOLERANCE * diagonal.max()
}

fn scale_columns(jacobian: &DMatrix<f64>) -> Option<(DMatrix<f64>, Vec<f64>)> {
    let scales: Vec<f64> = jacobian.column_iter().map(|c| power_of_two(c.norm())).collect();
    if scales.iter().any(|s| !(*s > 0.0 && s.is_finite())) || jacobian.nrows() < jacobian.ncols() {
        return None;
    }
    let mut scaled = jacobian.clone();
    for (j, scale) in scales.iter().enumerate() {
        scaled.column_mut(j).scale_mut(1.0 / scale);
    }
    Some((scaled, scales))
}

/// The power of two nearest to a length, which scales without rounding; 0 for 0.
pub(super) fn power_of_two(length: f64) -> f64 {
    if length > 0.0 { length.log2().round().clamp(-1000.0, 1000.0).exp2() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_unit_columns_at_a_known_angle_have_its_condition_and_covariance() {
        // cos = 0.6: singular values √(1 ± 0.6), condition √(1.6/0.4) = 2;
        // (JᵀJ)⁻¹ = 1/0.64·[[1, −0.6], [−0.6, 1]], second column in a unit 1000 times smaller.
        let jacobian = DMatrix::from_row_slice(3, 2, &[1.0, 600.0, 0.0, 800.0, 0.0, 0.0]);
        let found = Information::of(&jacobian).expect("independent columns");
        assert!((found.condition - 2.0).abs() < 1e-14);
        assert!((condition(&jacobian) - 2.0).abs() < 1e-14);
        assert!((found.covariance[(0, 0)] - 1.5625).abs() < 1e-15);
        assert!((found.covariance[(0, 1)] + 0.9375e-3).abs() < 1e-18);
        assert!((found.covariance[(1, 1)] - 1.5625e-6).abs() < 1e-21);
        assert!(found.leverage.iter().zip([1.0, 1.0, 0.0]).all(|(h, w)| (h - w).abs() < 1e-15));
    }

    #[test]
    fn the_inverse_of_a_badly_conditioned_problem_keeps_its_digits() {
        // A unit column and the same with d = 2⁻²⁰ across: (JᵀJ)⁻¹ = [[1 + 1/d², −1/d²], [−1/d², 1/d²]],
        // condition 2/d = 2.1e6, of which plain QR leaves 10 digits: −log₁₀(2.1e6·1.1e-16) = 9.6.
        let d = 2.0_f64.powi(-20);
        let found =
            Information::of(&DMatrix::from_row_slice(3, 2, &[0.6, 0.6, 0.8, 0.8, 0.0, d])).expect("independent");
        let scale = 1.0 / (0.6_f64 * 0.6 + 0.8 * 0.8);
        assert!((found.covariance[(0, 0)] / (scale + 1.0 / (d * d)) - 1.0).abs() < 1e-15);
        assert!((found.condition * d / 2.0 - 1.0).abs() < 1e-7);
        assert!((found.digits_left() - 9.6).abs() < 0.1);
    }

    #[test]
    fn dependent_columns_have_no_covariance_and_no_finite_condition() {
        let jacobian = DMatrix::from_row_slice(3, 2, &[1.0, 2.0, 2.0, 4.0, 3.0, 6.0]);
        assert!(Information::of(&jacobian).is_none());
        assert!(condition(&jacobian) > 1e15);
        assert!(condition(&DMatrix::zeros(3, 2)).is_infinite());
    }
}

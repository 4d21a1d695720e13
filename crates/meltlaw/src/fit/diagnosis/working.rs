//! A fit on the scale on which all trials have the same error: the common ground of every test.

use nalgebra::{DMatrix, DVector};

use crate::statistics::{f_above, student_t_two_sided};

/// Residuals and derivatives of one fit, each trial divided by its own standard error.
#[derive(Debug, Clone)]
pub(in crate::fit) struct Working {
    /// Residuals over their standard errors as stated.
    pub(in crate::fit) residual: DVector<f64>,
    /// Derivatives of the fitted values by the coefficients over the same errors.
    pub(in crate::fit) jacobian: DMatrix<f64>,
    /// (JᵀJ)⁻¹.
    pub(in crate::fit) covariance: DMatrix<f64>,
    /// What a shift of one unit of `shift` does to each residual: the trials' sensitivity to a common change.
    pub(in crate::fit) sensitivity: DVector<f64>,
    /// What a shift means.
    pub(in crate::fit) shift: Shift,
    /// Trials less coefficients.
    pub(in crate::fit) degrees: f64,
}

/// The change that drift, wear and blocks are told in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::fit) struct Shift {
    /// Unit at the bench: m/min, V, ms.
    pub(in crate::fit) unit: &'static str,
    /// Bench units per unit of shift, at the middle of the trials.
    pub(in crate::fit) per_unit: f64,
    /// What is shifted, in words.
    pub(in crate::fit) what: &'static str,
}

/// A coefficient added to the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::fit) struct Added {
    /// Estimate in units of the added column.
    pub(in crate::fit) estimate: f64,
    /// Student's t.
    pub(in crate::fit) t: f64,
    /// Its degrees of freedom.
    pub(in crate::fit) degrees: f64,
    /// Two-sided probability.
    pub(in crate::fit) p: f64,
}

/// Several columns added together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::fit) struct Group {
    /// F of the columns against the rest.
    pub(in crate::fit) f: f64,
    /// Independent columns.
    pub(in crate::fit) numerator: f64,
    /// Degrees of the rest.
    pub(in crate::fit) denominator: f64,
    /// Probability of a larger F.
    pub(in crate::fit) p: f64,
    /// Sum of squares that the columns take up.
    pub(in crate::fit) taken: f64,
    /// Mean square of what is left.
    pub(in crate::fit) within: f64,
    /// Trace of the columns' products, free of the coefficients.
    pub(in crate::fit) trace: f64,
}

impl Working {
    /// z less what the coefficients can take up of it.
    fn free(&self, z: &DVector<f64>) -> DVector<f64> {
        z - &self.jacobian * (&self.covariance * self.jacobian.tr_mul(z))
    }

    /// The fit with one more column; `None` where the column says nothing beyond the coefficients or too few
    /// trials are left.
    ///
    /// ```text
    /// γ = z⊥·r/z⊥·z⊥,  t = γ·|z⊥|/s,  s² = (r·r − γ²·z⊥·z⊥)/(ν − 1)
    /// ```
    pub(in crate::fit) fn added(&self, z: &DVector<f64>) -> Option<Added> {
        let free = self.free(z);
        let length = free.norm_squared();
        let degrees = self.degrees - 1.0;
        if !(length > 1e-9 * z.norm_squared() && degrees >= 1.0) {
            return None;
        }
        let estimate = free.dot(&self.residual) / length;
        let explained = estimate * estimate * length;
        let rest = (self.residual_free() - explained).max(0.0) / degrees;
        let t = estimate * length.sqrt() / rest.sqrt();
        t.is_finite().then(|| Added { estimate, t, degrees, p: student_t_two_sided(t, degrees) })
    }

    /// Sum of squares that the coefficients leave.
    fn residual_free(&self) -> f64 {
        self.residual.norm_squared()
    }

    /// The fit with several columns, as an analysis of variance.
    pub(in crate::fit) fn added_group(&self, columns: &[DVector<f64>]) -> Option<Group> {
        let free: Vec<DVector<f64>> = columns.iter().map(|c| self.free(c)).collect();
        let matrix = DMatrix::from_columns(&free);
        let trace = matrix.norm_squared();
        let svd = matrix.svd(true, false);
        let largest = svd.singular_values.max();
        let u = svd.u?;
        let (mut taken, mut numerator) = (0.0, 0.0);
        for (column, s) in u.column_iter().zip(svd.singular_values.iter()) {
            if *s > 1e-7 * largest {
                taken += column.dot(&self.residual).powi(2);
                numerator += 1.0;
            }
        }
        let denominator = self.degrees - numerator;
        if !(numerator >= 1.0 && denominator >= 1.0 && largest > 0.0) {
            return None;
        }
        let within = (self.residual_free() - taken).max(0.0) / denominator;
        let f = taken / numerator / within;
        f.is_finite().then(|| Group {
            f,
            numerator,
            denominator,
            p: f_above(f, numerator, denominator),
            taken,
            within,
            trace,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y = b·x with an extra slope in time: hand-made so that the added estimate is the planted one.
    #[test]
    fn an_added_column_finds_what_was_planted_beside_the_law() {
        let x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
        let time = [0.0, 3.0, 1.0, 2.0, 5.0, 4.0, 7.0, 6.0];
        let noise = [0.1, -0.1, 0.05, -0.05, 0.1, -0.1, 0.05, -0.05];
        let jacobian = DMatrix::from_iterator(8, 1, x);
        let y = DVector::from_fn(8, |i, _| 2.0 * x[i] + 0.5 * time[i] + noise[i]);
        let covariance = DMatrix::from_element(1, 1, 1.0 / x.iter().map(|v| v * v).sum::<f64>());
        let b = (jacobian.tr_mul(&y) * covariance[(0, 0)])[(0, 0)];
        let working = Working {
            residual: &y - &jacobian * b,
            jacobian,
            covariance,
            sensitivity: DVector::from_element(8, 1.0),
            shift: Shift { unit: "V", per_unit: 1.0, what: "voltage" },
            degrees: 7.0,
        };
        let added = working.added(&DVector::from_row_slice(&time)).expect("time is no multiple of x");
        // Two-variable least squares by the normal equations: Σx² = 204, Σxt = 168, Σt² = 140, and of y.
        let sums = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(u, v)| u * v).sum::<f64>();
        let (xx, xt, tt) = (sums(&x, &x), sums(&x, &time), sums(&time, &time));
        let (xy, ty) = (sums(&x, y.as_slice()), sums(&time, y.as_slice()));
        let wanted = (xx * ty - xt * xy) / (xx * tt - xt * xt);
        assert!((added.estimate - wanted).abs() < 1e-12, "{added:?} {wanted}");
        assert!((added.estimate - 0.5).abs() < 0.05 && added.p < 1e-4);
        let group = working.added_group(&[DVector::from_row_slice(&time)]).expect("one column");
        assert!((group.f - added.t * added.t).abs() < 1e-8 * group.f && (group.p - added.p).abs() < 1e-12);
    }
}

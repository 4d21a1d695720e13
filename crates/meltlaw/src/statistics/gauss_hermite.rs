//! Gauss–Hermite points for averages over a standard normal.

use nalgebra::{DMatrix, SymmetricEigen};

/// Points and weights with Σ weight·f(point) = ∫ f(z) φ(z) dz for polynomials up to degree 2n − 1.
#[derive(Debug, Clone)]
pub struct GaussHermite {
    /// Points, ascending.
    pub points: Vec<f64>,
    /// Weights, sum 1.
    pub weights: Vec<f64>,
    /// Their natural logarithms.
    pub log_weights: Vec<f64>,
}

impl GaussHermite {
    /// `count` points by the eigenvalues of the Jacobi matrix of the probabilists' Hermite polynomials.
    ///
    /// # Source
    /// Golub and Welsch (1969), Math. Comp. 23, 221–230, followed by one Newton step on the polynomial.
    pub fn new(count: usize) -> Self {
        let jacobi =
            DMatrix::from_fn(count, count, |i, j| if i.abs_diff(j) == 1 { (i.max(j) as f64).sqrt() } else { 0.0 });
        let mut points: Vec<f64> = SymmetricEigen::new(jacobi).eigenvalues.iter().copied().collect();
        points.sort_by(f64::total_cmp);
        let mut weights = Vec::with_capacity(count);
        for z in &mut points {
            for _ in 0..3 {
                let (value, before) = normalised_hermite(count, *z);
                *z -= value / ((count as f64).sqrt() * before);
            }
            let (_, before) = normalised_hermite(count, *z);
            weights.push(1.0 / (count as f64 * before * before));
        }
        let total: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|w| *w /= total);
        let log_weights = weights.iter().map(|w| w.ln()).collect();
        Self { points, weights, log_weights }
    }
}

/// The orthonormal probabilists' Hermite polynomials of degree `n` and `n − 1` at `z`.
fn normalised_hermite(n: usize, z: f64) -> (f64, f64) {
    let (mut before, mut now) = (0.0, 1.0);
    for k in 0..n {
        let next = (z * now - (k as f64).sqrt() * before) / ((k + 1) as f64).sqrt();
        before = now;
        now = next;
    }
    (now, before)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_of_the_normal_are_exact() {
        let rule = GaussHermite::new(31);
        for (power, moment) in [(0, 1.0), (2, 1.0), (4, 3.0), (6, 15.0), (8, 105.0), (10, 945.0)] {
            let sum: f64 = rule.points.iter().zip(&rule.weights).map(|(z, w)| w * z.powi(power)).sum();
            assert!((sum / moment - 1.0).abs() < 1e-12, "moment {power}: {sum}");
        }
    }
}

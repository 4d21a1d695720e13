//! A symmetric matrix whose entries lie near its diagonal, and its Cholesky factor.

/// Entries below the diagonal that are kept: three settings of a feed and of the two before it.
pub(super) const REACH: usize = 8;

/// The matrix, row by row: entry (i, i − k) at `rows[i][k]`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Band {
    rows: Vec<[f64; REACH + 1]>,
}

impl Band {
    pub(super) fn zeros(size: usize) -> Self {
        Self { rows: vec![[0.0; REACH + 1]; size] }
    }

    pub(super) fn clear(&mut self) {
        self.rows.fill([0.0; REACH + 1]);
    }

    /// Adds to an entry on or below the diagonal, within reach; its mirror is the same entry.
    pub(super) fn add(&mut self, i: usize, j: usize, value: f64) {
        self.rows[i][i - j] += value;
    }

    pub(super) fn largest_on_diagonal(&self) -> f64 {
        self.rows.iter().fold(0.0, |most, row| row[0].abs().max(most))
    }

    /// Solves (M + damping·1)·x = b in place; `false` where that is not positive definite.
    pub(super) fn solve(&self, damping: f64, b: &mut [f64]) -> bool {
        let n = self.rows.len();
        let mut l = self.rows.clone();
        for i in 0..n {
            let first = i.saturating_sub(REACH);
            for j in first..=i {
                let mut sum = l[i][i - j] + if i == j { damping } else { 0.0 };
                for k in first.max(j.saturating_sub(REACH))..j {
                    sum -= l[i][i - k] * l[j][j - k];
                }
                if i == j {
                    if !(sum > 0.0 && sum.is_finite()) {
                        return false;
                    }
                    l[i][0] = sum.sqrt();
                } else {
                    l[i][i - j] = sum / l[j][0];
                }
            }
        }
        for i in 0..n {
            for k in i.saturating_sub(REACH)..i {
                b[i] -= l[i][i - k] * b[k];
            }
            b[i] /= l[i][0];
        }
        for i in (0..n).rev() {
            b[i] /= l[i][0];
            for k in i.saturating_sub(REACH)..i {
                b[k] -= l[i][i - k] * b[i];
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::{DMatrix, DVector};

    use super::*;

    #[test]
    fn it_solves_what_a_full_matrix_solves() {
        let n = 24;
        let mut band = Band::zeros(n);
        let mut full = DMatrix::zeros(n, n);
        for i in 0..n {
            for j in i.saturating_sub(REACH)..=i {
                let value = if i == j { 30.0 } else { ((i * 7 + j * 3) % 11) as f64 / 4.0 - 1.2 };
                band.add(i, j, value);
                full[(i, j)] = value;
                full[(j, i)] = value;
            }
        }
        let b = DVector::from_fn(n, |i, _| (i as f64).cos());
        let mut found = b.as_slice().to_vec();
        assert!(band.solve(0.5, &mut found));
        let expected = (full + DMatrix::identity(n, n) * 0.5).lu().solve(&b).expect("diagonal dominates");
        // Both are exact up to rounding times the condition, here below 10.
        assert!(found.iter().zip(expected.iter()).all(|(a, b)| (a - b).abs() < 1e-13));
    }

    #[test]
    fn what_curves_downwards_is_told() {
        let mut band = Band::zeros(2);
        band.add(0, 0, 1.0);
        band.add(1, 1, -1.0);
        assert!(!band.solve(0.0, &mut [1.0, 1.0]));
    }
}

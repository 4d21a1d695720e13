//! Symmetric positive definite systems of a few unknowns, on the stack.

/// Lower factor of a symmetric matrix, Cholesky; `None` unless it is positive definite.
pub(super) fn factor<const N: usize>(matrix: &[[f64; N]; N]) -> Option<[[f64; N]; N]> {
    let mut lower = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let mut value = matrix[i][j];
            for k in 0..j {
                value -= lower[i][k] * lower[j][k];
            }
            if i == j {
                // What is left of the diagonal after rounding must be more than rounding.
                if !(value > 1e-15 * matrix[i][i] && value.is_finite()) {
                    return None;
                }
                lower[i][i] = value.sqrt();
            } else {
                lower[i][j] = value / lower[j][j];
            }
        }
    }
    Some(lower)
}

/// Solution of L·Lᵀ·x = right.
pub(super) fn solve<const N: usize>(lower: &[[f64; N]; N], right: [f64; N]) -> [f64; N] {
    let mut x = right;
    for i in 0..N {
        for k in 0..i {
            x[i] -= lower[i][k] * x[k];
        }
        x[i] /= lower[i][i];
    }
    for i in (0..N).rev() {
        for k in i + 1..N {
            x[i] -= lower[k][i] * x[k];
        }
        x[i] /= lower[i][i];
    }
    x
}

/// (L·Lᵀ)⁻¹.
pub(super) fn inverse<const N: usize>(lower: &[[f64; N]; N]) -> [[f64; N]; N] {
    let mut inverse = [[0.0; N]; N];
    for i in 0..N {
        let mut unit = [0.0; N];
        unit[i] = 1.0;
        inverse[i] = solve(lower, unit);
    }
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_of_two_by_hand() {
        // 4x + 2y = 10, 2x + 3y = 9: y = 2, x = 1.5.
        let lower = factor(&[[4.0, 2.0], [2.0, 3.0]]).expect("positive definite");
        let x = solve(&lower, [10.0, 9.0]);
        assert!((x[0] - 1.5).abs() < 1e-15 && (x[1] - 2.0).abs() < 1e-15);
        // Determinant 8: the inverse is (3, −2; −2, 4)/8.
        let inverse = inverse(&lower);
        assert!((inverse[0][0] - 0.375).abs() < 1e-15 && (inverse[0][1] + 0.25).abs() < 1e-15);
        assert!(factor(&[[1.0, 1.0], [1.0, 1.0]]).is_none());
    }
}

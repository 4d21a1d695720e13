//! Errors of pulse current and pulse time in the detachment law: each reading is moved towards the
//! trials' mean as far as it is unreliable, and what stays unknown is kept.
//!
//! ```text
//! Σt = S − mean Σe (never negative),  x̂ = μ + Σt(Σt + Σe)⁻¹(x − μ),  unknown = Σt − Σt(Σt + Σe)⁻¹Σt
//! ```
//!
//! With one Σe for all trials this is the contract's Λ = 1 − Σe·S⁻¹ and Σe − Σe·S⁻¹·Σe.

use nalgebra::{Matrix2, SymmetricEigen, Vector2};

/// A setting as read: (ln I_p/I₀, ln t_p) and the variances of its errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadSetting {
    /// ln(I_p/I₀).
    pub log_current: f64,
    /// ln(t_p/1 ms).
    pub log_time: f64,
    /// Variance of ln I_p.
    pub current_variance: f64,
    /// Variance of ln t_p.
    pub time_variance: f64,
}

/// A setting moved towards the mean and what stays unknown of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CorrectedSetting {
    /// ln(I_p/I₀).
    pub log_current: f64,
    /// ln(t_p/1 ms).
    pub log_time: f64,
    /// Variance of current, covariance, variance of time.
    pub unknown: [f64; 3],
}

/// Corrected settings and the spread of the true ones.
#[derive(Debug, Clone)]
pub struct Corrected {
    /// In the order given.
    pub settings: Vec<CorrectedSetting>,
    /// Variance of the true ln I_p over the trials.
    pub true_current_variance: f64,
}

/// Moves the readings by their reliability.
///
/// # Source
/// Regression calibration with known error covariance: Fuller (1987), Measurement Error Models (section
/// 2.2 from memory).
pub fn correct(settings: &[ReadSetting]) -> Corrected {
    let n = settings.len() as f64;
    let points: Vec<Vector2<f64>> = settings.iter().map(|s| Vector2::new(s.log_current, s.log_time)).collect();
    let mean = points.iter().sum::<Vector2<f64>>() / n.max(1.0);
    let mut spread = Matrix2::zeros();
    let mut error = Matrix2::zeros();
    for (point, s) in points.iter().zip(settings) {
        let d = point - mean;
        spread += d * d.transpose() / (n - 1.0).max(1.0);
        error += Matrix2::new(s.current_variance, 0.0, 0.0, s.time_variance) / n;
    }
    let truth = positive_part(spread - error);
    let settings = points
        .iter()
        .zip(settings)
        .map(|(point, s)| {
            let own = Matrix2::new(s.current_variance, 0.0, 0.0, s.time_variance);
            let as_read = CorrectedSetting { log_current: point.x, log_time: point.y, unknown: [0.0; 3] };
            if s.current_variance == 0.0 && s.time_variance == 0.0 {
                return as_read;
            }
            let Some(inverse) = (truth + own).try_inverse() else { return as_read };
            let gain = truth * inverse;
            let moved = mean + gain * (point - mean);
            let left = truth - gain * truth;
            CorrectedSetting {
                log_current: moved.x,
                log_time: moved.y,
                unknown: [left[(0, 0)], (left[(0, 1)] + left[(1, 0)]) / 2.0, left[(1, 1)]],
            }
        })
        .collect();
    Corrected { settings, true_current_variance: truth[(0, 0)] }
}

fn positive_part(matrix: Matrix2<f64>) -> Matrix2<f64> {
    let eigen = SymmetricEigen::new(matrix);
    let values = eigen.eigenvalues.map(|v| v.max(0.0));
    eigen.eigenvectors * Matrix2::from_diagonal(&values) * eigen.eigenvectors.transpose()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_errors_give_the_reliability_matrix() {
        let make =
            |x: f64, y: f64| ReadSetting { log_current: x, log_time: y, current_variance: 6.4e-5, time_variance: 1e-4 };
        let settings = [make(-0.2, 0.3), make(0.1, 0.9), make(0.05, 1.4), make(-0.1, 0.6), make(0.0, 1.1)];
        let corrected = correct(&settings);
        let mean = Vector2::new(-0.03, 0.86);
        let mut s = Matrix2::zeros();
        for p in &settings {
            let d = Vector2::new(p.log_current, p.log_time) - mean;
            s += d * d.transpose() / 4.0;
        }
        let e = Matrix2::new(6.4e-5, 0.0, 0.0, 1e-4);
        let a = e * s.try_inverse().expect("spread in both");
        let moved = mean + (Matrix2::identity() - a) * (Vector2::new(-0.2, 0.3) - mean);
        assert!((corrected.settings[0].log_current - moved.x).abs() < 1e-12);
        assert!((corrected.settings[0].log_time - moved.y).abs() < 1e-12);
        let left = e - a * e;
        assert!((corrected.settings[0].unknown[0] - left[(0, 0)]).abs() < 1e-15);
        assert!((corrected.settings[0].unknown[1] - left[(0, 1)]).abs() < 1e-15);
    }

    #[test]
    fn exact_readings_stay() {
        let make =
            |x: f64, y: f64| ReadSetting { log_current: x, log_time: y, current_variance: 0.0, time_variance: 0.0 };
        let corrected = correct(&[make(0.0, 0.3), make(0.0, 0.9)]);
        assert_eq!(corrected.settings[1], CorrectedSetting { log_current: 0.0, log_time: 0.9, unknown: [0.0; 3] });
    }
}

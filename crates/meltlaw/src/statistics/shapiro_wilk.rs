//! The Shapiro–Wilk test of normality.

use super::{normal_above, normal_quantile};

/// Result of [`shapiro_wilk`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapiroWilk {
    /// W, near 1 for a normal sample.
    pub statistic: f64,
    /// Probability of a W as small or smaller in a normal sample.
    pub p_value: f64,
}

/// Shapiro–Wilk W and its p-value for 3 to 5000 values; `None` outside that or where all are equal.
///
/// # Source
/// Royston (1995), Appl. Statist. 44, 547–551, algorithm AS R94 (polynomials from memory, held against
/// scipy.stats.shapiro in the tests).
pub fn shapiro_wilk(values: &[f64]) -> Option<ShapiroWilk> {
    let n = values.len();
    if !(3..=5000).contains(&n) || values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    if sorted[n - 1] - sorted[0] < 1e-300 {
        return None;
    }
    let weights = weights(n);
    let mean = sorted.iter().sum::<f64>() / n as f64;
    let spread: f64 = sorted.iter().map(|v| (v - mean) * (v - mean)).sum();
    let contrast: f64 = weights.iter().enumerate().map(|(i, a)| a * (sorted[n - 1 - i] - sorted[i])).sum();
    let w = (contrast * contrast / spread).min(1.0);
    Some(ShapiroWilk { statistic: w, p_value: p_value(w, n) })
}

/// Weights of the upper half, largest first.
fn weights(n: usize) -> Vec<f64> {
    let half = n / 2;
    if n == 3 {
        return vec![0.5_f64.sqrt()];
    }
    let m: Vec<f64> = (0..half).map(|i| -normal_quantile((i as f64 + 0.625) / (n as f64 + 0.25))).collect();
    let total = 2.0 * m.iter().map(|v| v * v).sum::<f64>();
    let root = total.sqrt();
    let u = 1.0 / (n as f64).sqrt();
    let first = polynomial(&[0.0, 0.221_157, -0.147_981, -2.071_19, 4.434_685, -2.706_056], u) + m[0] / root;
    let mut a = vec![first];
    let factor = if n > 5 {
        let second = polynomial(&[0.0, 0.042_981, -0.293_762, -1.752_461, 5.682_633, -3.582_633], u) + m[1] / root;
        a.push(second);
        ((total - 2.0 * (m[0] * m[0] + m[1] * m[1])) / (1.0 - 2.0 * (first * first + second * second))).sqrt()
    } else {
        ((total - 2.0 * m[0] * m[0]) / (1.0 - 2.0 * first * first)).sqrt()
    };
    let known = a.len();
    a.extend(m[known..].iter().map(|v| v / factor));
    a
}

fn p_value(w: f64, n: usize) -> f64 {
    let size = n as f64;
    if n == 3 {
        let p = 6.0 / std::f64::consts::PI * (w.sqrt().asin() - 0.75_f64.sqrt().asin());
        return p.clamp(0.0, 1.0);
    }
    let y = (1.0 - w).ln();
    let (y, mean, deviation) = if n <= 11 {
        let limit = polynomial(&[-2.273, 0.459], size);
        if y >= limit {
            return 1e-99;
        }
        (
            -(limit - y).ln(),
            polynomial(&[0.544, -0.399_78, 0.025_054, -6.714e-4], size),
            polynomial(&[1.382_2, -0.778_57, 0.062_767, -0.002_032_2], size).exp(),
        )
    } else {
        let x = size.ln();
        (
            y,
            polynomial(&[-1.586_1, -0.310_82, -0.083_751, 0.003_891_5], x),
            polynomial(&[-0.480_3, -0.082_676, 0.003_030_2], x).exp(),
        )
    };
    normal_above((y - mean) / deviation)
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_scipy() {
        // scipy 1.17.1: stats.shapiro of the samples below.
        let eleven = [148.0, 154.0, 158.0, 160.0, 161.0, 162.0, 166.0, 170.0, 182.0, 195.0, 236.0];
        let found = shapiro_wilk(&eleven).expect("eleven values");
        assert!((found.statistic - 0.788_81).abs() < 1e-4, "{found:?}");
        assert!((found.p_value - 0.006_704).abs() < 1e-5, "{found:?}");
    }

    #[test]
    fn refuses_what_it_cannot_judge() {
        assert!(shapiro_wilk(&[1.0, 2.0]).is_none());
        assert!(shapiro_wilk(&[2.0; 10]).is_none());
    }
}

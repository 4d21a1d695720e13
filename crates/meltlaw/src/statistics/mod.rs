//! Small statistics that the fits and the composer share: quantiles, distribution functions, quadrature
//! and a test of normality.

mod between;
mod distributions;
mod draws;
mod gauss_hermite;
mod quantile_error;
mod shapiro_wilk;

pub use between::{Groups, MeanLine};
pub use distributions::{
    chi_squared_above, chi_squared_quantile, f_above, f_quantile, ln_gamma, normal_above, normal_quantile,
    student_t_quantile, student_t_two_sided,
};
pub use draws::{DrawStream, Purpose};
pub use gauss_hermite::GaussHermite;
pub use quantile_error::quantile_error;
pub use shapiro_wilk::{ShapiroWilk, shapiro_wilk};

/// Type-7 quantiles (linear between order statistics) of values, which are reordered.
pub fn interval_of(values: &mut [f64], confidence: f64) -> [f64; 2] {
    let tail = (1.0 - confidence) / 2.0;
    [quantile(values, tail), quantile(values, 1.0 - tail)]
}

/// Type-7 quantile by selection; reorders `values`. NaN where there is no value.
pub fn quantile(values: &mut [f64], probability: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    let place = (values.len() - 1) as f64 * probability;
    let below = (place.floor() as usize).min(values.len() - 1);
    let (_, &mut low, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(low);
    low + (place - below as f64) * (high - low)
}

/// Median; reorders `values`.
pub fn median(values: &mut [f64]) -> f64 {
    quantile(values, 0.5)
}

/// Arithmetic mean.
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Smallest and largest value.
pub fn range(values: impl IntoIterator<Item = f64>) -> [f64; 2] {
    values.into_iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [low.min(v), high.max(v)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_linear_between_order_statistics() {
        // Hyndman and Fan (1996), type 7: of 1..5 the quantile at 0.1 is 1 + 0.4·1.
        let mut v = vec![5.0, 3.0, 1.0, 4.0, 2.0];
        assert!((quantile(&mut v, 0.1) - 1.4).abs() < 1e-15);
        assert!((quantile(&mut v, 0.5) - 3.0).abs() < 1e-15);
        assert!((quantile(&mut v, 1.0) - 5.0).abs() < 1e-15);
    }
}

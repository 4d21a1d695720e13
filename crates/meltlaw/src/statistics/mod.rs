//! Small statistics that the fits and the composer share: quantiles, distribution functions, quadrature
//! and a test of normality. Distribution functions come from statrs.

mod between;
mod draws;
mod gauss_hermite;
mod quantile_error;
mod shapiro_wilk;

pub use between::{Groups, MeanLine};
pub use draws::{DrawStream, Purpose};
pub use gauss_hermite::GaussHermite;
pub use quantile_error::quantile_error;
pub use shapiro_wilk::{ShapiroWilk, shapiro_wilk};

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// Quantile of Student's t; the normal's for infinite degrees of freedom.
pub fn student_t_quantile(probability: f64, degrees_of_freedom: f64) -> f64 {
    if degrees_of_freedom > 1e7 {
        return normal_quantile(probability);
    }
    StudentsT::new(0.0, 1.0, degrees_of_freedom).map_or(f64::NAN, |t| t.inverse_cdf(probability))
}

/// Quantile of the standard normal.
pub fn normal_quantile(probability: f64) -> f64 {
    Normal::standard().inverse_cdf(probability)
}

/// Probability that a standard normal exceeds `x`.
pub fn normal_above(x: f64) -> f64 {
    Normal::standard().sf(x)
}

/// Two-sided p-value of a t statistic.
pub fn student_t_two_sided(t: f64, degrees_of_freedom: f64) -> f64 {
    if degrees_of_freedom > 1e7 {
        return 2.0 * normal_above(t.abs());
    }
    StudentsT::new(0.0, 1.0, degrees_of_freedom).map_or(f64::NAN, |d| 2.0 * d.sf(t.abs()))
}

/// Probability that χ² exceeds `x`.
pub fn chi_squared_above(x: f64, degrees_of_freedom: f64) -> f64 {
    ChiSquared::new(degrees_of_freedom).map_or(f64::NAN, |d| d.sf(x.max(0.0)))
}

/// Quantile of χ².
pub fn chi_squared_quantile(probability: f64, degrees_of_freedom: f64) -> f64 {
    ChiSquared::new(degrees_of_freedom).map_or(f64::NAN, |d| d.inverse_cdf(probability))
}

/// Probability that F exceeds `x`.
pub fn f_above(x: f64, numerator: f64, denominator: f64) -> f64 {
    FisherSnedecor::new(numerator, denominator).map_or(f64::NAN, |d| d.sf(x.max(0.0)))
}

/// Quantile of F; of χ² over its degrees for an infinite denominator.
pub fn f_quantile(probability: f64, numerator: f64, denominator: f64) -> f64 {
    if denominator > 1e7 {
        return chi_squared_quantile(probability, numerator) / numerator;
    }
    FisherSnedecor::new(numerator, denominator).map_or(f64::NAN, |d| d.inverse_cdf(probability))
}

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

    #[test]
    fn student_quantiles_meet_the_integrated_density() {
        // The density of t integrated by Simpson's rule (20 000 steps) and bisected: 2.228 138 852 and 2.026 192 463.
        assert!((student_t_quantile(0.975, 10.0) - 2.228_138_85).abs() < 1e-7);
        assert!((student_t_quantile(0.975, 37.0) - 2.026_192_46).abs() < 1e-7);
        assert!((student_t_quantile(0.975, f64::INFINITY) - 1.959_963_98).abs() < 1e-7);
    }
}

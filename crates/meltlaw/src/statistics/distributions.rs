//! Distribution functions, by statrs. It panics outside the domain of a function, where tests of data without any
//! scatter end up (0/0 degrees, a statistic that is no number): here every such call comes to NaN, and every
//! infinite argument to its limit. Nothing else in this crate may call statrs for a distribution.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// More degrees of freedom than this are as good as infinite.
const MANY_DEGREES: f64 = 1e7;

/// Fewest degrees of freedom: with fewer the tails are so long that no `f64` holds a quantile, and statrs leaves its
/// domain where half of them is nothing.
const FEWEST_DEGREES: f64 = 0.01;

/// As near to 0 and 1 as a quantile of t or F is asked for; nearer, statrs' inverse of the beta function leaves its domain.
const NEAREST: f64 = 1e-12;

fn is_probability(p: f64) -> bool {
    (0.0..=1.0).contains(&p)
}

/// Quantile of Student's t; the normal's for infinite degrees of freedom. NaN for a probability or degrees that are
/// none.
pub fn student_t_quantile(probability: f64, degrees_of_freedom: f64) -> f64 {
    if degrees_of_freedom > MANY_DEGREES {
        return normal_quantile(probability);
    }
    if !(is_probability(probability) && degrees_of_freedom >= FEWEST_DEGREES) {
        return f64::NAN;
    }
    StudentsT::new(0.0, 1.0, degrees_of_freedom)
        .map_or(f64::NAN, |t| t.inverse_cdf(probability.clamp(NEAREST, 1.0 - NEAREST)))
}

/// Quantile of the standard normal; NaN for a probability that is none.
pub fn normal_quantile(probability: f64) -> f64 {
    if is_probability(probability) { Normal::standard().inverse_cdf(probability) } else { f64::NAN }
}

/// Probability that a standard normal exceeds `x`.
pub fn normal_above(x: f64) -> f64 {
    if x.is_nan() { f64::NAN } else { Normal::standard().sf(x) }
}

/// Two-sided p-value of a t statistic; NaN for a statistic or degrees that are none.
pub fn student_t_two_sided(t: f64, degrees_of_freedom: f64) -> f64 {
    if degrees_of_freedom > MANY_DEGREES {
        return 2.0 * normal_above(t.abs());
    }
    if t.is_nan() || !(degrees_of_freedom >= FEWEST_DEGREES) {
        return f64::NAN;
    }
    if t.is_infinite() {
        return 0.0;
    }
    StudentsT::new(0.0, 1.0, degrees_of_freedom).map_or(f64::NAN, |d| 2.0 * d.sf(t.abs()))
}

/// Probability that χ² exceeds `x`; above ten million degrees by the cube root of Wilson and Hilferty, *Proceedings of the
/// National Academy of Sciences* 17 (1931), 684–688 (from memory). NaN for a statistic or degrees that are none.
pub fn chi_squared_above(x: f64, degrees_of_freedom: f64) -> f64 {
    if x.is_nan() || !(degrees_of_freedom >= FEWEST_DEGREES && degrees_of_freedom.is_finite()) {
        return f64::NAN;
    }
    if degrees_of_freedom > MANY_DEGREES {
        let spread = 2.0 / (9.0 * degrees_of_freedom);
        return normal_above(((x.max(0.0) / degrees_of_freedom).cbrt() - (1.0 - spread)) / spread.sqrt());
    }
    // Half of anything smaller is nothing, where statrs has no answer.
    if x < f64::MIN_POSITIVE {
        return 1.0;
    }
    ChiSquared::new(degrees_of_freedom).map_or(f64::NAN, |d| d.sf(x))
}

/// Quantile of χ²; NaN for a probability or degrees that are none.
pub fn chi_squared_quantile(probability: f64, degrees_of_freedom: f64) -> f64 {
    if !(is_probability(probability) && degrees_of_freedom >= FEWEST_DEGREES && degrees_of_freedom.is_finite()) {
        return f64::NAN;
    }
    if degrees_of_freedom > MANY_DEGREES {
        let spread = 2.0 / (9.0 * degrees_of_freedom);
        return degrees_of_freedom * (1.0 - spread + normal_quantile(probability) * spread.sqrt()).powi(3);
    }
    ChiSquared::new(degrees_of_freedom).map_or(f64::NAN, |d| d.inverse_cdf(probability))
}

/// Probability that F exceeds `x`; NaN for a statistic or degrees that are none.
pub fn f_above(x: f64, numerator: f64, denominator: f64) -> f64 {
    if x.is_nan() || !(numerator >= FEWEST_DEGREES && denominator >= FEWEST_DEGREES) {
        return f64::NAN;
    }
    let x = x.max(0.0);
    if denominator > MANY_DEGREES {
        return chi_squared_above(x * numerator, numerator);
    }
    let numerator = numerator.min(MANY_DEGREES);
    // So large that statrs would divide infinity by infinity.
    if !(x * numerator).is_finite() {
        return 0.0;
    }
    FisherSnedecor::new(numerator, denominator).map_or(f64::NAN, |d| d.sf(x))
}

/// Quantile of F; of χ² over its degrees for an infinite denominator. NaN for a probability or degrees that are none.
pub fn f_quantile(probability: f64, numerator: f64, denominator: f64) -> f64 {
    if denominator > MANY_DEGREES {
        return chi_squared_quantile(probability, numerator) / numerator;
    }
    if !(is_probability(probability) && numerator >= FEWEST_DEGREES && denominator >= FEWEST_DEGREES) {
        return f64::NAN;
    }
    FisherSnedecor::new(numerator.min(MANY_DEGREES), denominator)
        .map_or(f64::NAN, |d| d.inverse_cdf(probability.clamp(NEAREST, 1.0 - NEAREST)))
}

/// ln Γ(x) of a positive number; NaN for any other.
pub fn ln_gamma(x: f64) -> f64 {
    if x > 0.0 { statrs::function::gamma::ln_gamma(x) } else { f64::NAN }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn student_quantiles_meet_the_integrated_density() {
        // The density of t integrated by Simpson's rule (20 000 steps) and bisected: 2.228 138 852 and 2.026 192 463.
        assert!((student_t_quantile(0.975, 10.0) - 2.228_138_85).abs() < 1e-7);
        assert!((student_t_quantile(0.975, 37.0) - 2.026_192_46).abs() < 1e-7);
        assert!((student_t_quantile(0.975, f64::INFINITY) - 1.959_963_98).abs() < 1e-7);
    }

    #[test]
    fn no_argument_makes_a_distribution_panic_or_search_without_end() {
        let hostile = [
            f64::NAN,
            f64::NEG_INFINITY,
            -1e308,
            -1.0,
            0.0,
            5e-324,
            1e-300,
            1e-9,
            0.5,
            1.0,
            1.0 + f64::EPSILON,
            2.5,
            1e6,
            1e9,
            1e300,
            f64::MAX,
            f64::INFINITY,
        ];
        for x in hostile {
            let _ = (normal_quantile(x), normal_above(x), ln_gamma(x));
            for a in hostile {
                let _ = (student_t_quantile(x, a), student_t_two_sided(x, a));
                let _ = (chi_squared_above(x, a), chi_squared_quantile(x, a));
                for b in hostile {
                    let _ = (f_above(x, a, b), f_quantile(x, a, b));
                }
            }
        }
    }

    #[test]
    fn what_is_no_statistic_has_no_probability_and_an_infinite_one_has_none_above_it() {
        assert!(student_t_two_sided(f64::NAN, 5.0).is_nan() && student_t_two_sided(1.0, 0.0).is_nan());
        assert!(f_above(f64::NAN, 2.0, 3.0).is_nan() && chi_squared_above(f64::NAN, 3.0).is_nan());
        assert_eq!(student_t_two_sided(f64::NEG_INFINITY, 5.0), 0.0);
        assert_eq!((f_above(f64::INFINITY, 2.0, 3.0), chi_squared_above(f64::INFINITY, 3.0)), (0.0, 0.0));
    }
}

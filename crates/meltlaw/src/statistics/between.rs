//! Scatter between groups that are each known with an error of their own.
//!
//! ```text
//! Q(h²) = Σ wᵢ·(yᵢ − ȳ)²,  wᵢ = 1/(vᵢ + h²),  ȳ = Σ wᵢ·yᵢ/Σ wᵢ
//! ```
//!
//! ȳ may be a straight line in something that the groups lie along. At the true h² Q follows χ² with k less the mean's
//! coefficients as degrees, and it falls as h² grows: where it equals its degrees is an estimate, where it equals
//! quantiles of χ² are the ends of an interval.
//!
//! # Source
//! Estimate: R. C. Paule, J. Mandel, J. Res. Nat. Bur. Stand. 87 (1982) 377–385; interval: W. Viechtbauer, Stat. Med. 26
//! (2007) 37–52; standard error of the mean: G. Knapp, J. Hartung, Stat. Med. 22 (2003) 2693–2710.

use super::chi_squared_quantile;

/// Groups by value and variance.
#[derive(Debug, Clone, Copy)]
pub struct Groups<'a> {
    /// Values.
    pub values: &'a [f64],
    /// Variance of each by its own errors.
    pub variances: &'a [f64],
    /// What the mean is a straight line in, such as the logarithm of the diameter; empty where it is the same for all.
    pub along: &'a [f64],
}

/// The mean of groups as a straight line in what they lie along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanLine {
    /// Mean in the middle.
    pub mean: f64,
    /// Its variance.
    pub variance: f64,
    /// Where the middle is.
    pub middle: f64,
    /// Slope; 0 where the mean is the same for all.
    pub slope: f64,
    /// Its variance.
    pub slope_variance: f64,
}

impl MeanLine {
    /// The mean at a place.
    pub fn at(&self, along: f64) -> f64 {
        self.mean + self.slope * (along - self.middle)
    }

    /// Its variance there.
    pub fn variance_at(&self, along: f64) -> f64 {
        self.variance + self.slope_variance * (along - self.middle).powi(2)
    }
}

impl Groups<'_> {
    fn along(&self, group: usize) -> f64 {
        self.along.get(group).copied().unwrap_or(0.0)
    }

    /// The weighted mean.
    pub fn line(&self, between: f64) -> MeanLine {
        let (mut sum, mut weights, mut places) = (0.0, 0.0, 0.0);
        for (i, (y, v)) in self.values.iter().zip(self.variances).enumerate() {
            let w = 1.0 / (v + between);
            sum += w * y;
            weights += w;
            places += w * self.along(i);
        }
        let (mean, middle) = (sum / weights, places / weights);
        let (mut square, mut product) = (0.0, 0.0);
        for (i, (y, v)) in self.values.iter().zip(self.variances).enumerate() {
            let (w, off) = (1.0 / (v + between), self.along(i) - middle);
            square += w * off * off;
            product += w * off * (y - mean);
        }
        let (slope, slope_variance) = if square > 0.0 { (product / square, 1.0 / square) } else { (0.0, 0.0) };
        MeanLine { mean, variance: 1.0 / weights, middle, slope, slope_variance }
    }

    /// Q.
    pub fn scatter(&self, between: f64) -> f64 {
        let line = self.line(between);
        self.values
            .iter()
            .zip(self.variances)
            .enumerate()
            .map(|(i, (y, v))| (y - line.at(self.along(i))).powi(2) / (v + between))
            .sum()
    }

    /// The variance between groups at which Q has a value; 0 where Q is smaller already.
    pub fn between_at(&self, scatter: f64) -> f64 {
        // Not above at no scatter at all; so also where variances of zero leave 0/0.
        if !(self.scatter(0.0) > scatter) && self.variances.iter().all(|v| *v > 0.0) {
            return 0.0;
        }
        // So much between groups that their own errors do not matter.
        let far = 1e12 * self.variances.iter().copied().fold(f64::MIN_POSITIVE, f64::max).max(1e-300);
        let line = self.line(far);
        let spread: f64 = self.values.iter().enumerate().map(|(i, y)| (y - line.at(self.along(i))).powi(2)).sum();
        if !(spread > 0.0) {
            return 0.0;
        }
        // Without errors of their own Q is spread/h².
        let (mut low, mut high) = (0.0, spread / scatter);
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if self.scatter(middle) > scatter {
                low = middle
            } else {
                high = middle
            }
            if high - low <= 1e-14 * high {
                break;
            }
        }
        high
    }

    /// The variance between groups.
    pub fn between(&self) -> f64 {
        self.between_at(self.degrees())
    }

    /// Its interval at a confidence, both ends.
    pub fn interval(&self, confidence: f64) -> [f64; 2] {
        let tail = (1.0 - confidence) / 2.0;
        [1.0 - tail, tail].map(|p| self.between_at(chi_squared_quantile(p, self.degrees())))
    }

    /// k less the coefficients of the mean.
    pub fn degrees(&self) -> f64 {
        self.values.len() as f64 - if self.along.is_empty() { 1.0 } else { 2.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_without_errors_have_their_own_variance() {
        // 1, 2, 4, 5: mean 3, sum of squares 10, over 3 degrees 10/3.
        let groups = Groups { values: &[1.0, 2.0, 4.0, 5.0], variances: &[0.0; 4], along: &[] };
        assert!((groups.between() - 10.0 / 3.0).abs() < 1e-12);
        // χ² with 3 degrees, its density integrated by Simpson's rule: 9.348 404 at 0.975, 0.215 795 at 0.025.
        let [low, high] = groups.interval(0.95);
        assert!((low - 10.0 / 9.3484).abs() < 1e-4 && (high - 10.0 / 0.2158).abs() < 1e-2 * high, "{low} {high}");
    }

    #[test]
    fn equal_errors_come_off_the_variance_and_never_below_nought() {
        let groups = Groups { values: &[1.0, 2.0, 4.0, 5.0], variances: &[1.0; 4], along: &[] };
        assert!((groups.between() - 7.0 / 3.0).abs() < 1e-10);
        assert_eq!(Groups { values: &[1.0, 1.1, 0.9], variances: &[1.0; 3], along: &[] }.between(), 0.0);
        // On a straight line nothing is left over.
        let line = Groups { values: &[1.0, 2.0, 3.0, 4.0], variances: &[0.1; 4], along: &[0.0, 1.0, 2.0, 3.0] };
        assert_eq!((line.between(), line.degrees()), (0.0, 2.0));
        assert!((line.line(0.0).slope - 1.0).abs() < 1e-12 && (line.line(0.0).at(10.0) - 11.0).abs() < 1e-12);
        assert_eq!(Groups { values: &[2.0; 3], variances: &[0.0; 3], along: &[] }.between(), 0.0);
    }
}

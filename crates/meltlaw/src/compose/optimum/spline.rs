//! A cubic spline with two continuous derivatives through equally spaced values.

/// The spline: values and second derivatives at its points. Beyond its ends it goes on straight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spline {
    low: f64,
    step: f64,
    values: Vec<f64>,
    bends: Vec<f64>,
}

impl Spline {
    /// The natural spline through values at equal distances from `low` to `high`; at least three.
    pub(super) fn new(low: f64, high: f64, values: Vec<f64>) -> Self {
        let n = values.len();
        let step = (high - low) / (n - 1) as f64;
        // Tridiagonal system of the second derivatives, m[i−1] + 4·m[i] + m[i+1] = 6·Δ²/step², zero at the ends.
        let mut bends = vec![0.0; n];
        let mut factor = vec![0.0; n];
        for i in 1..n - 1 {
            let right = 6.0 * (values[i + 1] - 2.0 * values[i] + values[i - 1]) / (step * step);
            let pivot = 4.0 - factor[i - 1];
            factor[i] = 1.0 / pivot;
            bends[i] = (right - bends[i - 1]) / pivot;
        }
        for i in (1..n - 1).rev() {
            bends[i] -= factor[i] * bends[i + 1];
        }
        Self { low, step, values, bends }
    }

    /// First and last point.
    pub(super) fn ends(&self) -> [f64; 2] {
        [self.low, self.low + self.step * (self.values.len() - 1) as f64]
    }

    /// Value, first and second derivative.
    pub(super) fn at(&self, x: f64) -> [f64; 3] {
        let last = self.values.len() - 1;
        let place = (x - self.low) / self.step;
        let i = (place.clamp(0.0, last as f64) as usize).min(last - 1);
        let t = (place - i as f64).clamp(0.0, 1.0);
        let u = 1.0 - t;
        let h = self.step;
        let (a, b) = (self.values[i], self.values[i + 1]);
        let (ma, mb) = (self.bends[i], self.bends[i + 1]);
        let value = u * a + t * b + h * h / 6.0 * ((u * u * u - u) * ma + (t * t * t - t) * mb);
        let first = (b - a) / h + h / 6.0 * ((1.0 - 3.0 * u * u) * ma + (3.0 * t * t - 1.0) * mb);
        let beyond = x - (self.low + h * (i as f64 + t));
        if (0.0..=last as f64).contains(&place) {
            [value, first, u * ma + t * mb]
        } else {
            [value + first * beyond, first, 0.0]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_smooth_function_and_its_derivatives_come_back() {
        let values = (0..=200).map(|i| (0.02 * f64::from(i)).sin()).collect();
        let spline = Spline::new(0.0, 4.0, values);
        for x in [0.5, 1.003, 2.71, 3.4] {
            let [value, first, second] = spline.at(x);
            // Error of a cubic spline: h⁴/384 of the value, h³/24, h²/8 of the derivatives, h = 0.02.
            assert!((value - x.sin()).abs() < 1e-9);
            assert!((first - x.cos()).abs() < 1e-6);
            assert!((second + x.sin()).abs() < 1e-4);
        }
    }

    #[test]
    fn beyond_its_ends_it_goes_on_straight() {
        let spline = Spline::new(0.0, 2.0, vec![0.0, 1.0, 4.0]);
        let [at_end, slope, _] = spline.at(2.0);
        assert!((spline.at(3.0)[0] - at_end - slope).abs() < 1e-12);
        assert_eq!(spline.at(3.0)[2], 0.0);
    }
}

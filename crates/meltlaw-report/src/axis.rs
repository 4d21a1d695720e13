//! Axes: from quantities to places on the canvas, and the round numbers printed along them.

use crate::numbers;

/// One axis of a panel: what it shows, from where to where.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Axis {
    /// Quantity and unit, as printed.
    pub(crate) label: String,
    /// Left or lower end.
    pub(crate) low: f64,
    /// Right or upper end.
    pub(crate) high: f64,
    /// Whether equal ratios, not equal differences, lie equally far apart.
    pub(crate) logarithmic: bool,
}

/// Least length of an axis as a share of its largest value: what changes by less is drawn as the constant that it is,
/// not as a plunge between ticks that differ in the seventh digit.
const LEAST_SPAN: f64 = 0.02;

impl Axis {
    /// A linear axis around values, with a margin of `margin` times their range at both ends.
    pub(crate) fn around(label: &str, values: impl IntoIterator<Item = f64>, margin: f64) -> Self {
        let (mut low, mut high) = extremes(values);
        let size = high.abs().max(low.abs());
        let least = if size > 0.0 { LEAST_SPAN * size } else { 1e-6 };
        if high - low < least {
            let middle = f64::midpoint(low, high);
            (low, high) = (middle - least / 2.0, middle + least / 2.0);
        }
        let room = margin * (high - low);
        Self { label: label.to_owned(), low: low - room, high: high + room, logarithmic: false }
    }

    /// A logarithmic axis around positive values, with a margin as a factor.
    pub(crate) fn around_log(label: &str, values: impl IntoIterator<Item = f64>, factor: f64) -> Self {
        let (low, high) = extremes(values.into_iter().filter(|v| *v > 0.0));
        let low = low.max(1e-9);
        Self { label: label.to_owned(), low: low / factor, high: high.max(low) * factor, logarithmic: true }
    }

    /// An axis from one given end to another.
    pub(crate) fn between(label: &str, low: f64, high: f64) -> Self {
        Self { label: label.to_owned(), low, high, logarithmic: false }
    }

    /// The same axis starting at zero where that costs less than half of the height.
    #[must_use]
    pub(crate) fn starting_at_zero_if_near(mut self) -> Self {
        if self.low > 0.0 && self.low < 0.5 * self.high {
            self.low = 0.0;
        }
        self
    }

    /// Where a value lies: 0 at the low end, 1 at the high end.
    pub(crate) fn share(&self, value: f64) -> f64 {
        if self.logarithmic {
            (value / self.low).ln() / (self.high / self.low).ln()
        } else {
            (value - self.low) / (self.high - self.low)
        }
    }

    /// The round numbers inside the axis with their texts, about so many.
    pub(crate) fn ticks(&self, about: usize) -> Vec<(f64, String)> {
        if self.logarithmic {
            return self.logarithmic_ticks(about);
        }
        let step = round_step((self.high - self.low) / about.max(1) as f64);
        let places = (-(step.log10() + 1e-9).floor()).max(0.0) as i32;
        let first = (self.low / step - 1e-9).ceil() as i64;
        let last = (self.high / step + 1e-9).floor() as i64;
        (first..=last).map(|n| n as f64 * step).map(|v| (v, numbers::fixed(v, places))).collect()
    }

    fn logarithmic_ticks(&self, about: usize) -> Vec<(f64, String)> {
        const FINE: [f64; 12] = [1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0];
        const COARSE: [f64; 3] = [1.0, 2.0, 5.0];
        if self.high / self.low < 2.0 {
            // Short of a factor of two, equal steps read better and lie almost equally far apart.
            return Self { logarithmic: false, ..self.clone() }.ticks(about);
        }
        let decades = self.low.log10().floor() as i32..=self.high.log10().floor() as i32;
        let inside = |steps: &[f64]| -> Vec<f64> {
            decades
                .clone()
                .flat_map(|d| steps.iter().map(move |m| m * 10f64.powi(d)))
                .filter(|v| (self.low..=self.high).contains(v))
                .collect()
        };
        let mut values = inside(&FINE);
        if values.len() > 2 * about {
            values = inside(&COARSE);
        }
        values.into_iter().map(|v| (v, numbers::significant(v, 2).trim_end_matches(".0").to_owned())).collect()
    }
}

/// The smallest and largest finite value; 0 and 1 where there is none.
fn extremes(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values
        .into_iter()
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

/// 1, 2 or 5 times a power of ten, at least the raw step.
fn round_step(raw: f64) -> f64 {
    let raw = if raw.is_finite() && raw > 0.0 { raw } else { 1.0 };
    let power = 10f64.powf(raw.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * power)
        .find(|step| *step >= raw * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(axis: &Axis, about: usize) -> Vec<String> {
        axis.ticks(about).into_iter().map(|t| t.1).collect()
    }

    #[test]
    fn ticks_are_round_and_carry_the_true_minus() {
        assert_eq!(texts(&Axis::between("x", -0.5, 0.5), 5), ["−0.4", "−0.2", "0.0", "0.2", "0.4"]);
        assert_eq!(texts(&Axis::between("x", 3.0, 9.5), 7), ["3", "4", "5", "6", "7", "8", "9"]);
        assert_eq!(texts(&Axis::between("x", 0.0, 260.0), 5), ["0", "100", "200"]);
    }

    #[test]
    fn logarithmic_ticks_are_numbers_a_reader_knows() {
        let axis = Axis { label: String::new(), low: 0.9, high: 6.5, logarithmic: true };
        assert_eq!(texts(&axis, 6), ["1", "1.2", "1.5", "2", "2.5", "3", "3.5", "4", "5", "6"]);
        assert!((axis.share((0.9f64 * 6.5).sqrt()) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_constant_but_for_rounding_is_drawn_flat_between_ticks_that_differ() {
        let axis = Axis::around("pulse time (ms)", [1.963_347_34, 1.963_347_335, 1.963_347_339], 0.06);
        assert!((axis.share(1.963_347_34) - axis.share(1.963_347_335)).abs() < 1e-6);
        assert_eq!(texts(&axis, 5), ["1.95", "1.96", "1.97", "1.98"]);
        // What is small itself keeps its course: residuals about zero.
        let residuals = Axis::around("x", [-1e-4, 1e-4], 0.0);
        assert_eq!((residuals.low, residuals.high), (-1e-4, 1e-4));
    }

    #[test]
    fn an_axis_around_one_value_or_none_has_a_length() {
        assert!(Axis::around("x", [400.0], 0.1).high > 400.0);
        let none = Axis::around("x", [], 0.0);
        assert_eq!((none.low, none.high), (0.0, 1.0));
        assert!(Axis::around_log("x", [2.0], 1.1).high > 2.1);
    }
}

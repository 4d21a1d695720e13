//! A value, its standard error and the band it should lie in.

use crate::in_words::with_unit;
use crate::laws::{Plausibility, Reading};

/// Standard errors that a value may lie beyond its band and still count as inside.
///
/// A value on the edge of its band that truly lies inside then falls outside in 1 to 5 of 1000 studies; one
/// that the trials hardly tell is never called wrong.
pub(super) const TOLERATED: f64 = 3.0;

/// What is judged.
pub(super) struct Judged<'a> {
    pub(super) name: &'a str,
    pub(super) value: f64,
    pub(super) standard_error: f64,
    pub(super) unit: &'a str,
    pub(super) band: [f64; 2],
    /// What should be seen, without the numbers.
    pub(super) expected: &'a str,
    /// What to do where it lies outside.
    pub(super) action: &'a str,
}

/// Whether a value with its error reaches the band.
pub(super) fn reaches(value: f64, standard_error: f64, [low, high]: [f64; 2]) -> bool {
    value + TOLERATED * standard_error >= low && value - TOLERATED * standard_error <= high
}

impl Judged<'_> {
    /// The judgement in the record.
    pub(super) fn plausibility(&self) -> Plausibility {
        let [low, high] = self.band;
        let inside = reaches(self.value, self.standard_error, self.band);
        let (value, unit) = (figures(self.value), self.unit);
        let strictly = (low..=high).contains(&self.value);
        let mut seen = with_unit(&value, unit);
        if self.standard_error > 0.0 {
            seen.push_str(&format!(" (standard error {})", figures(self.standard_error)));
        }
        let action = match (inside, strictly) {
            (true, true) => "nothing",
            (true, false) => {
                "nothing by these trials: its error reaches into the band; more trials would tell it better"
            }
            _ => self.action,
        };
        Plausibility {
            name: self.name.to_owned(),
            value: self.value,
            unit: unit.to_owned(),
            low,
            high,
            inside,
            reading: Reading::new(
                format!("{}: {} to {}", self.expected, figures(low), with_unit(&figures(high), unit)),
                seen,
                action,
            ),
        }
    }
}

/// Three figures, with an exponent only where the number is small or large.
pub(super) fn figures(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 {
        return "0".to_owned();
    }
    if !(1e-2..1e4).contains(&size) {
        return format!("{value:.2e}");
    }
    let places = (2 - size.log10().floor() as i32).clamp(0, 5) as usize;
    format!("{value:.places$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_figures() {
        for (value, text) in [(4.9806, "4.98"), (0.93883, "0.939"), (1.88496e-4, "1.88e-4"), (120.3, "120"), (0.0, "0")]
        {
            assert_eq!(figures(value), text);
        }
    }

    #[test]
    fn the_unit_of_a_bare_number_is_not_printed() {
        let judged = |unit| Judged {
            name: "exponent",
            value: 2.1,
            standard_error: 0.2,
            unit,
            band: [1.5, 3.0],
            expected: "exponent of the pulse current",
            action: "",
        };
        let bare = judged("1").plausibility().reading;
        assert_eq!(bare.expected, "exponent of the pulse current: 1.50 to 3.00");
        assert_eq!(bare.seen, "2.10 (standard error 0.200)");
        assert!(judged("ms").plausibility().reading.expected.ends_with("1.50 to 3.00 ms"));
    }

    #[test]
    fn an_error_that_reaches_the_band_is_no_contradiction() {
        assert!(reaches(0.9, 0.04, [1.0, 2.0]) && !reaches(0.9, 0.03, [1.0, 2.0]));
        assert!(reaches(2.1, 0.04, [1.0, 2.0]) && !reaches(2.1, 0.03, [1.0, 2.0]));
    }
}

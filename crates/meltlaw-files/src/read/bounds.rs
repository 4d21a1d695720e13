//! Between which ends a number of the study file makes sense, and how that is said. The ends are wide:
//! they catch slips of unit and sign; what is merely unlikely is the checks' business.

/// Ends of a number.
#[derive(Debug)]
pub(crate) struct Bounds {
    low: f64,
    low_counts: bool,
    high: f64,
    high_counts: bool,
    /// What is needed, for messages.
    pub(crate) words: &'static str,
}

impl Bounds {
    /// Whether a number lies within; NaN and infinities never do.
    pub(crate) fn hold(&self, value: f64) -> bool {
        let above = if self.low_counts { value >= self.low } else { value > self.low };
        let below = if self.high_counts { value <= self.high } else { value < self.high };
        above && below
    }
}

const fn bounds(low: f64, low_counts: bool, high: f64, high_counts: bool, words: &'static str) -> Bounds {
    Bounds { low, low_counts, high, high_counts, words }
}

pub(crate) const FINITE: Bounds = bounds(f64::MIN, true, f64::MAX, true, "a number");
pub(crate) const POSITIVE: Bounds = bounds(0.0, false, f64::MAX, true, "a number above 0");
pub(crate) const NOT_NEGATIVE: Bounds = bounds(0.0, true, f64::MAX, true, "a number of 0 or more");
pub(crate) const BELOW_ONE: Bounds = bounds(0.0, true, 1.0, false, "a number from 0 to below 1");
pub(crate) const INSIDE_ONE: Bounds = bounds(0.0, false, 1.0, false, "a number above 0 and below 1");
pub(crate) const SHARE: Bounds = bounds(0.0, true, 1.0, true, "a number from 0 to 1");
pub(crate) const PER_CENT: Bounds = bounds(0.0, true, 100.0, true, "per cent by volume from 0 to 100");
pub(crate) const CONFIDENCE: Bounds = bounds(0.5, false, 1.0, false, "a number above 0.5 and below 1");
pub(crate) const DIAMETER_MM: Bounds = bounds(0.0, false, 20.0, true, "a diameter above 0 and at most 20 mm");
pub(crate) const LENGTH_MM: Bounds = bounds(0.0, false, 1000.0, true, "a length above 0 and at most 1000 mm");
pub(crate) const DENSITY_KG_M3: Bounds = bounds(500.0, true, 25_000.0, true, "a density from 500 to 25000 kg/m3");
pub(crate) const WIRE_FEED_M_MIN: Bounds =
    bounds(0.0, false, 1000.0, true, "a wire feed above 0 and at most 1000 m/min");
pub(crate) const MULTIPLE: Bounds = bounds(0.0, true, 10.0, true, "a number from 0 to 10");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neither_nan_nor_infinity_lies_within_any_bounds() {
        for b in [POSITIVE, NOT_NEGATIVE, BELOW_ONE, INSIDE_ONE, SHARE, PER_CENT, CONFIDENCE, WIRE_FEED_M_MIN] {
            assert!(!b.hold(f64::NAN) && !b.hold(f64::INFINITY) && !b.hold(-1.0), "{}", b.words);
        }
    }

    #[test]
    fn ends_count_where_the_words_say_so() {
        assert!(!POSITIVE.hold(0.0) && NOT_NEGATIVE.hold(0.0));
        assert!(!BELOW_ONE.hold(1.0) && SHARE.hold(1.0));
        assert!(!CONFIDENCE.hold(0.5) && !CONFIDENCE.hold(1.0) && CONFIDENCE.hold(0.95));
    }
}

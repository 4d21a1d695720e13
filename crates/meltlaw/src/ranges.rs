//! Between which ends the numbers of a study, its trials and its results make sense, and how that is said.
//!
//! The ends are wide: no laboratory comes near them, and between them the mathematics is defined and stays within
//! what an `f64` can hold. They catch slips of unit and sign that are beyond doubt; what is merely unlikely is the
//! business of the checks.

use std::fmt;

use crate::study::{Bench, CalibrationTerm, Conditions, LineRequest, Numerics, SourceLimits, Wire};

/// Ends of a number, with what it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    what: &'static str,
    unit: &'static str,
    low: f64,
    low_counts: bool,
    high: f64,
    high_counts: bool,
}

impl Range {
    const fn new(what: &'static str, low: f64, high: f64, unit: &'static str) -> Self {
        Self { what, unit, low, low_counts: true, high, high_counts: true }
    }

    const fn above_low(self) -> Self {
        Self { low_counts: false, ..self }
    }

    const fn below_high(self) -> Self {
        Self { high_counts: false, ..self }
    }

    /// Whether a number lies within; NaN and infinities never do.
    pub fn holds(&self, value: f64) -> bool {
        let above = if self.low_counts { value >= self.low } else { value > self.low };
        let below = if self.high_counts { value <= self.high } else { value < self.high };
        above && below
    }
}

impl fmt::Display for Range {
    /// What is needed, such as `a length from 0.001 to 1000 mm`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let from = if self.low_counts { "from" } else { "above" };
        let to = match (self.low_counts, self.high_counts) {
            (true, true) => "to",
            (true, false) => "to below",
            (false, true) => "and at most",
            (false, false) => "and below",
        };
        let space = if self.unit.is_empty() { "" } else { " " };
        // No row of sixty zeros.
        let high = if self.high > 1e12 { format!("{:e}", self.high) } else { self.high.to_string() };
        write!(f, "{} {from} {} {to} {high}{space}{}", self.what, self.low, self.unit)
    }
}

/// A standard error over the value; 1 would know nothing.
pub const RELATIVE_SE: Range = Range::new("a number", 0.0, 1.0, "").below_high();
/// A standard uncertainty of a gain.
pub const RELATIVE_UNCERTAINTY: Range = Range::new("a number", 0.0, 0.5, "");
/// A probability that is not certain.
pub const INSIDE_ONE: Range = Range::new("a number", 1e-6, 1.0, "").below_high();
/// A probability or a share.
pub const SHARE: Range = Range::new("a number", 0.0, 1.0, "");
/// A part of the gas.
pub const PER_CENT: Range = Range::new("per cent by volume", 0.0, 100.0, "");
/// Confidence of intervals. Beyond the upper end neither quantiles of Student's t nor draws tell anything.
pub const CONFIDENCE: Range = Range::new("a number", 0.5, 0.9999, "").above_low();
/// Diameter of a wire.
pub const DIAMETER_MM: Range = Range::new("a diameter", 0.05, 20.0, "mm");
/// Metal section of a wire.
pub const SECTION_MM2: Range = Range::new("a section", 0.001, 400.0, "mm2");
/// Mass of a wire by length.
pub const LINEAR_MASS_G_M: Range = Range::new("a mass", 0.001, 10_000.0, "g/m");
/// A distance at the torch.
pub const LENGTH_MM: Range = Range::new("a length", 0.001, 1000.0, "mm");
/// What CTWD less arc length leaves.
pub const EXTENSION_MM: Range = Range::new("a length", 0.0, 1000.0, "mm").above_low();
/// Standard error of a distance.
pub const LENGTH_SE_MM: Range = Range::new("a standard error", 0.0, 100.0, "mm");
/// Density of a metal.
pub const DENSITY_KG_M3: Range = Range::new("a density", 500.0, 25_000.0, "kg/m3");
/// A wire feed asked for.
pub const WIRE_FEED_M_MIN: Range = Range::new("a wire feed", 0.001, 1000.0, "m/min");
/// Step between nodes.
pub const STEP_M_MIN: Range = Range::new("a step", 0.001, 1000.0, "m/min");
/// Standard error of a voltage.
pub const VOLTAGE_SE_V: Range = Range::new("a standard error", 0.0, 100.0, "V");
/// Resistance of leads.
pub const RESISTANCE_OHM: Range = Range::new("a resistance", 0.0, 10.0, "ohm");
/// A current of a power source.
pub const CURRENT_A: Range = Range::new("a current", 0.0, 1_000_000.0, "A");
/// A current that flows.
pub const PULSE_CURRENT_A: Range = Range::new("a current", 0.0001, 1_000_000.0, "A");
/// The current at which the law of detachment states its thresholds.
pub const REFERENCE_CURRENT_A: Range = Range::new("a current", 1.0, 100_000.0, "A");
/// A limit of pulse time.
pub const TIME_MS: Range = Range::new("a time", 0.0, 1_000_000.0, "ms");
/// Length of a pulse.
pub const PULSE_TIME_MS: Range = Range::new("a time", 0.000_001, 1_000_000.0, "ms");
/// A limit of pulse frequency.
pub const FREQUENCY_HZ: Range = Range::new("a frequency", 0.0, 1_000_000.0, "Hz");
/// Pulses a second.
pub const PULSE_FREQUENCY_HZ: Range = Range::new("a frequency", 0.0001, 1_000_000.0, "Hz");
/// Slope of a current.
pub const SLOPE_A_PER_MS: Range = Range::new("a slope", 0.1, 1_000_000.0, "A/ms");
/// Speed of a torch.
pub const TRAVEL_SPEED_MM_S: Range = Range::new("a speed", 0.001, 10_000.0, "mm/s");
/// Drop diameter over wire diameter.
pub const DROP_RATIO: Range = Range::new("a ratio", 0.01, 100.0, "");
/// Weights and multiples.
pub const MULTIPLE: Range = Range::new("a number", 0.0, 10.0, "");
/// A margin over the value.
pub const RELATIVE_MARGIN: Range = Range::new("a number", 1e-6, 10.0, "");
/// A margin of voltage.
pub const MARGIN_V: Range = Range::new("a voltage", 1e-6, 1000.0, "V");
/// A coefficient of a law of either sign.
pub const COEFFICIENT: Range = Range::new("a number", -1e6, 1e6, "");
/// A coefficient of a law that is positive by nature.
pub const POSITIVE_COEFFICIENT: Range = Range::new("a number", 1e-6, 1e6, "");
/// Standard deviation of a coefficient.
pub const COEFFICIENT_SD: Range = Range::new("a number", 1e-12, 1e6, "");
/// Samples a second of a log.
pub const SAMPLE_RATE_HZ: Range = Range::new("a sample rate", 1.0, 1e9, "Hz");
/// A time to leave out of a log.
pub const CUT_S: Range = Range::new("a time", 0.0, 100_000.0, "s");
/// A voltage that tells one state of the arc from another.
pub const THRESHOLD_V: Range = Range::new("a voltage", 1e-6, 10_000.0, "V");
/// Factor on or offset of a channel, delay in µs.
pub const CHANNEL: Range = Range::new("a number", -1e12, 1e12, "");
/// A standard error, a variance or a spread that was worked out: never negative, however poor the trials were.
pub const COMPUTED_SE: Range = Range::new("a number", 0.0, 1e60, "");
/// Random draws of a line.
pub const DRAWS: Range = Range::new("a whole number", 100.0, 1_000_000.0, "");

impl CalibrationTerm {
    /// What its standard uncertainty may be.
    pub const fn range(self) -> &'static Range {
        const OFFSET_V: &Range = &Range::new("a standard uncertainty", 0.0, 50.0, "V");
        const OFFSET_MM: &Range = &Range::new("a standard uncertainty", 0.0, 100.0, "mm");
        match self {
            Self::VoltageOffsetV => OFFSET_V,
            Self::CtwdOffsetMm | Self::ArcLengthOffsetMm => OFFSET_MM,
            _ => &RELATIVE_UNCERTAINTY,
        }
    }
}

/// A number that lies outside its range.
#[derive(Debug, Clone, PartialEq)]
pub struct OutOfRange {
    /// Its place, such as `bench.ctwd_mm`.
    pub key: String,
    /// The number.
    pub found: f64,
    /// What it may be.
    pub needed: Range,
}

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is {}, {} was needed", self.key, self.found, self.needed)
    }
}

/// Collects numbers outside their ranges.
#[derive(Debug, Default)]
pub(crate) struct Ranges(pub(crate) Vec<OutOfRange>);

impl Ranges {
    pub(crate) fn hold(&mut self, key: impl Into<String>, found: f64, needed: &Range) {
        if !needed.holds(found) {
            self.0.push(OutOfRange { key: key.into(), found, needed: *needed });
        }
    }

    fn all<const N: usize>(&mut self, group: &str, numbers: [(&str, f64, &Range); N]) {
        for (key, found, needed) in numbers {
            self.hold(format!("{group}.{key}"), found, needed);
        }
    }

    fn stated<const N: usize>(&mut self, group: &str, numbers: [(&str, Option<f64>, &Range); N]) {
        for (key, found, needed) in numbers {
            if let Some(found) = found {
                self.hold(format!("{group}.{key}"), found, needed);
            }
        }
    }

    fn ends<const N: usize>(&mut self, group: &str, ranges: [(&str, Option<[f64; 2]>, &Range); N]) {
        for (key, ends, needed) in ranges {
            for end in ends.into_iter().flatten() {
                self.hold(format!("{group}.{key}"), end, needed);
            }
        }
    }

    pub(crate) fn wire(&mut self, wire: &Wire) {
        self.all(
            "wire",
            [("diameter_mm", wire.diameter_mm, &DIAMETER_MM), ("density_kg_m3", wire.density_kg_m3, &DENSITY_KG_M3)],
        );
        self.stated(
            "wire",
            [
                ("metal_section_mm2", wire.metal_section_mm2, &SECTION_MM2),
                ("linear_mass_g_m", wire.linear_mass_g_m, &LINEAR_MASS_G_M),
            ],
        );
    }

    pub(crate) fn conditions(&mut self, conditions: &Conditions) {
        self.all(
            "conditions",
            [
                ("ctwd_mm", conditions.ctwd_mm, &LENGTH_MM),
                ("arc_length_mm", conditions.arc_length_mm, &LENGTH_MM),
                ("extension_mm", conditions.extension_mm, &EXTENSION_MM),
            ],
        );
    }

    pub(crate) fn bench(&mut self, bench: &Bench) {
        self.all(
            "bench",
            [
                ("ctwd_mm", bench.ctwd_mm, &LENGTH_MM),
                ("arc_length_mm", bench.arc_length_mm, &LENGTH_MM),
                ("lead_resistance_ohm", bench.lead_resistance_ohm, &RESISTANCE_OHM),
                ("wire_feed_relative_se", bench.wire_feed_relative_se, &RELATIVE_SE),
                ("current_relative_se", bench.current_relative_se, &RELATIVE_SE),
                ("voltage_se_v", bench.voltage_se_v, &VOLTAGE_SE_V),
                ("ctwd_se_mm", bench.ctwd_se_mm, &LENGTH_SE_MM),
                ("arc_length_se_mm", bench.arc_length_se_mm, &LENGTH_SE_MM),
                ("extension_se_mm", bench.extension_se_mm, &LENGTH_SE_MM),
                ("pulse_time_relative_se", bench.pulse_time_relative_se, &RELATIVE_SE),
            ],
        );
    }

    pub(crate) fn source(&mut self, source: &SourceLimits) {
        self.all(
            "source",
            [
                ("rise_a_per_ms", source.rise_a_per_ms, &SLOPE_A_PER_MS),
                ("fall_a_per_ms", source.fall_a_per_ms, &SLOPE_A_PER_MS),
            ],
        );
        self.ends(
            "source",
            [
                ("current_a", source.current_a, &CURRENT_A),
                ("background_current_a", source.background_current_a, &CURRENT_A),
                ("pulse_time_ms", source.pulse_time_ms, &TIME_MS),
                ("pulse_frequency_hz", source.pulse_frequency_hz, &FREQUENCY_HZ),
                ("pulse_duty", source.pulse_duty, &SHARE),
            ],
        );
    }

    pub(crate) fn numerics(&mut self, numerics: &Numerics) {
        self.all(
            "numerics",
            [("draws", numerics.draws as f64, &DRAWS), ("confidence", numerics.confidence, &CONFIDENCE)],
        );
    }

    pub(crate) fn request(&mut self, request: &LineRequest) {
        let weights = request.weights;
        self.all(
            "request",
            [
                ("step_m_min", request.step_m_min, &STEP_M_MIN),
                ("drop_to_wire_ratio", request.drop_to_wire_ratio, &DROP_RATIO),
                ("interpolation_tolerance", request.interpolation_tolerance, &INSIDE_ONE),
                ("one_drop_floor", request.one_drop_floor, &INSIDE_ONE),
                ("extended_by", request.extended_by, &MULTIPLE),
                ("extended_melting_rate_relative_se", request.extended_melting_rate_relative_se, &INSIDE_ONE),
                ("weights.one_drop", weights.one_drop, &MULTIPLE),
                ("weights.drop_size", weights.drop_size, &MULTIPLE),
                ("weights.pulse_current", weights.pulse_current, &MULTIPLE),
                ("weights.smoothness", weights.smoothness, &MULTIPLE),
            ],
        );
        self.stated("request", [("travel_speed_mm_s", request.travel_speed_mm_s, &TRAVEL_SPEED_MM_S)]);
        self.ends(
            "request",
            [
                ("wire_feed_m_min", Some(request.wire_feed_m_min), &WIRE_FEED_M_MIN),
                ("drop_to_wire_limits", Some(request.drop_to_wire_limits), &DROP_RATIO),
            ],
        );
        for pin in &request.pins {
            self.all("request.pins", [("wire_feed_m_min", pin.wire_feed_m_min, &WIRE_FEED_M_MIN)]);
            self.stated(
                "request.pins",
                [
                    ("pulse_current_a", pin.pulse_current_a, &PULSE_CURRENT_A),
                    ("pulse_time_ms", pin.pulse_time_ms, &PULSE_TIME_MS),
                    ("pulse_frequency_hz", pin.pulse_frequency_hz, &PULSE_FREQUENCY_HZ),
                ],
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neither_nan_nor_infinity_lies_within_any_range() {
        for range in [RELATIVE_SE, INSIDE_ONE, SHARE, PER_CENT, CONFIDENCE, WIRE_FEED_M_MIN, COEFFICIENT] {
            for none in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308] {
                assert!(!range.holds(none), "{range}");
            }
        }
    }

    #[test]
    fn ends_count_where_the_words_say_so() {
        assert!(LENGTH_MM.holds(0.001) && LENGTH_MM.holds(1000.0) && !LENGTH_MM.holds(0.0));
        assert_eq!(LENGTH_MM.to_string(), "a length from 0.001 to 1000 mm");
        assert!(RELATIVE_SE.holds(0.0) && !RELATIVE_SE.holds(1.0));
        assert_eq!(RELATIVE_SE.to_string(), "a number from 0 to below 1");
        assert!(!CONFIDENCE.holds(0.5) && CONFIDENCE.holds(0.95) && CONFIDENCE.holds(0.9999));
        assert_eq!(CONFIDENCE.to_string(), "a number above 0.5 and at most 0.9999");
    }
}

//! Whether the numbers of a record lie where they can: what a laws or line file says is checked as what a study says
//! is, by the same ranges, so that a file with a new checksum cannot carry what a study may not.

use crate::gas::Gas;
use crate::laws::{CalibrationEffect, FittedLaw, Laws};
use crate::line::Node;
use crate::ranges::{
    COMPUTED_SE, CONFIDENCE, OutOfRange, PER_CENT, PULSE_CURRENT_A, PULSE_FREQUENCY_HZ, PULSE_TIME_MS,
    REFERENCE_CURRENT_A, Ranges, SLOPE_A_PER_MS, WIRE_FEED_M_MIN,
};
use crate::record::{LawsRecord, LineRecord};
use crate::study::CalibrationTerm;

/// Every number of a laws record outside its range.
pub fn laws_out_of_range(record: &LawsRecord) -> Vec<OutOfRange> {
    let mut ranges = Ranges::default();
    ranges.wire(&record.wire);
    ranges.conditions(&record.conditions);
    ranges.gas(record.gas.as_ref());
    ranges.hold("confidence", record.confidence, &CONFIDENCE);
    ranges.calibration(&record.calibration);
    ranges.laws(&record.laws);
    ranges.0
}

/// Every number of a line record outside its range; identities between its numbers are `line_check`'s.
pub fn line_out_of_range(record: &LineRecord) -> Vec<OutOfRange> {
    let mut ranges = Ranges::default();
    ranges.wire(&record.wire);
    ranges.conditions(&record.conditions);
    ranges.gas(record.gas.as_ref());
    ranges.hold("confidence", record.confidence, &CONFIDENCE);
    ranges.source(&record.source);
    if let Some(request) = &record.request {
        ranges.request(request);
    }
    if let Some(bench) = &record.bench {
        ranges.bench(bench);
    }
    if let Some(numerics) = &record.numerics {
        ranges.numerics(numerics);
    }
    if let Some(calibration) = &record.calibration {
        ranges.calibration(calibration);
    }
    ranges.laws(&record.laws);
    for node in &record.line.nodes {
        ranges.node(node);
    }
    let stood = record.line.standing.iter().map(|s| ("standing", s.wire_feed_m_min));
    let gaps = record.line.unsupported.iter().map(|g| ("unsupported", g.wire_feed_m_min));
    for (list, ends) in stood.chain(gaps) {
        for end in ends {
            ranges.hold(format!("{list}.wire_feed_m_min"), end, &WIRE_FEED_M_MIN);
        }
    }
    ranges.0
}

impl Ranges {
    fn gas(&mut self, gas: Option<&Gas>) {
        for (name, share) in gas.into_iter().flat_map(Gas::components) {
            self.hold(format!("gas.{name}"), share, &PER_CENT);
        }
    }

    fn calibration(&mut self, effects: &[CalibrationEffect]) {
        for effect in effects {
            if let Some(term) = CalibrationTerm::from_name(&effect.name) {
                self.hold(format!("calibration.{}", effect.name), effect.standard_uncertainty, term.range());
            }
        }
    }

    fn laws(&mut self, laws: &Laws) {
        for (name, law) in laws.by_name() {
            self.law(name, law);
        }
    }

    fn law(&mut self, name: &str, law: &FittedLaw) {
        for (coefficient, c) in &law.coefficients {
            let errors = [
                ("standard_error", c.standard_error),
                ("standard_error_with_calibration", c.standard_error_with_calibration),
            ];
            for (which, error) in errors {
                if let Some(error) = error {
                    self.hold(format!("laws.{name}.coefficients.{coefficient}.{which}"), error, &COMPUTED_SE);
                }
            }
        }
        for (row, values) in law.covariance.iter().enumerate() {
            if let Some(variance) = values.get(row) {
                self.hold(format!("laws.{name}.covariance[{row}][{row}]"), *variance, &COMPUTED_SE);
            }
        }
        let spreads = [
            ("chi_squared_per_degree", law.chi_squared_per_degree),
            ("residual_standard_deviation", law.residual_standard_deviation),
            ("between_blocks.standard_deviation", law.between_blocks.as_ref().map(|b| b.standard_deviation)),
        ];
        for (which, spread) in spreads {
            if let Some(spread) = spread {
                self.hold(format!("laws.{name}.{which}"), spread, &COMPUTED_SE);
            }
        }
        if let Some(reference) = law.reference_current_a {
            self.hold(format!("laws.{name}.reference_current_a"), reference, &REFERENCE_CURRENT_A);
        }
    }

    fn node(&mut self, node: &Node) {
        for (key, found, needed) in [
            ("wire_feed_m_min", node.wire_feed_m_min, &WIRE_FEED_M_MIN),
            ("pulse_current_a", node.pulse_current_a, &PULSE_CURRENT_A),
            ("pulse_time_ms", node.pulse_time_ms, &PULSE_TIME_MS),
            ("pulse_frequency_hz", node.pulse_frequency_hz, &PULSE_FREQUENCY_HZ),
            ("rise_a_per_ms", node.rise_a_per_ms, &SLOPE_A_PER_MS),
            ("fall_a_per_ms", node.fall_a_per_ms, &SLOPE_A_PER_MS),
            ("melting_rate_relative_se", node.melting_rate_relative_se, &COMPUTED_SE),
            ("melting_rate_relative_se_same_bench", node.melting_rate_relative_se_same_bench, &COMPUTED_SE),
        ] {
            if !needed.holds(found) {
                self.hold(format!("the node at {} m/min: {key}", node.wire_feed_m_min), found, needed);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    fn line(change: impl FnOnce(&mut LineRecord)) -> Vec<String> {
        let mut record = serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap();
        change(&mut record);
        line_out_of_range(&record).into_iter().map(|o| o.to_string()).collect()
    }

    #[test]
    fn a_number_outside_its_range_is_named_with_what_was_needed() {
        assert!(line(|_| {}).is_empty());
        assert_eq!(
            line(|l| l.confidence = -1.0),
            ["confidence is -1, a number above 0.5 and at most 0.9999 was needed"]
        );
        let [first] = line(|l| l.line.nodes[0].melting_rate_relative_se = -1.0).try_into().unwrap();
        assert!(first.ends_with("melting_rate_relative_se is -1, a number from 0 to 1e60 was needed"), "{first}");
        assert_eq!(line(|l| l.line.nodes[1].melting_rate_relative_se_same_bench = 1e308).len(), 1);
        assert_eq!(line(|l| l.wire.density_kg_m3 = -7850.0).len(), 1);
        assert_eq!(line(|l| l.line.standing[0].wire_feed_m_min[1] = f64::MAX).len(), 1);
    }

    #[test]
    fn a_law_cannot_have_a_negative_variance_or_an_absurd_common_error() {
        let mut record: LawsRecord =
            serde_json::from_str(include_str!("../../../datasets/worked_example/laws.json")).unwrap();
        assert_eq!(laws_out_of_range(&record), []);
        record.laws.burn_off.covariance[0][0] = -1.0;
        record.laws.arc_voltage.residual_standard_deviation = Some(-0.1);
        record.calibration.push(CalibrationEffect {
            name: "current_gain_relative".to_owned(),
            standard_uncertainty: 1e6,
            unit: "1".to_owned(),
            effects: std::collections::BTreeMap::new(),
        });
        assert_eq!(laws_out_of_range(&record).len(), 3);
    }
}

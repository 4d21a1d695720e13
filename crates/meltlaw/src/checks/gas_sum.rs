//! *Finds* a shielding gas whose components do not sum to 100 %, and a study that names no gas.
//!
//! *Why it matters*: transfer and thresholds depend on the gas; a sum off 100 means that one component
//! is missing or mistyped, and the line would be filed under a gas that nobody can buy.
//!
//! *What to do*: correct `[gas]` from the bottle's label.
//!
//! *Example*: argon 89 and carbon dioxide 8 sum to 97.

use super::rows::{finding, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::Trials;

/// The check.
pub const CHECK: Check = Check {
    name: "gas_sum",
    about: "Gas components that do not sum to 100 per cent by volume, or no gas at all (a note).",
    look,
};

/// Mixtures are stated to a tenth of a per cent; a sum within half of that is rounding.
const TOLERANCE_PERCENT: f64 = 0.05;

fn look(study: &Study, _: &Trials) -> Vec<Finding> {
    let Some(gas) = &study.gas else {
        let reading = Reading::new(
            "a [gas] table in the study",
            "gas not stated",
            "state the gas in per cent by volume, for example argon = 92.0 and carbon_dioxide = 8.0; laws hold for one gas",
        );
        return vec![finding(CHECK.name, Severity::Note, Vec::new(), reading)];
    };
    let negative: Vec<String> =
        gas.components().iter().filter(|c| c.1 < 0.0).map(|(name, v)| format!("{name} = {}", number(*v))).collect();
    let total = gas.total();
    if negative.is_empty() && (total - 100.0).abs() <= TOLERANCE_PERCENT {
        return Vec::new();
    }
    let seen = if negative.is_empty() {
        format!("{} sums to {} %", gas.text(), number(total))
    } else {
        format!("{}, sum {} %", negative.join(", "), number(total))
    };
    let reading =
        Reading::new("gas components of zero or more that sum to 100 %", seen, "correct [gas] from the bottle's label");
    vec![finding(CHECK.name, Severity::Stop, Vec::new(), reading)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{found, severities, steel_study, steel_trials};
    use crate::gas::Gas;

    fn study_with(argon: f64) -> Study {
        let mut study = steel_study();
        study.gas = Some(Gas { argon, carbon_dioxide: 8.0, ..Gas::default() });
        study
    }

    #[test]
    fn a_gas_of_97_per_cent_stops_and_names_the_sum() {
        let findings = found(&CHECK, &study_with(89.0), &steel_trials());
        assert_eq!(findings[0].severity, Severity::Stop);
        assert_eq!(findings[0].reading.seen, "89 % Ar + 8 % CO2 sums to 97 %");
    }

    #[test]
    fn rounding_of_a_label_does_not() {
        assert!(severities(&CHECK, &study_with(91.96), &steel_trials()).is_empty());
    }

    #[test]
    fn no_gas_is_a_note() {
        let mut study = steel_study();
        study.gas = None;
        assert_eq!(severities(&CHECK, &study, &steel_trials()), [Severity::Note]);
    }
}

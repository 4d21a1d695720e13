//! *Finds* a shielding gas that the trade does not use for pulsed welding of the wire's material.
//!
//! *Why it matters*: with too much active gas a pulsed arc does not detach one drop per pulse, and the
//! laws describe something else than pulsed spray.
//!
//! *What to do*: check `[gas]` and `material`; keep the gas if it is meant.
//!
//! *Example*: aluminium under argon with 18 % CO2 (ISO 14175 M21).
//!
//! Common practice: unalloyed steel argon with 2 to 20 % CO2, better under 15 %; stainless steel argon
//! or argon-helium with at most 2 % oxidising component; aluminium argon or argon-helium. Warnings, not
//! refusals.

use super::rows::{finding, number};
use super::{Check, Finding, Severity};
use crate::gas::Gas;
use crate::laws::Reading;
use crate::materials::Material;
use crate::study::Study;
use crate::trials::{Mode, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "gas_for_material",
    about: "A gas that the trade does not use for pulsed welding of the wire's material (common practice; a warning, not a refusal).",
    look,
};

/// Labels round to a tenth of a per cent.
const ROUNDING_PERCENT: f64 = 0.05;

/// What the trade expects and how far the gas misses it; `None` where it fits or no rule is at hand.
fn missed(material: Material, gas: &Gas) -> Option<(Severity, &'static str, String)> {
    let oxidising = gas.carbon_dioxide + gas.oxygen;
    let reducing = gas.hydrogen + gas.nitrogen;
    let above = |value: f64, limit: f64| value > limit + ROUNDING_PERCENT;
    match material {
        Material::CarbonSteel => {
            let expected = "for pulsed welding of unalloyed steel argon with 2 to 20 % CO2, better under 15 %";
            let active = format!("{} % CO2 and {} % O2", number(gas.carbon_dioxide), number(gas.oxygen));
            if above(gas.carbon_dioxide, 20.0) || above(2.0, oxidising + 2.0 * ROUNDING_PERCENT) {
                Some((Severity::Warning, expected, active))
            } else if above(reducing, 0.0) {
                Some((Severity::Warning, expected, format!("{} % hydrogen and nitrogen", number(reducing))))
            } else {
                above(gas.carbon_dioxide, 15.0).then_some((Severity::Note, expected, active))
            }
        }
        Material::StainlessSteel => {
            let expected = "for stainless steel argon or argon-helium with at most 2 % oxidising component";
            if above(oxidising, 2.0) {
                Some((Severity::Warning, expected, format!("{} % oxidising", number(oxidising))))
            } else {
                above(reducing, 0.0)
                    .then(|| (Severity::Note, expected, format!("{} % hydrogen and nitrogen", number(reducing))))
            }
        }
        Material::Aluminium => {
            let active = oxidising + reducing;
            let expected = "for aluminium argon or argon-helium";
            above(active, 0.0)
                .then(|| (Severity::Warning, expected, format!("{} % of other components", number(active))))
        }
        Material::Nickel | Material::Copper => None,
    }
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let Some(gas) = &study.gas else { return Vec::new() };
    if !trials.used().any(|t| t.mode == Mode::Pulsed) {
        return Vec::new();
    }
    let Some((severity, expected, off)) = missed(study.wire.material, gas) else { return Vec::new() };
    let reading = Reading::new(
        format!("{expected} (common practice)"),
        format!("{} (ISO 14175 {}): {off}", gas.text(), gas.iso_14175_group()),
        "check [gas] and wire.material; if the gas is meant, look at the transfer on film before trusting the detachment law",
    );
    vec![finding(CHECK.name, severity, Vec::new(), reading)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{ALUMINIUM, STAINLESS, STEEL, found, severities, steel_trials, study_of};

    fn severity_of(lab: &crate::checks::testing::Lab, carbon_dioxide: f64, oxygen: f64) -> Vec<Severity> {
        let mut study = study_of(lab);
        study.gas = Some(Gas { argon: 100.0 - carbon_dioxide - oxygen, carbon_dioxide, oxygen, ..Gas::default() });
        severities(&CHECK, &study, &steel_trials())
    }

    #[test]
    fn steel_wants_2_to_20_per_cent_and_better_under_15() {
        assert_eq!(severity_of(&STEEL, 25.0, 0.0), [Severity::Warning]);
        assert_eq!(severity_of(&STEEL, 0.0, 0.0), [Severity::Warning]);
        assert_eq!(severity_of(&STEEL, 18.0, 0.0), [Severity::Note]);
        assert_eq!(severity_of(&STEEL, 2.0, 0.0), []);
        assert_eq!(severity_of(&STEEL, 15.0, 0.0), []);
        assert_eq!(severity_of(&STEEL, 0.0, 2.0), []);
    }

    #[test]
    fn stainless_takes_2_per_cent_oxidising_and_no_more() {
        assert_eq!(severity_of(&STAINLESS, 2.5, 0.0), [Severity::Warning]);
        assert_eq!(severity_of(&STAINLESS, 1.0, 1.0), []);
    }

    #[test]
    fn aluminium_takes_inert_gas_only_and_the_group_is_named() {
        let mut study = study_of(&ALUMINIUM);
        study.gas = Some(Gas { argon: 82.0, carbon_dioxide: 18.0, ..Gas::default() });
        assert!(found(&CHECK, &study, &steel_trials())[0].reading.seen.contains("ISO 14175 M21"));
        study.gas = Some(Gas { argon: 70.0, helium: 30.0, ..Gas::default() });
        assert!(severities(&CHECK, &study, &steel_trials()).is_empty());
    }
}

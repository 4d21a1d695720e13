//! *Finds* a shielding gas that the trade does not use for pulsed welding of the wire's material.
//!
//! *Why it matters*: with too much active gas a pulsed arc does not detach one drop per pulse, and the
//! laws describe something else than pulsed spray.
//!
//! *What to do*: check `[gas]` and `material`; keep the gas if it is meant.
//!
//! *Example*: aluminium under argon with 18 % CO2 (ISO 14175 M21).
//!
//! The groups are those of ISO 14175:2008 (see [`crate::gas`]). Which of them suits which material is common
//! practice, no standard: unalloyed steel argon with 2 to 20 % CO2 (M12, M20, M21 at its lower end), better under 15 %,
//! or with oxygen (M13, M14, M22 to M25); stainless steel M12 to M14 with at most 3 % oxidising components, argon or
//! argon-helium (I1 to I3); aluminium I1 to I3. Warnings, not refusals.

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

/// More oxidising components than this carburise or oxidise stainless steel (common practice), per cent.
const STAINLESS_OXIDISING_PERCENT: f64 = 3.0;

/// What common practice expects and how far the gas misses it; `None` where it fits or no rule is at hand.
fn missed(material: Material, gas: &Gas) -> Option<(Severity, &'static str, String)> {
    let group = gas.iso_14175_group();
    let oxidising = gas.carbon_dioxide + gas.oxygen;
    let reducing = gas.hydrogen + gas.nitrogen;
    let above = |value: f64, limit: f64| value > limit + ROUNDING_PERCENT;
    let reduced = || format!("{} % hydrogen and nitrogen", number(reducing));
    match material {
        Material::CarbonSteel => {
            let expected = "for pulsed welding of unalloyed steel argon with 2 to 20 % CO2 (M12, M20, M21), better under 15 %, or with oxygen (M13, M14, M22 to M25)";
            let active = format!("{} % CO2 and {} % O2", number(gas.carbon_dioxide), number(gas.oxygen));
            let highly = matches!(group.get(..2), Some("M3" | "C1" | "C2" | "O1"));
            if highly || above(gas.carbon_dioxide, 20.0) || above(2.0, oxidising + 2.0 * ROUNDING_PERCENT) {
                Some((Severity::Warning, expected, active))
            } else if above(reducing, 0.0) {
                Some((Severity::Warning, expected, reduced()))
            } else {
                above(gas.carbon_dioxide, 15.0).then_some((Severity::Note, expected, active))
            }
        }
        Material::StainlessSteel => {
            let expected = "for stainless steel argon with at most 3 % CO2 and O2 together (M12 to M14), argon or argon-helium (I1 to I3)";
            if above(oxidising, STAINLESS_OXIDISING_PERCENT) {
                // Up to 5 % CO2 is the same group and is welded, but the weld takes up carbon.
                let severity = if group == "M12" { Severity::Note } else { Severity::Warning };
                Some((severity, expected, format!("{} % oxidising", number(oxidising))))
            } else {
                above(reducing, 0.0).then(|| (Severity::Note, expected, reduced()))
            }
        }
        Material::Aluminium => {
            let active = oxidising + reducing;
            let expected = "for aluminium argon or argon-helium (I1 to I3)";
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
        format!("{}: {off}", gas.text_and_group()),
        "check [gas] and wire.material; if the gas is meant, look at the transfer on high-speed video before trusting the detachment law",
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
    fn steel_under_a_highly_oxidising_group_is_warned_of_whatever_the_component() {
        // 12 % O2 is M32, 12 % CO2 with 12 % O2 M34; 5 % O2 (M22) is used.
        assert_eq!(severity_of(&STEEL, 0.0, 12.0), [Severity::Warning]);
        assert_eq!(severity_of(&STEEL, 12.0, 12.0), [Severity::Warning]);
        assert_eq!(severity_of(&STEEL, 0.0, 5.0), []);
    }

    #[test]
    fn stainless_under_2_5_per_cent_carbon_dioxide_is_ordinary() {
        assert_eq!(severity_of(&STAINLESS, 2.5, 0.0), []);
        assert_eq!(severity_of(&STAINLESS, 3.0, 0.0), []);
        assert_eq!(severity_of(&STAINLESS, 0.0, 2.0), []);
        assert_eq!(severity_of(&STAINLESS, 1.0, 1.0), []);
    }

    #[test]
    fn stainless_takes_3_per_cent_oxidising_and_no_more() {
        assert_eq!(severity_of(&STAINLESS, 5.0, 0.0), [Severity::Note]);
        assert_eq!(severity_of(&STAINLESS, 8.0, 0.0), [Severity::Warning]);
        assert_eq!(severity_of(&STAINLESS, 0.0, 5.0), [Severity::Warning]);
        assert_eq!(severity_of(&STAINLESS, 2.5, 2.5), [Severity::Warning]);
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

//! Shielding gas: composition and its group in ISO 14175:2008.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Composition in per cent by volume.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Gas {
    /// Ar.
    #[serde(skip_serializing_if = "is_zero")]
    pub argon: f64,
    /// CO2.
    #[serde(skip_serializing_if = "is_zero")]
    pub carbon_dioxide: f64,
    /// He.
    #[serde(skip_serializing_if = "is_zero")]
    pub helium: f64,
    /// O2.
    #[serde(skip_serializing_if = "is_zero")]
    pub oxygen: f64,
    /// H2.
    #[serde(skip_serializing_if = "is_zero")]
    pub hydrogen: f64,
    /// N2.
    #[serde(skip_serializing_if = "is_zero")]
    pub nitrogen: f64,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

impl Gas {
    /// Components with their names, in the order of the study file.
    pub fn components(&self) -> [(&'static str, f64); 6] {
        [
            ("argon", self.argon),
            ("carbon_dioxide", self.carbon_dioxide),
            ("helium", self.helium),
            ("oxygen", self.oxygen),
            ("hydrogen", self.hydrogen),
            ("nitrogen", self.nitrogen),
        ]
    }

    /// Sum of all components, per cent.
    pub fn total(&self) -> f64 {
        self.components().iter().map(|c| c.1).sum()
    }

    /// As people write it: `92 % Ar + 8 % CO2`.
    pub fn text(&self) -> String {
        let parts: Vec<String> = [
            (self.argon, "Ar"),
            (self.helium, "He"),
            (self.carbon_dioxide, "CO2"),
            (self.oxygen, "O2"),
            (self.hydrogen, "H2"),
            (self.nitrogen, "N2"),
        ]
        .iter()
        .filter(|(v, _)| *v > 0.0)
        .map(|(v, name)| format!("{v} % {name}"))
        .collect();
        if parts.is_empty() { "no gas".to_owned() } else { parts.join(" + ") }
    }

    /// As people write it with its group: `92 % Ar + 8 % CO2 (ISO 14175 M20)`.
    pub fn text_and_group(&self) -> String {
        format!("{} (ISO 14175 {})", self.text(), self.iso_14175_group())
    }

    /// Main group and sub-group of ISO 14175:2008; `Z` for what no group holds. Helium may stand for argon in groups
    /// M, R and N.
    ///
    /// # Source
    /// Table 2 of ISO 14175:2008 as two public pages repeat it; the standard itself was not seen: check the edition.
    pub fn iso_14175_group(&self) -> &'static str {
        let Self { argon, carbon_dioxide: co2, helium, oxygen: o2, hydrogen: h2, nitrogen: n2 } = *self;
        let none = |v: f64| v <= 0.0;
        let upto = |v: f64, high: f64| v >= 0.5 && v <= high;
        let over = |v: f64, low: f64, high: f64| v > low && v <= high;
        let inert = argon + helium;
        match () {
            () if !none(n2) => nitrogen_group(self),
            () if !none(h2) => match () {
                () if upto(co2, 5.0) && upto(h2, 5.0) && none(o2) => "M11",
                () if none(co2) && none(o2) && upto(h2, 15.0) => "R1",
                () if none(co2) && none(o2) && over(h2, 15.0, 50.0) => "R2",
                () => "Z",
            },
            () if none(co2) && none(o2) && none(helium) && argon > 0.0 => "I1",
            () if none(co2) && none(o2) && none(argon) && helium > 0.0 => "I2",
            () if none(co2) && none(o2) && (0.5..=95.0).contains(&helium) => "I3",
            () if none(inert) && none(o2) && co2 > 0.0 => "C1",
            () if none(inert) && none(co2) && o2 > 0.0 => "O1",
            () if none(inert) && upto(o2, 30.0) => "C2",
            () if none(inert) => "Z",
            () if upto(co2, 5.0) && none(o2) => "M12",
            () if none(co2) && upto(o2, 3.0) => "M13",
            () if upto(co2, 5.0) && upto(o2, 3.0) => "M14",
            () if over(co2, 5.0, 15.0) && none(o2) => "M20",
            () if over(co2, 15.0, 25.0) && none(o2) => "M21",
            () if none(co2) && over(o2, 3.0, 10.0) => "M22",
            () if upto(co2, 5.0) && over(o2, 3.0, 10.0) => "M23",
            () if over(co2, 5.0, 15.0) && upto(o2, 3.0) => "M24",
            () if over(co2, 5.0, 15.0) && over(o2, 3.0, 10.0) => "M25",
            () if over(co2, 15.0, 25.0) && upto(o2, 3.0) => "M26",
            () if over(co2, 15.0, 25.0) && over(o2, 3.0, 10.0) => "M27",
            () if over(co2, 25.0, 50.0) && none(o2) => "M31",
            () if none(co2) && over(o2, 10.0, 15.0) => "M32",
            () if over(co2, 25.0, 50.0) && over(o2, 2.0, 10.0) => "M33",
            () if over(co2, 5.0, 25.0) && over(o2, 10.0, 15.0) => "M34",
            () if over(co2, 25.0, 50.0) && over(o2, 10.0, 15.0) => "M35",
            () => "Z",
        }
    }
}

/// Groups N: nitrogen, alone, in argon, or with hydrogen.
fn nitrogen_group(gas: &Gas) -> &'static str {
    let (n2, h2, inert) = (gas.nitrogen, gas.hydrogen, gas.argon + gas.helium);
    let within = |v: f64, low: f64, high: f64| v >= low && v <= high;
    match () {
        () if gas.carbon_dioxide > 0.0 || gas.oxygen > 0.0 => "Z",
        () if inert <= 0.0 && h2 <= 0.0 => "N1",
        () if inert <= 0.0 && within(h2, 0.5, 50.0) => "N5",
        () if h2 <= 0.0 && within(n2, 0.5, 5.0) => "N2",
        () if h2 <= 0.0 && n2 > 5.0 && n2 <= 50.0 => "N3",
        () if within(h2, 0.5, 10.0) && within(n2, 0.5, 5.0) => "N4",
        () => "Z",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(carbon_dioxide: f64, oxygen: f64, helium: f64) -> &'static str {
        let argon = 100.0 - carbon_dioxide - oxygen - helium;
        Gas { argon, carbon_dioxide, oxygen, helium, ..Gas::default() }.iso_14175_group()
    }

    #[test]
    fn groups_follow_the_2008_edition() {
        // 10 CO2 + 3 O2 and 30 He are examples of the earlier edition; the others follow from the table's limits.
        assert_eq!(group(10.0, 3.0, 0.0), "M24");
        assert_eq!(group(0.0, 0.0, 30.0), "I3");
        for (carbon_dioxide, wanted) in [(2.5, "M12"), (5.0, "M12"), (8.0, "M20"), (15.0, "M20"), (18.0, "M21")] {
            assert_eq!(group(carbon_dioxide, 0.0, 0.0), wanted, "{carbon_dioxide} % CO2");
        }
        assert_eq!(group(25.0, 0.0, 0.0), "M21");
        assert_eq!(group(40.0, 0.0, 0.0), "M31");
        assert_eq!(group(0.0, 2.0, 0.0), "M13");
        assert_eq!(group(0.0, 0.0, 0.0), "I1");
        assert_eq!(group(100.0, 0.0, 0.0), "C1");
        // Helium in place of argon leaves the group as it is.
        assert_eq!(group(2.5, 0.0, 55.0), "M12");
    }

    #[test]
    fn carbon_dioxide_with_much_oxygen_is_m34_to_25_and_m35_to_50_per_cent() {
        assert_eq!(group(20.0, 12.0, 0.0), "M34");
        assert_eq!(group(10.0, 12.0, 0.0), "M34");
        assert_eq!(group(30.0, 12.0, 0.0), "M35");
        assert_eq!(group(30.0, 5.0, 0.0), "M33");
        assert_eq!(group(5.0, 12.0, 0.0), "Z");
    }

    #[test]
    fn what_no_group_holds_is_z() {
        assert_eq!(group(0.3, 0.0, 0.0), "Z");
        assert_eq!(group(60.0, 0.0, 0.0), "Z");
        assert_eq!(group(f64::NAN, 0.0, 0.0), "Z");
        assert_eq!(Gas { argon: 99.985, nitrogen: 0.015, ..Gas::default() }.iso_14175_group(), "Z");
    }

    #[test]
    fn hydrogen_and_nitrogen_have_their_groups() {
        let of = |argon, carbon_dioxide, hydrogen, nitrogen| {
            Gas { argon, carbon_dioxide, hydrogen, nitrogen, ..Gas::default() }.iso_14175_group()
        };
        assert_eq!(of(93.0, 2.0, 5.0, 0.0), "M11");
        assert_eq!(of(95.0, 0.0, 5.0, 0.0), "R1");
        assert_eq!(of(70.0, 0.0, 30.0, 0.0), "R2");
        assert_eq!(of(0.0, 0.0, 0.0, 100.0), "N1");
        assert_eq!(of(97.5, 0.0, 0.0, 2.5), "N2");
        assert_eq!(of(80.0, 0.0, 0.0, 20.0), "N3");
        assert_eq!(of(93.0, 0.0, 5.0, 2.0), "N4");
        assert_eq!(of(0.0, 0.0, 10.0, 90.0), "N5");
    }

    #[test]
    fn a_gas_is_shown_with_its_group() {
        let gas = Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() };
        assert_eq!(gas.text_and_group(), "92 % Ar + 8 % CO2 (ISO 14175 M20)");
    }
}

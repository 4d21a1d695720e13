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

    /// Main group and sub-group of ISO 14175:2008 (limits from memory, agreeing with two published
    /// examples); `Z` for what no group holds. Argon may be replaced by helium in groups M.
    pub fn iso_14175_group(&self) -> &'static str {
        let Self { argon, carbon_dioxide: co2, helium, oxygen: o2, hydrogen: h2, nitrogen: n2 } = *self;
        let none = |v: f64| v <= 0.0;
        let trace = |v: f64, high: f64| v >= 0.5 && v <= high;
        let over = |v: f64, low: f64, high: f64| v > low && v <= high;
        if !none(n2) {
            return if none(co2) && none(o2) { "N" } else { "Z" };
        }
        if !none(h2) {
            return match () {
                () if trace(co2, 5.0) && trace(h2, 5.0) && none(o2) => "M11",
                () if none(co2) && none(o2) && trace(h2, 50.0) => "R",
                () => "Z",
            };
        }
        match () {
            () if none(co2) && none(o2) && none(helium) && argon > 0.0 => "I1",
            () if none(co2) && none(o2) && none(argon) && helium > 0.0 => "I2",
            () if none(co2) && none(o2) && (0.5..=95.0).contains(&helium) => "I3",
            () if none(argon) && none(helium) && none(o2) && co2 > 0.0 => "C1",
            () if none(argon) && none(helium) && trace(o2, 30.0) => "C2",
            () if trace(co2, 5.0) && none(o2) => "M12",
            () if none(co2) && trace(o2, 3.0) => "M13",
            () if trace(co2, 5.0) && trace(o2, 3.0) => "M14",
            () if over(co2, 5.0, 15.0) && none(o2) => "M20",
            () if over(co2, 15.0, 25.0) && none(o2) => "M21",
            () if none(co2) && over(o2, 3.0, 10.0) => "M22",
            () if trace(co2, 5.0) && over(o2, 3.0, 10.0) => "M23",
            () if over(co2, 5.0, 15.0) && trace(o2, 3.0) => "M24",
            () if over(co2, 5.0, 15.0) && over(o2, 3.0, 10.0) => "M25",
            () if over(co2, 15.0, 25.0) && trace(o2, 3.0) => "M26",
            () if over(co2, 15.0, 25.0) && over(o2, 3.0, 10.0) => "M27",
            () if over(co2, 25.0, 50.0) && none(o2) => "M31",
            () if none(co2) && over(o2, 10.0, 15.0) => "M32",
            () if over(co2, 25.0, 50.0) && over(o2, 2.0, 10.0) => "M33",
            () if trace(co2, 25.0) && over(o2, 10.0, 15.0) => {
                if co2 <= 5.0 || co2 > 15.0 {
                    "M35"
                } else {
                    "M34"
                }
            }
            () => "Z",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_follow_the_2008_edition() {
        let group = |co2: f64, o2: f64, he: f64| {
            Gas { argon: 100.0 - co2 - o2 - he, carbon_dioxide: co2, oxygen: o2, helium: he, ..Gas::default() }
                .iso_14175_group()
        };
        // 10 CO2 + 3 O2 and 30 He: published examples; the others: limits of the groups from memory.
        assert_eq!(group(10.0, 3.0, 0.0), "M24");
        assert_eq!(group(0.0, 0.0, 30.0), "I3");
        assert_eq!(group(8.0, 0.0, 0.0), "M20");
        assert_eq!(group(5.0, 0.0, 0.0), "M12");
        assert_eq!(group(15.0, 0.0, 0.0), "M20");
        assert_eq!(group(18.0, 0.0, 0.0), "M21");
        assert_eq!(group(25.0, 0.0, 0.0), "M21");
        assert_eq!(group(0.0, 2.0, 0.0), "M13");
        assert_eq!(group(0.0, 0.0, 0.0), "I1");
        assert_eq!(group(100.0, 0.0, 0.0), "C1");
    }
}

//! For what a line holds: wire, gas and geometry, and how two of them differ, in words and numbers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::gas::Gas;
use crate::record::LineRecord;
use crate::study::{Conditions, Wire};

/// One condition that is another than the one it is held against.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConditionDifference {
    /// Which, by its name in files, such as `wire.diameter_mm`.
    pub what: String,
    /// As it is.
    pub found: ConditionValue,
    /// As it is in what it is held against.
    pub instead_of: ConditionValue,
    /// In words, such as `diameter 1.0 instead of 1.2 mm`.
    pub words: String,
}

/// A number or a word; `not stated` where a file says nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum ConditionValue {
    /// In the unit that the name carries.
    Number(f64),
    /// A range, in the unit that the name carries.
    Range([f64; 2]),
    /// A word.
    Word(String),
}

/// What is not stated.
const NOT_STATED: &str = "not stated";
/// Symbols in the order of [`Gas::components`].
const SYMBOLS: [&str; 6] = ["Ar", "CO2", "He", "O2", "H2", "N2"];

impl ConditionDifference {
    /// Words that differ.
    pub(crate) fn of_words(what: &str, name: &str, found: &str, instead_of: &str) -> Self {
        Self {
            what: what.to_owned(),
            found: ConditionValue::Word(found.to_owned()),
            instead_of: ConditionValue::Word(instead_of.to_owned()),
            words: format!("{name} {found} instead of {instead_of}").trim_start().to_owned(),
        }
    }

    /// Numbers that differ.
    pub(crate) fn of_numbers(what: &str, name: &str, found: f64, instead_of: f64, unit: &str) -> Self {
        Self {
            what: what.to_owned(),
            found: ConditionValue::Number(found),
            instead_of: ConditionValue::Number(instead_of),
            words: format!("{name} {found:?} instead of {instead_of:?} {unit}").trim().to_owned(),
        }
    }
}

/// Largest difference of one component, percentage points; `None` where either gas is not stated.
pub fn gas_distance_points(found: Option<&Gas>, wanted: Option<&Gas>) -> Option<f64> {
    let (found, wanted) = (found?.components(), wanted?.components());
    Some(found.iter().zip(wanted).map(|(f, w)| (f.1 - w.1).abs()).fold(0.0, f64::max))
}

/// Components that differ by more than `tolerance_points`; argon only where no other does, since it is the rest.
pub(crate) fn gas_differences(found: Option<&Gas>, wanted: &Gas, tolerance_points: f64) -> Vec<ConditionDifference> {
    let Some(found) = found else {
        return vec![ConditionDifference::of_words("gas", "gas", NOT_STATED, &wanted.text())];
    };
    // A hundredth of a millionth of a point is rounding of the typed numbers.
    let tolerance = tolerance_points + 1e-8;
    let mut differs: Vec<ConditionDifference> = found
        .components()
        .iter()
        .zip(wanted.components())
        .zip(SYMBOLS)
        .filter(|((f, w), _)| !((f.1 - w.1).abs() <= tolerance))
        .map(|((f, w), symbol)| ConditionDifference {
            what: format!("gas.{}", f.0),
            found: ConditionValue::Number(f.1),
            instead_of: ConditionValue::Number(w.1),
            words: format!("{} instead of {} % {symbol}", f.1, w.1),
        })
        .collect();
    if differs.len() > 1 {
        differs.retain(|d| d.what != "gas.argon");
    }
    differs
}

/// How the conditions of `found` differ from those of `first`: wire, gas, geometry, then what the source allows and
/// what was asked for. Empty where nothing does.
pub fn condition_differences(found: &LineRecord, first: &LineRecord) -> Vec<ConditionDifference> {
    let mut all = welding_differences(
        (&found.wire, found.gas.as_ref(), &found.conditions),
        (&first.wire, first.gas.as_ref(), &first.conditions),
    );
    all.extend(asked(found, first));
    all
}

/// Wire, gas and geometry that a line or laws hold for.
type Welding<'a> = (&'a Wire, Option<&'a Gas>, &'a Conditions);

/// How wire, gas and geometry of `found` differ from those of `first`; empty where nothing does.
pub(crate) fn welding_differences(found: Welding<'_>, first: Welding<'_>) -> Vec<ConditionDifference> {
    let mut all = Vec::new();
    let (f, w) = (found.0, first.0);
    if f.material != w.material {
        all.push(ConditionDifference::of_words("wire.material", "", f.material.word(), w.material.word()));
    }
    if f.designation != w.designation {
        all.push(ConditionDifference::of_words("wire.designation", "wire", &f.designation, &w.designation));
    }
    all.extend(number("wire.diameter_mm", "diameter", f.diameter_mm, w.diameter_mm, "mm"));
    all.extend(
        number("wire.metal_section_mm2", "metal section", f.section_mm2(), w.section_mm2(), "mm²")
            .filter(|_| f.metal_section_mm2.is_some() || w.metal_section_mm2.is_some()),
    );
    all.extend(number("wire.density_kg_m3", "density", f.density_kg_m3, w.density_kg_m3, "kg/m³"));
    match (found.1, first.1) {
        (gas, Some(wanted)) => all.extend(gas_differences(gas, wanted, 0.0)),
        (Some(gas), None) => all.push(ConditionDifference::of_words("gas", "gas", &gas.text(), NOT_STATED)),
        (None, None) => {}
    }
    let (f, w) = (found.2, first.2);
    all.extend(number("conditions.ctwd_mm", "contact-tip-to-work distance", f.ctwd_mm, w.ctwd_mm, "mm"));
    all.extend(number("conditions.arc_length_mm", "arc length", f.arc_length_mm, w.arc_length_mm, "mm"));
    all
}

/// Limits of the source and what the study asked of the line: they explain settings, not melting.
fn asked(found: &LineRecord, first: &LineRecord) -> Vec<ConditionDifference> {
    let (f, w) = (&found.source, &first.source);
    let mut all: Vec<ConditionDifference> = [
        ("source.current_a", "current limits", f.current_a, w.current_a, "A"),
        ("source.background_current_a", "background limits", f.background_current_a, w.background_current_a, "A"),
        ("source.pulse_time_ms", "pulse time limits", f.pulse_time_ms, w.pulse_time_ms, "ms"),
        ("source.pulse_frequency_hz", "frequency limits", f.pulse_frequency_hz, w.pulse_frequency_hz, "Hz"),
        ("source.pulse_duty", "limits of the pulse duty", f.pulse_duty, w.pulse_duty, ""),
    ]
    .into_iter()
    .filter_map(|(what, name, f, w, unit)| range(what, name, f, w, unit))
    .collect();
    all.extend(number("source.rise_a_per_ms", "rise", f.rise_a_per_ms, w.rise_a_per_ms, "A/ms"));
    all.extend(number("source.fall_a_per_ms", "fall", f.fall_a_per_ms, w.fall_a_per_ms, "A/ms"));
    let (Some(f), Some(w)) = (&found.request, &first.request) else { return all };
    all.extend(range(
        "line.wire_feed_m_min",
        "feeds asked for",
        Some(f.wire_feed_m_min),
        Some(w.wire_feed_m_min),
        "m/min",
    ));
    if f.composing != w.composing {
        all.push(ConditionDifference::of_words("line.composing", "composed", f.composing.word(), w.composing.word()));
    }
    for (what, name, f, w) in [
        ("line.drop_to_wire_ratio", "drop over wire diameter", f.drop_to_wire_ratio, w.drop_to_wire_ratio),
        ("line.one_drop_floor", "one-drop floor", f.one_drop_floor, w.one_drop_floor),
        ("line.extended_by", "extended by", f.extended_by, w.extended_by),
    ] {
        all.extend(number(what, name, f, w, ""));
    }
    all
}

fn number(what: &str, name: &str, found: f64, first: f64, unit: &str) -> Option<ConditionDifference> {
    // Ten digits: less is rounding of a conversion.
    let same = found == first || (found - first).abs() <= 1e-10 * first.abs();
    (!same).then(|| ConditionDifference::of_numbers(what, name, found, first, unit))
}

fn range(
    what: &str,
    name: &str,
    found: Option<[f64; 2]>,
    first: Option<[f64; 2]>,
    unit: &str,
) -> Option<ConditionDifference> {
    if found == first {
        return None;
    }
    let words = |r: Option<[f64; 2]>| r.map_or("none".to_owned(), |[a, b]| format!("{a} to {b}"));
    let value = |r: Option<[f64; 2]>| r.map_or(ConditionValue::Word("none".to_owned()), ConditionValue::Range);
    Some(ConditionDifference {
        what: what.to_owned(),
        found: value(found),
        instead_of: value(first),
        words: format!("{name} {} instead of {} {unit}", words(found), words(first)).trim_end().to_owned(),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
    use super::*;

    fn record() -> LineRecord {
        serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap()
    }

    fn words(found: &LineRecord) -> Vec<String> {
        condition_differences(found, &record()).into_iter().map(|d| d.words).collect()
    }

    #[test]
    fn what_differs_is_told_in_words_and_numbers() {
        let mut other = record();
        assert!(words(&other).is_empty());
        other.wire.diameter_mm = 1.0;
        other.gas = Some(Gas { argon: 82.0, carbon_dioxide: 18.0, ..Gas::default() });
        other.conditions.arc_length_mm = 5.0;
        other.source.background_current_a = None;
        let told = words(&other);
        assert!(told.contains(&"diameter 1.0 instead of 1.2 mm".to_owned()), "{told:?}");
        // The example's gas is 92 % Ar + 8 % CO2; argon is the rest and not told twice.
        assert!(told.contains(&"18 instead of 8 % CO2".to_owned()) && !told.concat().contains("% Ar"), "{told:?}");
        assert!(told.contains(&"arc length 5.0 instead of 4.0 mm".to_owned()), "{told:?}");
        assert!(told.iter().any(|w| w.starts_with("background limits none instead of")), "{told:?}");
    }

    #[test]
    fn a_gas_that_is_not_stated_is_a_difference_of_its_own() {
        let mut other = record();
        other.gas = None;
        assert_eq!(words(&other), ["gas not stated instead of 92 % Ar + 8 % CO2"]);
        assert_eq!(gas_distance_points(None, record().gas.as_ref()), None);
    }
}

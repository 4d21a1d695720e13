//! Units as people write them in headings and in rows of units, held against the unit that a column's name states.

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Speed,
    Length,
    Time,
    Current,
    Voltage,
    Power,
    Frequency,
    Flow,
    Ratio,
}

/// A unit as people write it, and its size in the SI unit of its kind.
#[derive(Debug, PartialEq)]
pub(crate) struct UnitWord {
    word: &'static str,
    kind: Kind,
    size: f64,
}

const fn unit(word: &'static str, kind: Kind, size: f64) -> UnitWord {
    UnitWord { word, kind, size }
}

const INCH_M: f64 = 0.0254;
const MINUTE_S: f64 = 60.0;

/// Sizes by the SI Brochure and NIST SP 811; of spellings that differ in case alone the usual one comes first.
const UNITS: &[UnitWord] = &[
    unit("m/min", Kind::Speed, 1.0 / MINUTE_S),
    unit("mm/s", Kind::Speed, 1e-3),
    unit("in/min", Kind::Speed, INCH_M / MINUTE_S),
    unit("ipm", Kind::Speed, INCH_M / MINUTE_S),
    unit("cm/min", Kind::Speed, 1e-2 / MINUTE_S),
    unit("mm/min", Kind::Speed, 1e-3 / MINUTE_S),
    unit("m/s", Kind::Speed, 1.0),
    unit("cm/s", Kind::Speed, 1e-2),
    unit("m/h", Kind::Speed, 1.0 / 3600.0),
    unit("mm", Kind::Length, 1e-3),
    unit("cm", Kind::Length, 1e-2),
    unit("m", Kind::Length, 1.0),
    unit("in", Kind::Length, INCH_M),
    unit("inch", Kind::Length, INCH_M),
    unit("µm", Kind::Length, 1e-6),
    unit("ms", Kind::Time, 1e-3),
    unit("s", Kind::Time, 1.0),
    unit("sec", Kind::Time, 1.0),
    unit("us", Kind::Time, 1e-6),
    unit("µs", Kind::Time, 1e-6),
    unit("min", Kind::Time, MINUTE_S),
    unit("h", Kind::Time, 3600.0),
    unit("A", Kind::Current, 1.0),
    unit("kA", Kind::Current, 1e3),
    unit("mA", Kind::Current, 1e-3),
    unit("V", Kind::Voltage, 1.0),
    unit("mV", Kind::Voltage, 1e-3),
    unit("kV", Kind::Voltage, 1e3),
    unit("W", Kind::Power, 1.0),
    unit("kW", Kind::Power, 1e3),
    unit("mW", Kind::Power, 1e-3),
    unit("Hz", Kind::Frequency, 1.0),
    unit("1/s", Kind::Frequency, 1.0),
    unit("kHz", Kind::Frequency, 1e3),
    unit("1/min", Kind::Frequency, 1.0 / MINUTE_S),
    unit("l/min", Kind::Flow, 1e-3 / MINUTE_S),
    unit("m3/h", Kind::Flow, 1.0 / 3600.0),
    unit("l/h", Kind::Flow, 1e-3 / 3600.0),
    unit("1", Kind::Ratio, 1.0),
    unit("-", Kind::Ratio, 1.0),
    unit("–", Kind::Ratio, 1.0),
    unit("%", Kind::Ratio, 1e-2),
];

/// The unit that a text is, brackets around it left aside.
pub(crate) fn unit_word(text: &str) -> Option<&'static UnitWord> {
    // Two characters look the same: the micro sign and the Greek letter.
    let bare = text.trim_matches(['[', ']', '(', ')', '{', '}', ' ']).replace('\u{3bc}', "µ");
    let same_case = UNITS.iter().find(|u| u.word == bare);
    same_case.or_else(|| UNITS.iter().find(|u| u.word.to_lowercase() == bare.to_lowercase()))
}

/// What is wrong with a unit beside the one that was needed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Conflict {
    /// The same quantity; numbers times this are in the unit needed.
    Factor(f64),
    /// Another quantity.
    Quantity,
}

impl UnitWord {
    /// The conflict with the unit needed; `None` where both are one.
    pub(crate) fn conflict(&self, needed: &UnitWord) -> Option<Conflict> {
        if self.kind != needed.kind {
            return Some(Conflict::Quantity);
        }
        let factor = self.size / needed.size;
        ((factor - 1.0).abs() > 1e-9).then_some(Conflict::Factor(factor))
    }
}

/// A unit that stands in a heading, as it stands there, and whether brackets say that it is one.
pub(crate) fn unit_in_heading(heading: &str) -> Option<(&str, bool)> {
    for (open, close) in [('[', ']'), ('(', ')')] {
        let end = heading.rfind(close);
        let inside = end.and_then(|end| Some(&heading[heading[..end].find(open)? + open.len_utf8()..end]));
        if let Some(inside) = inside.filter(|text| unit_word(text).is_some()) {
            return Some((inside.trim(), true));
        }
    }
    let last = heading.split(|c: char| c.is_whitespace() || c == '_').rfind(|part| !part.is_empty())?;
    // A heading that is a unit and nothing else, such as `A`, says nothing of what was measured in it.
    if last.len() == heading.trim().len() {
        let (_, after) = last.split_once('/')?;
        return unit_word(after).map(|_| (after, false));
    }
    unit_word(last).map(|_| (last, false))
}

/// A factor as people write it, without the last digits of a division.
pub(crate) fn factor_text(factor: f64) -> String {
    format!("{factor:.11e}").parse::<f64>().unwrap_or(factor).to_string()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    fn conflict(found: &str, needed: &str) -> Option<Conflict> {
        unit_word(found).unwrap().conflict(unit_word(needed).unwrap())
    }

    #[test]
    fn headings_name_their_units_in_many_ways() {
        for (heading, unit) in [
            ("P [kW]", Some(("kW", true))),
            ("Leistung (kW)", Some(("kW", true))),
            ("v [m/min]", Some(("m/min", true))),
            ("P in kW", Some(("kW", false))),
            ("P_kW", Some(("kW", false))),
            ("P/kW", Some(("kW", false))),
            ("I / A", Some(("A", false))),
            ("I (avg)", None),
            ("WFS", None),
            ("A", None),
            ("", None),
            (")[", None),
        ] {
            assert_eq!(unit_in_heading(heading), unit, "{heading}");
        }
    }

    #[test]
    fn units_are_the_same_differ_by_a_factor_or_measure_something_else() {
        assert_eq!(conflict("[W]", "W"), None);
        assert_eq!(conflict("HZ", "Hz"), None);
        assert_eq!(conflict("\u{3bc}s", "us"), None);
        assert_eq!(conflict("kW", "W"), Some(Conflict::Factor(1000.0)));
        assert_eq!(conflict("V", "A"), Some(Conflict::Quantity));
        let Some(Conflict::Factor(factor)) = conflict("ipm", "m/min") else { panic!("both are speeds") };
        assert_eq!(factor_text(factor), "0.0254");
    }

    #[test]
    fn every_unit_of_a_trial_table_is_known() {
        for &column in meltlaw::trials::Column::ALL {
            for (_, conversion) in crate::units::spellings(column) {
                let unit = conversion.map_or(column.unit(), |c| c.unit);
                assert!(unit_word(unit).is_some(), "{unit}");
            }
        }
    }
}

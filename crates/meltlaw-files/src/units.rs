//! Units that a table may use in place of the contract's, each with its exact factor. Conversions
//! happen here and nowhere else.
//!
//! A factor is a fraction of two whole numbers and the value is multiplied first: 240 in/min then
//! gives 6.096 m/min to the last bit, which 240 · 0.0254 need not.

use meltlaw::trials::Column;

/// A unit in a file and the way to the contract's.
#[derive(Debug, PartialEq, Eq)]
pub struct UnitConversion {
    /// Suffix of the column's name in the file.
    pub suffix: &'static str,
    /// Suffix of the contract that it stands for.
    pub replaces: &'static str,
    /// The unit, for people.
    pub unit: &'static str,
    /// The value in the file times this …
    pub multiply: u32,
    /// … over this is the value in the contract's unit.
    pub divide: u32,
    /// The equation behind the factor, and its source.
    pub because: &'static str,
}

impl UnitConversion {
    /// A value of the file in the contract's unit.
    pub fn convert(&self, value: f64) -> f64 {
        value * f64::from(self.multiply) / f64::from(self.divide)
    }
}

const INCH: &str = "1 in = 25.4 mm exactly (NIST SP 811, appendix B)";
const MINUTE: &str = "1 min = 60 s exactly (SI Brochure, table 8)";
const PREFIX: &str = "SI prefix (SI Brochure, table 7)";

/// Every conversion, all exact.
pub const CONVERSIONS: [UnitConversion; 8] = [
    // 60 s/min over 1000 mm/m.
    UnitConversion { suffix: "_mm_s", replaces: "_m_min", unit: "mm/s", multiply: 3, divide: 50, because: MINUTE },
    // 25.4 mm/in over 1000 mm/m.
    UnitConversion {
        suffix: "_in_min",
        replaces: "_m_min",
        unit: "in/min",
        multiply: 127,
        divide: 5000,
        because: INCH,
    },
    UnitConversion { suffix: "_in", replaces: "_mm", unit: "in", multiply: 127, divide: 5, because: INCH },
    UnitConversion { suffix: "_m", replaces: "_mm", unit: "m", multiply: 1000, divide: 1, because: PREFIX },
    UnitConversion { suffix: "_s", replaces: "_ms", unit: "s", multiply: 1000, divide: 1, because: PREFIX },
    UnitConversion { suffix: "_us", replaces: "_ms", unit: "us", multiply: 1, divide: 1000, because: PREFIX },
    UnitConversion { suffix: "_ka", replaces: "_a", unit: "kA", multiply: 1000, divide: 1, because: PREFIX },
    UnitConversion { suffix: "_kw", replaces: "_w", unit: "kW", multiply: 1000, divide: 1, because: PREFIX },
];

/// Every name under which a column may stand in a table, the contract's first, with its conversion.
pub fn spellings(column: Column) -> Vec<(String, Option<&'static UnitConversion>)> {
    let mut names = vec![(column.name().to_owned(), None)];
    for conversion in &CONVERSIONS {
        // `travel_speed_mm_s` ends with no suffix of the list, so only the trade's quantities match.
        if let Some(stem) = column.name().strip_suffix(conversion.replaces) {
            names.push((format!("{stem}{}", conversion.suffix), Some(conversion)));
        }
    }
    names
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    fn convert(column: Column, name: &str, value: f64) -> f64 {
        let (_, conversion) = spellings(column).into_iter().find(|(n, _)| n == name).unwrap();
        conversion.map_or(value, |c| c.convert(value))
    }

    #[test]
    #[allow(clippy::float_cmp, reason = "the point is equality to the last bit")]
    fn factors_are_exact_to_the_last_bit() {
        // 240 in/min · 25.4 mm/in = 6096 mm/min; 100 mm/s · 60 s/min = 6000 mm/min; 3/4 in = 19.05 mm.
        assert_eq!(convert(Column::WireFeed, "wire_feed_in_min", 240.0), 6.096);
        assert_eq!(convert(Column::WireFeed, "wire_feed_mm_s", 100.0), 6.0);
        assert_eq!(convert(Column::Ctwd, "ctwd_in", 0.75), 19.05);
        assert_eq!(convert(Column::Ctwd, "ctwd_m", 0.018), 18.0);
        assert_eq!(convert(Column::PulseTime, "pulse_time_us", 2300.0), 2.3);
        assert_eq!(convert(Column::PulseTime, "pulse_time_s", 0.0023), 2.3);
        assert_eq!(convert(Column::CurrentRms, "current_rms_ka", 0.2), 200.0);
        assert_eq!(convert(Column::PowerMean, "power_mean_kw", 4.6), 4600.0);
    }

    #[test]
    fn only_quantities_of_the_contract_have_other_units() {
        assert_eq!(spellings(Column::TravelSpeed).len(), 1);
        assert_eq!(spellings(Column::GasFlow).len(), 1);
        assert_eq!(spellings(Column::VoltageMean).len(), 1);
        assert_eq!(spellings(Column::PulseFrequency).len(), 1);
        assert_eq!(spellings(Column::WireFeed).len(), 3);
    }

    #[test]
    fn no_name_means_two_things() {
        let mut names: Vec<String> = Column::ALL.iter().flat_map(|&c| spellings(c)).map(|(name, _)| name).collect();
        let count = names.len();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), count);
    }
}

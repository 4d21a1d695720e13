//! Units of exported columns, by the end of a column's name, with their UCUM codes.

/// The unit of a column.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Unit {
    /// End of the name.
    suffix: &'static str,
    /// For people; empty where there is none.
    pub(crate) unit: &'static str,
    /// Unified Code for Units of Measure.
    pub(crate) ucum: &'static str,
}

const fn unit(suffix: &'static str, unit: &'static str, ucum: &'static str) -> Unit {
    Unit { suffix, unit, ucum }
}

const UNITS: [Unit; 10] = [
    unit("_m_min", "m/min", "m/min"),
    unit("_a_per_ms", "A/ms", "A/ms"),
    unit("_kg_h", "kg/h", "kg/h"),
    unit("_kj_mm", "kJ/mm", "kJ/mm"),
    unit("_hz", "Hz", "Hz"),
    unit("_mm", "mm", "mm"),
    unit("_ms", "ms", "ms"),
    unit("_a", "A", "A"),
    unit("_v", "V", "V"),
    unit("_w", "W", "W"),
];

const NONE: Unit = unit("", "", "1");

/// The unit of a column's numbers: that of the longest end of its name, after `_se`, `_low` and `_high`.
pub(crate) fn unit_of(column: &str) -> &'static Unit {
    let name = bare(column);
    UNITS.iter().filter(|unit| name.ends_with(unit.suffix)).max_by_key(|unit| unit.suffix.len()).unwrap_or(&NONE)
}

/// A column's name in words, without its unit: `next_weld_current_mean_a_low` is `next weld mean current, low`.
pub(crate) fn words_of(column: &str) -> String {
    let name = bare(column);
    let end = if name == column { "" } else { &column[name.len() + 1..] };
    let name = name.strip_suffix(unit_of(column).suffix).unwrap_or(name);
    let words = name
        .replace("current_mean", "mean current")
        .replace("current_rms", "RMS current")
        .replace("voltage_mean", "mean voltage")
        .replace("power_mean", "mean power")
        .replace("ctwd", "tip distance")
        .replace("relative_se", "relative standard error")
        .replace("sensitivity_", "")
        .replace("cost_", "")
        .replace('_', " ");
    match end {
        "" => words,
        "se" => format!("{words} standard error"),
        end => format!("{words}, {end}"),
    }
}

fn bare(column: &str) -> &str {
    ["_se", "_low", "_high"].iter().find_map(|end| column.strip_suffix(end)).unwrap_or(column)
}

#[cfg(test)]
mod tests {
    use meltlaw::node_columns::NODE_COLUMNS;
    use meltlaw::trials::Column;

    use super::*;

    #[test]
    fn every_column_of_a_node_has_the_unit_that_its_name_says() {
        let without: Vec<&str> =
            NODE_COLUMNS.iter().map(|(name, _)| *name).filter(|name| unit_of(name).unit.is_empty()).collect();
        assert_eq!(
            without,
            [
                "melting_rate_relative_se",
                "melting_rate_relative_se_same_bench",
                "one_drop_probability",
                "one_drop_probability_low",
                "one_drop_probability_high",
                "cost_one_drop_bound",
                "cost_drop_relative",
            ]
        );
        for (name, unit) in [
            ("rise_a_per_ms", "A/ms"),
            ("next_weld_voltage_mean_v_high", "V"),
            ("heat_input_kj_mm_low", "kJ/mm"),
            ("sensitivity_ctwd_arc_length_mm", "mm"),
            ("cost_pulse_current_a", "A"),
        ] {
            assert_eq!(unit_of(name).unit, unit, "{name}");
        }
    }

    #[test]
    fn units_and_their_codes_are_those_of_trial_tables() {
        for column in Column::ALL {
            let unit = unit_of(column.name());
            if !unit.unit.is_empty() && column.name().ends_with(unit.suffix) && column.unit() == unit.unit {
                assert_eq!(unit.ucum, column.ucum(), "{}", column.name());
            }
        }
        assert_eq!(unit_of("wire_feed_m_min").ucum, Column::WireFeed.ucum());
        assert_eq!(unit_of("pulse_frequency_hz").unit, Column::PulseFrequency.unit());
    }

    #[test]
    fn names_are_told_in_words() {
        for (name, words) in [
            ("wire_feed_m_min", "wire feed"),
            ("current_rms_a", "RMS current"),
            ("next_weld_current_mean_a_low", "next weld mean current, low"),
            ("melting_rate_relative_se", "melting rate relative standard error"),
            ("sensitivity_ctwd_background_current_a", "tip distance background current"),
            ("one_drop_probability_high", "one drop probability, high"),
        ] {
            assert_eq!(words_of(name), words);
        }
    }
}

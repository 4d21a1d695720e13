//! The unit that a name states by its suffix: the rule of every column, member and key that leaves the program.

/// A unit for people, and its UCUM code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Unit {
    pub(crate) unit: &'static str,
    pub(crate) ucum: &'static str,
}

/// Without a suffix, or `relative`.
const DIMENSIONLESS: Unit = Unit { unit: "1", ucum: "1" };

/// Every suffix with its unit; UCUM codes are case sensitive.
const SUFFIXES: &[(&str, Unit)] = &[
    ("_a", same("A")),
    ("_v", same("V")),
    ("_w", same("W")),
    ("_j", same("J")),
    ("_ohm", Unit { unit: "ohm", ucum: "Ohm" }),
    ("_mm", same("mm")),
    ("_mm2", same("mm2")),
    ("_ms", same("ms")),
    ("_us", same("us")),
    ("_s", same("s")),
    ("_hz", same("Hz")),
    ("_m_min", same("m/min")),
    ("_mm_s", same("mm/s")),
    ("_l_min", Unit { unit: "l/min", ucum: "L/min" }),
    ("_minutes", same("min")),
    ("_a_per_ms", same("A/ms")),
    ("_mm_per_s", same("mm/s")),
    ("_mm_per_a_s", Unit { unit: "mm/(A s)", ucum: "mm/(A.s)" }),
    ("_per_a2_s", Unit { unit: "1/(A2 s)", ucum: "1/(A2.s)" }),
    ("_v_per_mm", same("V/mm")),
    ("_ohm_per_mm", Unit { unit: "ohm/mm", ucum: "Ohm/mm" }),
    ("_kg_h", same("kg/h")),
    ("_kg_m3", same("kg/m3")),
    ("_g_m", same("g/m")),
    ("_kj_mm", same("kJ/mm")),
    ("_mm_a2", Unit { unit: "mm A2", ucum: "mm.A2" }),
    ("_percent", same("%")),
];

const fn same(unit: &'static str) -> Unit {
    Unit { unit, ucum: unit }
}

/// The unit of a name: `_se`, `_interval`, `_low` and `_high` are taken off first, then the longest suffix wins.
pub(crate) fn unit_of(name: &str) -> Unit {
    let mut stem = name;
    while let Some(shorter) = ["_se", "_interval", "_low", "_high"].iter().find_map(|end| stem.strip_suffix(end)) {
        stem = shorter;
    }
    let fits = SUFFIXES.iter().filter(|(suffix, _)| stem.ends_with(suffix));
    fits.max_by_key(|(suffix, _)| suffix.len()).map_or(DIMENSIONLESS, |(_, unit)| *unit)
}

#[cfg(test)]
mod tests {
    use meltlaw::trials::Column;

    use super::*;

    #[test]
    fn the_longest_suffix_wins_and_what_stands_after_it_is_taken_off() {
        for (name, ucum) in [
            ("wire_feed_m_min", "m/min"),
            ("travel_speed_mm_s", "mm/s"),
            ("voltage_mean_v_low", "V"),
            ("pulse_time_ms_se", "ms"),
            ("rise_a_per_ms", "A/ms"),
            ("beta_per_a2_s", "1/(A2.s)"),
            ("alpha_mm_per_a_s", "mm/(A.s)"),
            ("extension_ohm_per_mm", "Ohm/mm"),
            ("melting_rate_relative_se", "1"),
            ("melting_rate_relative_se_same_bench", "1"),
            ("cost_by_limit_frequency_low", "1"),
            ("residual_percent", "%"),
            ("steepness", "1"),
        ] {
            assert_eq!(unit_of(name).ucum, ucum, "{name}");
        }
    }

    #[test]
    fn every_column_of_a_trial_table_has_the_unit_that_it_states() {
        for &column in Column::ALL {
            let unit = unit_of(column.name());
            assert_eq!((unit.unit, unit.ucum), (column.unit(), column.ucum()), "{}", column.name());
        }
    }
}

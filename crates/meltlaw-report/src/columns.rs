//! The numbers of a node by the names under which they leave the program; interval ends as `NAME_low` and
//! `NAME_high`.

use meltlaw::heat::energy_per_melted_mass_mj_kg;
use meltlaw::line::Node;

/// A number of a node, where the line has it.
pub(crate) type Column = fn(&Node) -> Option<f64>;

/// Every number of a node that tables, embedded data and the live setting use, settings first.
pub(crate) const COLUMNS: [(&str, Column); 40] = [
    ("wire_feed_m_min", |n| Some(n.wire_feed_m_min)),
    ("pulse_current_a", |n| Some(n.pulse_current_a)),
    ("pulse_time_ms", |n| Some(n.pulse_time_ms)),
    ("pulse_frequency_hz", |n| Some(n.pulse_frequency_hz)),
    ("background_current_a", |n| Some(n.background_current_a)),
    ("background_time_ms", |n| Some(n.background_time_ms)),
    ("rise_a_per_ms", |n| Some(n.rise_a_per_ms)),
    ("fall_a_per_ms", |n| Some(n.fall_a_per_ms)),
    ("current_mean_a", |n| Some(n.current_mean_a)),
    ("current_rms_a", |n| Some(n.current_rms_a)),
    ("drop_diameter_mm", |n| Some(n.drop_diameter_mm)),
    ("melting_rate_kg_h", |n| Some(n.melting_rate_kg_h)),
    ("melting_rate_relative_se", |n| Some(n.melting_rate_relative_se)),
    ("melting_rate_relative_se_same_bench", |n| Some(n.melting_rate_relative_se_same_bench)),
    ("voltage_mean_v", |n| Some(n.voltage_mean_v)),
    ("voltage_mean_v_low", |n| Some(n.voltage_mean_v_interval[0])),
    ("voltage_mean_v_high", |n| Some(n.voltage_mean_v_interval[1])),
    ("power_mean_w", |n| Some(n.power_mean_w)),
    ("power_mean_w_low", |n| n.power_mean_w_interval.map(|i| i[0])),
    ("power_mean_w_high", |n| n.power_mean_w_interval.map(|i| i[1])),
    ("one_drop_probability", |n| Some(n.one_drop_probability.value)),
    ("one_drop_probability_low", |n| Some(n.one_drop_probability.interval[0])),
    ("one_drop_probability_high", |n| Some(n.one_drop_probability.interval[1])),
    ("balancing_background_current_a_low", |n| Some(n.balancing_background_current_a_interval[0])),
    ("balancing_background_current_a_high", |n| Some(n.balancing_background_current_a_interval[1])),
    ("arc_energy_kj_mm", |n| n.arc_energy_kj_mm),
    ("arc_energy_kj_mm_low", |n| n.arc_energy_kj_mm_interval.map(|i| i[0])),
    ("arc_energy_kj_mm_high", |n| n.arc_energy_kj_mm_interval.map(|i| i[1])),
    ("heat_input_kj_mm", |n| n.heat_input_kj_mm),
    ("heat_input_kj_mm_low", |n| n.heat_input_kj_mm_interval.map(|i| i[0])),
    ("heat_input_kj_mm_high", |n| n.heat_input_kj_mm_interval.map(|i| i[1])),
    ("next_weld_current_mean_a_low", |n| Some(n.next_weld.current_mean_a[0])),
    ("next_weld_current_mean_a_high", |n| Some(n.next_weld.current_mean_a[1])),
    ("next_weld_voltage_mean_v_low", |n| Some(n.next_weld.voltage_mean_v[0])),
    ("next_weld_voltage_mean_v_high", |n| Some(n.next_weld.voltage_mean_v[1])),
    ("next_weld_power_mean_w_low", |n| Some(n.next_weld.power_mean_w[0])),
    ("next_weld_power_mean_w_high", |n| Some(n.next_weld.power_mean_w[1])),
    ("energy_per_melted_wire_mj_kg", |n| Some(spent(n, n.power_mean_w))),
    ("energy_per_melted_wire_mj_kg_low", |n| n.power_mean_w_interval.map(|i| spent(n, i[0]))),
    ("energy_per_melted_wire_mj_kg_high", |n| n.power_mean_w_interval.map(|i| spent(n, i[1]))),
];

/// The number of this name; `None` where the line does not have it.
pub(crate) fn column(node: &Node, name: &str) -> Option<f64> {
    COLUMNS.iter().find(|(known, _)| *known == name).and_then(|(_, of)| of(node))
}

fn spent(node: &Node, power_w: f64) -> f64 {
    energy_per_melted_mass_mj_kg(power_w, node.melting_rate_kg_h)
}

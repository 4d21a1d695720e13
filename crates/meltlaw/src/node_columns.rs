//! The numbers of a node by the names under which they leave the program as columns: interval ends as `NAME_low` and
//! `NAME_high`, members of a member joined by `_`.

use crate::line::{Node, Sensitivity};

/// Name of a column, and its number at a node, where the line has it.
pub type NodeColumn = (&'static str, fn(&Node) -> Option<f64>);

/// Settings first, then what they do, then what moves the arc.
pub const NODE_COLUMNS: &[NodeColumn] = &[
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
    ("balancing_current_mean_a_low", |n| n.balancing_current_mean_a_interval.map(|i| i[0])),
    ("balancing_current_mean_a_high", |n| n.balancing_current_mean_a_interval.map(|i| i[1])),
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
    ("sensitivity_ctwd_arc_length_mm", |n| arc(&n.sensitivities.ctwd)),
    ("sensitivity_ctwd_voltage_mean_v", |n| voltage(&n.sensitivities.ctwd)),
    ("sensitivity_ctwd_background_current_a", |n| background(&n.sensitivities.ctwd)),
    ("sensitivity_wire_feed_arc_length_mm", |n| arc(&n.sensitivities.wire_feed)),
    ("sensitivity_wire_feed_voltage_mean_v", |n| voltage(&n.sensitivities.wire_feed)),
    ("sensitivity_wire_feed_background_current_a", |n| background(&n.sensitivities.wire_feed)),
    ("sensitivity_wire_diameter_arc_length_mm", |n| arc(&n.sensitivities.wire_diameter)),
    ("sensitivity_wire_diameter_voltage_mean_v", |n| voltage(&n.sensitivities.wire_diameter)),
    ("sensitivity_wire_diameter_background_current_a", |n| background(&n.sensitivities.wire_diameter)),
    ("cost_one_drop_bound", |n| n.cost.as_ref().map(|c| c.one_drop_bound)),
    ("cost_drop_relative", |n| n.cost.as_ref().map(|c| c.drop_relative)),
    ("cost_pulse_current_a", |n| n.cost.as_ref().map(|c| c.pulse_current_a)),
];

const fn arc(s: &Sensitivity) -> Option<f64> {
    Some(s.arc_length_mm)
}

const fn voltage(s: &Sensitivity) -> Option<f64> {
    Some(s.voltage_mean_v)
}

const fn background(s: &Sensitivity) -> Option<f64> {
    Some(s.background_current_a)
}

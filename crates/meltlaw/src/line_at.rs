//! The line between its nodes; `backwards` asks the other way round.

use meltlaw_line::{Evaluated, Refused, between};
pub use meltlaw_line::{Standing, Status, Support};

use crate::line::{Budget, IntervalErrors, NextWeld, Node, Sensitivities, Sensitivity, Uncertain, Unsupported};
use crate::line_table::LineTable;
use crate::node_notes::notes_at;
use crate::record::LineRecord;

/// Why a feed has no setting.
#[derive(Debug, Clone, PartialEq)]
pub struct NoSetting {
    /// Code and word.
    pub status: Status,
    /// Support of the feed, where nodes on both sides have one; none outside the line and in a gap.
    pub support: Option<Support>,
    /// Standing of the feed, where it is what refuses the setting.
    pub standing: Option<Standing>,
    /// In words.
    pub reason: String,
    /// Limits that stand in the way, where the line knows them.
    pub limits: Vec<String>,
}

/// The line at a wire feed speed.
///
/// Settings, voltage, background time, mean and RMS current and support are those of the evaluator
/// ([`meltlaw_line::Table::evaluate`]) to the last bit. Power, energies, probability and interval ends are linear
/// between nodes by its weight; drop diameter and melting rate are computed; limits are those of both neighbours; notes
/// are worked out for the feed or name the node that has them.
///
/// # Errors
/// [`NoSetting`] outside the nodes, in a gap, and where the line was withdrawn or confirmation welds contradict it.
pub fn at(record: &LineRecord, wire_feed_m_min: f64) -> Result<Node, NoSetting> {
    let table = LineTable::<f64>::of(&record.line);
    let table = table.as_table();
    let found = table.place(wire_feed_m_min).and_then(|place| Ok((place, table.evaluate(wire_feed_m_min)?)));
    let (place, evaluated) = found.map_err(|refused| no_setting(record, refused, wire_feed_m_min))?;
    let nodes = &record.line.nodes;
    let node = match (nodes.get(place.index), nodes.get(place.index + 1)) {
        (Some(lower), Some(upper)) if place.upper_weight > 0.0 => {
            mixed(record, lower, upper, wire_feed_m_min, place.upper_weight)
        }
        (Some(node), _) => node.clone(),
        (None, _) => unreachable!("the table has a node for each of the line's"),
    };
    Ok(with_evaluated(node, &evaluated))
}

/// The node with what the evaluator gives.
fn with_evaluated(node: Node, e: &Evaluated<f64>) -> Node {
    Node {
        pulse_current_a: e.pulse_current_a,
        pulse_time_ms: e.pulse_time_ms,
        pulse_frequency_hz: e.pulse_frequency_hz,
        background_current_a: e.background_current_a,
        background_time_ms: e.background_time_ms,
        rise_a_per_ms: e.rise_a_per_ms,
        fall_a_per_ms: e.fall_a_per_ms,
        current_mean_a: e.current_mean_a,
        current_rms_a: e.current_rms_a,
        voltage_mean_v: e.voltage_mean_v,
        support: e.support.word().to_owned(),
        ..node
    }
}

fn no_setting(record: &LineRecord, refused: Refused, feed: f64) -> NoSetting {
    let line = &record.line;
    let Refused { status, support, standing } = refused;
    if let Some(range) = line.refused().find(|range| range.holds(feed) && Some(range.standing()) == standing) {
        return NoSetting { status, support, standing, reason: range.refusal_words(), limits: Vec::new() };
    }
    let range = match (line.nodes.first(), line.nodes.last()) {
        (Some(a), Some(b)) => format!("the line goes from {} to {} m/min", a.wire_feed_m_min, b.wire_feed_m_min),
        _ => "the line has no node".to_owned(),
    };
    // Just beside a node the nearest gap explains why, and so it does between two nodes that it parts.
    let why: Option<&Unsupported> = line
        .unsupported
        .iter()
        .min_by(|a, b| distance(a, feed).total_cmp(&distance(b, feed)))
        .filter(|u| !feed.is_nan() && (status == Status::UnsupportedGap || distance(u, feed) <= 0.02));
    let explained = match (why, status) {
        (Some(u), _) => {
            format!("no setting from {} to {} m/min: {}", u.wire_feed_m_min[0], u.wire_feed_m_min[1], u.reason)
        }
        (None, Status::NotANumber) => "the wire feed is not a number".to_owned(),
        (None, _) => {
            "it lies outside the range asked for; ask for a wider [line].wire_feed_m_min and develop again".to_owned()
        }
    };
    NoSetting {
        status,
        support,
        standing,
        reason: format!("{range}; {explained}"),
        limits: why.map(|u| u.limits.clone()).unwrap_or_default(),
    }
}

fn distance(gap: &Unsupported, feed: f64) -> f64 {
    let [low, high] = gap.wire_feed_m_min;
    (low - feed).max(feed - high).max(0.0)
}

/// What the evaluator does not cover, between two nodes; the rest is still that of the lower node.
fn mixed(record: &LineRecord, lower: &Node, upper: &Node, feed: f64, t: f64) -> Node {
    let mix = |a: f64, b: f64| between(a, b, t);
    let ends = |a: [f64; 2], b: [f64; 2]| [mix(a[0], b[0]), mix(a[1], b[1])];
    let optional = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| mix(a, b));
    let optional_ends = |a: Option<[f64; 2]>, b: Option<[f64; 2]>| a.zip(b).map(|(a, b)| ends(a, b));
    let moves = |a: Sensitivity, b: Sensitivity| Sensitivity {
        arc_length_mm: mix(a.arc_length_mm, b.arc_length_mm),
        voltage_mean_v: mix(a.voltage_mean_v, b.voltage_mean_v),
        background_current_a: mix(a.background_current_a, b.background_current_a),
    };
    let shares = |a: &std::collections::BTreeMap<String, f64>, b: &std::collections::BTreeMap<String, f64>| {
        a.iter().map(|(k, v)| (k.clone(), mix(*v, b.get(k).copied().unwrap_or(*v)))).collect()
    };
    let mixed_error =
        |of: fn(&IntervalErrors) -> Option<f64>| optional(of(&lower.interval_errors), of(&upper.interval_errors));
    let pulse_frequency_hz = mix(lower.pulse_frequency_hz, upper.pulse_frequency_hz);
    Node {
        wire_feed_m_min: feed,
        drop_diameter_mm: meltlaw_line::drop_diameter_mm(record.wire.section_mm2(), feed / 0.06, pulse_frequency_hz),
        melting_rate_kg_h: record.wire.melting_rate_kg_h(feed / 0.06),
        melting_rate_relative_se: mix(lower.melting_rate_relative_se, upper.melting_rate_relative_se),
        melting_rate_relative_se_same_bench: mix(
            lower.melting_rate_relative_se_same_bench,
            upper.melting_rate_relative_se_same_bench,
        ),
        voltage_mean_v_interval: ends(lower.voltage_mean_v_interval, upper.voltage_mean_v_interval),
        power_mean_w: mix(lower.power_mean_w, upper.power_mean_w),
        power_mean_w_interval: optional_ends(lower.power_mean_w_interval, upper.power_mean_w_interval),
        one_drop_probability: Uncertain {
            value: mix(lower.one_drop_probability.value, upper.one_drop_probability.value),
            interval: ends(lower.one_drop_probability.interval, upper.one_drop_probability.interval),
            interval_error: optional(
                lower.one_drop_probability.interval_error,
                upper.one_drop_probability.interval_error,
            ),
        },
        balancing_background_current_a_interval: ends(
            lower.balancing_background_current_a_interval,
            upper.balancing_background_current_a_interval,
        ),
        balancing_current_mean_a_interval: optional_ends(
            lower.balancing_current_mean_a_interval,
            upper.balancing_current_mean_a_interval,
        ),
        arc_energy_kj_mm: optional(lower.arc_energy_kj_mm, upper.arc_energy_kj_mm),
        arc_energy_kj_mm_interval: optional_ends(lower.arc_energy_kj_mm_interval, upper.arc_energy_kj_mm_interval),
        heat_input_kj_mm: optional(lower.heat_input_kj_mm, upper.heat_input_kj_mm),
        heat_input_kj_mm_interval: optional_ends(lower.heat_input_kj_mm_interval, upper.heat_input_kj_mm_interval),
        next_weld: NextWeld {
            current_mean_a: ends(lower.next_weld.current_mean_a, upper.next_weld.current_mean_a),
            voltage_mean_v: ends(lower.next_weld.voltage_mean_v, upper.next_weld.voltage_mean_v),
            power_mean_w: ends(lower.next_weld.power_mean_w, upper.next_weld.power_mean_w),
        },
        interval_errors: IntervalErrors {
            balancing_background_current_a: mixed_error(|e| e.balancing_background_current_a),
            voltage_mean_v: mixed_error(|e| e.voltage_mean_v),
            next_weld_current_mean_a: mixed_error(|e| e.next_weld_current_mean_a),
            next_weld_voltage_mean_v: mixed_error(|e| e.next_weld_voltage_mean_v),
            next_weld_power_mean_w: mixed_error(|e| e.next_weld_power_mean_w),
        },
        sensitivities: Sensitivities {
            ctwd: moves(lower.sensitivities.ctwd, upper.sensitivities.ctwd),
            wire_feed: moves(lower.sensitivities.wire_feed, upper.sensitivities.wire_feed),
            wire_diameter: moves(lower.sensitivities.wire_diameter, upper.sensitivities.wire_diameter),
        },
        budget: Budget {
            melting_rate: shares(&lower.budget.melting_rate, &upper.budget.melting_rate),
            one_drop_probability: shares(&lower.budget.one_drop_probability, &upper.budget.one_drop_probability),
            voltage: shares(&lower.budget.voltage, &upper.budget.voltage),
        },
        limits: union(&lower.limits, &upper.limits),
        notes: notes_at(
            record,
            lower,
            upper,
            mix(lower.pulse_current_a, upper.pulse_current_a),
            mix(lower.pulse_time_ms, upper.pulse_time_ms),
        ),
        // Pins hold at their feed alone, and what was given up is told at nodes only.
        pinned: Vec::new(),
        cost: None,
        drift: None,
        ..lower.clone()
    }
}

fn union(a: &[String], b: &[String]) -> Vec<String> {
    let mut all = a.to_vec();
    all.extend(b.iter().filter(|v| !a.contains(v)).cloned());
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beside_a_gap_between_two_nodes_the_gap_is_the_reason() {
        let mut record: LineRecord = serde_json::from_str(include_str!("../../../datasets/worked_example/line.json"))
            .expect("a line file of ours");
        let low = record.line.nodes[0].wire_feed_m_min;
        let gap =
            Unsupported { wire_feed_m_min: [low + 0.2, low + 0.25], limits: Vec::new(), reason: "a test".to_owned() };
        record.line.unsupported = vec![gap];
        let refused = at(&record, low + 0.05).expect_err("between two nodes that a gap parts");
        assert_eq!(refused.status, Status::UnsupportedGap);
        assert!(refused.reason.ends_with(": a test"), "{}", refused.reason);
    }

    #[test]
    fn a_contradicted_feed_has_no_setting_and_withdrawn_goes_first() {
        let mut record: LineRecord = serde_json::from_str(include_str!("../../../datasets/worked_example/line.json"))
            .expect("a line file of ours");
        let said = |state: &str, wire_feed_m_min| crate::line::StandingRange {
            state: state.to_owned(),
            wire_feed_m_min,
            rule: None,
            evidence: None,
            date: None,
            by: None,
        };
        record.line.standing = vec![said("contradicted", [4.5, 6.0]), said("withdrawn", [5.5, 5.6])];
        let refused = at(&record, 5.0).expect_err("contradicted");
        assert_eq!(
            (refused.status, refused.support, refused.standing),
            (Status::Contradicted, Some(Support::Covered), Some(Standing::Contradicted))
        );
        assert_eq!(refused.reason, "confirmation welds contradict the line from 4.5 to 6 m/min: do not use it there");
        assert_eq!(
            [4.5, 5.55, 6.0].map(|f| at(&record, f).map_err(|no| no.status).err()),
            [Some(Status::Contradicted), Some(Status::Withdrawn), Some(Status::Contradicted)]
        );
        assert!(at(&record, 4.4).is_ok() && at(&record, 6.1).is_ok());
    }
}

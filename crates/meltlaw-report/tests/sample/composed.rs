//! The worked example composed by the optimum, and with heat and welds at constant voltage.

use meltlaw::constant_voltage::{ConstantVoltageWeld, Measured, PowerFrom, beside};
use meltlaw::gas::Gas;
use meltlaw::heat::{arc_energy_kj_mm, heat_input_kj_mm};
use meltlaw::line::{BestPulse, Composing, Cost, MidpointLine};
use meltlaw::study::Weights;
use meltlaw::transition_current::transition_current;

use super::Sample;

const SPEED_MM_S: f64 = 7.0;

impl Sample {
    /// The worked example as if it had been composed by the optimum, with a pin at its middle node.
    pub(crate) fn composed() -> Self {
        let mut sample = Sample::worked_example();
        let line = &mut sample.line.line;
        line.composing = Some(Composing {
            rule: "optimised".to_owned(),
            meaning: "the settings cost least".to_owned(),
            weights: Some(Weights { drop_size: 3.0, ..Weights::default() }),
            best_pulse: BestPulse { pulse_current_a: 401.0, pulse_time_ms: 2.62, one_drop_bound: 0.934 },
            smallest_one_drop_bound: Some(0.92),
            usable_m_min: 4.0,
            midpoint: Some(MidpointLine {
                smallest_one_drop_bound: Some(0.921),
                one_drop_bound_beside: Some(0.926),
                usable_m_min: 3.4,
            }),
        });
        for node in &mut line.nodes {
            node.limits = vec!["background_high".to_owned()];
            node.cost = Some(Cost {
                one_drop_bound: 0.008,
                drop_relative: -0.031,
                pulse_current_a: 12.0,
                by_limit: [("background_high".to_owned(), 0.12)].into(),
            });
        }
        line.nodes[1].pinned = vec!["pulse_current_a".to_owned(), "pulse_frequency_hz".to_owned()];
        sample
    }

    /// The worked example with power intervals of ± 100 W and two constant-voltage welds, one out of reach.
    pub(crate) fn with_heat() -> Self {
        let mut sample = Sample::worked_example();
        let gas = Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() };
        sample.line.transition_current = transition_current(&sample.line.wire, Some(&gas));
        for node in &mut sample.line.line.nodes {
            let power = [node.power_mean_w - 100.0, node.power_mean_w + 100.0];
            node.power_mean_w_interval = Some(power);
            node.balancing_current_mean_a_interval = Some([node.current_mean_a - 2.0, node.current_mean_a + 2.0]);
            node.arc_energy_kj_mm = Some(arc_energy_kj_mm(node.power_mean_w, SPEED_MM_S));
            node.arc_energy_kj_mm_interval = Some(power.map(|p| arc_energy_kj_mm(p, SPEED_MM_S)));
            node.heat_input_kj_mm = Some(heat_input_kj_mm(node.power_mean_w, SPEED_MM_S));
            node.heat_input_kj_mm_interval = Some(power.map(|p| heat_input_kj_mm(p, SPEED_MM_S)));
        }
        let read = |value: f64, standard_error: f64| Measured { value, standard_error };
        let weld = |trial: &str, feed: f64| ConstantVoltageWeld {
            trial: trial.to_owned(),
            wire_feed_m_min: read(feed, 0.03),
            current_mean_a: read(225.0, 1.6),
            current_rms_a: None,
            voltage_mean_v: read(27.0, 0.15),
            power_mean_w: read(6075.0, 55.0),
            power_from: PowerFrom::ProductOfMeans,
            extension_mm: Some(read(11.0, 0.2)),
            arc_length_mm: Some(read(4.0, 0.2)),
            travel_speed_mm_s: None,
        };
        sample.laws.constant_voltage_welds = vec![weld("V1", 6.0), weld("V2", 12.0)];
        sample.line.beside_constant_voltage = beside(&sample.line, &sample.laws.constant_voltage_welds);
        sample
    }
}

//! How the nodes would move without each trial: the laws' own leave-one-out at the nodes' settings.

use super::Composer;
use super::node::quadratic;
use crate::laws::{FittedLaw, Laws};
use crate::line::{Influence, Node};

/// Trials of one law kept: in a larger study those that move the line most.
const MOST: usize = 200;

/// One quantity of the line that a law decides: its change with the law's coefficients, and its standard
/// uncertainty.
struct Quantity<'a> {
    law: &'a FittedLaw,
    law_name: &'static str,
    name: &'static str,
    unit: &'static str,
    /// Change at a node for a change of the coefficients, in the law's order.
    change: &'a dyn Fn(&Node, &[f64]) -> f64,
    /// Standard uncertainty at a node.
    uncertainty: &'a dyn Fn(&Node) -> f64,
}

impl Composer<'_> {
    /// Of every trial of every law that the record tells it for.
    pub(super) fn influence(&self, record: &Laws, nodes: &[Node]) -> Vec<Influence> {
        if nodes.is_empty() {
            return Vec::new();
        }
        let extension = self.extension_mm();
        let arc = self.study.bench.arc_length_mm;
        let melting = |node: &Node, d: &[f64]| {
            let offset = d.get(2).copied().unwrap_or(0.0);
            0.06 * (d[0] * node.current_mean_a + d[1] * extension * node.current_rms_a.powi(2) + offset)
        };
        let voltage = |node: &Node, d: &[f64]| {
            let at = |i: usize| d.get(i).copied().unwrap_or(0.0);
            at(0) + at(1) * node.current_mean_a + at(2) * arc + at(3) * extension * node.current_mean_a
        };
        let detachment = &self.laws.detachment;
        let middle_ms = |n: f64, one_ms: f64, more_ms: f64, node: &Node| {
            let x = (node.pulse_current_a / detachment.reference_current_a).ln();
            (one_ms * more_ms).sqrt() * (-n * x).exp()
        };
        let law = &detachment.law;
        let (n, one, more) = (law.exponent, law.one_drop_s.exp(), law.more_drops_s.exp());
        let window =
            |node: &Node, d: &[f64]| middle_ms(n + d[0], one + d[2], more + d[3], node) - middle_ms(n, one, more, node);
        let window_uncertainty = |node: &Node| {
            let x = (node.pulse_current_a / detachment.reference_current_a).ln();
            let g = [-x, 0.0, 1.0, 0.5 * (law.more_drops_s - law.one_drop_s), 0.0];
            middle_ms(n, one, more, node) * quadratic(&g, &detachment.covariance_q).sqrt()
        };
        let quantities = [
            Quantity {
                law: &record.burn_off,
                law_name: "burn_off",
                name: "wire feed that the settings melt",
                unit: "m/min",
                change: &melting,
                uncertainty: &|node| node.melting_rate_relative_se * node.wire_feed_m_min,
            },
            Quantity {
                law: &record.detachment,
                law_name: "detachment",
                name: "pulse time mid-window",
                unit: "ms",
                change: &window,
                uncertainty: &window_uncertainty,
            },
            Quantity {
                law: &record.arc_voltage,
                law_name: "arc_voltage",
                name: "voltage",
                unit: "V",
                change: &voltage,
                uncertainty: &|node| self.voltage_shares(node.current_mean_a).total().sqrt(),
            },
        ];
        quantities.iter().flat_map(|q| q.of_trials(nodes)).collect()
    }
}

impl Quantity<'_> {
    fn of_trials(&self, nodes: &[Node]) -> Vec<Influence> {
        let mut all: Vec<Influence> = self
            .law
            .diagnostics
            .iter()
            .filter_map(|d| {
                let change: Option<Vec<f64>> =
                    self.law.coefficient_order.iter().map(|k| d.without_it.get(k).copied()).collect();
                let change = change.filter(|c| c.len() == self.law.coefficient_order.len() && c.len() >= 2)?;
                let changes: Vec<f64> = nodes.iter().map(|node| (self.change)(node, &change)).collect();
                let place = (0..nodes.len()).max_by(|&a, &b| changes[a].abs().total_cmp(&changes[b].abs()))?;
                let over = changes[place] / (self.uncertainty)(&nodes[place]);
                changes.iter().all(|c| c.is_finite()).then(|| Influence {
                    trial: d.trial.clone(),
                    law: self.law_name.to_owned(),
                    quantity: self.name.to_owned(),
                    unit: self.unit.to_owned(),
                    largest: changes[place],
                    at_wire_feed_m_min: nodes[place].wire_feed_m_min,
                    standard_errors: over.is_finite().then_some(over),
                    changes,
                })
            })
            .collect();
        if all.len() > MOST {
            let mut sizes: Vec<f64> = all.iter().map(|i| i.largest.abs()).collect();
            sizes.sort_by(|a, b| b.total_cmp(a));
            all.retain(|i| i.largest.abs() >= sizes[MOST - 1]);
        }
        all
    }
}

//! One quantity of a constant-voltage weld and of the line at its wire feed, with the error of the difference.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::weld::{ConstantVoltageWeld, Measured};
use crate::line::Node;
use crate::line_at::at;
use crate::record::LineRecord;
use crate::statistics::normal_quantile;

/// One quantity of both welds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Compared {
    /// Its name with its unit, as in a node.
    pub quantity: String,
    /// Its unit.
    pub unit: String,
    /// Of the constant-voltage weld.
    pub constant_voltage: f64,
    /// Of the line.
    pub pulsed: f64,
    /// Pulsed less constant voltage.
    pub difference: f64,
    /// Standard error of the difference; null where the line does not state that of its side.
    pub standard_error: Option<f64>,
    /// Interval of the difference at the line's confidence.
    pub interval: Option<[f64; 2]>,
    /// Why error and interval are missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// Which reading a quantity is proportional to.
pub(super) struct Base {
    of_weld: fn(&ConstantVoltageWeld) -> Measured,
    of_node: fn(&Node) -> f64,
    /// Interval with the settings held; none where the balancing current is the quantity itself.
    held: fn(&Node) -> Option<[f64; 2]>,
    /// How it moves with the mean current that the background balances, from the node and R + r·L.
    by_current: fn(&Node, f64) -> f64,
}

pub(super) const CURRENT: Base = Base {
    of_weld: |w| w.current_mean_a,
    of_node: |n| n.current_mean_a,
    held: |n| Some([n.current_mean_a; 2]),
    by_current: |_, _| 1.0,
};
pub(super) const VOLTAGE: Base = Base {
    of_weld: |w| w.voltage_mean_v,
    of_node: |n| n.voltage_mean_v,
    held: |n| Some(n.voltage_mean_v_interval),
    by_current: |_, ohm| ohm,
};
pub(super) const POWER: Base = Base {
    of_weld: |w| w.power_mean_w,
    of_node: |n| n.power_mean_w,
    held: |n| n.power_mean_w_interval,
    // P = (U0 + E·a)·Ī + (R + r·L)·I_rms², and dI_rms²/dĪ = 2·I_b where only the background moves.
    by_current: |n, ohm| {
        (n.power_mean_w - ohm * n.current_rms_a.powi(2)) / n.current_mean_a + 2.0 * ohm * n.background_current_a
    },
};

/// A weld and the line at its wire feed, one standard error of feed to either side too.
pub(super) struct Both<'a> {
    weld: &'a ConstantVoltageWeld,
    node: Node,
    below: Option<Node>,
    above: Option<Node>,
    /// R + r·L of the voltage law at the line's extension.
    ohm: f64,
    /// Normal quantile at the line's confidence.
    z: f64,
}

impl<'a> Both<'a> {
    /// `None` where the line has no setting at the weld's feed.
    pub(super) fn at_the_weld(record: &LineRecord, weld: &'a ConstantVoltageWeld) -> Option<Self> {
        let Measured { value: feed, standard_error } = weld.wire_feed_m_min;
        let volts = |name: &str| record.laws.arc_voltage.coefficients.get(name).and_then(|c| c.value).unwrap_or(0.0);
        Some(Self {
            weld,
            node: at(record, feed).ok()?,
            below: at(record, feed - standard_error).ok(),
            above: at(record, feed + standard_error).ok(),
            ohm: volts("slope_ohm") + volts("extension_ohm_per_mm") * record.conditions.extension_mm,
            z: normal_quantile(0.5 + record.confidence / 2.0),
        })
    }

    /// A quantity that is `base` times a factor of the wire feed.
    ///
    /// ```text
    /// se² = se_weld² + (h_held/z)² + (slope over current · h_current/z)² + (slope over feed · se_feed)²
    /// ```
    /// h: half intervals of the line with settings held and of the mean current that balances the melting;
    /// slope over feed: of the difference.
    pub(super) fn compare(&self, name: &str, unit: &str, base: &Base, factor: &dyn Fn(f64) -> f64) -> Compared {
        let (node, read) = (&self.node, (base.of_weld)(self.weld));
        let scale = factor(node.wire_feed_m_min);
        let difference = self.gap(node, base, factor);
        let error_of = |[low, high]: [f64; 2]| (high - low) / 2.0 / self.z;
        let standard_error = (base.held)(node)
            .zip(node.balancing_current_mean_a_interval)
            .map(|(held, current)| {
                let of_line = error_of(held).hypot((base.by_current)(node, self.ohm) * error_of(current));
                (scale * read.standard_error).hypot(scale * of_line).hypot(self.by_feed(base, factor))
            })
            .filter(|se| se.is_finite());
        let missing = "the line states no interval of this mean: compose it again";
        Compared {
            quantity: name.to_owned(),
            unit: unit.to_owned(),
            constant_voltage: read.value * scale,
            pulsed: (base.of_node)(node) * scale,
            difference,
            standard_error,
            interval: standard_error.map(|se| [difference - self.z * se, difference + self.z * se]),
            reason: standard_error.is_none().then(|| missing.to_owned()),
        }
    }

    /// Pulsed less constant voltage at a feed.
    fn gap(&self, node: &Node, base: &Base, factor: &dyn Fn(f64) -> f64) -> f64 {
        ((base.of_node)(node) - (base.of_weld)(self.weld).value) * factor(node.wire_feed_m_min)
    }

    /// What one standard error of feed changes: the mean of both sides; at an end of the line, one side.
    fn by_feed(&self, base: &Base, factor: &dyn Fn(f64) -> f64) -> f64 {
        let gap = |node: &Node| self.gap(node, base, factor);
        match (&self.below, &self.above) {
            (Some(low), Some(high)) => (gap(high) - gap(low)) / 2.0,
            (None, Some(high)) => gap(high) - gap(&self.node),
            (Some(low), None) => gap(&self.node) - gap(low),
            (None, None) => 0.0,
        }
    }
}

//! A composed line as the table that the evaluator reads, in either precision.

use meltlaw_line::{Number, StandingSpan, Table, TableNode};

use crate::line::{Line, Node};
use crate::line_spans::support_of;

/// The numbers of a [`Table`], owned.
#[derive(Debug, Clone, PartialEq)]
pub struct LineTable<T> {
    /// Nodes as in the line.
    pub nodes: Vec<TableNode<T>>,
    /// Ranges without a setting.
    pub gaps_m_min: Vec<[T; 2]>,
    /// What confirmation welds said, by range.
    pub standing: Vec<StandingSpan<T>>,
}

impl<T: Number> LineTable<T> {
    /// The table of a line, each number rounded to the nearest of the precision; what that costs in `f32` stands
    /// at [`Table`].
    pub fn of(line: &Line) -> Self {
        let range = |[low, high]: [f64; 2]| [T::nearest(low), T::nearest(high)];
        Self {
            nodes: line.nodes.iter().map(table_node).collect(),
            gaps_m_min: line.unsupported.iter().map(|gap| range(gap.wire_feed_m_min)).collect(),
            standing: line
                .standing
                .iter()
                .map(|s| StandingSpan { wire_feed_m_min: range(s.wire_feed_m_min), standing: s.standing() })
                .collect(),
        }
    }

    /// The table to evaluate.
    pub fn as_table(&self) -> Table<'_, T> {
        Table { nodes: &self.nodes, gaps_m_min: &self.gaps_m_min, standing: &self.standing }
    }
}

fn table_node<T: Number>(node: &Node) -> TableNode<T> {
    TableNode {
        wire_feed_m_min: T::nearest(node.wire_feed_m_min),
        pulse_current_a: T::nearest(node.pulse_current_a),
        pulse_time_ms: T::nearest(node.pulse_time_ms),
        pulse_frequency_hz: T::nearest(node.pulse_frequency_hz),
        background_current_a: T::nearest(node.background_current_a),
        rise_a_per_ms: T::nearest(node.rise_a_per_ms),
        fall_a_per_ms: T::nearest(node.fall_a_per_ms),
        voltage_mean_v: T::nearest(node.voltage_mean_v),
        support: support_of(node),
    }
}

//! The numbers of a node that the page shows, by name: those that leave the program elsewhere, and what is read off
//! them.

use meltlaw::heat::energy_per_melted_mass_mj_kg;
use meltlaw::line::Node;
use meltlaw::node_columns::{NODE_COLUMNS, NodeColumn};

/// Read off other numbers of the node.
const DERIVED: [NodeColumn; 3] = [
    ("energy_per_melted_wire_mj_kg", |n| Some(spent(n, n.power_mean_w))),
    ("energy_per_melted_wire_mj_kg_low", |n| n.power_mean_w_interval.map(|i| spent(n, i[0]))),
    ("energy_per_melted_wire_mj_kg_high", |n| n.power_mean_w_interval.map(|i| spent(n, i[1]))),
];

/// Settings and what they do, without what moves them and what they cost.
pub(crate) fn columns() -> impl Iterator<Item = &'static NodeColumn> {
    let shown = |name: &str| !name.starts_with("sensitivity_") && !name.starts_with("cost_");
    NODE_COLUMNS.iter().filter(move |(name, _)| shown(name)).chain(&DERIVED)
}

/// The number of this name; `None` where the line does not have it.
pub(crate) fn column(node: &Node, name: &str) -> Option<f64> {
    columns().find(|(known, _)| *known == name).and_then(|(_, of)| of(node))
}

fn spent(node: &Node, power_w: f64) -> f64 {
    energy_per_melted_mass_mj_kg(power_w, node.melting_rate_kg_h)
}

//! Columns of `line.csv` whose names depend on the line: what limits cost, shares of the budgets.

use meltlaw::line::Node;

/// Every limit that any node names with what it costs there, by name.
pub(super) fn cost_limits(nodes: &[Node]) -> Vec<String> {
    let named = nodes.iter().filter_map(|n| n.cost.as_ref()).flat_map(|c| c.by_limit.keys());
    named.cloned().collect::<std::collections::BTreeSet<_>>().into_iter().collect()
}

/// Name of the column of what a limit costs: units of cost, so without a suffix.
pub(super) fn cost_name(limit: &String) -> String {
    format!("cost_by_limit_{limit}")
}

/// What a limit costs at a node.
pub(super) fn limit_cost(node: &Node, limit: &str) -> Option<f64> {
    node.cost.as_ref()?.by_limit.get(limit).copied()
}

/// A share of a budget: which budget, which cause.
pub(super) type ShareColumn = (&'static str, String);

/// Every share that any node has, `trials` and `drop_counting` first. The name ends in `_share`, because
/// a cause such as `ctwd_offset_mm` would lend the share its unit.
pub(super) fn share_columns(nodes: &[Node]) -> Vec<ShareColumn> {
    let mut columns = Vec::new();
    for budget in ["melting_rate", "one_drop_probability", "voltage"] {
        let mut causes: Vec<&String> = nodes.iter().flat_map(|node| shares(node, budget).keys()).collect();
        causes.sort_by_key(|cause| (*cause != "trials", *cause != "drop_counting", *cause));
        causes.dedup();
        columns.extend(causes.into_iter().map(|cause| (budget, cause.clone())));
    }
    columns
}

/// Name of a share's column.
pub(super) fn share_name((budget, cause): &ShareColumn) -> String {
    format!("budget_{budget}_{cause}_share")
}

/// A share at a node.
pub(super) fn share(node: &Node, (budget, cause): &ShareColumn) -> Option<f64> {
    shares(node, budget).get(cause).copied()
}

fn shares<'a>(node: &'a Node, budget: &str) -> &'a std::collections::BTreeMap<String, f64> {
    match budget {
        "melting_rate" => &node.budget.melting_rate,
        "one_drop_probability" => &node.budget.one_drop_probability,
        _ => &node.budget.voltage,
    }
}

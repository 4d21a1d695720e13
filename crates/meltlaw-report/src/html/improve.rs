//! What to improve first: the largest contributor to each uncertainty and what halving it would gain.

use std::collections::BTreeMap;

use maud::{Markup, html};
use meltlaw::line::{Budget, Node};

use crate::bench_work::at_the_bench;
use crate::numbers::{percent, significant};
use crate::words;

type Shares = fn(&Budget) -> &BTreeMap<String, f64>;

/// A quantity of the line: name, budget, its standard uncertainty in words before and after.
struct Quantity {
    name: &'static str,
    shares: Shares,
    /// Size at a node, with what it is called and its unit.
    size: fn(&Node) -> f64,
    called: &'static str,
    unit: &'static str,
}

const QUANTITIES: [Quantity; 3] = [
    Quantity {
        name: "melting rate",
        shares: |b| &b.melting_rate,
        size: |n| 100.0 * n.melting_rate_relative_se,
        called: "its standard uncertainty",
        unit: "%",
    },
    Quantity {
        name: "one drop per pulse",
        shares: |b| &b.one_drop_probability,
        size: |n| 50.0 * (n.one_drop_probability.interval[1] - n.one_drop_probability.interval[0]),
        called: "the half width of its interval",
        unit: "% of the pulses",
    },
    Quantity {
        name: "voltage",
        shares: |b| &b.voltage,
        size: |n| 0.5 * (n.voltage_mean_v_interval[1] - n.voltage_mean_v_interval[0]),
        called: "the half width of its interval",
        unit: "V",
    },
];

/// The largest contributor over the line.
struct First {
    contributor: String,
    /// Mean share of variance over the nodes.
    share: f64,
    /// Factor left of the standard uncertainty, mean over the nodes, where the contributor is halved.
    left: f64,
}

/// Mean over the nodes; halving a standard uncertainty with share s of the variance leaves √(1 − ¾·s).
fn first(budgets: &[&BTreeMap<String, f64>]) -> Option<First> {
    let count = budgets.len() as f64;
    let mut sums: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    for budget in budgets {
        for (name, share) in *budget {
            let sum = sums.entry(name).or_default();
            sum.0 += share;
            sum.1 += 1.0 - (1.0 - 0.75 * share.clamp(0.0, 1.0)).sqrt();
        }
    }
    let (name, (share, fall)) = sums.into_iter().max_by(|a, b| a.1.0.total_cmp(&b.1.0).then(b.0.cmp(a.0)))?;
    (share > 0.0).then(|| First { contributor: name.to_owned(), share: share / count, left: 1.0 - fall / count })
}

/// What to do at the bench for each quantity, in a list.
pub(crate) fn at_a_glance(nodes: &[Node]) -> Markup {
    html! {
        ul {
            @for q in &QUANTITIES {
                @if let Some(first) = first(&nodes.iter().map(|n| (q.shares)(&n.budget)).collect::<Vec<_>>()) {
                    li { strong { (words::capital(q.name)) ": " } (at_the_bench(&first.contributor, q.name)) "." }
                }
            }
        }
        p.small.goto { a href="#sureness" { "What each would gain" } }
    }
}

/// One line for each quantity: what brings most of its variance and what halving it would gain.
pub(crate) fn in_short(nodes: &[Node]) -> Vec<String> {
    QUANTITIES
        .iter()
        .filter_map(|q| {
            let first = first(&nodes.iter().map(|n| (q.shares)(&n.budget)).collect::<Vec<_>>())?;
            let size = nodes.iter().map(q.size).sum::<f64>() / nodes.len() as f64;
            Some(format!(
                "{}: {} ({}); halved, ± {} becomes ± {} {}",
                q.name,
                words::contributor(&first.contributor),
                percent(first.share),
                significant(size, 2),
                significant(size * first.left, 2),
                q.unit
            ))
        })
        .collect()
}

/// In words, one item for each quantity.
pub(crate) fn section(nodes: &[Node]) -> Markup {
    let of = |q: &Quantity| first(&nodes.iter().map(|n| (q.shares)(&n.budget)).collect::<Vec<_>>());
    let found: Vec<(&Quantity, First)> = QUANTITIES.iter().filter_map(|q| Some((q, of(q)?))).collect();
    if found.is_empty() {
        return html! {};
    }
    html! {
        h3 { "What to improve first" }
        ul {
            @for (quantity, first) in &found {
                @let size = nodes.iter().map(quantity.size).sum::<f64>() / nodes.len() as f64;
                li {
                    strong { (words::capital(quantity.name)) ": " (words::contributor(&first.contributor)) }
                    " brings " (percent(first.share)) " of the variance over the line. With that halved, " (quantity.called) " would fall by " (percent(1.0 - first.left))
                    ", from ± " (significant(size, 2)) " to ± " (significant(size * first.left, 2)) " " (quantity.unit) " on average. At the bench: "
                    (at_the_bench(&first.contributor, quantity.name)) "."
                }
            }
        }
        p.small { "What is left is made of the other contributors, which stay as they are; the figures below show each over the wire feed." }
        @if found.iter().all(|(_, f)| f.contributor == "trials") && found.len() == QUANTITIES.len() {
            p.small { "The scatter of the trials leads everywhere: more or steadier welds pay before better instruments do." }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_contributor_over_the_line_leads_and_halving_it_leaves_the_rest() {
        let node =
            |trials: f64| BTreeMap::from([("trials".to_owned(), trials), ("ctwd_offset_mm".to_owned(), 1.0 - trials)]);
        let first = first(&[&node(0.2), &node(1.0)]).unwrap();
        assert_eq!(first.contributor, "trials");
        assert!((first.share - 0.6).abs() < 1e-12);
        // √(1 − 0.75·0.2) = 0.92195 and √(1 − 0.75) = 0.5: mean 0.71098.
        assert!((first.left - 0.710_98).abs() < 1e-5, "{}", first.left);
    }

    #[test]
    fn without_shares_there_is_nothing_to_improve() {
        assert!(first(&[&BTreeMap::new()]).is_none() && first(&[]).is_none());
    }
}

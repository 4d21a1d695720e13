//! What limits the knowledge of the line: shares of variance over wire feed.

use std::collections::{BTreeMap, BTreeSet};

use meltlaw::line::{Budget, Node};
use meltlaw::record::LineRecord;

use super::Drawn;
use super::feed_view::FeedView;
use super::line_readings::{aloud, budget};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number};
use crate::marks::{Align, Stroke};
use crate::words;

const ORDER: [(Colour, f64); 8] = [
    (Colour::Deep, 0.85),
    (Colour::Sand, 0.8),
    (Colour::Sea, 0.75),
    (Colour::Plum, 0.75),
    (Colour::Rust, 0.7),
    (Colour::Deep, 0.35),
    (Colour::Sea, 0.35),
    (Colour::Plum, 0.35),
];

type Shares = fn(&Budget) -> &BTreeMap<String, f64>;

/// One figure for each quantity, none where the line has no node.
pub(crate) fn draw(record: &LineRecord) -> Vec<Drawn> {
    let Some(view) = FeedView::of(record) else { return Vec::new() };
    let quantities: [(&'static str, &str, Shares); 3] = [
        ("budget_melting_rate", "melting rate", |b| &b.melting_rate),
        ("budget_one_drop", "one drop per pulse", |b| &b.one_drop_probability),
        ("budget_voltage", "voltage", |b| &b.voltage),
    ];
    quantities.into_iter().filter_map(|(name, quantity, shares)| stacked(&view, name, quantity, shares)).collect()
}

fn stacked(view: &FeedView<'_>, name: &'static str, quantity: &str, shares: Shares) -> Option<Drawn> {
    let article = if quantity == "one drop per pulse" { "" } else { "the " };
    let title = format!("What limits {article}{quantity}");
    let names: BTreeSet<&String> = view.nodes.iter().flat_map(|n| shares(&n.budget).keys()).collect();
    let share = |node: &Node, name: &str| shares(&node.budget).get(name).copied().unwrap_or(0.0);
    let shown = |node: &Node, name: &str| 100.0 * share(node, name);
    let mean = |name: &str| view.nodes.iter().map(|n| share(n, name)).sum::<f64>() / view.nodes.len() as f64;
    // What is nowhere a hundredth cannot be seen; it stays in the data.
    let mut seen: Vec<&str> =
        names.iter().map(|n| n.as_str()).filter(|n| view.nodes.iter().any(|node| share(node, n) > 0.01)).collect();
    seen.sort_by(|a, b| mean(b).total_cmp(&mean(a)).then(a.cmp(b)));
    if seen.is_empty() {
        return None;
    }
    let (mut figure, panel) = view.figure(Axis::between("share of variance (%)", 0.0, 100.0));
    for (place, part) in seen.iter().enumerate() {
        let (colour, opacity) = ORDER[place % ORDER.len()];
        let below = |node: &Node| seen[..place].iter().map(|n| shown(node, n)).sum::<f64>();
        for nodes in view.run_nodes() {
            let low: Vec<_> = nodes.iter().map(|n| (n.wire_feed_m_min, below(n))).collect();
            let high: Vec<_> = nodes.iter().map(|n| (n.wire_feed_m_min, below(n) + shown(n, part))).collect();
            figure.band(&panel, &low, &high, colour, opacity);
            figure.curve(&panel, &high, Stroke::solid(Colour::Paper, 1.4));
        }
        let nodes = view.run_nodes().max_by_key(|nodes| nodes.len()).unwrap_or(view.nodes);
        let middle = &nodes[nodes.len() / 2];
        if share(middle, part) > 0.09 {
            let centre = f64::midpoint(nodes[0].wire_feed_m_min, nodes[nodes.len() - 1].wire_feed_m_min);
            let at = panel.place(centre, below(middle) + shown(middle, part) / 2.0);
            figure.label(at, &words::contributor_in_short(part), Align::Middle, Colour::Ink);
        }
    }
    let parts: Vec<String> =
        seen.iter().map(|n| format!("{} {}", words::contributor(n), crate::numbers::percent(mean(n)))).collect();
    // A cause such as `ctwd_offset_mm` would lend the share its unit.
    let heads: Vec<String> = names.iter().map(|n| format!("{n}_share")).collect();
    let header: Vec<&str> = ["wire_feed_m_min"].into_iter().chain(heads.iter().map(String::as_str)).collect();
    let rows = view.nodes.iter().map(|node| {
        let mut row = vec![number(node.wire_feed_m_min)];
        row.extend(names.iter().map(|n| number(share(node, n))));
        row
    });
    let mean = format!("Mean over the line: {}.", words::listed(&parts));
    let reading = budget::shares(view, quantity, |n| shares(&n.budget));
    Some(Drawn {
        name,
        caption: format!(
            "Each layer is one source of error, as tall as its share of the squared standard uncertainty at that feed. {mean}"
        ),
        svg: figure.svg(name, &format!("{title}, as shares of variance over wire feed"), &aloud(&mean, &reading)),
        title,
        reading,
        csv: csv(&header, rows),
    })
}

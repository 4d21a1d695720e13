//! How a line was composed, on one screen: the rule, what it gained, the nodes, what its limits cost.

use meltlaw::line::{Composing, Line, Node};
use meltlaw::record::LineRecord;
use meltlaw::study::Weights;
use meltlaw_report::composing::{self as told, Binding, PINNED, UNIT_OF_COST, mark};
use meltlaw_report::numbers::{feed, fixed, percent, signed, significant};

use crate::told::Told;

/// Nodes shown; of a longer line the ends, pinned nodes and some between.
const NODES_SHOWN: usize = 12;
/// Limits shown with what they cost, the dearest.
const LIMITS_SHOWN: usize = 4;
/// Letters before the column of limits, and of a line of the table.
const BEFORE_LIMITS: usize = 65;
const TABLE_WIDTH: usize = 80;

/// Rule and gain, nodes, costs, transition current. Nothing where the line has no node.
pub(crate) fn composing_lines(record: &LineRecord, width: usize) -> Vec<Told> {
    let line = &record.line;
    let mut lines = Vec::new();
    if line.nodes.is_empty() {
        return lines;
    }
    if let Some(composing) = &line.composing {
        lines.extend(rule(line, composing));
    }
    lines.extend(node_table(&line.nodes, width));
    lines.extend(costs(line));
    lines.extend(transition(record));
    lines
}

fn rule(line: &Line, composing: &Composing) -> Vec<Told> {
    let mut lines = vec![Told::new(format!("  {:<14} ", composing.rule), composing.meaning.as_str())];
    if let Some(weights) = composing.weights.filter(|w| *w != Weights::default()) {
        let stated: Vec<String> =
            told::weights(&weights).iter().map(|w| format!("{} {}", w.key, significant(w.value, 3))).collect();
        lines.push(Told::new("  weights        ", stated.join(", ")));
    }
    let best = &composing.best_pulse;
    let surest = format!(
        "{} A for {} ms: one drop at least {} (first order), whatever the feed",
        fixed(best.pulse_current_a, 0),
        fixed(best.pulse_time_ms, 2),
        percent(best.one_drop_bound)
    );
    lines.push(Told::new("  surest pulse   ", surest));
    if let Some(beside) = told::beside_midpoint(line) {
        let [ours, midpoint] = beside.usable_m_min;
        let theirs = match signed(ours - midpoint, 2).as_str() {
            "0.00" => "as much by the midpoint rule".to_owned(),
            gained => format!("{} by the midpoint rule ({gained})", feed(midpoint)),
        };
        lines.push(Told::new("  usable         ", format!("{} m/min of feeds, {theirs}", feed(ours))));
        if let Some([ours, midpoint]) = beside.one_drop_bound {
            let theirs = match signed(100.0 * (ours - midpoint), 0).as_str() {
                "0" => "as by the midpoint rule".to_owned(),
                gained => format!("{} by the midpoint rule ({gained} points)", percent(midpoint)),
            };
            let elsewhere =
                beside.elsewhere.map_or(String::new(), |p| format!("; {} at the feeds that it gains", percent(p)));
            let text =
                format!("at least {}, {theirs}, where both have a setting{elsewhere} (first order)", percent(ours));
            lines.push(Told::new("  one drop       ", text));
        }
    }
    lines
}

/// Settings with what they do, a line each; a narrow screen leaves out support and limits.
pub(crate) fn node_table(nodes: &[Node], width: usize) -> Vec<Told> {
    let wide = width >= TABLE_WIDTH;
    let head = |names: [&str; 10]| {
        let [feed, ip, tp, f, ib, mean, volts, drop, support, limits] = names;
        let numbers = format!(" {feed:>5} {ip:>6} {tp:>6} {f:>6} {ib:>6} {mean:>6} {volts:>5} {drop:>6}");
        if wide { format!("{numbers}  {support:<8} {limits}") } else { numbers }
    };
    let mut lines = vec![
        head(["feed", "Ip", "tp", "f", "Ib", "mean", "volts", "1 drop", "support", "at limits"]),
        head(["m/min", "A", "ms", "Hz", "A", "A", "V", "≥ %", "", ""]),
    ];
    let shown = shown(nodes);
    for &i in &shown {
        lines.extend(row(&nodes[i], wide));
    }
    if shown.len() < nodes.len() {
        lines.push(format!("   … {} of {} nodes; all with --json", shown.len(), nodes.len()));
    }
    if shown.iter().any(|&i| !nodes[i].pinned.is_empty()) {
        lines.push(format!("   {PINNED} pinned by the study; the rest of that node is composed around it"));
    }
    lines.into_iter().map(Told::line).collect()
}

/// Indices of the nodes that are shown, ascending.
fn shown(nodes: &[Node]) -> Vec<usize> {
    if nodes.len() <= NODES_SHOWN {
        return (0..nodes.len()).collect();
    }
    let evenly = (0..NODES_SHOWN).map(|k| k * (nodes.len() - 1) / (NODES_SHOWN - 1));
    let pinned = (0..nodes.len()).filter(|&i| !nodes[i].pinned.is_empty());
    let mut all: Vec<usize> = evenly.chain(pinned).collect();
    all.sort_unstable();
    all.dedup();
    all
}

fn row(n: &Node, wide: bool) -> Vec<String> {
    let set = |name: &str, value: f64, places: i32, width: usize| {
        format!("{:>width$}{}", fixed(value, places), mark(n, name).unwrap_or(' '))
    };
    let start = format!(
        " {:>5} {}{}{}{:>6} {:>6} {:>5} {:>6}",
        feed(n.wire_feed_m_min),
        set("pulse_current_a", n.pulse_current_a, 1, 6),
        set("pulse_time_ms", n.pulse_time_ms, 3, 6),
        set("pulse_frequency_hz", n.pulse_frequency_hz, 1, 6),
        fixed(n.background_current_a, 1),
        fixed(n.current_mean_a, 1),
        fixed(n.voltage_mean_v, 1),
        fixed(100.0 * n.one_drop_probability.interval[0], 1),
    );
    if !wide {
        return vec![start];
    }
    let mut lines = vec![format!("{start}  {:<8} ", n.support)];
    let mut empty = true;
    for limit in &n.limits {
        // The one name that is wider than the column.
        let words = limit.replace("_uncertain", "").replace('_', " ");
        let last = lines.last_mut().expect("a row has a line");
        let needed = words.chars().count() + if empty { 0 } else { 2 };
        if !empty && last.chars().count() + needed > TABLE_WIDTH {
            last.push(',');
            lines.push(format!("{}{words}", " ".repeat(BEFORE_LIMITS)));
        } else {
            last.push_str(if empty { "" } else { ", " });
            last.push_str(&words);
        }
        empty = false;
    }
    lines.iter().map(|l| l.trim_end().to_owned()).collect()
}

/// What the limits cost and what the nodes gave up most.
fn costs(line: &Line) -> Vec<Told> {
    let mut lines = Vec::new();
    let mut dear: Vec<Binding> = told::binding(line).into_iter().filter(|b| b.saved.is_some()).collect();
    dear.sort_by(|a, b| b.saved.map(|s| s.0).unwrap_or(0.0).total_cmp(&a.saved.map(|s| s.0).unwrap_or(0.0)));
    let more = dear.len().saturating_sub(LIMITS_SHOWN);
    for b in dear.iter().take(LIMITS_SHOWN) {
        let Some((saved, at)) = b.saved else { continue };
        let (range, where_most) = if b.from_m_min == b.to_m_min {
            (format!("at {} m/min", feed(b.from_m_min)), String::new())
        } else {
            (format!("{} to {} m/min", feed(b.from_m_min), feed(b.to_m_min)), format!(", most at {}", feed(at)))
        };
        let start = format!("{:<16} ", if lines.is_empty() { "  limits cost" } else { "" });
        let limit = b.limit.replace('_', " ");
        lines
            .push(Told::new(start, format!("{limit} {range}: 1 % more room saves {}{where_most}", told::saved(saved))));
    }
    if !lines.is_empty() {
        let rest = if more > 0 { format!("{more} cheaper ones with --json; ") } else { String::new() };
        lines.push(Told::new(" ".repeat(17), format!("{rest}1 is {UNIT_OF_COST}")));
    }
    if let Some([drop, size, current]) = told::given_up_most(line) {
        let cost = |n: &Node| n.cost.clone().expect("a node that gave up most tells what");
        let lost = 100.0 * cost(drop).one_drop_bound;
        let (off, amperes) = (100.0 * cost(size).drop_relative, cost(current).pulse_current_a);
        let parts: Vec<String> = [
            (signed(-lost, 1), "one drop", " points", drop),
            (signed(off, 1), "drop", " % off its target", size),
            (signed(amperes, 0), "pulse", " A off what the trials know", current),
        ]
        .into_iter()
        .filter(|(value, ..)| !value.bytes().all(|b| matches!(b, b'0' | b'.')))
        .map(|(value, what, unit, n)| format!("{what} {value}{unit} at {} m/min", feed(n.wire_feed_m_min)))
        .collect();
        let parts = if parts.is_empty() { vec!["next to nothing".to_owned()] } else { parts };
        lines.push(Told::new("  most given up  ", parts.join(", ")));
    }
    lines
}

/// Where the table of transition currents reaches the wire.
fn transition(record: &LineRecord) -> Option<Told> {
    let [low, high] = record.transition_current.as_ref()?.band_a;
    let nodes = &record.line.nodes;
    let pulse_inside = nodes.iter().filter(|n| n.pulse_current_a <= high).count();
    let background_inside = nodes.iter().filter(|n| n.background_current_a >= low).count();
    let verdict = match (pulse_inside, background_inside) {
        (0, 0) => "all pulses above, all backgrounds below".to_owned(),
        (p, b) => {
            let said = [(p, "pulses not above it"), (b, "backgrounds not below it")];
            let said: Vec<String> =
                said.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} of {} {what}", nodes.len())).collect();
            said.join(", ")
        }
    };
    Some(Told::new("  transition     ", format!("{} to {} A: {verdict}", fixed(low, 0), fixed(high, 0))))
}

/// The feed of the middle node, to look at first.
pub(crate) fn a_feed(line: &Line) -> Option<String> {
    line.nodes.get(line.nodes.len() / 2).map(|n| feed(n.wire_feed_m_min))
}

/// Lowest, middle and highest covered node, as the report asks to confirm them.
pub(crate) fn to_confirm(line: &Line) -> String {
    let feeds: Vec<String> = meltlaw_report::to_confirm(&line.nodes).iter().map(|n| feed(n.wire_feed_m_min)).collect();
    match &feeds[..] {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

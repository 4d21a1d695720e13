//! How the settings were chosen: the rule and its weights, the surest pulse, what the rule gained, and what
//! each node gave up to which limit.

use maud::{Markup, html};
use meltlaw::line::{Composing, Line, Node};
use meltlaw::study::Weights;

use super::parts::{self, cell, head, words_head};
use crate::ReportInput;
use crate::composing::{self as told, UNIT_OF_COST};
use crate::embedded::{csv, number, text};
use crate::numbers::{self, feed, fixed, places_of};
use crate::words;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let line = &input.line.line;
    html! {
        @match &line.composing {
            Some(composing) => {
                (rule(composing, input.line.confidence))
                (gain(line))
            }
            None => p { "The line's file does not say how its settings were chosen." },
        }
        (pins(&line.nodes))
        @if line.nodes.iter().any(|n| n.cost.is_some()) {
            h3 { "What each node gave up" }
            (given_up(line))
        }
    }
}

fn rule(composing: &Composing, confidence: f64) -> Markup {
    let best = &composing.best_pulse;
    html! {
        p.lead { strong { (words::capital(&words::rule(&composing.rule))) ": " } (composing.meaning) "." }
        p {
            "The surest pulse, whatever the wire feed, is " (fixed(best.pulse_current_a, 0)) " A for " (fixed(best.pulse_time_ms, 2))
            " ms: at least " (numbers::percent(best.one_drop_bound)) " of such pulses detach exactly one drop (lower end of the "
            (numbers::confidence(confidence)) " interval, to first order). A node leaves it where the melt balance, the drop or a limit asks for another pulse."
        }
        @if let Some(weights) = &composing.weights { (weighed(weights)) }
    }
}

fn weighed(weights: &Weights) -> Markup {
    let usual = Weights::default();
    let head = html! { tr { (words_head("weight")) (head("value", "")) (words_head("what costs as much")) } };
    let body = html! {
        @for w in told::weights(weights) {
            tr { th.text scope="row" { code { (w.key) } } (cell(w.value, places_of(w.value, 3))) td.text { (w.meaning) } }
        }
    };
    let rows = told::weights(weights).into_iter().map(|w| vec![w.key.to_owned(), number(w.value)]);
    html! {
        (parts::table_and_data("What is weighed", &head, &body, "weights", &csv(&["weight", "value"], rows)))
        p.small {
            @if *weights == usual { "These are the defaults. " } @else { "The study states its own; the defaults are 1 each. " }
            "Departures count with their square, the chance of not one drop with its fourth power. Set them in " code { "[line.weights]" } " of the study."
        }
    }
}

fn gain(line: &Line) -> Markup {
    let Some(beside) = told::beside_midpoint(line) else { return html! {} };
    let [feeds, bounds] = [beside.usable_m_min, beside.one_drop_bound.unwrap_or([f64::NAN; 2]).map(|b| 100.0 * b)];
    let bounded = beside.one_drop_bound.is_some();
    let rows = [
        ("this line", feeds[0], bounds[0]),
        ("midpoint rule", feeds[1], bounds[1]),
        ("difference", feeds[0] - feeds[1], bounds[0] - bounds[1]),
    ];
    let head = html! { tr {
        (words_head("rule")) (head("feeds with a setting", "m/min altogether"))
        @if bounded { (head("one drop at least", "% of pulses, to first order")) }
    } };
    let body = html! {
        @for (name, feeds, bound) in rows {
            tr { th.text scope="row" { (name) } (cell(feeds, 2)) @if bounded { (cell(bound, 1)) } }
        }
    };
    let full = rows.iter().map(|(name, feeds, bound)| vec![(*name).to_owned(), number(*feeds), number(*bound)]);
    let full = csv(&["rule", "usable_m_min", "one_drop_at_least_percent"], full);
    html! {
        h3 { "Beside the midpoint rule" }
        p {
            "The midpoint rule takes the mean pulse current of the trials, the middle of the one-drop window and the target drop, feed by feed, and gives way only at limits. "
            "Bounds are the smallest where both have a setting."
            @if let Some(p) = beside.elsewhere { " At the feeds that this line gains its bound falls to " (fixed(100.0 * p, 1)) " %." }
        }
        (parts::table_and_data("This line beside the midpoint rule", &head, &body, "beside_midpoint_rule", &full))
    }
}

fn pins(nodes: &[Node]) -> Markup {
    html! {
        @for n in told::pinned(nodes) {
            p {
                "At " (feed(n.wire_feed_m_min)) " m/min the study itself fixes " (words::listed(&n.pinned.iter().map(|p| words::setting(p).to_owned()).collect::<Vec<_>>()))
                " (ringed in the figures). That is the study's decision and not the rule's; the rest of the node is composed around it, its background by the melt balance."
            }
        }
    }
}

fn given_up(line: &Line) -> Markup {
    let priced = line.nodes.iter().any(|n| n.cost.as_ref().is_some_and(|c| !c.by_limit.is_empty()));
    let head = html! { tr {
        (head("wire feed", "m/min")) (head("one drop at least", "%")) (head("to the surest pulse", "points"))
        (head("drop off its target", "%")) (head("pulse off what the trials know", "A"))
        (words_head(if priced { "limits that bind: saved by 1 % more room" } else { "limits that bind" }))
    } };
    let body = html! {
        @for n in &line.nodes {
            tr class=[parts::row_class(n)] {
                @let cost = n.cost.as_ref();
                (parts::at_feed(n))
                (cell(100.0 * n.one_drop_probability.interval[0], 1))
                (cell(cost.map(|c| -100.0 * c.one_drop_bound), 1))
                (cell(cost.map(|c| 100.0 * c.drop_relative), 1))
                (cell(cost.map(|c| c.pulse_current_a), 0))
                td.text { (binding(n)) }
            }
        }
    };
    html! {
        p {
            "Against the surest pulse, the target drop and the pulse current that the trials know best. "
            @if priced {
                "Beside each limit stands what the optimum would save if it lay 1 % further out; 1 is " (UNIT_OF_COST) ". The dearest limit is the first to lift."
            }
        }
        (parts::table_and_data("What each node gave up, and to which limit", &head, &body, "given_up", &data(&line.nodes)))
    }
}

/// `background high: 0.12, drop small: 0.03`.
fn binding(n: &Node) -> String {
    let price = |limit: &String| n.cost.as_ref().and_then(|c| c.by_limit.get(limit));
    let one = |limit: &String| match price(limit) {
        Some(saved) => format!("{}: {}", words::limit_in_short(limit), told::saved(*saved)),
        None => words::limit_in_short(limit),
    };
    if n.limits.is_empty() { "none".to_owned() } else { n.limits.iter().map(one).collect::<Vec<_>>().join(", ") }
}

fn data(nodes: &[Node]) -> String {
    let mut limits: Vec<&String> =
        nodes.iter().filter_map(|n| n.cost.as_ref()).flat_map(|c| c.by_limit.keys()).collect();
    limits.sort();
    limits.dedup();
    let prices: Vec<String> = limits.iter().map(|l| format!("cost_by_limit_{l}")).collect();
    let header: Vec<&str> = [
        "wire_feed_m_min",
        "one_drop_probability_low",
        "cost_one_drop_bound",
        "cost_drop_relative",
        "cost_pulse_current_a",
    ]
    .into_iter()
    .chain(prices.iter().map(String::as_str))
    .chain(["pinned", "limits"])
    .collect();
    csv(
        &header,
        nodes.iter().map(|n| {
            let cost = n.cost.as_ref();
            let mut cells = vec![
                number(n.wire_feed_m_min),
                number(n.one_drop_probability.interval[0]),
                number(cost.map(|c| c.one_drop_bound)),
                number(cost.map(|c| c.drop_relative)),
                number(cost.map(|c| c.pulse_current_a)),
            ];
            cells.extend(limits.iter().map(|l| number(cost.and_then(|c| c.by_limit.get(*l)).copied())));
            cells.extend([text(&n.pinned.join(" ")), text(&n.limits.join(" "))]);
            cells
        }),
    )
}

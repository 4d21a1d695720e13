//! How well the line is known and what limits it.

use std::collections::BTreeMap;

use maud::{Markup, html};
use meltlaw::line::{Budget, Node};

use super::{ends, improve, parts};
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::figures::Figures;
use crate::numbers::significant;
use crate::words;

type Shares = fn(&Budget) -> &BTreeMap<String, f64>;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    let nodes = &input.line.line.nodes;
    html! {
        @if nodes.is_empty() {
            p { "Without a line there is nothing to be sure of; how well the coefficients are known stands with " a href="#laws" { "the laws" } "." }
        } @else {
            p.lead { "Every interval holds what the trials leave open and the instrument errors that the study states. The largest share shows where more work pays." }
            (improve::section(nodes))
            (parts::figures(&figures.budget, false))
            (budget(nodes))
            (of_the_draws(input))
            (ends::movers(&input.line.line))
        }
        (calibration(input))
    }
}

/// How far the ends of the intervals may be off because there are only so many draws.
fn of_the_draws(input: &ReportInput<'_>) -> Markup {
    let largest =
        |of: &dyn Fn(&Node) -> Option<f64>| input.line.line.nodes.iter().filter_map(of).max_by(f64::total_cmp);
    let parts: Vec<String> = [
        ("one drop", "%", largest(&|n| n.one_drop_probability.interval_error.map(|e| 100.0 * e))),
        ("voltage", "V", largest(&|n| n.interval_errors.voltage_mean_v)),
        ("balancing background", "A", largest(&|n| n.interval_errors.balancing_background_current_a)),
        ("current of the next weld", "A", largest(&|n| n.interval_errors.next_weld_current_mean_a)),
        ("its voltage", "V", largest(&|n| n.interval_errors.next_weld_voltage_mean_v)),
        ("its power", "W", largest(&|n| n.interval_errors.next_weld_power_mean_w)),
    ]
    .into_iter()
    .filter_map(|(name, unit, error)| Some(format!("{name} {} {unit}", significant(error?, 2))))
    .collect();
    html! {
        @if !parts.is_empty() {
            p.small {
                "Intervals of the line come from " (input.provenance.draws) " random draws. With another seed their ends would scatter by (standard error, at the node where it is largest): "
                (words::listed(&parts)) ". More draws (" code { "[numerics] draws" } ") make this smaller with their square root."
            }
        }
    }
}

fn budget(nodes: &[Node]) -> Markup {
    let quantities: [(&str, Shares); 3] =
        [("melting rate", |b| &b.melting_rate), ("one drop", |b| &b.one_drop_probability), ("voltage", |b| &b.voltage)];
    let head = html! { tr {
        (parts::head("wire feed", "m/min"))
        @for (name, _) in &quantities { (parts::words_head(&format!("{name}: largest part"))) (parts::head(&format!("{name}: its share"), "%")) }
    } };
    let body = html! {
        @for n in nodes {
            tr {
                (parts::at_feed(n))
                @for (_, shares) in &quantities {
                    @let most = largest(shares(&n.budget));
                    td.text { @if let Some((name, _)) = most { (words::contributor_in_short(name)) } }
                    // A tenth of a per cent: the whole is not to be read into 99.7.
                    (parts::cell(most.map(|(_, share)| 100.0 * share), 1))
                }
            }
        }
    };
    let rows = nodes.iter().flat_map(|n| {
        let most = quantities.iter().filter_map(|(name, shares)| Some((*name, largest(shares(&n.budget))?)));
        most.map(|(name, (part, share))| vec![number(n.wire_feed_m_min), name.to_owned(), text(part), number(share)])
    });
    let data = csv(&["wire_feed_m_min", "quantity", "largest_part", "share_of_variance"], rows);
    html! { details {
        summary { "What limits each node most" }
        (parts::table_and_data("What limits each node most (share of variance)", &head, &body, "largest_parts", &data))
    } }
}

fn largest(shares: &BTreeMap<String, f64>) -> Option<(&str, f64)> {
    let most = shares.iter().max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(a.0)))?;
    Some((most.0, *most.1))
}

fn calibration(input: &ReportInput<'_>) -> Markup {
    html! {
        h3 { "Instrument errors common to all trials" }
        @if input.laws.calibration.is_empty() {
            p { "The study states none, so none is in the intervals." }
        } @else {
            ul {
                @for effect in &input.laws.calibration {
                    li { (words::contributor(&effect.name)) ": standard uncertainty " (significant(effect.standard_uncertainty, 2)) " " (words::unit(&effect.unit)) }
                }
            }
        }
        @if !input.laws.not_covered.is_empty() {
            p { "Not stated, so not covered: " (words::listed(&input.laws.not_covered.iter().map(|n| words::contributor(n)).collect::<Vec<_>>())) "." }
        }
    }
}

//! How the line would move without each trial, in the units of the bench.

use maud::{Markup, html};
use meltlaw::line::Influence;

use super::parts;
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::numbers::{feed, signed};

/// Trials shown for each quantity.
const SHOWN: usize = 4;

/// The trials without which the nodes would move most.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let all = &input.line.line.influence;
    if all.is_empty() {
        return html! {};
    }
    let mut quantities: Vec<(&str, &str)> = all.iter().map(|i| (i.law.as_str(), i.quantity.as_str())).collect();
    quantities.dedup();
    let head = html! { tr {
        th.text scope="col" { "without the trial" } th.text scope="col" { "this moves" } th.text scope="col" { "unit" } th scope="col" { "by at most" }
        (parts::head("at wire feed", "m/min")) th scope="col" { "standard errors" }
    } };
    let body = html! {
        @for (law, quantity) in &quantities {
            @for i in most(all, law, quantity) {
                tr {
                    th.text scope="row" { (i.trial) }
                    td.text { (i.quantity) }
                    td.text.unit { (i.unit) }
                    td { (signed(i.largest, places(&i.unit))) }
                    td { (feed(i.at_wire_feed_m_min)) }
                    td { @if let Some(over) = i.standard_errors { (signed(over, 2)) } @else { "–" } }
                }
            }
        }
    };
    let header = ["trial", "law", "quantity", "unit", "largest_change", "at_wire_feed_m_min", "standard_errors"];
    let rows = all.iter().map(|i| {
        vec![
            text(&i.trial),
            text(&i.law),
            text(&i.quantity),
            text(&i.unit),
            number(i.largest),
            number(i.at_wire_feed_m_min),
            number(i.standard_errors),
        ]
    });
    html! {
        h3 { "What single trials do to the line" }
        p { "Each row says how far the nodes would move if that trial were left out. A change of less than one standard error is what a trial is there for; more means that the line rests on it, and that a second weld at its setting is worth its wire." }
        (parts::table("Trials that move the line most", &head, &body))
        p.small { (parts::download("line_influence", &csv(&header, rows))) }
    }
}

/// The largest changes of one quantity.
fn most<'a>(all: &'a [Influence], law: &str, quantity: &str) -> Vec<&'a Influence> {
    let mut of_it: Vec<&Influence> = all.iter().filter(|i| i.law == law && i.quantity == quantity).collect();
    of_it.sort_by(|a, b| b.largest.abs().total_cmp(&a.largest.abs()).then(a.trial.cmp(&b.trial)));
    of_it.truncate(SHOWN);
    of_it
}

fn places(unit: &str) -> i32 {
    if unit == "V" { 2 } else { 3 }
}

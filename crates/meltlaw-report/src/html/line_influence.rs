//! How the line would move without each trial, in the units of the bench.

use maud::{Markup, html};
use meltlaw::line::Influence;

use super::parts::{self, cell, head, short_head, words_head};
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::numbers::places_for;

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
        (words_head("without the trial")) (words_head("this moves")) (short_head("unit")) (head("by at most", ""))
        (head("at wire feed", "m/min")) (head("standard errors", ""))
    } };
    let body = html! {
        @for (law, quantity) in &quantities {
            @for i in most(all, law, quantity) {
                tr {
                    th.text scope="row" { (i.trial) }
                    td.text { (i.quantity) }
                    td.text.unit { (i.unit) }
                    (cell(i.largest, places(i)))
                    (cell(i.at_wire_feed_m_min, 2))
                    (cell(i.standard_errors, 2))
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
        (parts::table_and_data("Trials that move the line most", &head, &body, "line_influence", &csv(&header, rows)))
    }
}

/// The largest changes of one quantity.
fn most<'a>(all: &'a [Influence], law: &str, quantity: &str) -> Vec<&'a Influence> {
    let mut of_it: Vec<&Influence> = all.iter().filter(|i| i.law == law && i.quantity == quantity).collect();
    of_it.sort_by(|a, b| b.largest.abs().total_cmp(&a.largest.abs()).then(a.trial.cmp(&b.trial)));
    of_it.truncate(SHOWN);
    of_it
}

/// The digits that the standard error of the quantity leaves.
fn places(change: &Influence) -> i32 {
    match change.standard_errors {
        Some(over) if over != 0.0 => places_for((change.largest / over).abs()),
        _ if change.unit == "V" => 2,
        _ => 3,
    }
}

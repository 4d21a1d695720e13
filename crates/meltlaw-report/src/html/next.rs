//! What to weld next: the settings to confirm, what the readings ask for, the trials that would widen the range.

use std::collections::BTreeSet;

use maud::{Markup, html};
use meltlaw::checks::Severity;
use meltlaw::line::{FurtherTrial, RangeEnd};

use super::verdict::sentence;
use super::{confirmation, diagnostics, improve, parts};
use crate::ReportInput;
use crate::embedded::{csv, number};
use crate::numbers::{feed, places_of};
use crate::words;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let steps = steps(input);
    let nodes = &input.line.line.nodes;
    html! {
        (confirmation::part(input))
        h3 { "What the readings ask for" }
        @if steps.is_empty() {
            p { "Nothing more. Qualify the procedure under the code that applies." }
        } @else {
            ol.next { @for step in &steps { li { strong { (step.action) } " " span.soft { (step.why) } } } }
        }
        (wider(input))
        @if !nodes.is_empty() {
            h3 { "Trials that would make it surer" }
            (improve::at_a_glance(nodes))
        }
    }
}

/// Something to do, and the reading that asks for it.
struct Step {
    action: String,
    why: String,
}

/// Each step once, with its reason, in the order in which it helps.
fn steps(input: &ReportInput<'_>) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut step = |action: &str, why: String| steps.push(Step { action: sentence(action), why: sentence(&why) });
    for (name, law) in input.laws.laws.by_name() {
        if !law.ended.usable {
            step(&law.ended.reason, format!("the {} cannot be used", words::law(name)));
        }
        for (coefficient, c) in &law.coefficients {
            if let Some(reason) = c.reason.as_ref().filter(|_| c.value.is_none() || c.interval.contains(&None)) {
                step(reason, format!("{} of the {}", words::plain(coefficient), words::law(name)));
            }
        }
    }
    for severity in [Severity::Stop, Severity::Warning] {
        for finding in input.laws.findings.iter().filter(|f| f.severity == severity && f.reading.asks()) {
            step(&finding.reading.action, format!("{}: {}", words::plain(&finding.check), finding.reading.seen));
        }
    }
    for item in diagnostics::items(input).into_iter().filter(|i| i.asks) {
        step(&item.reading.action, format!("{}: {}", item.about, item.reading.seen));
    }
    let mut seen = BTreeSet::new();
    steps.retain(|step| !step.action.is_empty() && seen.insert(step.action.clone()));
    steps
}

/// One more trial beyond each end that data set, and what it would gain.
fn wider(input: &ReportInput<'_>) -> Markup {
    let ends: Vec<(&RangeEnd, FurtherTrial, &str)> = input
        .line
        .line
        .range_ends
        .iter()
        .filter_map(|end| Some((end, end.further_trial?, end.variable.as_deref()?)))
        .collect();
    if ends.is_empty() {
        return html! {};
    }
    let head = html! { tr {
        th.text scope="col" { "end" } (parts::head("weld a trial at", "m/min")) th.text scope="col" { "with" } (parts::head("of", ""))
        th.text scope="col" { "unit" } (parts::head("end now", "m/min")) (parts::head("end then", "m/min"))
    } };
    let body = html! {
        @for (end, trial, variable) in &ends {
            @let (name, unit, factor) = words::variable(variable);
            tr {
                th.text scope="row" { (if end.side == "low" { "lower" } else { "upper" }) }
                td { (feed(trial.wire_feed_m_min)) } td.text { (name) } (parts::cell(factor * trial.value, places_of(factor * trial.value, 3))) td.text { (unit) }
                td { (feed(end.wire_feed_m_min)) } td { (feed(trial.end_m_min)) }
            }
        }
    };
    let data = csv(
        &["side", "trial_wire_feed_m_min", "variable", "trial_value", "end_m_min", "end_with_trial_m_min"],
        ends.iter().map(|(end, trial, variable)| {
            let numbers = [trial.value, end.wire_feed_m_min, trial.end_m_min].map(number);
            let start = [end.side.clone(), number(trial.wire_feed_m_min), (*variable).to_owned()];
            start.into_iter().chain(numbers).collect()
        }),
    );
    html! {
        h3 { "Trials that would widen the range" }
        p { "With the settings of the line carried on in a straight line, as far as data count; limits of the source may still end it sooner. Why it ends stands " a href="#ends" { "under how well it is known" } "." }
        (parts::table("One more trial beyond each end", &head, &body))
        p.small { (parts::download("trials_beyond_the_ends", &data)) }
    }
}

//! What to do next, gathered from every reading that asks for something, in the order in which it helps.

use std::collections::BTreeSet;

use maud::{Markup, html};
use meltlaw::checks::Severity;

use super::verdict::sentence;
use super::{confirmation, diagnostics, parts};
use crate::ReportInput;
use crate::numbers::feed;
use crate::words;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let steps = steps(input);
    html! {
        (confirmation::part(input))
        @if !input.line.line.nodes.is_empty() { h3 { "And then" } }
        @if steps.is_empty() {
            p { "Nothing more is asked for. Qualify the procedure under the code that applies." }
        } @else {
            ol.next { @for (step, why) in &steps { li { (step) " " span.soft { "(" (why) ")" } } } }
        }
    }
}

/// Each step once, with its reason.
fn steps(input: &ReportInput<'_>) -> Vec<(String, String)> {
    let mut steps: Vec<(String, String)> = Vec::new();
    for (name, law) in input.laws.laws.by_name() {
        if !law.ended.usable {
            steps.push((sentence(&law.ended.reason), format!("the {} cannot be used", words::law(name))));
        }
        for (coefficient, c) in &law.coefficients {
            if let Some(reason) = c.reason.as_ref().filter(|_| c.value.is_none() || c.interval.contains(&None)) {
                steps.push((sentence(reason), format!("{} of the {}", words::plain(coefficient), words::law(name))));
            }
        }
    }
    for severity in [Severity::Stop, Severity::Warning] {
        for finding in input.laws.findings.iter().filter(|f| f.severity == severity && parts::asks(&f.reading)) {
            steps.push((sentence(&finding.reading.action), words::plain(&finding.check)));
        }
    }
    for item in diagnostics::items(input).into_iter().filter(|i| i.asks) {
        steps.push((sentence(&item.reading.action), item.about));
    }
    if let Some([low, high]) = proposed(input) {
        let why = format!("the line is proposed from {} to {} m/min", feed(low), feed(high));
        steps.push(("Weld the confirmation settings of the verdict and compare the readings.".to_owned(), why));
    }
    let mut seen = BTreeSet::new();
    steps.retain(|(step, _)| !step.is_empty() && seen.insert(step.clone()));
    steps
}

/// The whole range that is still proposed.
fn proposed(input: &ReportInput<'_>) -> Option<[f64; 2]> {
    let ranges = input.line.line.standing.iter().filter(|s| s.state == "proposed").map(|s| s.wire_feed_m_min);
    ranges.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

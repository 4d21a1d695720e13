//! Findings of the checks, tests of the fits, coefficients against physics, trials that stand out: each
//! with its reading, those that ask for something first.

use maud::{Markup, html};
use meltlaw::checks::{Finding, Severity};
use meltlaw::laws::Reading;

use super::parts;
use super::verdict::sentence;
use crate::ReportInput;
use crate::numbers::significant;
use crate::words;

/// A reading with what it is about.
pub(crate) struct Item<'a> {
    pub(crate) about: String,
    effect: String,
    pub(crate) reading: &'a Reading,
    pub(crate) asks: bool,
}

/// How many tests and comparisons with physics ask for something.
pub(crate) fn asking(input: &ReportInput<'_>) -> usize {
    items(input).iter().filter(|i| i.asks).count()
}

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let (act, rest): (Vec<_>, Vec<_>) = items(input).into_iter().partition(|i| i.asks);
    let flagged = flagged(input);
    html! {
        h3 { "What the checks of the data found" }
        @if input.laws.findings.is_empty() {
            p { "Nothing." }
        } @else {
            ul.readings { @for finding in sorted(&input.laws.findings) { (finding_item(finding)) } }
        }
        h3 { "Trials that stand out" }
        @if flagged.is_empty() {
            p { "None." }
        } @else {
            p { "A trial that stands out is not wrong by that. Look at the record of the weld first; leave it out only for a reason that the record gives." }
            ul { @for (law, trial, flags) in flagged { li { strong { (trial) } " (" (words::law(law)) "): " (flags.join("; ")) } } }
        }
        h3 { "Tests and physics that ask for something" }
        @if act.is_empty() { p { "None." } } @else { ul.readings { @for item in &act { (test_item(item)) } } }
        @if !rest.is_empty() {
            h3 { "Tests and physics that are as expected" }
            ul.readings { @for item in &rest { (test_item(item)) } }
        }
    }
}

/// Every test and comparison with physics.
pub(crate) fn items<'a>(input: &ReportInput<'a>) -> Vec<Item<'a>> {
    let mut items = Vec::new();
    for (name, law) in input.laws.laws.by_name() {
        for (test, result) in &law.tests {
            let unit = words::unit(&result.unit);
            let effect = result.effect.map(|e| format!("effect {} {unit}", significant(e, 2)).trim_end().to_owned());
            let p = result
                .p_value
                .map(|p| if p < 0.001 { "p < 0.001".to_owned() } else { format!("p = {}", significant(p, 2)) });
            items.push(Item {
                about: format!("{}: {}", sentence(words::law(name)).trim_end_matches('.'), words::plain(test)),
                effect: effect.into_iter().chain(p).collect::<Vec<_>>().join(", "),
                reading: &result.reading,
                asks: parts::asks(&result.reading),
            });
        }
        for physics in &law.plausibility {
            let unit = words::unit(&physics.unit);
            items.push(Item {
                about: format!(
                    "{}: {} against physics",
                    sentence(words::law(name)).trim_end_matches('.'),
                    words::equation(&physics.name)
                ),
                effect: format!(
                    "{} {unit}, expected {} to {} {unit}",
                    significant(physics.value, 3),
                    significant(physics.low, 2),
                    significant(physics.high, 2)
                ),
                reading: &physics.reading,
                asks: !physics.inside,
            });
        }
    }
    items
}

fn test_item(item: &Item<'_>) -> Markup {
    html! {
        li.act[item.asks] {
            strong { (item.about) } @if !item.effect.is_empty() { " " span.soft { "(" (item.effect) ")" } }
            (parts::reading(item.reading))
        }
    }
}

fn sorted(findings: &[Finding]) -> Vec<&Finding> {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|f| std::cmp::Reverse(f.severity));
    sorted
}

fn finding_item(finding: &Finding) -> Markup {
    const SHOWN: usize = 12;
    let (word, class) = match finding.severity {
        Severity::Stop => ("stops the fit", "act stop"),
        Severity::Warning => ("look at this", "act"),
        Severity::Note => ("for your knowledge", ""),
    };
    html! {
        li class=(class) {
            span.mark { (word) } strong { (sentence(&words::plain(&finding.check)).trim_end_matches('.')) }
            (parts::reading(&finding.reading))
            @if !finding.rows.is_empty() {
                p.small {
                    "Rows: "
                    @for (place, row) in finding.rows.iter().take(SHOWN).enumerate() {
                        @if place > 0 { "; " }
                        (row.file) " row " (row.row) @if !row.trial.is_empty() { " (" (row.trial) ")" }
                        @if let Some(column) = &row.column { ", " code { (column) } }
                        @if let Some(found) = &row.found { ": " (found) }
                    }
                    @if finding.rows.len() > SHOWN { "; and " (finding.rows.len() - SHOWN) " more" } "."
                }
            }
        }
    }
}

fn flagged<'a>(input: &ReportInput<'a>) -> Vec<(&'static str, &'a str, &'a [String])> {
    let laws = input.laws.laws.by_name().into_iter();
    laws.flat_map(|(name, law)| {
        law.diagnostics
            .iter()
            .filter(|d| !d.flags.is_empty())
            .map(move |d| (name, d.trial.as_str(), d.flags.as_slice()))
    })
    .collect()
}

//! The page of diagnostics: warnings first, then what tests, physics and checks ask for, trials that stand
//! out or surprise, and each law against its trials in pictures.

use maud::{Markup, html};
use meltlaw::checks::{Finding, Severity};
use meltlaw::in_words::probability;
use meltlaw::laws::{FitTest, Reading};

use super::parts;
use super::verdict::sentence;
use crate::ReportInput;
use crate::figures::Figures;
use crate::numbers::significant;
use crate::words;

/// Trials named with one reading before the rest is only counted.
const TRIALS_SHOWN: usize = 20;

/// A reading with what it is about.
pub(crate) struct Item<'a> {
    pub(crate) about: String,
    law: &'static str,
    test: String,
    effect: String,
    pub(crate) reading: &'a Reading,
    trials: &'a [String],
    pub(crate) asks: bool,
    pub(crate) warns: bool,
    /// Whether there was anything to judge by.
    made: bool,
}

/// What the tests and comparisons with physics are about that ask for something.
pub(crate) fn asking(input: &ReportInput<'_>) -> Vec<String> {
    items(input).into_iter().filter(|i| i.asks).map(|i| i.about).collect()
}

/// What the tests are about that warn.
pub(crate) fn warnings(input: &ReportInput<'_>) -> Vec<String> {
    items(input).into_iter().filter(|i| i.warns).map(|i| i.about).collect()
}

/// The section.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    let all = items(input);
    let in_short = in_short(&all);
    let (made, not_made): (Vec<_>, Vec<_>) = all.into_iter().partition(|i| i.made);
    let (act, rest): (Vec<_>, Vec<_>) = made.into_iter().partition(|i| i.asks);
    html! {
        (in_short)
        @if !act.is_empty() {
            h3 { "What the tests and physics ask for" }
            ul.readings { @for item in &act { (test_item(item)) } }
        }
        @if !rest.is_empty() {
            details {
                summary { (rest.len()) " tests and comparisons with physics are as expected" }
                ul.readings { @for item in &rest { (test_item(item)) } }
            }
        }
        @if !not_made.is_empty() {
            details {
                summary { (not_made.len()) @if not_made.len() == 1 { " test" } @else { " tests" } " could not be made; what each would need" }
                ul.readings { @for item in &not_made { (test_item(item)) } }
            }
        }
        h3 { "What the checks of the data found" }
        @if input.laws.findings.is_empty() {
            p { "Nothing." }
        } @else {
            ul.readings { @for finding in sorted(&input.laws.findings) { (finding_item(finding)) } }
        }
        (stand_out(input))
        (super::surprise::section(input))
        (super::line_influence::section(input))
        (super::law_diagnosis::section(input, figures))
    }
}

/// How many warnings, of which laws, and what a warning is.
fn in_short(items: &[Item<'_>]) -> Markup {
    let warnings: Vec<&Item<'_>> = items.iter().filter(|i| i.warns).collect();
    let by_law: Vec<String> = ["burn_off", "detachment", "arc_voltage"]
        .into_iter()
        .map(|law| (law, warnings.iter().filter(|i| i.law == law).map(|i| i.test.clone()).collect::<Vec<_>>()))
        .filter(|(_, tests)| !tests.is_empty())
        .map(|(law, tests)| format!("the {} ({})", words::law(law), words::listed(&tests)))
        .collect();
    html! {
        div.verdict.none[!warnings.is_empty()] {
            p {
                strong {
                    @match warnings.len() {
                        0 => { "No test warns." }
                        1 => { "One test warns, of " (words::listed(&by_law)) "." }
                        n => { (n) " tests warn, of " (words::listed(&by_law)) "." }
                    }
                }
            }
        }
        p.small {
            (items.iter().filter(|i| i.made).count()) " tests and comparisons with physics were made. A test warns where its result is so unlikely with good trials that a good study "
            "carries any warning in one of twenty cases at most. Other readings below may still ask for something that is worth doing."
        }
    }
}

fn stand_out(input: &ReportInput<'_>) -> Markup {
    let flagged = flagged(input);
    html! {
        h3 { "Trials that stand out" }
        @if flagged.is_empty() {
            p { "None." }
        } @else {
            p { "A trial that stands out is not wrong by that. Look at the record of the weld first; leave it out only for a reason that the record gives." }
            ul { @for (law, trial, flags) in flagged { li { strong { (trial) } " (" (words::law(law)) "): " (flags.join("; ")) } } }
        }
    }
}

/// Every test and comparison with physics; warnings first, then what asks for something.
pub(crate) fn items<'a>(input: &ReportInput<'a>) -> Vec<Item<'a>> {
    let mut items = Vec::new();
    for (name, law) in input.laws.laws.by_name() {
        let law_name = words::capital(words::law(name));
        for (test, result) in &law.tests {
            items.push(Item {
                about: format!("{law_name}: {}", words::test(test)),
                law: name,
                test: words::test(test),
                effect: effect(result),
                reading: &result.reading,
                trials: &result.trials,
                asks: result.warns || result.reading.asks(),
                warns: result.warns,
                made: result.was_made(),
            });
        }
        for physics in &law.plausibility {
            let unit = words::unit(&physics.unit);
            items.push(Item {
                about: format!("{law_name}: {} against physics", words::equation(&physics.name)),
                law: name,
                test: String::new(),
                effect: format!(
                    "{} {unit}, expected {} to {} {unit}",
                    significant(physics.value, 3),
                    significant(physics.low, 2),
                    significant(physics.high, 2)
                ),
                reading: &physics.reading,
                trials: &[],
                asks: !physics.inside,
                warns: false,
                made: true,
            });
        }
    }
    for (name, result) in input.laws.extension.iter().flat_map(|e| &e.tests) {
        items.push(Item {
            about: format!("The studies: {}", words::test(name)),
            law: match name.as_str() {
                n if n.ends_with("drop") || n.ends_with("drops") => "detachment",
                n if n.ends_with("voltage") => "arc_voltage",
                _ => "burn_off",
            },
            test: words::test(name),
            effect: String::new(),
            reading: &result.reading,
            trials: &[],
            asks: result.warns || result.reading.asks(),
            warns: result.warns,
            made: result.was_made(),
        });
    }
    items.sort_by_key(|i| (!i.warns, !i.asks));
    items
}

/// Size of what was found in units of the trade, then how likely it is with good trials.
fn effect(test: &FitTest) -> String {
    let (factor, unit) = match test.unit.as_str() {
        "mm/s" => (0.06, "m/min".to_owned()), // exact
        other => (1.0, words::unit(other)),
    };
    // An effect without a unit is in the reading's own words already.
    let size = test.effect.filter(|_| !unit.is_empty()).map(|e| format!("{} {unit}", significant(factor * e, 2)));
    let p = test.p_value.map(probability);
    size.into_iter().chain(p).collect::<Vec<_>>().join(", ")
}

fn test_item(item: &Item<'_>) -> Markup {
    html! {
        li.act[item.asks] {
            @if item.warns { span.mark { "warning" } }
            strong { (item.about) } @if !item.effect.is_empty() { " " span.soft { "(" (item.effect) ")" } }
            (parts::reading(item.reading))
            @if !item.trials.is_empty() {
                p.small {
                    "Trials: " (item.trials.iter().take(TRIALS_SHOWN).cloned().collect::<Vec<_>>().join(", "))
                    @if item.trials.len() > TRIALS_SHOWN { " and " (item.trials.len() - TRIALS_SHOWN) " more" } "."
                }
            }
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

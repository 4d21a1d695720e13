//! What the result rests on: trials left out, defaults assumed, errors not covered, remarks from reading.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::parts::{self, ends, half_width, head, places_by, short_head, words_head};
use super::verdict::stopped;
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::words;

/// Trials left out, counted by law and reason.
fn left_out(input: &ReportInput<'_>) -> Markup {
    let mut by_reason: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for (name, law) in input.laws.laws.by_name() {
        for left in &law.trials_left_out {
            by_reason.entry((left.reason.as_str(), name)).or_default().push(&left.trial);
        }
    }
    if by_reason.is_empty() {
        return html! { p { "No trial was left out of any law." } };
    }
    let head = html! { tr { (words_head("law")) (head("trials", "")) (words_head("reason")) (words_head("which")) } };
    let body = html! {
        @for ((reason, law), trials) in &by_reason {
            tr {
                th.text scope="row" { (words::law(law)) }
                td { (trials.len()) }
                td.text { (reason) }
                td.text { (some_of(trials)) }
            }
        }
    };
    let rows = by_reason.iter().flat_map(|((reason, law), trials)| {
        trials.iter().map(move |trial| vec![(*law).to_owned(), text(trial), text(reason)])
    });
    let data = csv(&["law", "trial", "reason"], rows);
    parts::table_and_data("Trials left out, by reason", &head, &body, "left_out", &data)
}

fn some_of(names: &[&str]) -> String {
    const SHOWN: usize = 15;
    let shown = names.iter().take(SHOWN).copied().collect::<Vec<_>>().join(", ");
    if names.len() > SHOWN { format!("{shown} and {} more", names.len() - SHOWN) } else { shown }
}

/// The setup and the machine as the study states them.
fn setup(input: &ReportInput<'_>) -> Markup {
    let Some(setup) = &input.line.setup else { return html! {} };
    let source = &input.line.source;
    let machine = [("machine", &source.name), ("serial number", &source.serial), ("cable", &source.cable)];
    html! {
        h3 { "Setup of the trials" }
        ul {
            li { "polarity: " (setup.polarity.word()) }
            @for (name, text) in setup.texts() { li { (words::plain(name)) ": " (text) } }
            @for (name, text) in machine { @if let Some(text) = text { li { (name) ": " (text) } } }
        }
    }
}

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let laws = input.laws;
    html! {
        (setup(input))
        h3 { "Trials left out, and why" }
        (left_out(input))
        h3 id="basis" { "Assumed, because the study does not say" }
        @if laws.assumed.is_empty() {
            p { "Nothing is listed as assumed." }
        } @else {
            @let head = html! { tr { (words_head("key")) (words_head("value")) (words_head("source")) } };
            @let body = html! { @for a in &laws.assumed { tr { th.text scope="row" { code { (a.key) } } td.text { (a.value) } td.text { (a.source) } } } };
            (parts::table("Defaults used", &head, &body))
        }
        h3 { "Not covered by any interval" }
        ul {
            @for name in &laws.not_covered { li { (words::contributor(name)) ": the study states no uncertainty" } }
            @if laws.extension.as_ref().is_some_and(|e| e.target.any_batch) {
                li { "Another gas, another torch or cable than in the studies." }
            } @else {
                li { "Another batch of wire, another gas, another torch or cable than in the trials." }
            }
            li { "What the laws do not know: starts and stops, welding position, travel speed, joint and surface." }
            @if let Some(reason) = &input.line.gas_reason { li { "The gas: " (reason) } }
        }
        @if !laws.reading_notes.is_empty() {
            h3 { "How the tables were read" }
            ul { @for note in &laws.reading_notes { li { (stopped(note)) } } }
        }
        (validity(input))
    }
}

fn validity(input: &ReportInput<'_>) -> Markup {
    let validity = &input.line.line.validity;
    if validity.is_empty() {
        return html! {};
    }
    let head = html! { tr {
        (words_head("quantity")) (short_head("unit")) (head("trials from", "")) (head("trials to", ""))
        (head("extended from", "")) (head("extended to", "")) (words_head("rests on"))
    } };
    let body = html! {
        @for (key, v) in validity {
            @let (name, unit, factor) = words::variable(key);
            @let [measured, extended] = [v.measured, v.extended].map(|range| range.map(|end| factor * end));
            // Ends of a range are single readings: one digit more than the range has to two.
            @let places = places_by([half_width(measured)], 2) + 1;
            tr {
                th.text scope="row" { (name) }
                td.text.unit { (unit) }
                (ends(measured, places)) (ends(extended, places))
                td.text { (v.reason) }
            }
        }
    };
    let rows = validity.iter().map(|(key, v)| {
        let ends = [v.measured[0], v.measured[1], v.extended[0], v.extended[1]].map(number);
        std::iter::once(text(key)).chain(ends).collect()
    });
    let data = csv(&["quantity", "measured_low", "measured_high", "extended_low", "extended_high"], rows);
    html! {
        h3 { "Ranges that support rests on" }
        @if let Some(carried) = &input.laws.laws.carried { p.small { "The ranges of the trials are mapped to what nobody welded: the laws were carried " (carried.words) "." } }
        (parts::table_and_data("Ranges of the trials and how far beyond them", &head, &body, "validity", &data))
    }
}

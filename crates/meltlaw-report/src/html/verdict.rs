//! The verdict: what may be used, why it ends there, how sure it is, what to do before use.

use maud::{Markup, html};
use meltlaw::checks::Severity;
use meltlaw::line::{Node, StandingRange};

use super::{ends, parts};
use crate::ReportInput;
use crate::figures::Figures;
use crate::numbers::{self, feed};
use crate::spans::{self, Span, Support};
use crate::words;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    let spans = spans::spans(&input.line.line);
    html! {
        div.verdict-top {
            (answer(input, &spans))
            (parts::figures(&figures.verdict, false))
        }
        div.facts {
            (ends::in_short(input))
            @if !input.line.line.nodes.is_empty() { (how_sure(input)) }
            (before_use(input))
        }
        (ends::in_full(input))
    }
}

fn range(span: &Span) -> String {
    if span.from_m_min == span.to_m_min {
        format!("at {}\u{a0}m/min only", feed(span.from_m_min))
    } else {
        format!("from {} to {}\u{a0}m/min", feed(span.from_m_min), feed(span.to_m_min))
    }
}

fn ranges(spans: &[Span], support: Support) -> Option<String> {
    let texts: Vec<String> = spans.iter().filter(|s| s.support == support).map(range).collect();
    (!texts.is_empty()).then(|| words::listed(&texts))
}

fn answer(input: &ReportInput<'_>, spans: &[Span]) -> Markup {
    if input.line.line.nodes.is_empty() {
        return no_line(input);
    }
    let standing = &input.line.line.standing;
    let carried = input.laws.laws.carried.is_some();
    let from_to =
        |s: &StandingRange| format!("from {} to {}\u{a0}m/min", feed(s.wire_feed_m_min[0]), feed(s.wire_feed_m_min[1]));
    html! {
        div.verdict {
            @for s in standing.iter().filter(|s| s.state == "withdrawn" || s.state == "contradicted") {
                p { strong { "Do not use it " (from_to(s)) ": " (s.state) ". " } (stopped(s.evidence.as_deref().unwrap_or(""))) }
            }
            @if let Some(extension) = &input.laws.extension {
                p {
                    @if let Some(carried) = &input.laws.laws.carried { strong { "Nobody has welded this " (carried.what) ". " } }
                    "The laws were extended " (extension.words) "; weld what confirms them before the line is used. " a href="#extension" { "What they rest on" }
                }
            }
            @match ranges(spans, Support::Covered) {
                Some(text) => { p { strong { "Covered by trials: the line may be tried " (text) "." } } }
                None if carried || spans.is_empty() => {}
                None => { p { strong { "No part of the line lies inside the ranges of the trials." } } }
            }
            @match ranges(spans, Support::Extended) {
                Some(text) => { p { "Extended a little beyond the trials " (text) ": weld there with more care, and confirm first." } }
                None if carried || spans.is_empty() => {}
                None => { p.soft { "No part of it is extended beyond the trials." } }
            }
            @if let Some(text) = ranges(spans, Support::Carried) {
                p { strong { "Carried " (text) ": weld and confirm every setting before use." } }
            }
            @for s in standing {
                p.soft {
                    "Standing: " (s.state) " " (from_to(s))
                    @if let Some(by) = &s.by { ", by " (by) } @if let Some(date) = &s.date { ", " (date) } "."
                }
            }
        }
    }
}

fn no_line(input: &ReportInput<'_>) -> Markup {
    let missing = input.laws.laws.missing();
    let named: Vec<String> = missing.iter().map(|name| words::law(name).to_owned()).collect();
    html! {
        div.verdict.none {
            @if missing.is_empty() {
                p { strong { "There is no setting at any wire feed that was asked for." } }
                p { "The laws were fitted, but limits stand in the way everywhere; the reasons stand below." }
            } @else {
                p { strong { "There is no line: the " (words::listed(&named)) @if named.len() == 1 { " is missing." } @else { " are missing." } } }
                @for (name, law) in input.laws.laws.by_name().into_iter().filter(|(_, law)| !law.ended.usable) {
                    p { "The " (words::law(name)) " cannot be used because " (words::ended(&law.ended.how)) ". " (sentence(&law.ended.reason)) }
                }
            }
        }
    }
}

/// With a capital, where it begins with a word of ours, and a full stop.
pub(crate) fn sentence(text: &str) -> String {
    stopped(&words::capital(text.trim()))
}

/// With a full stop: a user's own text keeps its first letter.
pub(crate) fn stopped(text: &str) -> String {
    let mut whole = text.trim().to_owned();
    if !whole.is_empty() && !whole.ends_with(['.', '!', '?']) {
        whole.push('.');
    }
    whole
}

fn span_of(nodes: &[Node], value: impl Fn(&Node) -> f64) -> (f64, f64) {
    nodes.iter().map(value).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
}

/// `0.74 %`, or `0.73 to 0.79 %` where it differs.
fn per_cent_range((low, high): (f64, f64)) -> String {
    let (low, high) = (numbers::significant(100.0 * low, 2), numbers::significant(100.0 * high, 2));
    if low == high { format!("{low} %") } else { format!("{low} to {high} %") }
}

fn how_sure(input: &ReportInput<'_>) -> Markup {
    let nodes = &input.line.line.nodes;
    let confidence = numbers::confidence(input.line.confidence);
    let lowest =
        nodes.iter().min_by(|a, b| a.one_drop_probability.interval[0].total_cmp(&b.one_drop_probability.interval[0]));
    let volts = span_of(nodes, |n| (n.voltage_mean_v_interval[1] - n.voltage_mean_v_interval[0]) / 2.0);
    html! {
        div {
            h3 { "How sure it is" }
            ul {
                li {
                    "Melting rate: ± " (per_cent_range(span_of(nodes, |n| n.melting_rate_relative_se))) " (standard error); ± "
                    (per_cent_range(span_of(nodes, |n| n.melting_rate_relative_se_same_bench))) " on the instruments of the trials."
                }
                @if let Some(node) = lowest {
                    li {
                        "One drop per pulse: at least " (numbers::percent(node.one_drop_probability.interval[0])) " of the pulses everywhere (lower end of the "
                        (confidence) " interval, lowest at " (feed(node.wire_feed_m_min)) " m/min; best estimate there "
                        (numbers::percent(node.one_drop_probability.value)) ")"
                        @if let Some(request) = &input.line.request { "; the study asks for " (numbers::percent(request.one_drop_floor)) } "."
                    }
                }
                li { "Mean voltage: within ± " (numbers::significant(volts.1, 2)) " V (" (confidence) ") when the arc length is kept." }
                @if let Some(error) = input.line.line.interpolation.largest_relative_melt_balance_error {
                    li { "Between the nodes the melt balance is off by " (numbers::at_most(100.0 * error, 2)) " %"
                        @if let Some(error) = input.line.line.interpolation.largest_one_drop_probability_error {
                            ", the chance of one drop by " (numbers::at_most(100.0 * error, 1)) " points"
                        }
                        "."
                    }
                }
            }
            p.small.goto { a href="#sureness" { "What limits this" } }
        }
    }
}

/// Two by name, the rest as a number.
fn first_few(names: &[String]) -> String {
    const SHOWN: usize = 2;
    let mut shown: Vec<String> = names.iter().take(SHOWN).cloned().collect();
    if names.len() > SHOWN {
        shown.push(format!("{} more", names.len() - SHOWN));
    }
    words::listed(&shown)
}

fn before_use(input: &ReportInput<'_>) -> Markup {
    let count = |severity| input.laws.findings.iter().filter(|f| f.severity == severity).count();
    let (stops, warnings) = (count(Severity::Stop), count(Severity::Warning));
    let asking = super::diagnostics::asking(input);
    let tests_that_warn = super::diagnostics::warnings(input);
    let unconfirmed = input.line.line.standing.iter().any(|s| s.state == "proposed");
    html! {
        div {
            h3 { "Before it is used" }
            ul {
                @if input.line.line.nodes.is_empty() {
                    li { "Do what the reasons above ask for, then run the study again." }
                } @else if unconfirmed {
                    li { "It is a proposal. " a href="#next" { "Weld the confirmation settings" } ", look at the welds and section them." }
                }
                @if stops + warnings > 0 {
                    li { a href="#diagnostics" { (stops + warnings) @if stops + warnings == 1 { " finding" } @else { " findings" } " in the data" } " to look at." }
                }
                @if !tests_that_warn.is_empty() {
                    li { a href="#diagnostics" { (tests_that_warn.len()) @if tests_that_warn.len() == 1 { " test of the fits warns" } @else { " tests of the fits warn" } } " (" (first_few(&tests_that_warn)) ")." }
                } @else if !asking.is_empty() {
                    li { a href="#next" { (asking.len()) @if asking.len() == 1 { " test asks" } @else { " tests ask" } " for something" } " (" (first_few(&asking)) ")." }
                }
                @if stops + warnings == 0 && asking.is_empty() { li { "The checks and tests found nothing that asks for action." } }
                @if !input.laws.not_covered.is_empty() {
                    li { a href="#basis" { "Instrument errors that the study does not state" } " are in none of the intervals." }
                }
                li { "Read the " a href="#cautions" { "cautions" } "." }
            }
        }
    }
}

//! The page of a comparison: verdicts first, then what they rest on.

use maud::{Markup, html};
use meltlaw::compare::laws::{LawStatement, Verdict};

use super::spread::words;
use super::{Figures, LawsComparisonInput, tables};
use crate::html::parts::{self, cell, ends, head, places_by, short_head, words_head};
use crate::html::whole_page;
use crate::numbers::{confidence, significant};

/// The whole page as text.
pub(super) fn page(input: &LawsComparisonInput<'_>, figures: &Figures) -> String {
    let c = input.comparison;
    let names: Vec<&str> = c.wires.iter().map(|w| w.name.as_str()).collect();
    let name = match names[..] {
        [first, second] => format!("{second} against {first}"),
        [first, ..] => format!("{} wires against {first}", names.len() - 1),
        [] => "Nothing compared".to_owned(),
    };
    let subject = html! { "Do they melt and detach alike? " (c.wires.len()) " wires, margins: " (c.margins_from) };
    let sections: [(&str, &str, Markup); 8] = [
        ("verdict", "Verdict", verdict(input)),
        ("melting", "How fast they melt", law("burn_off", input, &figures.melting)),
        ("detachment", "When a drop lets go", law("detachment", input, &figures.detachment)),
        ("voltage", "Voltage", law("arc_voltage", input, &figures.voltage)),
        ("batches", "Batches", batches(input, figures)),
        ("beside", "Beside the verdicts", beside(input)),
        ("cautions", "Cautions", html! { ul { @for caution in input.cautions { li { (caution) } } } }),
        ("origin", "Where it comes from", origin(input)),
    ];
    let sections: Vec<(&str, &str, Markup)> =
        sections.into_iter().filter(|(id, ..)| *id != "batches" || !c.batch_spread.is_empty()).collect();
    whole_page("Laws compared, report", &name, &subject, &sections, None)
}

fn word(v: Verdict) -> &'static str {
    match v {
        Verdict::Alike => "= alike",
        Verdict::Different => "! different",
        Verdict::Undecided => "? undecided",
    }
}

fn verdict(input: &LawsComparisonInput<'_>) -> Markup {
    let c = input.comparison;
    html! {
        @for wire in c.wires.iter().skip(1) {
            @let of: Vec<&LawStatement> = c.comparisons.iter().filter(|s| s.wire == wire.name).collect();
            h3 { (wire.name) }
            ul {
                @for s in of {
                    li { strong { (words(&s.quantity)) ": " (word(s.verdict)) } ". " (sentence(s)) }
                }
            }
        }
        @if c.wires.len() < 2 { p { "There is one wire: only its batches are compared." } }
        (statements(input))
        p.small {
            "Alike: the interval lies inside the margin wherever both wires were welded. Different: it lies wholly outside at some place. "
            "For each law the intervals hold at " (confidence(c.confidence)) " over all places, quantities and wires together; where the truth lies at the margin "
            "itself, either of these is wrong in at most a tenth of cases."
        }
        @if !c.notes.is_empty() { ul { @for note in &c.notes { li { (note) } } } }
    }
}

/// What a practitioner would say.
fn sentence(s: &LawStatement) -> Markup {
    html! {
        @match (s.difference, s.interval, s.margin, s.first) {
            (Some(d), Some([low, high]), Some(margin), Some(first)) => {
                @if s.unit == "V" {
                    "At the place that decides " (crate::numbers::signed(d, 2)) " V (" (crate::numbers::signed(low, 2)) " to " (crate::numbers::signed(high, 2)) " V), margin " (significant(margin, 2)) " V. "
                } @else {
                    @let per_cent = |v: f64| crate::numbers::signed(100.0 * v / first, 1);
                    "At the place that decides " (per_cent(d)) " % (" (per_cent(low)) " to " (per_cent(high)) " %), margin " (significant(100.0 * margin / first, 2)) " %. "
                }
                @if s.verdict == Verdict::Undecided { (s.settle) "." }
            }
            _ => { (s.settle) "." }
        }
    }
}

fn statements(input: &LawsComparisonInput<'_>) -> Markup {
    let c = input.comparison;
    let head = html! { tr {
        (words_head("wire")) (words_head("quantity")) (short_head("unit")) (short_head("verdict"))
        (head("first wire", "")) (head("difference", "")) (head("from", "")) (head("to", "")) (head("margin", "")) (head("trials to settle", ""))
    } };
    let places = |s: &LawStatement| places_by(s.interval.map(parts::half_width), 3);
    let body = html! { @for s in &c.comparisons {
        tr {
            th.text scope="row" { (s.wire) }
            td.text { (words(&s.quantity)) }
            td.text { (s.unit) }
            td.text { (s.verdict.word()) }
            (cell(s.first, places(s))) (cell(s.difference, places(s))) (ends(s.interval, places(s))) (cell(s.margin, places(s)))
            (cell(s.trials_to_settle.map(|n| n as f64), 0))
        }
    } };
    parts::table_and_data("Each quantity where it decides", &head, &body, "statements", &tables::csv_table(c))
}

fn law(name: &str, input: &LawsComparisonInput<'_>, figures: &[crate::figures::Drawn]) -> Markup {
    let of: Vec<&LawStatement> = input.comparison.comparisons.iter().filter(|s| s.law == name).collect();
    html! {
        @for s in of.iter().filter(|s| s.difference.is_none()) { p { (s.wire) ", " (words(&s.quantity)) ": " (s.settle) "." } }
        (parts::figures(figures, false))
        details {
            summary { "Readings and where the error comes from" }
            @for s in of.iter().filter(|s| s.difference.is_some()) {
                h3 { (s.wire) ", " (words(&s.quantity)) }
                (parts::reading(&s.reading))
                p.small { "Share of the interval’s variance there: " @for (i, (part, share)) in s.budget.iter().enumerate() { @if i > 0 { "; " } (part) " " (significant(100.0 * share, 2)) " %" } "." }
            }
        }
    }
}

fn batches(input: &LawsComparisonInput<'_>, figures: &Figures) -> Markup {
    html! {
        p.lead { "How far batches of one specification scatter. Their spread rests on so few batches as are named; two give a bound only." }
        (parts::figures(&figures.batches, false))
        @for spread in &input.comparison.batch_spread {
            h3 { (spread.wire) ", " (words(&spread.quantity)) }
            (parts::reading(&spread.reading))
        }
    }
}

fn beside(input: &LawsComparisonInput<'_>) -> Markup {
    let c = input.comparison;
    let head = html! { tr { (words_head("wire")) (words_head("law")) (head("2 ln ratio", "")) (head("coefficients saved", "")) (head("p", "")) (words_head("remark")) } };
    let body = html! { @for l in &c.likelihood_ratio {
        tr {
            th.text scope="row" { (l.wire) }
            td.text { (l.law.replace('_', " ")) }
            (cell(l.statistic, 2)) (cell(l.statistic.map(|_| l.degrees_of_freedom as f64), 0)) (cell(l.p_value, 4))
            td.text { (l.reason.clone().unwrap_or_default()) }
        }
    } };
    let rows = c.likelihood_ratio.iter().map(|l| {
        vec![
            crate::embedded::text(&l.wire),
            l.law.clone(),
            crate::embedded::number(l.statistic),
            crate::embedded::number(l.statistic.map(|_| l.degrees_of_freedom as f64)),
            crate::embedded::number(l.p_value),
        ]
    });
    let data = crate::embedded::csv(&["wire", "law", "statistic", "degrees_of_freedom", "p_value"], rows);
    html! {
        h3 { "Likelihood ratio" }
        p { "One law for both wires, or one for each? It stands beside the verdicts and never instead of them: a difference found for certain may be too small to matter, and a large one may not be found." }
        (parts::table_and_data("Likelihood ratio of one law against two", &head, &body, "likelihood_ratio", &data))
        h3 { "Instruments" }
        p { (crate::words::capital(&c.instruments.words)) "." }
    }
}

fn origin(input: &LawsComparisonInput<'_>) -> Markup {
    let c = input.comparison;
    let head = html! { tr { (words_head("wire")) (words_head("file")) (words_head("checksum of the laws")) } };
    let body = html! { @for w in &c.wires { @for (file, checksum) in w.files.iter().zip(&w.checksums) {
        tr { th.text scope="row" { (w.name) } td.text { (file) } td.text { code { (checksum) } } }
    } } };
    let rows = c.wires.iter().flat_map(|w| {
        w.files
            .iter()
            .zip(&w.checksums)
            .map(|(f, k)| vec![crate::embedded::text(&w.name), crate::embedded::text(f), k.clone()])
            .collect::<Vec<_>>()
    });
    let data = crate::embedded::csv(&["wire", "file", "checksum"], rows);
    html! {
        p { "Made by " (input.tool) "." }
        ul { @for w in &c.wires {
            li { strong { (w.name) } ": " (w.words) "; " (w.batches) @if w.batches == 1 { " study" } @else { " batches" } ", "
                (w.trials[0]) " burn-off, " (w.trials[1]) " detachment and " (w.trials[2]) " voltage trials"
                @if !w.conditions.is_empty() { ". Other than the first: " @for (i, d) in w.conditions.iter().enumerate() { @if i > 0 { "; " } (d.words) } }
                "." }
        } }
        (parts::table_and_data("Laws files", &head, &body, "files", &data))
    }
}

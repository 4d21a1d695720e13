//! Cautions, and the way back to what the result was made from.

use maud::{Markup, html};

use super::parts::{self, head, words_head};
use crate::ReportInput;
use crate::embedded::{csv, text};

/// The cautions.
pub(crate) fn cautions(input: &ReportInput<'_>) -> Markup {
    html! { ul { @for caution in input.cautions { li { (caution) } } } }
}

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let p = input.provenance;
    let head = html! { tr { (words_head("file")) (head("rows", "")) (head("rows used", "")) (words_head("SHA-256")) } };
    let body = html! {
        tr { th.text scope="row" { (p.study.file) } td {} td {} td.text { code { (p.study.sha256) } } }
        @for i in &p.inputs {
            tr { th.text scope="row" { (i.file) } td { (i.rows) } td { (i.rows_used) } td.text { code { (i.sha256) } } }
        }
    };
    let study = vec![text(&p.study.file), String::new(), String::new(), text(&p.study.sha256)];
    let tables =
        p.inputs.iter().map(|i| vec![text(&i.file), i.rows.to_string(), i.rows_used.to_string(), text(&i.sha256)]);
    let data = csv(&["file", "rows", "rows_used", "sha256"], std::iter::once(study).chain(tables));
    html! {
        p { "Made by " (p.tool) ", with seed " (p.seed) " and " (p.draws) " draws. The same inputs and seed give the same result, byte for byte." }
        (parts::table_and_data("What it was made from", &head, &body, "inputs", &data))
        @for source in &input.trials.sources {
            @if !source.read_as.is_empty() { p.small { (source.file) " was read as " (source.read_as) "." } }
        }
        p.small {
            "Checksums of the results: laws " code { (input.checksum_laws) } ", line " code { (input.checksum_line) }
            ". They show damage and careless edits, not malice."
        }
    }
}

//! Cautions, and the way back to what the result was made from.

use maud::{Markup, html};

use super::parts;
use crate::ReportInput;

/// The cautions.
pub(crate) fn cautions(input: &ReportInput<'_>) -> Markup {
    html! { ul { @for caution in input.cautions { li { (caution) } } } }
}

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let p = input.provenance;
    let head = html! { tr { th.text scope="col" { "file" } th scope="col" { "rows" } th scope="col" { "rows used" } th.text scope="col" { "SHA-256" } } };
    let body = html! {
        tr { th.text scope="row" { (p.study.file) } td {} td {} td.text { code { (p.study.sha256) } } }
        @for i in &p.inputs {
            tr { th.text scope="row" { (i.file) } td { (i.rows) } td { (i.rows_used) } td.text { code { (i.sha256) } } }
        }
    };
    html! {
        p { "Made by " (p.tool) ", with seed " (p.seed) " and " (p.draws) " draws. The same inputs and seed give the same result, byte for byte." }
        (parts::table("What it was made from", &head, &body))
        @for source in &input.trials.sources {
            @if !source.read_as.is_empty() { p.small { (source.file) " was read as " (source.read_as) "." } }
        }
        p.small {
            "Checksums of the results: laws " code { (input.checksum_laws) } ", line " code { (input.checksum_line) }
            ". They show damage and careless edits, not malice."
        }
    }
}

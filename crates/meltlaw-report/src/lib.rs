//! Results to figures and one HTML file, as strings: nothing is read, written or looked up.
//!
//! [`draw`] takes the laws, the line and the trials as they are kept and gives a page that opens from a
//! disk without network, and each figure as an SVG file of its own. Same input, same bytes.

#![cfg_attr(test, allow(clippy::unwrap_used, reason = "tests stop at the first surprise"))]

use std::collections::BTreeMap;

use meltlaw::line_spans as spans;
use meltlaw::record::{LawsRecord, LineRecord, Provenance};
use meltlaw::trials::Trials;

mod axis;
mod bench_work;
mod clip;
mod colours;
mod columns;
pub mod composing;
mod count_scatter;
mod embedded;
mod extension;
mod figure;
mod figures;
mod html;
mod laws_comparison;
mod line_comparison;
mod log_pictures;
mod mark;
mod marks;
pub mod numbers;
pub mod setting;
mod slim;
mod window;
mod words;

pub use extension::{ExtensionInput, ExtensionPage, draw_extension};
pub use laws_comparison::{LawsComparisonInput, LawsComparisonPage, draw_laws_comparison};
pub use line_comparison::{ComparedLines, ComparisonFigure, draw_comparison};
pub use log_pictures::{LogPage, draw_log};

/// What a report is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct ReportInput<'a> {
    /// The body of `laws.json`.
    pub laws: &'a LawsRecord,
    /// The body of `line.json`.
    pub line: &'a LineRecord,
    /// The trials as understood.
    pub trials: &'a Trials,
    /// The way back to what the result was made from.
    pub provenance: &'a Provenance,
    /// Cautions to print.
    pub cautions: &'a [String],
    /// Checksum of `laws.json`.
    pub checksum_laws: &'a str,
    /// Checksum of `line.json`.
    pub checksum_line: &'a str,
}

/// A drawn report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// The page, complete in one file.
    pub html: String,
    /// The figures by file name, such as `detachment_map.svg`.
    pub plots: BTreeMap<String, String>,
    /// What the figures show, by file name: `detachment_map.csv` for each, and `readings.json` with title, caption
    /// and reading of all.
    pub plot_data: BTreeMap<String, String>,
}

/// What to improve first, a line for each of melting rate, one drop per pulse and voltage; none without nodes.
pub fn first_to_improve(line: &meltlaw::line::Line) -> Vec<String> {
    html::first_to_improve(&line.nodes)
}

/// The nodes to weld first to confirm a line: lowest, middle and highest of those that trials cover.
pub fn to_confirm(nodes: &[meltlaw::line::Node]) -> Vec<&meltlaw::line::Node> {
    html::to_confirm(nodes)
}

/// Draws the report.
///
/// Always gives a page: where a law is missing or the line has no node, the page says so first, with the
/// reason and the cure, and leaves out the figures that there is nothing for.
pub fn draw(input: &ReportInput<'_>) -> Report {
    let figures = figures::Figures::draw(input);
    Report { html: html::page(input, &figures), plots: figures.files(), plot_data: figures.data() }
}

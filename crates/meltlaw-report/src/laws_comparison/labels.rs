//! What wires are called in figures: by their study, which a reader of a paper knows, and not by a path.

use meltlaw::compare::laws::{ComparedWire, LawsComparison};

/// Names in figures by the comparison's own names.
pub(super) struct Labels<'a>(Vec<(&'a str, String)>);

impl<'a> Labels<'a> {
    /// Labels of at most so many letters. Wires whose studies read alike go by their files, as do groups of batches.
    pub(super) fn new(c: &'a LawsComparison, most: usize) -> Self {
        let of_study = |w: &ComparedWire| match &w.studies[..] {
            [study] if !study.trim().is_empty() => Some(beginning(study, most)),
            _ => None,
        };
        let studies: Vec<Option<String>> = c.wires.iter().map(of_study).collect();
        let label = |(wire, study): (&'a ComparedWire, &Option<String>)| {
            let alone = studies.iter().filter(|s| *s == study).count() == 1;
            let label = study.clone().filter(|_| alone).unwrap_or_else(|| end(&wire.name, most));
            (wire.name.as_str(), label)
        };
        Self(c.wires.iter().zip(&studies).map(label).collect())
    }

    /// The label of a wire.
    pub(super) fn of(&self, wire: &str) -> String {
        self.0.iter().find(|(name, _)| *name == wire).map_or_else(|| wire.to_owned(), |(_, label)| label.clone())
    }
}

fn beginning(text: &str, most: usize) -> String {
    if text.chars().count() <= most { text.to_owned() } else { text.chars().take(most - 1).chain(['…']).collect() }
}

/// A name that fits, its end kept: paths differ there.
pub(super) fn end(text: &str, most: usize) -> String {
    let long = text.chars().count();
    if long <= most { text.to_owned() } else { ['…'].into_iter().chain(text.chars().skip(long - most + 1)).collect() }
}

//! What the program says in warning, by name.

use std::collections::BTreeSet;

use crate::checks::{self, Severity};
use crate::laws::Laws;
use crate::study::Study;
use crate::trials::Trials;

/// Names of everything in checks and laws that a reader must take for a warning: findings above a note,
/// tests that warn, trials that stand out, coefficients outside their bands, laws that could not be fitted.
/// What only informs is left out: trials that move a law without standing out, and scatter between blocks that
/// the intervals take in below the level of a warning.
pub fn warnings(study: &Study, trials: &Trials, laws: &Laws) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for finding in checks::run(study, trials) {
        if finding.severity > Severity::Note {
            names.insert(format!("check {}", finding.check));
        }
    }
    for (law, record) in laws.by_name() {
        if !record.ended.usable {
            names.insert(format!("{law}: {}", record.ended.how));
        }
        for (test, found) in &record.tests {
            if found.warns {
                names.insert(format!("{law}: test {test}"));
            }
        }
        for band in record.plausibility.iter().filter(|p| !p.inside) {
            names.insert(format!("{law}: {} outside its band", band.name));
        }
    }
    names
}

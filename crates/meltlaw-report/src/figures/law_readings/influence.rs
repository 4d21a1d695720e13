//! What the law would be without a trial: whether it hangs on a single weld.

use meltlaw::laws::{FittedLaw, Reading};

use super::super::diagnosed::shortened;
use super::super::trial_influence::Moved;
use super::{asked, coefficient, counted, hangs_on, made, said, weld_again};
use crate::numbers::signed;

/// The reading of the changes, the largest first.
pub(in crate::figures) fn reading(law: &FittedLaw, coefficients: &[&str], trials: &[Moved<'_>]) -> Reading {
    let expected = "no bar as long as 1: each coefficient stays within its standard error whichever weld is left out";
    let hangs_on = hangs_on(trials);
    let mut parts: Vec<String> = Vec::new();
    parts.extend(trials.first().map(|m| {
        let (which, change) = m.largest();
        format!(
            "the longest bar is that of {}: without it {} moves by {} standard errors",
            shortened(m.trial, 40),
            coefficients.get(which).map_or(String::new(), |key| coefficient(key)),
            signed(change, if change.abs() < 0.1 { 2 } else { 1 })
        )
    }));
    parts.push(match hangs_on.len() {
        0 => format!("none of the {} trials moves a coefficient by as much as its error", trials.len()),
        n => format!(
            "{n} of {} trials {} a coefficient by its error or more",
            trials.len(),
            if n == 1 { "moves" } else { "move" }
        ),
    });
    let unknown = law.diagnostics.len().saturating_sub(trials.len());
    if unknown > 0 {
        parts.push(format!("not known for {}", counted(unknown)));
    }
    // Several welds can hold the law together where no single one does: the refit finds that.
    parts.extend(
        made(law, "robust")
            .filter(|t| t.reading.asks())
            .map(|t| format!("refitted so that single welds cannot pull it: {}", said(law, t))),
    );
    let mut actions: Vec<String> = Vec::new();
    if !hangs_on.is_empty() {
        actions.push(weld_again(&hangs_on));
    }
    actions.extend(asked(law, &["robust"]));
    let action = if actions.is_empty() { "nothing".to_owned() } else { actions.join("; ") };
    Reading::new(expected, parts.join("; "), action)
}

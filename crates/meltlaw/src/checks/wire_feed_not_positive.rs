//! *Finds* a wire feed that is zero or negative.
//!
//! *Why it matters*: nothing melts without feed; relative errors of the feed weigh the burn-off law.
//!
//! *What to do*: read the feed again, or set `use = no` and say why in `note`.
//!
//! *Example*: `wire_feed_m_min` 0.00 where the weld was broken off.

use super::rows::{cells_where, finding_if_any};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "wire_feed_not_positive",
    about: "A wire feed of zero or less. Nothing melts without feed, and its relative error weighs the burn-off law.",
    look,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    let rows = cells_where(trials, Column::WireFeed, |v| v <= 0.0);
    finding_if_any(CHECK.name, Severity::Stop, rows, |concerned| {
        Reading::new(
            "a wire feed above zero",
            format!("zero or less {concerned}"),
            "read the wire feed again, or set use = no and say why in note",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, found, severities, steel_study, steel_trials};

    #[test]
    fn a_negative_feed_stops() {
        let trials = changed(steel_trials(), 3, Column::WireFeed, -4.2);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].severity, Severity::Stop);
        assert_eq!(findings[0].rows[0].found.as_deref(), Some("-4.2 m/min"));
        assert_eq!(findings[0].rows[0].row, 5);
    }

    #[test]
    fn a_slow_feed_does_not() {
        let trials = changed(steel_trials(), 3, Column::WireFeed, 0.4);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

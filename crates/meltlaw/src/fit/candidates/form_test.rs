//! What the candidates of a law say together: would the next larger form change the line, and do the trials
//! ask for it?

use crate::in_words::probability;
use crate::laws::{FitTest, LineEffect, Reading};

/// Probability below which a coefficient that the form used lacks is a warning.
///
/// With at most four such coefficients in a study, clean ones warn in 0.4 % at most.
const WARNS_BELOW: f64 = 1e-3;

/// The coefficient that a larger form has beyond the form used.
pub(super) struct Extra<'a> {
    /// Form that has it.
    pub(super) form: &'a str,
    /// In words.
    pub(super) what: &'a str,
    /// Estimate over standard error.
    pub(super) statistic: f64,
    /// Probability where it is zero.
    pub(super) p_value: f64,
    /// What the form would do to the line.
    pub(super) effect: &'a LineEffect,
    /// Whether that exceeds the margin of the study.
    pub(super) exceeds: bool,
    /// The margin in words.
    pub(super) margin: String,
    /// What to do where it warns.
    pub(super) action: &'a str,
}

const EXPECTED: &str = "no larger form is asked for by the trials, and none would change the line beyond the margin";

/// The test `form` of a law.
pub(super) fn form_test(extra: &Extra<'_>) -> FitTest {
    let warns = extra.p_value < WARNS_BELOW && extra.exceeds;
    let action = if warns {
        extra.action.to_owned()
    } else if extra.exceeds {
        "nothing by these trials; if the line disappoints at that feed, weld a few trials near it and look again"
            .to_owned()
    } else {
        "nothing".to_owned()
    };
    FitTest {
        statistic: Some(extra.statistic),
        p_value: Some(extra.p_value),
        effect: Some(extra.effect.value),
        unit: extra.effect.unit.clone(),
        reading: Reading::new(
            EXPECTED,
            format!(
                "{} ({}) would move the line by up to {:+.3} {}, at {:.1} m/min (margin {}; {})",
                extra.form,
                extra.what,
                extra.effect.value,
                extra.effect.unit,
                extra.effect.at_wire_feed_m_min,
                extra.margin,
                probability(extra.p_value),
            ),
            action,
        ),
        warns,
        trials: Vec::new(),
        reason: None,
    }
    .finite_or_missing()
}

/// Where no larger form could be tried.
pub(super) fn not_made(unit: &str, reason: impl Into<String>) -> FitTest {
    FitTest::not_made(unit, EXPECTED, reason, "nothing")
}

/// The advice of every law: the data do not choose.
pub(super) const CHOOSE: &str = "weld a few trials where the forms differ most; to use the other form, state it in [laws] before looking at new trials: a form picked because it fits these trials best would make the stated intervals too narrow";

//! Residuals in an order: what the test of drift or of tip wear says, and trials beyond the limit.

use meltlaw::fit::diagnosis::WARNS_BELOW;
use meltlaw::laws::Reading;

use super::super::diagnosed::{Diagnosed, Point};
use super::{asked, made, name_list, outlying, said};
use crate::numbers::{signed, significant};
use crate::words;

/// What was drawn along an order.
pub(in crate::figures) struct Course<'a, 'b> {
    /// The test that judges a trend in this order.
    pub(in crate::figures) test: &'static str,
    /// The test that judges steps between days, coils or plates, where the figure tells these apart.
    pub(in crate::figures) steps: Option<&'static str>,
    /// Trials with their residuals in standard errors.
    pub(in crate::figures) residuals: &'b [(&'b Point<'a>, f64)],
    /// Rise of the drawn trend from the first to the last, in standard errors.
    pub(in crate::figures) rise: Option<f64>,
}

/// The reading of a course.
pub(in crate::figures) fn reading(seen: &Diagnosed<'_>, course: &Course<'_, '_>) -> Reading {
    let law = seen.law;
    let out = outlying(seen, course.residuals);
    let mut parts = vec![match law.tests.get(course.test) {
        Some(test) => said(law, test),
        None => match course.rise {
            Some(rise) => format!("the trend goes by {} standard errors from the first to the last", signed(rise, 1)),
            None => format!("{} trials are too few for a trend", course.residuals.len()),
        },
    }];
    let steps = course.steps.and_then(|name| Some((name, made(law, name).filter(|t| t.reading.asks())?)));
    parts.extend(steps.map(|(name, test)| format!("{}: {}", words::test(name), said(law, test))));
    parts.push(out.seen);
    let judges: Vec<&str> = [Some(course.test), course.steps].into_iter().flatten().collect();
    let mut actions: Vec<String> = Vec::new();
    if let Some((_, trials)) = &out.action {
        // A single weld far off is no drift, and can hide one.
        let names = name_list(trials.iter().map(String::as_str));
        actions.push(if trials.is_empty() {
            "look at the record of the trials that stand out first".to_owned()
        } else {
            format!("look at the record of {names} first")
        });
    }
    actions.extend(asked(law, &judges));
    let action = if actions.is_empty() { quiet(seen, course) } else { actions.join("; ") };
    Reading::new(
        "points scattered about zero without slope, step or funnel, all within the dashed limits",
        parts.join("; "),
        action,
    )
}

/// What to do where nothing is asked for: a probability that looks small is put in its place.
fn quiet(seen: &Diagnosed<'_>, course: &Course<'_, '_>) -> String {
    let law = seen.law;
    match (law.tests.get(course.test), made(law, course.test)) {
        (Some(_), Some(test)) if !test.warns && test.p_value.is_some_and(|p| p < 0.05) => {
            format!(
                "nothing: a study has some 25 tests, and this one warns only where good trials would show as much in fewer than one of {} studies",
                significant(1.0 / WARNS_BELOW, 2)
            )
        }
        (Some(_), Some(_)) => "nothing".to_owned(),
        (Some(test), None) => format!("nothing by this figure; to have it tested, {}", test.reading.action),
        (None, _) => "nothing by this figure alone; the record holds no test of it".to_owned(),
    }
}

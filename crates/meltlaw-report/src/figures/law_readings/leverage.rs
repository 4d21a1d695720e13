//! Leverage against residual: who has most say, who disagrees, and whether anyone does both.

use meltlaw::laws::Reading;

use super::super::diagnosed::{Diagnosed, Point, shortened};
use super::super::trial_influence::moved;
use super::{hangs_on, name_list, nothing, outlying, weld_again};
use crate::numbers::{signed, significant};

/// Cook's distance above which a fit flags a trial.
const MOVES_THE_LAW: f64 = 1.0;
/// A trial with more say than this in its own fitted value alone fixes a coefficient.
const ALONE: f64 = 0.999;

/// The reading of trials with leverage and residual.
pub(in crate::figures) fn reading(seen: &Diagnosed<'_>, points: &[(&Point<'_>, f64, f64)]) -> Reading {
    let expected = "no trial both far to the right and far from zero; much say alone is no fault";
    let residuals: Vec<(&Point<'_>, f64)> = points.iter().map(|(p, _, t)| (*p, *t)).collect();
    let out = outlying(seen, &residuals);
    let mean = points.iter().map(|p| p.1).sum::<f64>() / points.len() as f64;
    let mut parts = Vec::new();
    let says = points.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    parts.extend(says.map(|(p, h, t)| {
        format!(
            "{} has most say: leverage {}, {} times the mean of {}; it lies {} standard errors off",
            shortened(p.trial(), 40),
            significant(*h, 2),
            significant(h / mean, 2),
            significant(mean, 2),
            signed(*t, 1)
        )
    }));
    let distance = |p: &Point<'_>| p.diagnostic.cooks_distance.filter(|d| d.is_finite());
    let pulls = points.iter().filter_map(|(p, ..)| Some((p.trial(), distance(p)?)));
    parts.extend(pulls.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(trial, d)| {
        let both = says.is_some_and(|(p, ..)| p.trial() == trial);
        let who = if both { "it also".to_owned() } else { shortened(trial, 40) };
        format!("{who} pulls most, Cook’s distance {}", significant(d, 2))
    }));
    parts.push(out.seen);
    let alone: Vec<&Point<'_>> =
        seen.points.iter().filter(|p| p.diagnostic.leverage.is_some_and(|h| h > ALONE)).collect();
    let missing = seen.points.len() - points.len();
    if missing > 0 {
        let reason = seen.points.iter().find_map(|p| p.diagnostic.reason.as_deref());
        let why = reason.map_or(String::new(), |r| format!(" ({r})"));
        parts.push(format!("{missing} of {} trials cannot be drawn{why}", seen.points.len()));
    }
    let mut actions: Vec<String> = Vec::new();
    let named = out.action.map_or_else(Vec::new, |(action, trials)| {
        actions.push(action);
        trials
    });
    // One coefficient can move by its error where the law as a whole does not: the figure of influence shows it.
    let (_, moved) = moved(seen.law);
    let one_coefficient = hangs_on(&moved);
    if !one_coefficient.is_empty() {
        let names = name_list(one_coefficient.iter().copied());
        parts.push(format!("leaving out {names} moves a coefficient by its error or more"));
    }
    let hangs: Vec<&str> = seen
        .points
        .iter()
        .filter(|p| distance(p).is_some_and(|d| d > MOVES_THE_LAW) || one_coefficient.contains(&p.trial()))
        .map(Point::trial)
        .filter(|trial| !named.iter().any(|n| n == trial))
        .collect();
    if !hangs.is_empty() {
        actions.push(weld_again(&hangs));
    }
    if !alone.is_empty() {
        let names = name_list(alone.iter().map(|p| p.trial()));
        actions.push(format!("weld another trial near {names}: one trial alone fixes a coefficient"));
    }
    let action = if actions.is_empty() { nothing(seen.law, &["outliers"]) } else { actions.join("; ") };
    Reading::new(expected, parts.join("; "), action)
}

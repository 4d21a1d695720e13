//! How many more trials would settle what is undecided.
//!
//! Trials like those welded so far, m of each wire, shrink a wire's variance to n/(n + m) and add m degrees. They settle
//! it where the band then lies inside the margin at every place, or outside at some, in four of five cases: with
//! 0.84 standard errors of room for the new estimate.

use super::spots::Spot;
use crate::statistics::{normal_quantile, student_t_quantile};

/// In so many cases the trials settle it.
const CHANCE: f64 = 0.8;
/// More are not worth counting.
const MOST_TRIALS: usize = 1000;

/// An answer, or why there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Settled {
    /// So many of each wire.
    By(usize),
    /// What the instruments do not share alone is too wide.
    NotByTrials,
    /// The difference lies too near the margin.
    TooNear,
}

/// The spots of one quantity of one wire; `wires` the degrees and numbers of trials of both.
pub(super) fn trials_to_settle(
    spots: &[Spot],
    critical: f64,
    degrees: [f64; 2],
    trials: [usize; 2],
    confidence: f64,
) -> Settled {
    let settled = |more: f64, calibration: bool| {
        let width = |spot: &Spot| {
            let shrunk = |i: usize| {
                if more.is_infinite() { 0.0 } else { spot.variances[i] * trials[i] as f64 / (trials[i] as f64 + more) }
            };
            let variance = shrunk(0) + shrunk(1) + if calibration { spot.calibration_variance } else { 0.0 };
            // Few degrees widen the band; with more trials it narrows as Student's quantile does.
            let quantile = |more: f64| student_t_quantile(0.5 + confidence / 2.0, welch(spot, degrees, more));
            let critical = critical * quantile(more) / quantile(0.0);
            let room = if more.is_infinite() { 0.0 } else { normal_quantile(CHANCE) };
            (critical + room) * variance.sqrt()
        };
        let inside = spots.iter().all(|s| {
            let (d, w) = (s.difference(), width(s));
            d - w >= s.limits[0] && d + w <= s.limits[1]
        });
        let outside = spots.iter().any(|s| {
            let (d, w) = (s.difference(), width(s));
            d - w > s.limits[1] || d + w < s.limits[0]
        });
        inside || outside
    };
    if !settled(f64::INFINITY, true) {
        return if settled(f64::INFINITY, false) { Settled::NotByTrials } else { Settled::TooNear };
    }
    let enough = |m: &usize| settled(*m as f64, true);
    if !enough(&MOST_TRIALS) {
        return Settled::TooNear;
    }
    // More trials never unsettle, so the first that settles is found by halving.
    let (mut low, mut high) = (0, MOST_TRIALS);
    while high - low > 1 {
        let middle = usize::midpoint(low, high);
        if enough(&middle) { high = middle } else { low = middle }
    }
    Settled::By(high)
}

/// Degrees of a difference with so many more trials, by Welch and Satterthwaite.
fn welch(spot: &Spot, degrees: [f64; 2], more: f64) -> f64 {
    if more.is_infinite() {
        return f64::INFINITY;
    }
    let total: f64 = spot.variances.iter().sum::<f64>() + spot.calibration_variance;
    let sum: f64 = spot.variances.iter().zip(degrees).map(|(v, d)| v * v / (d + more)).sum();
    if sum > 0.0 { total * total / sum } else { f64::INFINITY }
}

//! *Finds* single rows that stand far off all others, as a slipped decimal point makes them.
//!
//! *Why it matters*: one feed of 63.5 for 6.35 m/min bends a whole law and hides behind its own weight.
//!
//! *What to do*: compare the row with the weld's sheet; correct the cell, or set `use = no` with a note.
//!
//! *Example*: CTWD 180 mm among 15, 18 and 22 mm.
//!
//! Two looks. Burn-off as a straight line, w/Ī = α + β·L·I_rms²/Ī, by repeated medians (which up to
//! half the rows cannot bend): a row counts beyond 8 robust standard deviations *and* 10 %. Then
//! voltage, power, lengths and pulse current by themselves: a row counts where it is more than 5 times
//! off the median *and* beyond 4 robust standard deviations of the logarithms, so that wide columns
//! stay silent.

use super::needs::{Law, usable};
use super::rows::{cell, cell_saying, finding_if_any, median, number, robust_sd};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Mode, Trial, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "gross_outlier",
    about: "Single rows that stand far off all others, as a slipped decimal point makes them, found with medians that they cannot bend.",
    look,
};

const LEAST_ROWS: usize = 6;
const FAR_ROBUST_SD: f64 = 8.0;
const FAR_RELATIVE: f64 = 0.10;
/// Slopes per row: every row against at most this many others, evenly spread, so that thousands of
/// rows cost no more than their number.
const PARTNERS: usize = 300;
const COLUMN_FACTOR: f64 = 5.0;
const COLUMN_ROBUST_SD: f64 = 4.0;
const COLUMNS: [Column; 6] =
    [Column::VoltageMean, Column::PowerMean, Column::Ctwd, Column::Extension, Column::ArcLength, Column::PulseCurrent];

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let mut rows = off_burn_off(study, trials);
    rows.extend(COLUMNS.into_iter().flat_map(|column| off_column(trials, column)));
    finding_if_any(CHECK.name, Severity::Warning, rows, |concerned| {
        Reading::new(
            "rows near what all others say",
            format!("far off {concerned}"),
            "compare these rows with the weld's sheet (a slipped decimal point? another unit?); correct the cell, or set use = no and say why in note",
        )
    })
}

/// One row of the line w/Ī against L·I_rms²/Ī.
struct Point<'a> {
    trial: &'a Trial,
    feed_mm_s: f64,
    mean: f64,
    across: f64,
    up: f64,
}

fn point<'a>(study: &Study, trials: &Trials, trial: &'a Trial) -> Option<Point<'a>> {
    let feed_mm_s = trial.get(Column::WireFeed)? / 0.06;
    let mean = trial.get(Column::CurrentMean)?;
    let rms = match trial.get(Column::CurrentRms) {
        None if trial.mode == Mode::ConstantCurrent => mean,
        rms => rms?,
    };
    let extension = trials.geometry(trial, &study.bench)?.extension_mm;
    let point = Point { trial, feed_mm_s, mean, across: extension * rms * rms / mean, up: feed_mm_s / mean };
    (feed_mm_s > 0.0 && mean > 0.0 && point.across.is_finite()).then_some(point)
}

/// Slope by repeated medians, intercept as the median of what is left.
fn repeated_medians(points: &[Point<'_>]) -> (f64, f64) {
    let stride = points.len().div_ceil(PARTNERS);
    let slope_at = |i: usize| {
        let partners = (0..points.len()).skip(i % stride).step_by(stride).filter(|&j| j != i);
        let slopes: Vec<f64> = partners
            .map(|j| (points[j].up - points[i].up) / (points[j].across - points[i].across))
            .filter(|slope| slope.is_finite())
            .collect();
        median(&slopes)
    };
    let slopes: Vec<f64> = (0..points.len()).map(slope_at).filter(|slope| slope.is_finite()).collect();
    let slope = if slopes.is_empty() { 0.0 } else { median(&slopes) };
    (median(&points.iter().map(|p| p.up - slope * p.across).collect::<Vec<_>>()), slope)
}

fn off_burn_off(study: &Study, trials: &Trials) -> Vec<RowReference> {
    let points: Vec<Point<'_>> = usable(study, trials, Law::BurnOff).filter_map(|t| point(study, trials, t)).collect();
    if points.len() < LEAST_ROWS {
        return Vec::new();
    }
    let (alpha, beta) = repeated_medians(&points);
    let melted = |p: &Point<'_>| (alpha + beta * p.across) * p.mean;
    let off: Vec<f64> = points.iter().map(|p| melted(p) / p.feed_mm_s - 1.0).collect();
    let middle = median(&off);
    let limit = FAR_RELATIVE.max(FAR_ROBUST_SD * robust_sd(&off));
    // Judged against the larger of feed and melted feed: a feed ten times too high is 0.9 off one way
    // and 9 off the other.
    let far = |off: f64| (off - middle).abs().max((1.0 / (1.0 + off.max(-0.999_999)) - 1.0).abs()) > limit;
    let said = |p: &Point<'_>| {
        let found = format!(
            "{} m/min, the others' burn-off gives {} m/min",
            number(p.feed_mm_s * 0.06),
            number(melted(p) * 0.06)
        );
        cell_saying(trials, p.trial, Column::WireFeed, found)
    };
    points.iter().zip(&off).filter(|&(_, &off)| far(off)).map(|(p, _)| said(p)).collect()
}

fn off_column(trials: &Trials, column: Column) -> Vec<RowReference> {
    let positive = |t: &&Trial| t.get(column).is_some_and(|v| v > 0.0);
    let logs: Vec<(&Trial, f64)> =
        trials.used().filter(positive).filter_map(|t| Some((t, t.get(column)?.ln()))).collect();
    if logs.len() < LEAST_ROWS {
        return Vec::new();
    }
    let values: Vec<f64> = logs.iter().map(|l| l.1).collect();
    let (middle, limit) = (median(&values), COLUMN_FACTOR.ln().max(COLUMN_ROBUST_SD * robust_sd(&values)));
    logs.iter().filter(|l| (l.1 - middle).abs() > limit).map(|l| cell(trials, l.0, column)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{STEEL, changed, mapped, named, severities, steel_study, steel_trials, weld};

    #[test]
    fn a_slipped_decimal_point_is_named() {
        for (column, factor) in [
            (Column::WireFeed, 10.0),
            (Column::WireFeed, 0.1),
            (Column::CurrentMean, 10.0),
            (Column::CurrentRms, 0.1),
            (Column::Ctwd, 10.0),
            (Column::VoltageMean, 0.1),
        ] {
            let value = steel_trials().rows[5].get(column).unwrap_or(f64::NAN) * factor;
            let found = named(&CHECK, &steel_study(), &changed(steel_trials(), 5, column, value));
            assert!(found.iter().all(|t| t == "T06") && !found.is_empty(), "{column:?} {factor}: {found:?}");
        }
    }

    #[test]
    fn three_slips_do_not_hide_each_other() {
        let mut trials = steel_trials();
        for index in [2, 9, 17] {
            let feed = trials.rows[index].get(Column::WireFeed).unwrap_or(f64::NAN);
            trials.rows[index].set(Column::WireFeed, Some(feed / 10.0));
        }
        assert_eq!(named(&CHECK, &steel_study(), &trials), ["T03", "T10", "T18"]);
    }

    #[test]
    fn a_slipped_wire_of_six_per_cent_is_not_gross() {
        let feed = steel_trials().rows[5].get(Column::WireFeed).unwrap_or(f64::NAN);
        let trials = changed(steel_trials(), 5, Column::WireFeed, feed * 1.06);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }

    #[test]
    fn thousands_of_rows_take_no_more_than_their_number() {
        let trials = mapped(weld(&STEEL, 2000, 5), Column::RunOrder, |v| v);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

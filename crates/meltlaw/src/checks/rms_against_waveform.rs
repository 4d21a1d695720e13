//! *Finds* rows whose RMS current no trapezoid with the row's waveform can have.
//!
//! *Why it matters*: β rests on the RMS; an RMS from meter means or from another window bends it.
//!
//! *What to do*: compute the RMS from the samples of the window that gave the waveform.
//!
//! *Example*: 400/100 A, 2.5 ms at 80 Hz make at most 200 A RMS, the table says 230 A.
//!
//! The slopes are not in the table. A rectangle is the upper bound; the lower bound takes slopes of
//! 100 A/ms (slower than pulsed sources are, common practice) or the study's where they are slower, as
//! far as a trapezoid with them exists. The gain cancels.

use super::rows::{cell_saying, finding_if_any, number};
use super::waveform::{BesideWaveform, Parts};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "rms_against_waveform",
    about: "An RMS current that no trapezoid with the row's waveform can have, whatever its slopes, beyond 4 of the stated errors.",
    look,
};

/// Slope of the slowest edge allowed for.
const SLOWEST_A_PER_MS: f64 = 100.0;

/// Mean square of a trapezoid whose two edges take `slope_ms` each.
fn mean_square(background: f64, pulse: f64, time_ms: f64, frequency_hz: f64, slope_ms: f64) -> f64 {
    let step = pulse - background;
    background * background
        + (2.0 * background * step * time_ms + step * step * (time_ms - slope_ms / 3.0)) * frequency_hz / 1000.0
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let Some(beside) = BesideWaveform::new(study, trials, Column::CurrentRms) else { return Vec::new() };
    let slowest = SLOWEST_A_PER_MS.min(study.source.rise_a_per_ms).min(study.source.fall_a_per_ms).max(1.0);
    let rows = trials.used().filter_map(|trial| {
        let rms = trial.get(Column::CurrentRms).filter(|&v| v > 0.0)?;
        let (pulse, background) = (trial.get(Column::PulseCurrent)?, trial.get(Column::BackgroundCurrent)?);
        let time = trial.get(Column::PulseTime).filter(|&v| v > 0.0)?;
        let frequency = trial.get(Column::PulseFrequency).filter(|&v| v > 0.0)?;
        let room_ms = 1000.0 / frequency - time;
        if pulse <= background || room_ms <= 0.0 {
            return None;
        }
        let slope_ms = ((pulse - background) / slowest).min(time).min(room_ms);
        let rms_at = |slope_ms: f64| mean_square(background, pulse, time, frequency, slope_ms).max(0.0).sqrt();
        let (low, high) = (rms_at(slope_ms), rms_at(0.0));
        // d(I_rms) = d(I_rms²)/(2·I_rms); the square grows with time and frequency by the duty's part.
        let by_duty_a = (high * high - background * background) / (2.0 * high);
        let by_pulse = time * frequency / 1000.0 * pulse / high;
        let tolerance = beside.tolerance_a(trial, rms, &Parts { by_duty_a, by_pulse, by_background: 1.0 })?;
        let found = format!("{} A, the waveform makes {} to {} A", number(rms), number(low), number(high));
        (rms > high + tolerance || rms < low - tolerance).then(|| cell_saying(trials, trial, Column::CurrentRms, found))
    });
    finding_if_any(CHECK.name, Severity::Warning, rows.collect(), |concerned| {
        Reading::new(
            "an RMS current between that of slow and of upright edges, within 4 of the stated errors",
            format!("contradictory {concerned}"),
            "compute the RMS from the samples of the window that gave the waveform, or blank the cells that are not trusted",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, severities, steel_study, steel_trials};

    fn with_rms(rms_a: f64) -> Trials {
        // Rectangle: 100² + (2·100·300 + 300²)·0.2 = 40 000 A², 200 A. At 100 A/ms the edges would take
        // 3 ms, but a trapezoid of 2.5 ms has at most 2.5: 40 000 − 300²·2.5/3·0.08 = 34 000 A², 184.4 A.
        let mut trials = changed(steel_trials(), 0, Column::CurrentRms, rms_a);
        for (column, value) in [
            (Column::PulseCurrent, 400.0),
            (Column::BackgroundCurrent, 100.0),
            (Column::PulseTime, 2.5),
            (Column::PulseFrequency, 80.0),
        ] {
            trials.rows[0].set(column, Some(value));
        }
        trials
    }

    #[test]
    fn an_rms_above_the_rectangle_or_below_the_triangle_is_flagged() {
        for rms_a in [210.0, 175.0] {
            assert_eq!(severities(&CHECK, &steel_study(), &with_rms(rms_a)), [Severity::Warning]);
        }
    }

    #[test]
    fn slow_edges_are_not() {
        for rms_a in [186.0, 202.0] {
            assert!(severities(&CHECK, &steel_study(), &with_rms(rms_a)).is_empty());
        }
    }

    #[test]
    fn the_closed_form_is_the_published_one() {
        // 350/100 A, 2 ms, 100 Hz, 600 A/ms: I_rms 177.853716 A, derived beside the contract's equation.
        assert!((mean_square(100.0, 350.0, 2.0, 100.0, 250.0 / 600.0).sqrt() - 177.853_716).abs() < 1e-6);
    }
}

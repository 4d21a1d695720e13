//! What currents worked out from a waveform may differ by: the errors of the waveform's columns and how
//! coarsely each was written.

use super::magnitude::in_another_unit;
use super::rows::{CONTRADICTION_ERRORS, READING_FLOOR_RELATIVE, half_unit};
use crate::study::Study;
use crate::trials::{Column, Trial, Trials};

/// A current column beside the four columns of the waveform.
pub(super) struct BesideWaveform<'a> {
    study: &'a Study,
    column: Column,
    rounding_a: f64,
    rounding_ms: f64,
    rounding_hz: f64,
}

/// How much of a current comes with the pulse's share of the period, and what a change of either level does.
pub(super) struct Parts {
    /// Grows in proportion to pulse time and frequency, A.
    pub(super) by_duty_a: f64,
    /// Derivative by the pulse current.
    pub(super) by_pulse: f64,
    /// Derivative by the background current.
    pub(super) by_background: f64,
}

impl<'a> BesideWaveform<'a> {
    /// `None` where a whole column stands in another unit, which has a check of its own.
    pub(super) fn new(study: &'a Study, trials: &Trials, column: Column) -> Option<Self> {
        let columns =
            [column, Column::PulseCurrent, Column::BackgroundCurrent, Column::PulseTime, Column::PulseFrequency];
        if in_another_unit(study, trials, &columns) {
            return None;
        }
        let half = |column| half_unit(trials, column);
        Some(Self {
            study,
            column,
            rounding_a: half(column) + half(Column::PulseCurrent) + half(Column::BackgroundCurrent),
            rounding_ms: half(Column::PulseTime),
            rounding_hz: half(Column::PulseFrequency),
        })
    }

    /// Four of the stated errors and the rounding; not a number where a time or frequency is zero.
    pub(super) fn tolerance_a(&self, trial: &Trial, reading_a: f64, parts: &Parts) -> Option<f64> {
        let (time, frequency) = (trial.get(Column::PulseTime)?, trial.get(Column::PulseFrequency)?);
        let own = |column| trial.stated_se(column).unwrap_or(0.0);
        let time_se = trial.stated_se(Column::PulseTime).unwrap_or(self.study.bench.pulse_time_relative_se * time);
        let error = (parts.by_duty_a * time_se / time)
            .hypot(parts.by_duty_a * own(Column::PulseFrequency) / frequency)
            .hypot(own(self.column))
            .hypot(parts.by_pulse * own(Column::PulseCurrent))
            .hypot(parts.by_background * own(Column::BackgroundCurrent));
        let rounding = self.rounding_a
            + parts.by_duty_a.abs() * (self.rounding_ms / time + self.rounding_hz / frequency).abs()
            + READING_FLOOR_RELATIVE * reading_a.abs();
        Some(CONTRADICTION_ERRORS * error + rounding)
    }
}

//! Limits that a finished setting breaks.

use meltlaw_line::Limit;

use super::composed::Composed;
use crate::study::Study;

/// Settings put on a limit by arithmetic may miss it by rounding.
pub(super) const ROUNDING: f64 = 1e-9;

/// Limits of the source and the request that a finished setting breaks by more than `relative`.
pub(super) fn broken(study: &Study, composed: &Composed, mean_a: f64, relative: f64) -> Vec<Limit> {
    let wave = &composed.wave;
    let mut broken = Vec::new();
    let mut hold = |value: f64, range: Option<[f64; 2]>, low: Limit, high: Limit| {
        if let Some([least, most]) = range {
            if !(value >= least * (1.0 - relative)) {
                broken.push(low);
            } else if !(value <= most * (1.0 + relative)) {
                broken.push(high);
            }
        }
    };
    hold(
        composed.drop_diameter_mm / study.wire.diameter_mm,
        Some(study.line.drop_to_wire_limits),
        Limit::DropSmall,
        Limit::DropLarge,
    );
    hold(wave.pulse_frequency_hz, study.source.pulse_frequency_hz, Limit::FrequencyLow, Limit::FrequencyHigh);
    hold(wave.pulse_time_ms, study.source.pulse_time_ms, Limit::PulseTimeLow, Limit::PulseTimeHigh);
    hold(wave.duty(), study.source.pulse_duty, Limit::PulseDutyLow, Limit::PulseDutyHigh);
    hold(mean_a, study.source.current_a, Limit::CurrentLow, Limit::CurrentHigh);
    hold(wave.pulse_current_a, study.source.current_a, Limit::CurrentLow, Limit::CurrentHigh);
    let background = study.source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
    hold(
        wave.background_current_a,
        Some([background[0], background[1].min(wave.pulse_current_a)]),
        Limit::BackgroundLow,
        Limit::BackgroundHigh,
    );
    if !(wave.slope_slack_ms() >= -relative) {
        broken.push(Limit::Slopes);
    }
    broken.sort();
    broken.dedup();
    broken
}

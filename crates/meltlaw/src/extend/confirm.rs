//! The few welds that would confirm extended laws.

use meltlaw_line::{Waveform, drop_frequency_hz};

use super::ConfirmingWeld;
use super::carried::Carried;
use crate::compose::balancing_background_a;
use crate::record::LawsRecord;
use crate::statistics::{DrawStream, Purpose, interval_of};
use crate::study::Wire;

/// Slopes of the pulse where no source is known, A/ms.
const SLOPES: f64 = 600.0;
/// Drop diameter over wire diameter.
const DROP_TO_WIRE: f64 = 1.1;
/// Draws that the interval of the mean current is had from.
const DRAWS: usize = 500;
/// Places between the slowest and the fastest feed of the trials.
const PLACES: [(f64, &str); 3] = [
    (0.2, "slow: tells whether the arc's share of melting was carried rightly"),
    (0.5, "the middle: tells whether the wire melts as fast as the laws say"),
    (0.8, "fast: tells whether the extension's share of melting was carried rightly"),
];

/// Welds in the middle of the one-drop window at slow, middle and fast feeds; those that no background can balance are
/// left out.
pub(super) fn confirming(
    record: &LawsRecord,
    burn_off: &Carried,
    scatter_relative: f64,
    seed: u64,
) -> Vec<ConfirmingWeld> {
    let laws = &record.laws;
    let value = |law: &crate::laws::FittedLaw, name: &str| law.coefficients.get(name).and_then(|c| c.value);
    let (Some(n), Some(one), Some(more), Some(reference)) = (
        value(&laws.detachment, "exponent"),
        value(&laws.detachment, "one_drop_from_ms"),
        value(&laws.detachment, "more_drops_from_ms"),
        laws.detachment.reference_current_a,
    ) else {
        return Vec::new();
    };
    let log_current = laws.detachment.mean_log_pulse_current.unwrap_or(0.0);
    let pulse_current_a = round(reference * log_current.exp(), 5.0);
    let time = (one * more).sqrt() * (reference / pulse_current_a).powf(n);
    let pulse_time_ms = round(time, 0.05);
    let b = &burn_off.middle;
    let melts = |i: usize| {
        let at = |name: &str| laws.burn_off.range.get(name).map_or(0.0, |r| r[i]);
        b[0] * at("current_mean_a") + b[1] * at("extension_rms_squared_mm_a2")
    };
    let [slow, fast] = [melts(0), melts(1)];
    PLACES
        .iter()
        .enumerate()
        .filter_map(|(place, (share, why))| {
            let wire_feed_m_min = round(0.06 * (slow + share * (fast - slow)), 0.1);
            let weld = |b: &[f64]| {
                mean_current(
                    &record.wire,
                    b,
                    record.conditions.extension_mm,
                    wire_feed_m_min / 0.06,
                    pulse_current_a,
                    pulse_time_ms,
                )
            };
            let current_mean_a = weld(b)?;
            let mut drawn: Vec<f64> = burn_off
                .draws
                .iter()
                .take(DRAWS)
                .enumerate()
                .filter_map(|(i, draw)| {
                    let mut stream =
                        DrawStream::new(seed, Purpose::Extending, (1 << 52) + (place as u64) * DRAWS as u64 + i as u64);
                    Some(weld(draw)? * (1.0 + scatter_relative * stream.normal()))
                })
                .collect();
            let current_mean_a_interval = interval_of(&mut drawn, record.confidence);
            Some(ConfirmingWeld {
                wire_feed_m_min,
                ctwd_mm: record.conditions.ctwd_mm,
                arc_length_mm: record.conditions.arc_length_mm,
                pulse_current_a,
                pulse_time_ms,
                current_mean_a,
                current_mean_a_interval,
                why: (*why).to_owned(),
            })
        })
        .collect()
}

fn round(value: f64, step: f64) -> f64 {
    // Through thousandths, so that 0.1·57 reads 5.7.
    ((value / step).round() * step * 1000.0).round() / 1000.0
}

/// Mean current of the weld whose background balances the melting; `None` where no background does.
fn mean_current(
    wire: &Wire,
    burn_off: &[f64],
    extension_mm: f64,
    feed_mm_s: f64,
    current: f64,
    time: f64,
) -> Option<f64> {
    let mut wave = Waveform {
        pulse_current_a: current,
        pulse_time_ms: time,
        background_current_a: 100.0,
        pulse_frequency_hz: drop_frequency_hz(wire.section_mm2(), feed_mm_s, DROP_TO_WIRE * wire.diameter_mm),
        rise_a_per_ms: SLOPES,
        fall_a_per_ms: SLOPES,
    };
    let background = balancing_background_a(burn_off, extension_mm, feed_mm_s, &wave);
    wave.background_current_a = background;
    (background > 0.0 && background < current && wave.slope_slack_ms() >= 0.0).then(|| wave.moments().mean_a)
}

//! The few welds that would confirm extended laws.

use meltlaw_line::{Waveform, drop_frequency_hz};

use nalgebra::{DMatrix, DVector};

use super::bases::Base;
use super::traits::weld_scatter_relative;
use super::{ConfirmingWeld, ExtensionRequest, Target};
use crate::compose::balancing_background_a;
use crate::compose::draws::root;
use crate::compose::laws_at_work::{LeastSquaresAtWork, least_squares};
use crate::laws::{CalibrationEffect, FittedLaw, Laws};
use crate::record::LawsRecord;
use crate::statistics::{DrawStream, Purpose, interval_of, range};
use crate::study::Wire;

/// Slopes of the pulse where no source is known, A/ms.
const SLOPES: f64 = 600.0;
/// Drop diameter over wire diameter.
const DROP_TO_WIRE: f64 = 1.1;
/// Background over pulse current of welds in the middle, at most: above it there is hardly a pulse (assumed).
const HIGHEST_BACKGROUND: f64 = 0.5;
/// Steps in which the feeds that a pulse can melt are looked for.
const STEPS: usize = 100;
/// Draws that the interval of the mean current is had from.
const DRAWS: usize = 500;
/// Places between the slowest and the fastest feed of the trials.
const PLACES: [(f64, &str); 3] = [
    (0.2, "slow: tells whether the arc's share of melting was carried rightly"),
    (0.5, "the middle: tells whether the wire melts as fast as the laws say"),
    (0.8, "fast: tells whether the extension's share of melting was carried rightly"),
];

/// Welds in the middle of the one-drop window; those that no background can balance are left out.
pub(super) fn confirming(
    record: &LawsRecord,
    bases: &[Base<'_>],
    request: &ExtensionRequest,
) -> Option<Vec<ConfirmingWeld>> {
    let laws = &record.laws;
    let value = |law: &FittedLaw, name: &str| law.coefficients.get(name).and_then(|c| c.value);
    let [n, one, more] = ["exponent", "one_drop_from_ms", "more_drops_from_ms"].map(|c| value(&laws.detachment, c));
    let (n, one, more, reference) = (n?, one?, more?, laws.detachment.reference_current_a?);
    let log_current = laws.detachment.mean_log_pulse_current.unwrap_or(0.0);
    let pulse_current_a = round(reference * log_current.exp(), 5.0);
    let pulse_time_ms = round((one * more).sqrt() * (reference / pulse_current_a).powf(n), 0.05);
    let burn_off = least_squares(&laws.burn_off, "burn_off", &record.calibration)?;
    let known = Melting { root: root(&burn_off.covariance), law: burn_off, calibration: &record.calibration };
    let scatter = weld_scatter_relative(bases)?;
    let pulsed = |feed: f64| {
        let (extension_mm, b) = (record.conditions.extension_mm, &known.law.b);
        let pulse = [pulse_current_a, pulse_time_ms];
        mean_current(&record.wire, b, extension_mm, feed / 0.06, pulse, HIGHEST_BACKGROUND).is_some()
    };
    let welds = feeds(laws, &known.law.b, &request.target, &pulsed).into_iter().enumerate().filter_map(
        |(place, (feed, why))| {
            let wire_feed_m_min = round(feed, 0.1);
            let weld = |b: &[f64]| {
                let extension_mm = record.conditions.extension_mm;
                let pulse = [pulse_current_a, pulse_time_ms];
                mean_current(&record.wire, b, extension_mm, wire_feed_m_min / 0.06, pulse, 1.0)
            };
            let (current_mean_a, mean_square_a2) = weld(&known.law.b)?;
            let mut drawn: Vec<f64> = (0..DRAWS)
                .filter_map(|i| {
                    let index = (1 << 52) + (place * DRAWS + i) as u64;
                    let mut stream = DrawStream::new(request.seed, Purpose::Extending, index);
                    Some(weld(&known.draw(&mut stream))?.0 * (1.0 + scatter * stream.normal()))
                })
                .collect();
            Some(ConfirmingWeld {
                wire_feed_m_min,
                ctwd_mm: record.conditions.ctwd_mm,
                arc_length_mm: record.conditions.arc_length_mm,
                pulse_current_a,
                pulse_time_ms,
                current_mean_a,
                current_mean_a_interval: interval_of(&mut drawn, record.confidence),
                melting_rate_relative_se: known
                    .standard_error(current_mean_a, record.conditions.extension_mm * mean_square_a2)
                    / (wire_feed_m_min / 0.06),
                why,
            })
        },
    );
    Some(welds.collect())
}

/// The burn-off law with all that it leaves open.
struct Melting<'a> {
    law: LeastSquaresAtWork,
    root: DMatrix<f64>,
    calibration: &'a [CalibrationEffect],
}

impl Melting<'_> {
    /// Of α·Ī + β·L·I_rms², mm/s.
    fn standard_error(&self, mean_a: f64, extension_rms_squared: f64) -> f64 {
        let p = self.law.b.len();
        let g = DVector::from_column_slice(&[mean_a, extension_rms_squared, 1.0][..p]);
        let of_instruments = |effect: &Vec<f64>, term: &CalibrationEffect| {
            (g.iter().zip(effect).map(|(g, e)| g * e).sum::<f64>() * term.standard_uncertainty).powi(2)
        };
        let calibration: f64 = self.law.effects.iter().zip(self.calibration).map(|(e, c)| of_instruments(e, c)).sum();
        (g.dot(&(&self.law.covariance * &g)) + calibration).sqrt()
    }

    /// Coefficients as they may be, instruments among what errs.
    fn draw(&self, stream: &mut DrawStream) -> Vec<f64> {
        let p = self.law.b.len();
        let wide = stream.student_factor(self.law.degrees_of_freedom);
        let normal = DVector::from_fn(p, |_, _| stream.normal());
        let mut b: Vec<f64> =
            self.law.b.iter().zip((&self.root * normal).iter()).map(|(b, off)| b + wide * off).collect();
        for (effect, term) in self.law.effects.iter().zip(self.calibration) {
            let error = term.standard_uncertainty * stream.normal();
            b.iter_mut().zip(effect).for_each(|(b, by)| *b += by * error);
        }
        b
    }
}

/// Feeds to weld, m/min, and why: the ends that were asked for beyond the trials, else slow, middle and fast of those
/// that the pulse can melt.
fn feeds(laws: &Laws, b: &[f64], target: &Target, pulsed: &dyn Fn(f64) -> bool) -> Vec<(f64, String)> {
    let melts = |i: usize| {
        let at = |name: &str| laws.burn_off.range.get(name).map_or(0.0, |r| r[i]);
        0.06 * (b[0] * at("current_mean_a") + b[1] * at("extension_rms_squared_mm_a2"))
    };
    let [slow, fast] = super::reach::feeds(&laws.burn_off).unwrap_or([melts(0), melts(1)]);
    let mut found: Vec<(f64, String)> = Vec::new();
    if let Some([low, high]) = target.wire_feed_m_min {
        let beyond =
            |side: &str| format!("{side} that was asked for: tells whether the laws hold so far beyond the trials");
        found.extend((low < slow).then(|| (low, beyond("the slowest"))));
        found.extend((high > fast).then(|| (high, beyond("the fastest"))));
    }
    if found.is_empty() || target.ctwd_mm.is_some() {
        // Thin wires were fed faster than a thick one can be with these pulses.
        let along = (0..=STEPS).map(|i| slow + (fast - slow) * i as f64 / STEPS as f64);
        let melted = range(along.filter(|feed| pulsed(*feed)));
        let [slow, fast] = if melted[0].is_finite() { melted } else { [slow, fast] };
        let free = |(share, _): &&(f64, &str)| found.is_empty() || *share == 0.5;
        let inside: Vec<(f64, String)> =
            PLACES.iter().filter(free).map(|(share, why)| (slow + share * (fast - slow), (*why).to_owned())).collect();
        found.extend(inside);
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found
}

fn round(value: f64, step: f64) -> f64 {
    // Through thousandths, so that 0.1·57 reads 5.7.
    ((value / step).round() * step * 1000.0).round() / 1000.0
}

/// Mean current and mean square of the weld whose background balances the melting; `None` where no background up to a
/// share of the pulse current does.
fn mean_current(
    wire: &Wire,
    burn_off: &[f64],
    extension_mm: f64,
    feed_mm_s: f64,
    [current, time]: [f64; 2],
    most: f64,
) -> Option<(f64, f64)> {
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
    (background > 0.0 && background < most * current && wave.slope_slack_ms() >= 0.0)
        .then(|| wave.moments())
        .map(|m| (m.mean_a, m.mean_square_a2))
}

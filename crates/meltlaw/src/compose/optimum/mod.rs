//! Settings by an optimum along the whole line.
//!
//! At every feed pulse current, frequency and background are free, the pulse time keeps the melt balance
//! (`ground`). Between fences (source, slopes, drop size, one-drop floor, data) the optimum is where risk, drop
//! size, pulse current and bends together cost least (`chain`), found by Newton's method (`newton`). Feeds with a
//! setting are looked for first (`looking`, `course`); `deciding` works all of them out together.

mod band;
mod bound;
mod chain;
mod course;
mod deciding;
mod ground;
mod jet;
mod looking;
mod newton;
mod spline;

use meltlaw_line::{Limit, Waveform, drop_diameter_mm};

pub(super) use bound::Bound;
pub(super) use ground::{Ground, SMALLEST_PULSE};

use super::composed::Composed;
use super::process::balanced;
use crate::study::Pin;
use chain::Knot;
use ground::Process;
use looking::Place;

impl Ground<'_> {
    /// The setting of a place.
    fn settled(&self, feed_m_min: f64, pin: Option<&Pin>, place: &Place) -> Option<Composed> {
        let knot = Knot { feed_m_min, stretch: 0, pin: pin.copied() };
        Some(self.composed(&knot, &self.process(knot.w(), place.free)?, Vec::new()))
    }

    /// The setting on the straight way between two, in pulse current, frequency and background.
    fn between(&self, low: (f64, &Composed), high: (f64, &Composed), feed_m_min: f64) -> Option<Composed> {
        let t = (feed_m_min - low.0) / (high.0 - low.0);
        let (a, b) = (&low.1.wave, &high.1.wave);
        let mix = |a: f64, b: f64| a + t * (b - a);
        let wave = Waveform {
            pulse_current_a: mix(a.pulse_current_a, b.pulse_current_a),
            pulse_frequency_hz: mix(a.pulse_frequency_hz, b.pulse_frequency_hz),
            background_current_a: mix(a.background_current_a, b.background_current_a),
            ..*a
        };
        let knot = Knot { feed_m_min, stretch: 0, pin: None };
        let process = self.process(knot.w(), self.free(&wave))?;
        let mut prices: Vec<(Limit, f64)> = Vec::new();
        for (limit, price) in &low.1.prices {
            if let Some((_, other)) = high.1.prices.iter().find(|(l, _)| l == limit) {
                prices.push((*limit, mix(*price, *other)));
            }
        }
        Some(self.composed(&knot, &process, prices))
    }

    fn composed(&self, knot: &Knot, process: &Process, prices: Vec<(Limit, f64)>) -> Composed {
        let w = knot.w();
        let mut wave = self.wave(process);
        if let Some(pin) = &knot.pin {
            wave.pulse_current_a = pin.pulse_current_a.unwrap_or(wave.pulse_current_a);
            wave.pulse_time_ms = pin.pulse_time_ms.unwrap_or(wave.pulse_time_ms);
            wave.pulse_frequency_hz = pin.pulse_frequency_hz.unwrap_or(wave.pulse_frequency_hz);
            wave = balanced(self.burn_off(), self.extension_mm(), w, wave);
        }
        let x = (wave.pulse_current_a / self.reference_a()).ln();
        Composed {
            drop_diameter_mm: drop_diameter_mm(self.study.wire.section_mm2(), w, wave.pulse_frequency_hz),
            limits: prices.iter().map(|(limit, _)| *limit).collect(),
            off_preferred: self.exponent() * x + wave.pulse_time_ms.ln() - self.bound.best[1],
            prices,
            wave,
        }
    }
}

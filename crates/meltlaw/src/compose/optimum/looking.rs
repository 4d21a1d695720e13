//! Whether a feed has a setting at all: the place that keeps furthest from all fences, costs apart.

use meltlaw_line::{Limit, Waveform};

use super::chain::{Chain, Knot};
use super::ground::Ground;
use super::newton::{self, Stage};
use crate::compose::process::balancing_background_a;
use crate::study::Pin;

/// Walls that only look for a place inside all fences.
const LOOKING: [Stage; 3] =
    [Stage { wall: 1.0, parabola: 0.05 }, Stage { wall: 1.0, parabola: 1e-3 }, Stage { wall: 1.0, parabola: 1e-5 }];

/// A fence missed by less than this is kept: walls of the last look are that thin.
const KEPT: f64 = 1e-6;

/// Part of the largest miss from which a fence counts as missed.
const NOTABLY_MISSED: f64 = 0.2;

/// A place at a feed: inside all fences, or missing them by as little as can be.
#[derive(Debug, Clone, Copy)]
pub(in crate::compose) struct Place {
    pub(super) free: [f64; 3],
    /// The smallest distance from a fence, negative beyond it.
    pub(super) least: f64,
}

impl Place {
    pub(super) fn keeps_all(&self) -> bool {
        self.least >= -KEPT
    }
}

impl Ground<'_> {
    /// The place at a feed that keeps furthest from all fences; `None` where nothing melts what is fed.
    pub(super) fn look(&self, feed_m_min: f64, pin: Option<&Pin>) -> Option<Place> {
        let knots = [Knot { feed_m_min, stretch: 0, pin: pin.copied() }];
        let w = knots[0].w();
        let chain = Chain::new(self, &knots, false);
        let found = newton::minimise(&chain, self.start(w)?.to_vec(), &LOOKING);
        let free = [found[0], found[1], found[2]];
        let least = self.least_fence(w, free);
        (least > f64::NEG_INFINITY).then_some(Place { free, least })
    }

    /// Fences that a place misses.
    pub(super) fn missed(&self, feed_m_min: f64, place: &Place) -> Vec<Limit> {
        let w = feed_m_min / 0.06;
        let mut missed = Vec::new();
        if let Some(process) = self.process(w, place.free) {
            // What is missed by little stands in the way only together with what is missed by more.
            let notable = (NOTABLY_MISSED * place.least).min(-KEPT);
            self.fences(w, &process, |limit, c| {
                if !(c.value >= notable) {
                    missed.push(limit);
                }
            });
        }
        missed.sort();
        missed.dedup();
        missed
    }

    /// A first guess at a feed: the surest pulse, the target drop, what background then balances.
    fn start(&self, w: f64) -> Option<[f64; 3]> {
        let [x, s] = self.bound.best;
        let time = (s - self.exponent() * x).exp();
        let hz = self.target_log_frequency(w).exp().min(800.0 / time);
        let pulse = self.reference_a() * x.exp();
        let wave = Waveform {
            pulse_current_a: pulse,
            pulse_time_ms: time,
            background_current_a: 0.3 * pulse,
            pulse_frequency_hz: hz,
            rise_a_per_ms: self.study.source.rise_a_per_ms,
            fall_a_per_ms: self.study.source.fall_a_per_ms,
        };
        let balanced = balancing_background_a(self.burn_off(), self.extension_mm(), w, &wave);
        // Less background always leaves something for the pulses to melt.
        let highest = if balanced.is_finite() { balanced.clamp(0.02 * pulse, 0.8 * pulse) } else { 0.3 * pulse };
        (0..40)
            .map(|i| highest * 0.8_f64.powi(i))
            .map(|background| [x, hz.ln(), background / self.reference_a()])
            .find(|free| self.process(w, *free).is_some())
    }

    /// The least distance from a fence, negative beyond it; −∞ where nothing melts what is fed.
    pub(in crate::compose) fn least_fence(&self, w: f64, free: [f64; 3]) -> f64 {
        let mut least = f64::INFINITY;
        match self.process(w, free) {
            Some(process) => self.fences(w, &process, |_, c| least = least.min(c.value)),
            None => least = f64::NEG_INFINITY,
        }
        least
    }
}

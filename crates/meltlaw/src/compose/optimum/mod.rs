//! Settings by an optimum along the whole line.
//!
//! At every feed pulse current, frequency and background are free, the pulse time keeps the melt balance
//! (`ground`). Between fences (source, slopes, drop size, one-drop floor, data) the optimum is where risk, drop
//! size, pulse current and bends together cost least (`chain`), found by Newton's method (`newton`).

mod band;
mod bound;
mod chain;
mod course;
mod ground;
mod jet;
mod newton;
mod spline;

use meltlaw_line::{Limit, Waveform, drop_diameter_mm};

pub(super) use bound::Bound;
pub(super) use ground::{Ground, SMALLEST_PULSE};

use super::composed::Composed;
use super::process::{balancing_background_a, melting_mm_s};
use crate::study::Pin;
use chain::{Chain, Knot};
use ground::Process;
use newton::Stage;

/// Walls that only look for a place inside all fences.
const LOOKING: [Stage; 3] =
    [Stage { wall: 1.0, parabola: 0.05 }, Stage { wall: 1.0, parabola: 1e-3 }, Stage { wall: 1.0, parabola: 1e-5 }];

/// Walls between which the cost decides. At the last a setting leans against its fence to a hundred-millionth, and
/// only a cost of a thousand for each part in a thousand beyond would push it through.
const DECIDING: [Stage; 9] = {
    let mut stages = [Stage { wall: 1.0, parabola: 0.02 }; 9];
    let mut i = 1;
    while i < 9 {
        let wall = stages[i - 1].wall * 0.1;
        stages[i] = Stage { wall, parabola: wall * if i < 4 { 1e-2 } else { 1e-3 } };
        i += 1;
    }
    stages
};

/// For starts that are nearly there.
const NEARLY: &[Stage] = DECIDING.split_at(2).1;

/// A fence missed by less than this is kept: walls of the last look are that thin.
const KEPT: f64 = 1e-6;

/// The same of the decision: rounding.
const KEPT_IN_THE_END: f64 = 1e-9;

/// Distance below which a setting leans on its limit.
const LEANS: f64 = 1e-7;

/// Part of the largest miss from which a fence counts as missed.
const NOTABLY_MISSED: f64 = 0.2;

/// A place at a feed: inside all fences, or missing them by as little as can be.
#[derive(Debug, Clone, Copy)]
pub(in crate::compose) struct Place {
    free: [f64; 3],
    /// The smallest distance from a fence, negative beyond it.
    least: f64,
}

impl Place {
    fn keeps_all(&self) -> bool {
        self.least >= -KEPT
    }
}

impl Ground<'_> {
    /// The place at a feed that keeps furthest from all fences; `None` where nothing melts what is fed.
    fn look(&self, feed_m_min: f64, pin: Option<&Pin>) -> Option<Place> {
        let knots = [Knot { feed_m_min, stretch: 0, pin: pin.copied() }];
        let w = knots[0].w();
        let chain = Chain::new(self, &knots, false);
        let found = newton::minimise(&chain, self.start(w)?.to_vec(), &LOOKING);
        let free = [found[0], found[1], found[2]];
        let process = self.process(w, free)?;
        let mut least = f64::INFINITY;
        self.fences(w, &process, |_, c| least = least.min(c.value));
        Some(Place { free, least })
    }

    /// The least distance from a fence, for tests of what is said about settings elsewhere.
    #[cfg(test)]
    pub(in crate::compose) fn least_fence(&self, w: f64, free: [f64; 3]) -> f64 {
        let mut least = f64::INFINITY;
        match self.process(w, free) {
            Some(process) => self.fences(w, &process, |_, c| least = least.min(c.value)),
            None => least = f64::NEG_INFINITY,
        }
        least
    }

    /// Fences that a place misses.
    fn missed(&self, feed_m_min: f64, place: &Place) -> Vec<Limit> {
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

    /// The optimum along ascending feeds (feed, stretch that it belongs to, where to begin), each of which has a
    /// setting of its own. A feed that cannot have one together with the others, mostly the squeezed end of a
    /// stretch, is given up, the worst first; what stands in its way is told. Starts that are `nearly` there skip the
    /// first stages.
    fn optimum(
        &self,
        starts: &[(f64, usize, [f64; 3])],
        pins: &[Pin],
        nearly: bool,
    ) -> Vec<Result<Composed, Vec<Limit>>> {
        let pin = |feed: f64| pins.iter().find(|p| p.wire_feed_m_min == feed).copied();
        let mut found: Vec<Result<Composed, Vec<Limit>>> = vec![Err(Vec::new()); starts.len()];
        let mut left: Vec<usize> = (0..starts.len()).collect();
        let mut free: Vec<[f64; 3]> = starts.iter().map(|s| s.2).collect();
        let mut stages: &[Stage] = if nearly { NEARLY } else { &DECIDING };
        while !left.is_empty() {
            let knots: Vec<Knot> = left
                .iter()
                .map(|&i| Knot { feed_m_min: starts[i].0, stretch: starts[i].1, pin: pin(starts[i].0) })
                .collect();
            let chain = Chain::new(self, &knots, true);
            let solved = newton::minimise(&chain, left.iter().flat_map(|&i| free[i]).collect(), stages);
            let solved: Vec<[f64; 3]> = solved.chunks_exact(3).map(|u| [u[0], u[1], u[2]]).collect();
            let settled = self.leaning_on_limits(&knots, &solved);
            let Some((worst, limits)) = self.worst_conflict(&knots, &settled) else {
                // The walls tell what a limit costs, where they were leant on.
                let leaning: Vec<Option<Process>> =
                    knots.iter().zip(&solved).map(|(knot, free)| self.process(knot.w(), *free)).collect();
                let prices = chain.prices(DECIDING[DECIDING.len() - 1], &leaning);
                for (((&i, knot), process), prices) in left.iter().zip(&knots).zip(&settled).zip(prices) {
                    if let Some(process) = process {
                        found[i] = Ok(self.composed(knot, process, prices));
                    }
                }
                break;
            };
            for (&i, u) in left.iter().zip(&solved) {
                free[i] = *u;
            }
            found[left[worst]] = Err(limits);
            left.remove(worst);
            stages = NEARLY;
        }
        found
    }

    /// Settings that lean on a limit of their own put there exactly, and frequencies and backgrounds that are level up
    /// to rounding put level.
    fn leaning_on_limits(&self, knots: &[Knot], solved: &[[f64; 3]]) -> Vec<Option<Process>> {
        let mut last: Option<[f64; 3]> = None;
        knots
            .iter()
            .zip(solved)
            .map(|(knot, free)| {
                let mut on = *free;
                for (value, [low, high]) in on.iter_mut().zip(self.own_limits(knot.w())) {
                    if *value < low + LEANS {
                        *value = low;
                    } else if *value > high - LEANS {
                        *value = high;
                    }
                }
                if knot.pin.is_none() {
                    if let Some(last) = last {
                        for setting in [1, 2] {
                            if on[setting] < last[setting] && on[setting] > last[setting] - LEANS {
                                on[setting] = last[setting];
                            }
                        }
                    }
                    last = Some(on);
                }
                self.process(knot.w(), on)
            })
            .collect()
    }

    /// The knot that misses a fence by most, or falls by most below the one before it, with what stands in its way.
    fn worst_conflict(&self, knots: &[Knot], settled: &[Option<Process>]) -> Option<(usize, Vec<Limit>)> {
        let mut worst = (KEPT_IN_THE_END, None);
        let mut last: Option<usize> = None;
        for (i, (knot, process)) in knots.iter().zip(settled).enumerate() {
            if knot.pin.is_some() {
                continue;
            }
            let Some(process) = process else { return Some((i, vec![Limit::BackgroundLow])) };
            self.fences(knot.w(), process, |_, c| {
                if !(-c.value <= worst.0) {
                    worst = (-c.value, Some(i));
                }
            });
            if let Some((j, before)) = last.and_then(|j| Some((j, settled[j].as_ref()?))) {
                let fall = |setting: usize| before.free[setting].value - process.free[setting].value;
                let fall = fall(1).max(fall(2));
                if fall > worst.0 {
                    // Of the two the one nearer to the end of its stretch: it has the least choice.
                    worst = (fall, Some(if from_end(knots, j) <= from_end(knots, i) { j } else { i }));
                }
            }
            last = Some(i);
        }
        let at = worst.1?;
        let mut limits = Vec::new();
        if let Some(process) = &settled[at] {
            self.fences(knots[at].w(), process, |limit, c| {
                if c.value < chain::BINDS {
                    limits.push(limit);
                }
            });
        }
        if limits.is_empty() {
            limits.push(Limit::DropLarge);
        }
        limits.sort();
        limits.dedup();
        Some((at, limits))
    }

    fn composed(&self, knot: &Knot, process: &Process, prices: Vec<(Limit, f64)>) -> Composed {
        let w = knot.w();
        let mut wave = self.wave(process);
        if let Some(pin) = &knot.pin {
            wave.pulse_current_a = pin.pulse_current_a.unwrap_or(wave.pulse_current_a);
            wave.pulse_time_ms = pin.pulse_time_ms.unwrap_or(wave.pulse_time_ms);
            wave.pulse_frequency_hz = pin.pulse_frequency_hz.unwrap_or(wave.pulse_frequency_hz);
            wave = self.balanced(w, wave);
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

    /// The wave with the background that balances the melt; not a number where none does.
    fn balanced(&self, w: f64, wave: Waveform) -> Waveform {
        let background_current_a = balancing_background_a(self.burn_off(), self.extension_mm(), w, &wave);
        let wave = Waveform { background_current_a, ..wave };
        let m = wave.moments();
        let missed = (melting_mm_s(self.burn_off(), self.extension_mm(), m.mean_a, m.mean_square_a2) / w - 1.0).abs();
        if missed < 1e-9 { wave } else { Waveform { background_current_a: f64::NAN, ..wave } }
    }
}

/// Knots between this one and the nearer end of its stretch.
fn from_end(knots: &[Knot], at: usize) -> usize {
    let same = |k: &&Knot| k.stretch == knots[at].stretch;
    let before = knots[..at].iter().rev().take_while(same).count();
    before.min(knots[at + 1..].iter().take_while(same).count())
}

//! The composing rule: one setting at one wire feed.
//!
//! Melt balance, drop volume and the middle of the window leave one choice free, the pulse current: it
//! is taken where the thresholds are known best, exp(mean ln I_p) of the trials used for detachment.
//! At a limit the rule gives way in this order, each continuously in feed: drop size inside its limits,
//! then pulse current, then the position in the window down to the floor of the one-drop probability.
//! Each step asks whether a pulse leaves room for a frequency (see `room`).

use meltlaw_line::{Limit, Waveform, drop_diameter_mm, drop_frequency_hz};

use super::super::composed::Composed;
use super::super::laws_at_work::LawsAtWork;
use super::super::process::{balanced, balancing_frequency_hz};
use super::room::Room;
use super::search::{first_that_fits, on_limit};
use super::window::Window;
use crate::study::{Pin, Study};

/// What composing at one feed needs.
#[derive(Debug, Clone)]
pub(in crate::compose) struct Rule<'a> {
    pub(super) study: &'a Study,
    pub(super) laws: &'a LawsAtWork,
    /// Preferred ln(I_p/I₀).
    log_current: f64,
    /// ln(I_p/I₀) that source and data allow, with the limit at either end.
    log_current_range: [(f64, Limit); 2],
    /// Positions in the window at which the one-drop probability keeps its floor.
    window: Window,
}

/// Steps of the outward search on either side; each is followed by bisection.
const SEARCH_STEPS: usize = 16;

/// Steps of the search for a position; every one looks for the pulse current that leaves most room.
const POSITION_STEPS: usize = 8;

/// A setting that arithmetic puts on a limit up to this is put there exactly.
const SAME: f64 = 1e-12;

impl<'a> Rule<'a> {
    /// `log_pulse_current` is the mean of the trials used, `log_current_range` what source and data allow.
    pub(in crate::compose) fn new(
        study: &'a Study,
        laws: &'a LawsAtWork,
        log_pulse_current: f64,
        log_current_range: [(f64, Limit); 2],
        window: Window,
    ) -> Self {
        Self { study, laws, log_current: log_pulse_current, log_current_range, window }
    }

    /// The setting at a feed, or the limits that leave none.
    ///
    /// # Errors
    /// The limits that together leave no setting.
    pub(in crate::compose) fn compose(&self, wire_feed_m_min: f64, pin: Option<&Pin>) -> Result<Composed, Vec<Limit>> {
        let w = wire_feed_m_min / 0.06;
        if let Some(pin) = pin {
            return Ok(self.pinned(w, pin));
        }
        let middle = self.window.middle;
        if let Some(x) = self.nearest_current(w, middle) {
            return Ok(self.setting(w, x, middle));
        }
        let position = self.nearest_position(w).ok_or_else(|| self.why_none(w))?;
        let x = self.widest_current(w, position, f64::INFINITY).0;
        Ok(self.setting(w, x, position))
    }

    /// Pulse currents between which source, data and the pulse time's limits leave a choice at position
    /// `s`, with the limit at either end.
    fn currents(&self, s: f64) -> [(f64, Limit); 2] {
        let [mut low, mut high] = self.log_current_range;
        let n = self.laws.detachment.law.exponent;
        if let Some([shortest, longest]) = self.study.source.pulse_time_ms {
            // t_p = exp(s − n·x): a longer pulse means less current.
            let by_longest = (s - longest.ln()) / n;
            let by_shortest = (s - shortest.ln()) / n;
            if by_longest > low.0 {
                low = (by_longest, Limit::PulseTimeHigh);
            }
            if by_shortest < high.0 {
                high = (by_shortest, Limit::PulseTimeLow);
            }
        }
        [low, high]
    }

    /// The allowed pulse current nearest to the preferred one that leaves room for a frequency.
    ///
    /// The steps outwards may all miss the last bit of room, so the current that leaves most is a
    /// goal of its own: room is given up only when there is none.
    fn nearest_current(&self, w: f64, s: f64) -> Option<f64> {
        let [low, high] = self.currents(s);
        if low.0 > high.0 {
            return None;
        }
        let preferred = self.log_current.clamp(low.0, high.0);
        let fits = |x: f64| self.room(w, x, s).width() >= 0.0;
        if fits(preferred) {
            return Some(preferred);
        }
        let towards = |goal: f64| first_that_fits(preferred, goal, SEARCH_STEPS, fits);
        let (widest, width) = self.widest_current(w, s, f64::INFINITY);
        let found = [towards(low.0), towards(high.0), if width >= 0.0 { towards(widest) } else { None }];
        found.into_iter().flatten().min_by(|a, b| (a - preferred).abs().total_cmp(&(b - preferred).abs()))
    }

    /// The pulse current that leaves most room at position `s`, and that room; the first that is found
    /// to leave `enough`.
    fn widest_current(&self, w: f64, s: f64, enough: f64) -> (f64, f64) {
        let [low, high] = self.currents(s);
        if low.0 > high.0 {
            return (f64::midpoint(low.0, high.0), f64::NEG_INFINITY);
        }
        let width = |x: f64| self.room(w, x, s).width();
        let step = (high.0 - low.0) / SEARCH_STEPS as f64;
        let (mut best, mut most) = (low.0, width(low.0));
        for i in 1..=SEARCH_STEPS {
            if most >= enough {
                return (best, most);
            }
            let x = if i == SEARCH_STEPS { high.0 } else { low.0 + step * i as f64 };
            let found = width(x);
            if found > most {
                (best, most) = (x, found);
            }
        }
        // Golden section about the best of the steps: the room has one summit there.
        const RATIO: f64 = 0.618_033_988_749_894_9;
        let (mut a, mut b) = ((best - step).max(low.0), (best + step).min(high.0));
        let (mut c, mut d) = (b - RATIO * (b - a), a + RATIO * (b - a));
        let (mut at_c, mut at_d) = (width(c), width(d));
        for _ in 0..50 {
            if at_c.max(at_d) > most {
                (best, most) = if at_c >= at_d { (c, at_c) } else { (d, at_d) };
            }
            if most >= enough {
                break;
            }
            if at_c < at_d {
                (a, c, at_c) = (c, d, at_d);
                d = a + RATIO * (b - a);
                at_d = width(d);
            } else {
                (b, d, at_d) = (d, c, at_c);
                c = b - RATIO * (b - a);
                at_c = width(c);
            }
        }
        (best, most)
    }

    /// The position nearest to the middle of the window at which some pulse current leaves room.
    fn nearest_position(&self, w: f64) -> Option<f64> {
        let middle = self.window.middle;
        let towards =
            |end: f64| first_that_fits(middle, end, POSITION_STEPS, |s| self.widest_current(w, s, 0.0).1 >= 0.0);
        match (towards(self.window.low), towards(self.window.high)) {
            (Some(a), Some(b)) => Some(if middle - a <= b - middle { a } else { b }),
            (a, b) => a.or(b),
        }
    }

    pub(super) fn extension_mm(&self) -> f64 {
        self.study.bench.ctwd_mm - self.study.bench.arc_length_mm
    }

    /// The pulse at I₀·eˣ and position `s`, frequency and background open.
    pub(super) fn wave(&self, x: f64, s: f64) -> Waveform {
        let source = &self.study.source;
        Waveform {
            pulse_current_a: on_limit(self.laws.detachment.reference_current_a * x.exp(), source.current_a, SAME),
            pulse_time_ms: on_limit(self.laws.detachment.law.log_pulse_time(s, x).exp(), source.pulse_time_ms, SAME),
            background_current_a: 100.0,
            pulse_frequency_hz: 100.0,
            rise_a_per_ms: source.rise_a_per_ms,
            fall_a_per_ms: source.fall_a_per_ms,
        }
    }

    fn balanced(&self, w: f64, wave: Waveform) -> Waveform {
        balanced(&self.laws.burn_off.b, self.extension_mm(), w, wave)
    }

    /// The frequency of the target drop, or the end of the room nearest to it with the limit there.
    fn frequency(&self, w: f64, room: &Room, limits: &mut Vec<Limit>) -> f64 {
        let target = drop_frequency_hz(
            self.study.wire.section_mm2(),
            w,
            self.study.line.drop_to_wire_ratio * self.study.wire.diameter_mm,
        );
        let bound = if target < room.low.hz {
            room.low
        } else if target > room.high.hz {
            room.high
        } else {
            return target;
        };
        limits.push(bound.limit);
        bound.hz
    }

    fn setting(&self, w: f64, x: f64, s: f64) -> Composed {
        let room = self.room(w, x, s);
        let mut limits = Vec::new();
        let mut wave = self.wave(x, s);
        wave.pulse_frequency_hz = self.frequency(w, &room, &mut limits);
        let moved = (x - self.log_current).abs() > 1e-9;
        if moved {
            // The current moved because its own limits or the room at the preferred one left no choice.
            let [low, high] = self.currents(s);
            for (end, limit) in [low, high] {
                if (x - end).abs() < 1e-9 {
                    limits.push(limit);
                }
            }
            if room.width() < 1e-6 {
                limits.extend([room.low.limit, room.high.limit]);
            }
        }
        let off_middle = s - self.window.middle;
        if off_middle != 0.0 {
            if room.width() < 1e-6 {
                limits.extend([room.low.limit, room.high.limit]);
            }
            if (s - self.window.low).abs() < 1e-6 || (s - self.window.high).abs() < 1e-6 {
                limits.push(Limit::OneDropLow);
            }
        }
        let wave = self.closed(w, wave);
        limits.sort();
        limits.dedup();
        let drop_diameter_mm = drop_diameter_mm(self.study.wire.section_mm2(), w, wave.pulse_frequency_hz);
        Composed { drop_diameter_mm, wave, limits, prices: Vec::new(), off_preferred: off_middle }
    }

    /// The background that balances the melt; one that comes to lie on its limit up to rounding is put
    /// there exactly, and the frequency takes the rounding.
    fn closed(&self, w: f64, wave: Waveform) -> Waveform {
        let wave = self.balanced(w, wave);
        let limits = self.study.source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
        let background_current_a = on_limit(wave.background_current_a, Some(limits), 1e-10);
        if background_current_a == wave.background_current_a {
            return wave;
        }
        let wave = Waveform { background_current_a, ..wave };
        let pulse_frequency_hz = balancing_frequency_hz(&self.laws.burn_off.b, self.extension_mm(), w, &wave);
        Waveform { pulse_frequency_hz, ..wave }
    }

    /// The rule with an expert's values at this feed: what is not pinned follows the rule as far as the
    /// limits leave a choice of frequency; the background is always recomposed.
    fn pinned(&self, w: f64, pin: &Pin) -> Composed {
        let x = pin.pulse_current_a.map_or(self.log_current, |a| (a / self.laws.detachment.reference_current_a).ln());
        let s = pin.pulse_time_ms.map_or(self.window.middle, |ms| self.laws.detachment.law.s(x, ms.ln()));
        let mut composed = self.setting(w, x, s);
        composed.limits.clear();
        let wave = &mut composed.wave;
        wave.pulse_current_a = pin.pulse_current_a.unwrap_or(wave.pulse_current_a);
        wave.pulse_time_ms = pin.pulse_time_ms.unwrap_or(wave.pulse_time_ms);
        wave.pulse_frequency_hz = match pin.pulse_frequency_hz {
            Some(hz) => hz,
            None => self.frequency(w, &self.room(w, x, s), &mut composed.limits),
        };
        composed.wave = self.balanced(w, composed.wave);
        composed.drop_diameter_mm =
            drop_diameter_mm(self.study.wire.section_mm2(), w, composed.wave.pulse_frequency_hz);
        composed
    }

    /// The limits that together leave no setting at a feed.
    fn why_none(&self, w: f64) -> Vec<Limit> {
        let s = self.window.middle;
        let [low, high] = self.currents(s);
        if low.0 > high.0 {
            return vec![low.1, high.1];
        }
        let (x, _) = self.widest_current(w, s, f64::INFINITY);
        let room = self.room(w, x, s);
        let mut limits = vec![room.low.limit, room.high.limit];
        for (end, limit) in [low, high] {
            if (x - end).abs() < 1e-6 {
                limits.push(limit);
            }
        }
        limits.push(Limit::OneDropLow);
        limits.sort();
        limits.dedup();
        limits
    }
}

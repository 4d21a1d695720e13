//! The composing rule: one setting at one wire feed.
//!
//! Melt balance, drop volume and the middle of the window leave one choice free, the pulse current: it
//! is taken where the thresholds are known best, exp(mean ln I_p) of the trials used for detachment.
//! At a limit the rule gives way in this order, each continuously in feed: drop size inside its limits,
//! then pulse current, then the position in the window down to the floor of the one-drop probability.
//!
//! With pulse current and pulse time held, every limit is a bound on the frequency: more pulses mean
//! smaller drops, a lower background and a higher duty. So each step asks whether the highest lower
//! bound still lies below the lowest upper one.

use meltlaw_line::{Limit, Waveform, drop_diameter_mm, drop_frequency_hz};

use super::laws_at_work::LawsAtWork;
use super::process::{balancing_background_a, balancing_frequency_hz};
use super::window::Window;
use crate::study::{Pin, Study};

/// A composed setting.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Composed {
    /// The waveform, background in exact melt balance.
    pub(super) wave: Waveform,
    /// Drop diameter.
    pub(super) drop_diameter_mm: f64,
    /// Limits that bind.
    pub(super) limits: Vec<Limit>,
    /// Position in the window: s − middle, in units of s.
    pub(super) off_middle: f64,
}

/// What composing at one feed needs.
#[derive(Debug, Clone)]
pub(super) struct Rule<'a> {
    study: &'a Study,
    laws: &'a LawsAtWork,
    /// Preferred ln(I_p/I₀).
    log_current: f64,
    /// ln(I_p/I₀) that source and data allow, with the limit at either end.
    log_current_range: [(f64, Limit); 2],
    /// Positions in the window at which the one-drop probability keeps its floor.
    window: Window,
}

/// An end of the range of frequencies with the limit that makes it.
#[derive(Debug, Clone, Copy)]
struct Bound {
    hz: f64,
    limit: Limit,
}

/// The range of frequencies that all limits leave, possibly empty.
#[derive(Debug, Clone, Copy)]
struct Room {
    low: Bound,
    high: Bound,
}

impl Room {
    /// ln(high/low): negative where nothing is left.
    fn width(&self) -> f64 {
        (self.high.hz / self.low.hz).ln()
    }
}

/// Steps of the outward search on either side; each is followed by bisection.
const SEARCH_STEPS: usize = 16;

impl<'a> Rule<'a> {
    /// `log_pulse_current` is the mean of the trials used, `measured` their range.
    pub(super) fn new(
        study: &'a Study,
        laws: &'a LawsAtWork,
        log_pulse_current: f64,
        measured: [f64; 2],
        window: Window,
    ) -> Self {
        let widened = study.line.extended_by * (measured[1] - measured[0]);
        let reference = laws.detachment.reference_current_a;
        let source = study.source.current_a.unwrap_or([0.0, f64::INFINITY]).map(|a| (a / reference).ln());
        let low = if source[0] > measured[0] - widened {
            (source[0], Limit::CurrentLow)
        } else {
            (measured[0] - widened, Limit::DataLow)
        };
        let high = if source[1] < measured[1] + widened {
            (source[1], Limit::CurrentHigh)
        } else {
            (measured[1] + widened, Limit::DataHigh)
        };
        Self { study, laws, log_current: log_pulse_current, log_current_range: [low, high], window }
    }

    /// The setting at a feed, or the limits that leave none.
    ///
    /// # Errors
    /// The limits that together leave no setting.
    pub(super) fn compose(&self, wire_feed_m_min: f64, pin: Option<&Pin>) -> Result<Composed, Vec<Limit>> {
        let w = wire_feed_m_min / 0.06;
        if let Some(pin) = pin {
            return Ok(self.pinned(w, pin));
        }
        let middle = self.window.middle;
        if let Some(x) = self.nearest_current(w, middle) {
            return Ok(self.setting(w, x, middle));
        }
        let position = self.nearest_position(w).ok_or_else(|| self.why_none(w))?;
        let x = self.widest_current(w, position).0;
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
    fn nearest_current(&self, w: f64, s: f64) -> Option<f64> {
        let [low, high] = self.currents(s);
        if low.0 > high.0 {
            return None;
        }
        let preferred = self.log_current.clamp(low.0, high.0);
        if self.room(w, preferred, s).width() >= 0.0 {
            return Some(preferred);
        }
        let side = |end: f64| -> Option<f64> {
            let step = (end - preferred) / SEARCH_STEPS as f64;
            if step == 0.0 {
                return None;
            }
            let first = (1..=SEARCH_STEPS).find(|&i| self.room(w, preferred + step * i as f64, s).width() >= 0.0)?;
            let (mut outside, mut inside) = (preferred + step * (first - 1) as f64, preferred + step * first as f64);
            for _ in 0..50 {
                let middle = f64::midpoint(outside, inside);
                if self.room(w, middle, s).width() >= 0.0 { inside = middle } else { outside = middle }
            }
            Some(inside)
        };
        match (side(low.0), side(high.0)) {
            (Some(a), Some(b)) => Some(if (a - preferred).abs() <= (b - preferred).abs() { a } else { b }),
            (a, b) => a.or(b),
        }
    }

    /// The pulse current that leaves most room at position `s`, and that room.
    fn widest_current(&self, w: f64, s: f64) -> (f64, f64) {
        let [low, high] = self.currents(s);
        if low.0 > high.0 {
            return (f64::midpoint(low.0, high.0), f64::NEG_INFINITY);
        }
        let width = |x: f64| self.room(w, x, s).width();
        let step = (high.0 - low.0) / (2 * SEARCH_STEPS) as f64;
        let best = (0..=2 * SEARCH_STEPS)
            .map(|i| low.0 + step * i as f64)
            .max_by(|a, b| width(*a).total_cmp(&width(*b)))
            .unwrap_or(low.0);
        // Golden section about the best of the grid: the room has one summit there.
        let (mut a, mut b) = ((best - step).max(low.0), (best + step).min(high.0));
        let ratio = 0.618_033_988_749_894_9;
        for _ in 0..60 {
            let (c, d) = (b - ratio * (b - a), a + ratio * (b - a));
            if width(c) < width(d) { a = c } else { b = d }
        }
        let x = f64::midpoint(a, b);
        if width(x) >= width(best) { (x, width(x)) } else { (best, width(best)) }
    }

    /// The position nearest to the middle of the window at which some pulse current leaves room.
    fn nearest_position(&self, w: f64) -> Option<f64> {
        let middle = self.window.middle;
        let side = |end: f64| -> Option<f64> {
            if end == middle || self.widest_current(w, end).1 < 0.0 {
                return None;
            }
            let (mut outside, mut inside) = (middle, end);
            for _ in 0..40 {
                let at = f64::midpoint(outside, inside);
                if self.widest_current(w, at).1 >= 0.0 { inside = at } else { outside = at }
            }
            Some(inside)
        };
        match (side(self.window.low), side(self.window.high)) {
            (Some(a), Some(b)) => Some(if middle - a <= b - middle { a } else { b }),
            (a, b) => a.or(b),
        }
    }

    /// Frequencies that all limits leave at pulse current I₀·eˣ and position `s`.
    fn room(&self, w: f64, x: f64, s: f64) -> Room {
        let (study, section) = (self.study, self.study.wire.section_mm2());
        let d = study.wire.diameter_mm;
        let wave = self.wave(x, s);
        let [smallest, largest] = study.line.drop_to_wire_limits;
        let mut low = Bound { hz: drop_frequency_hz(section, w, largest * d), limit: Limit::DropLarge };
        let mut high = Bound { hz: drop_frequency_hz(section, w, smallest * d), limit: Limit::DropSmall };
        let mut raise = |hz: f64, limit: Limit| {
            if hz > low.hz {
                low = Bound { hz, limit };
            }
        };
        if let Some([slow, _]) = study.source.pulse_frequency_hz {
            raise(slow, Limit::FrequencyLow);
        }
        if let Some([small, _]) = study.source.duty {
            raise(1000.0 * small / wave.pulse_time_ms, Limit::DutyLow);
        }
        let [least, most] = study.source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
        let at_background = |background_current_a: f64| {
            balancing_frequency_hz(
                &self.laws.burn_off.b,
                self.extension_mm(),
                w,
                &Waveform { background_current_a, ..wave },
            )
        };
        let most = most.min(wave.pulse_current_a * (1.0 - 1e-9));
        raise(at_background(most), Limit::BackgroundHigh);
        let mut lower = |hz: f64, limit: Limit| {
            if hz < high.hz {
                high = Bound { hz, limit };
            }
        };
        if let Some([_, fast]) = study.source.pulse_frequency_hz {
            lower(fast, Limit::FrequencyHigh);
        }
        if let Some([_, large]) = study.source.duty {
            lower(1000.0 * large / wave.pulse_time_ms, Limit::DutyHigh);
        }
        lower(at_background(least), Limit::BackgroundLow);
        let ramps = 1.0 / wave.rise_a_per_ms + 1.0 / wave.fall_a_per_ms;
        // tp ≥ Δ(1/rise + 1/fall)/2 bounds the height, hence the background from below.
        let by_slopes = wave.pulse_current_a - 2.0 * wave.pulse_time_ms / ramps;
        if by_slopes > least {
            lower(at_background(by_slopes), Limit::Slopes);
        }
        let slack = |hz: f64| self.balanced(w, Waveform { pulse_frequency_hz: hz, ..wave }).slope_slack_ms();
        if high.hz > 0.0 && slack(high.hz) < 0.0 {
            let (mut inside, mut outside) = (low.hz.min(high.hz) * 0.2, high.hz);
            for _ in 0..50 {
                let middle = f64::midpoint(inside, outside);
                if slack(middle) >= 0.0 { inside = middle } else { outside = middle }
            }
            high = Bound { hz: inside, limit: Limit::Slopes };
        }
        if high.hz <= 0.0 {
            high.hz = 1e-6;
        }
        Room { low, high }
    }

    fn extension_mm(&self) -> f64 {
        self.study.bench.ctwd_mm - self.study.bench.arc_length_mm
    }

    /// The pulse at I₀·eˣ and position `s`, frequency and background open.
    fn wave(&self, x: f64, s: f64) -> Waveform {
        Waveform {
            pulse_current_a: self.laws.detachment.reference_current_a * x.exp(),
            pulse_time_ms: self.laws.detachment.law.log_pulse_time(s, x).exp(),
            background_current_a: 100.0,
            pulse_frequency_hz: 100.0,
            rise_a_per_ms: self.study.source.rise_a_per_ms,
            fall_a_per_ms: self.study.source.fall_a_per_ms,
        }
    }

    fn balanced(&self, w: f64, wave: Waveform) -> Waveform {
        let background_current_a = balancing_background_a(&self.laws.burn_off.b, self.extension_mm(), w, &wave);
        Waveform { background_current_a, ..wave }
    }

    fn setting(&self, w: f64, x: f64, s: f64) -> Composed {
        let room = self.room(w, x, s);
        let section = self.study.wire.section_mm2();
        let target = drop_frequency_hz(section, w, self.study.line.drop_to_wire_ratio * self.study.wire.diameter_mm);
        let mut limits = Vec::new();
        let mut wave = self.wave(x, s);
        wave.pulse_frequency_hz = target;
        let bound = if target < room.low.hz {
            Some(room.low)
        } else if target > room.high.hz {
            Some(room.high)
        } else {
            None
        };
        if let Some(bound) = bound {
            wave.pulse_frequency_hz = bound.hz;
            limits.push(bound.limit);
        }
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
        let wave = self.on_the_limit(self.balanced(w, wave));
        limits.sort();
        limits.dedup();
        Composed { drop_diameter_mm: drop_diameter_mm(section, w, wave.pulse_frequency_hz), wave, limits, off_middle }
    }

    /// A background that the balance puts on its limit up to rounding is put there exactly; the
    /// frequency then takes the rounding.
    fn on_the_limit(&self, wave: Waveform) -> Waveform {
        let Some(limits) = self.study.source.background_current_a else { return wave };
        for limit in limits {
            if (wave.background_current_a / limit - 1.0).abs() < 1e-9 {
                return Waveform { background_current_a: limit, ..wave };
            }
        }
        wave
    }

    /// The rule with an expert's values at this feed; the background is always recomposed.
    fn pinned(&self, w: f64, pin: &Pin) -> Composed {
        let x = pin.pulse_current_a.map_or(self.log_current, |a| (a / self.laws.detachment.reference_current_a).ln());
        let mut wave = self.wave(x, self.window.middle);
        if let Some(a) = pin.pulse_current_a {
            wave.pulse_current_a = a;
        }
        if let Some(ms) = pin.pulse_time_ms {
            wave.pulse_time_ms = ms;
        }
        let section = self.study.wire.section_mm2();
        let target = drop_frequency_hz(section, w, self.study.line.drop_to_wire_ratio * self.study.wire.diameter_mm);
        wave.pulse_frequency_hz = pin.pulse_frequency_hz.unwrap_or(target);
        let wave = self.balanced(w, wave);
        let s = self.laws.detachment.law.s(x, wave.pulse_time_ms.ln());
        Composed {
            drop_diameter_mm: drop_diameter_mm(section, w, wave.pulse_frequency_hz),
            limits: Vec::new(),
            off_middle: s - self.window.middle,
            wave,
        }
    }

    /// The limits that together leave no setting at a feed.
    fn why_none(&self, w: f64) -> Vec<Limit> {
        let s = self.window.middle;
        let [low, high] = self.currents(s);
        if low.0 > high.0 {
            return vec![low.1, high.1];
        }
        let (x, _) = self.widest_current(w, s);
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

/// Limits of the source and the request that a finished setting breaks: what no rule above may give.
pub(super) fn broken(study: &Study, composed: &Composed, mean_a: f64) -> Vec<Limit> {
    // Settings put on a limit by arithmetic may miss it by rounding.
    const ROUNDING: f64 = 1e-9;
    let wave = &composed.wave;
    let mut broken = Vec::new();
    let mut hold = |value: f64, range: Option<[f64; 2]>, low: Limit, high: Limit| {
        if let Some([least, most]) = range {
            if !(value >= least * (1.0 - ROUNDING)) {
                broken.push(low);
            } else if !(value <= most * (1.0 + ROUNDING)) {
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
    hold(wave.duty(), study.source.duty, Limit::DutyLow, Limit::DutyHigh);
    hold(mean_a, study.source.current_a, Limit::CurrentLow, Limit::CurrentHigh);
    hold(wave.pulse_current_a, study.source.current_a, Limit::CurrentLow, Limit::CurrentHigh);
    let background = study.source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
    hold(
        wave.background_current_a,
        Some([background[0], background[1].min(wave.pulse_current_a)]),
        Limit::BackgroundLow,
        Limit::BackgroundHigh,
    );
    if !(wave.slope_slack_ms() >= -ROUNDING) {
        broken.push(Limit::Slopes);
    }
    broken.sort();
    broken.dedup();
    broken
}

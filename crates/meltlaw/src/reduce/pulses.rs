//! Pulse by pulse: currents of both states, width at half height, slopes, period.
//!
//! A pulse begins where the current leaves the lower state for the upper one, past 35 and 65 per cent of the step, so that
//! noise makes no pulses. Its current is the median of the central half, the background's that of the central three
//! fifths of the pause. The width lies between the crossings of the height half-way between the two; where noise crosses
//! several times, the first and the last crossing are averaged, which moves neither edge.

use pulp::{Arch, Simd, WithSimd};

use super::drops::{Cycle, SignFinder, Signs};
use super::levels::{Levels, levels};
use super::middle::{Middle, mean};
use super::pictures::Folded;

/// Samples that tell the levels.
const LEARNING_S: f64 = 0.25;
/// Longer than this is no pulse cycle.
const LONGEST_CYCLE_S: f64 = 1.0;
/// What is kept before a cycle begins.
const MARGIN_S: f64 = 0.005;
/// Samples that are done are dropped when there are so many: each time moves the others.
const DROP_FROM: usize = 8192;
/// How fast the levels follow the pulses.
const FOLLOW: f64 = 0.1;

/// One pulse and the pause after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pulse {
    /// When the current rises, s after the first sample.
    pub(super) at_s: f64,
    pub(super) pulse_current_a: f64,
    pub(super) background_current_a: f64,
    pub(super) pulse_time_ms: f64,
    pub(super) period_ms: f64,
    /// NaN where the samples are too far apart to tell.
    pub(super) rise_a_per_ms: f64,
    pub(super) fall_a_per_ms: f64,
    /// Mean voltage in the central half of the pulse.
    pub(super) voltage_v: f64,
    /// By how much the voltage comes after the current, s; NaN where it hardly steps.
    pub(super) voltage_lag_s: f64,
    /// Fewest samples in a state.
    pub(super) samples: usize,
    /// What the voltage shows of drops, where it is looked for.
    pub(super) signs: Option<Signs>,
}

/// A change of state: the last sample of the old one, the first of the new one.
#[derive(Debug, Clone, Copy)]
struct Edge {
    before: usize,
    after: usize,
}

impl Edge {
    const fn middle(self) -> usize {
        usize::midpoint(self.before, self.after)
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    Unknown,
    Low,
    High,
}

/// Finds pulses in samples as they come.
#[derive(Debug)]
pub(super) struct Pulses {
    rate_hz: f64,
    current: Vec<f32>,
    voltage: Vec<f32>,
    /// Number of the first sample kept.
    origin: u64,
    scanned: usize,
    levels: Option<Levels>,
    state: State,
    rise: Option<Edge>,
    fall: Option<Edge>,
    background_before_a: Option<f64>,
    /// Medians of the lower and the upper state.
    floors: Middle,
    tops: Middle,
    /// Where drops are looked for.
    sign_finder: Option<SignFinder>,
}

impl Pulses {
    pub(super) fn new(rate_hz: f64, sign_finder: Option<SignFinder>) -> Self {
        Self {
            rate_hz,
            sign_finder,
            current: Vec::new(),
            voltage: Vec::new(),
            origin: 0,
            scanned: 0,
            levels: None,
            state: State::Unknown,
            rise: None,
            fall: None,
            background_before_a: None,
            floors: Middle::default(),
            tops: Middle::default(),
        }
    }

    /// Whether two states are known.
    pub(super) const fn pulsed(&self) -> bool {
        self.levels.is_some()
    }

    /// Samples are missing here.
    pub(super) fn interrupt(&mut self) {
        self.forget();
        self.background_before_a = None;
    }

    fn forget(&mut self) {
        (self.state, self.rise, self.fall, self.scanned) = (State::Unknown, None, None, 0);
        self.current.clear();
        self.voltage.clear();
    }

    fn samples(&self, seconds: f64) -> usize {
        (seconds * self.rate_hz).ceil() as usize
    }

    /// More samples, the first of them number `start`; whole cycles are added to `out`. `holes`: some are no numbers.
    pub(super) fn push(
        &mut self,
        start: u64,
        current: &[f32],
        voltage: &[f32],
        holes: bool,
        folded: Option<&mut Folded>,
        out: &mut Vec<Pulse>,
    ) {
        if self.current.is_empty() {
            self.origin = start;
        }
        self.current.extend_from_slice(current);
        self.voltage.extend_from_slice(voltage);
        if holes {
            // What is no number is held at what was before it, so that no edge hangs on it.
            let new = self.current.len() - current.len();
            for samples in [&mut self.current, &mut self.voltage] {
                let mut held = samples[..new].last().copied();
                for x in &mut samples[new..] {
                    if !x.is_finite() {
                        *x = held.unwrap_or(0.0);
                    }
                    held = Some(*x);
                }
            }
        }
        if self.levels.is_none() && self.current.len() >= self.samples(LEARNING_S).max(64) {
            self.learn();
        }
        if self.levels.is_some() {
            self.scan(folded, out);
            self.drop_what_is_done();
        }
    }

    /// What a log shorter than it takes to learn still holds.
    pub(super) fn finish(&mut self, folded: Option<&mut Folded>, out: &mut Vec<Pulse>) {
        if self.levels.is_none() {
            self.learn();
            self.scan(folded, out);
        }
    }

    fn learn(&mut self) {
        self.levels = levels(&self.current);
        if self.levels.is_none() {
            self.forget();
        }
    }

    fn scan(&mut self, mut folded: Option<&mut Folded>, out: &mut Vec<Pulse>) {
        let Some(mut now) = self.levels else { return };
        loop {
            let (low, high) = (now.at(0.35), now.at(0.65));
            let ahead = &self.current[self.scanned..];
            let found = match self.state {
                State::Unknown => ahead.iter().position(|x| *x < low || *x > high),
                State::Low => first(ahead, |x| x > high),
                State::High => first(ahead, |x| x < low),
            };
            let Some(found) = found else {
                self.scanned = self.current.len();
                break;
            };
            let after = self.scanned + found;
            self.scanned = after;
            match self.state {
                State::Unknown => {
                    self.state = if self.current[after] < low { State::Low } else { State::High };
                }
                State::High => {
                    let before = self.current[..after].iter().rposition(|x| *x > high).unwrap_or(after);
                    self.fall = self.rise.map(|_| Edge { before, after });
                    self.state = State::Low;
                }
                State::Low => {
                    let before = self.current[..after].iter().rposition(|x| *x < low).unwrap_or(after);
                    let edge = Edge { before, after };
                    // Samples that leap across both states at once leave no pulse or no pause to measure.
                    if let (Some(rise), Some(fall)) = (self.rise, self.fall)
                        && rise.middle() < fall.middle()
                        && fall.middle() < edge.middle()
                    {
                        let pulse = self.cycle(rise, fall, edge);
                        for (level, seen) in
                            [(&mut now.low, pulse.background_current_a), (&mut now.high, pulse.pulse_current_a)]
                        {
                            *level += FOLLOW * (seen - *level);
                        }
                        self.background_before_a = Some(pulse.background_current_a);
                        if let Some(folded) = &mut folded {
                            let whole = rise.before..edge.after;
                            let rises = pulse.at_s * self.rate_hz - self.origin as f64 - whole.start as f64;
                            let levels = [pulse.background_current_a, pulse.pulse_current_a];
                            let (i, u) = (&self.current[whole.clone()], &self.voltage[whole]);
                            folded.period(rises, levels, pulse.voltage_v, i, u);
                        }
                        out.push(pulse);
                        if !(now.step() > 0.0) {
                            // Levels that crossed are none: one sample would be beyond both for ever.
                            self.levels = None;
                            self.forget();
                            return;
                        }
                    }
                    (self.rise, self.fall, self.state) = (Some(edge), None, State::High);
                }
            }
        }
        self.levels = Some(now);
    }

    fn drop_what_is_done(&mut self) {
        let needed = self.rise.map_or(self.scanned, |edge| edge.before);
        let done = needed.saturating_sub(self.samples(MARGIN_S));
        if self.current.len() - done > self.samples(LONGEST_CYCLE_S) {
            // No pulse for so long: the levels are looked for anew.
            self.levels = None;
            self.forget();
            return;
        }
        if done < DROP_FROM {
            return;
        }
        self.current.drain(..done);
        self.voltage.drain(..done);
        self.origin += done as u64;
        self.scanned -= done;
        for edge in [&mut self.rise, &mut self.fall].into_iter().flatten() {
            edge.before -= done;
            edge.after -= done;
        }
    }

    fn cycle(&mut self, rise: Edge, fall: Edge, next: Edge) -> Pulse {
        let (r, f, n) = (rise.middle(), fall.middle(), next.middle());
        let (pulse, pause) = (f - r, n - f);
        let top = r + pulse / 4..(f - pulse / 4).max(r + pulse / 4 + 1);
        let floor = f + pause / 5..(n - pause / 5).max(f + pause / 5 + 1);
        let pulse_current_a = self.tops.of(&self.current[top.clone()]);
        let background_current_a = self.floors.of(&self.current[floor.clone()]);
        let before = f64::midpoint(self.background_before_a.unwrap_or(background_current_a), background_current_a);
        let step = pulse_current_a - before;
        let x = &self.current;
        let at = |edge: Edge, share: f64, rising: bool| {
            let level = |share: f64| before + share * step;
            crossing(x, edge, [level(share - 0.15), level(share), level(share + 0.15)], rising)
        };
        let rises = at(rise, 0.5, true);
        let width = at(fall, 0.5, false) - rises;
        let period = at(next, 0.5, true) - rises;
        let slope = |edge: Edge, rising: bool| {
            let lasts = (at(edge, 0.8, rising) - at(edge, 0.2, rising)).abs();
            // Over one sample and a half the samples, not the current, say how steep it is.
            if lasts > 1.5 { 0.6 * step / lasts * self.rate_hz / 1000.0 } else { f64::NAN }
        };
        let (voltage_v, low_v) = (mean(&self.voltage[top.clone()]), mean(&self.voltage[floor.clone()]));
        let reach = (pulse / 4).min(pause / 4).max(1);
        let lag = |edge: usize| {
            let around = edge.saturating_sub(reach)..(edge + reach).min(self.voltage.len());
            // How much of the stretch lies in the upper state; the difference is when they change.
            let share = |x: &[f32], low: f64, high: f64| (mean(x) - low) / (high - low);
            let of_current = share(&self.current[around.clone()], background_current_a, pulse_current_a);
            let of_voltage = share(&self.voltage[around.clone()], low_v, voltage_v);
            (of_current - of_voltage) * around.len() as f64 / self.rate_hz
        };
        let steps = voltage_v - low_v > 2.0;
        let (i, u) = (&self.current, &self.voltage);
        let signs = self.sign_finder.as_mut().and_then(|finder| {
            let per_ampere = (voltage_v - low_v) / (pulse_current_a - background_current_a);
            // From the 35 and 65 per cent that an edge is told by to its ends it is as far again, and a little.
            let wide = |edge: Edge| (edge.after - edge.before) * 5 / 4 + 2;
            finder.find(Cycle {
                current: i,
                voltage: u,
                line: [low_v - per_ampere * background_current_a, per_ampere],
                plateau: [r + pulse / 2, fall.before.saturating_sub(wide(fall))],
                pause: [fall.after + wide(fall), next.before.saturating_sub(wide(next))],
            })
        });
        Pulse {
            at_s: (self.origin as f64 + rises) / self.rate_hz,
            pulse_current_a,
            background_current_a,
            pulse_time_ms: width / self.rate_hz * 1000.0,
            period_ms: period / self.rate_hz * 1000.0,
            rise_a_per_ms: slope(rise, true),
            fall_a_per_ms: slope(fall, false),
            voltage_v,
            voltage_lag_s: if steps { f64::midpoint(lag(r), -lag(f)) } else { f64::NAN },
            samples: top.len().min(floor.len()),
            signs,
        }
    }
}

/// Where the samples first do something; looks at many at once.
fn first(samples: &[f32], does: impl Fn(f32) -> bool) -> Option<usize> {
    Arch::new().dispatch(First(samples, does))
}

struct First<'a, F>(&'a [f32], F);

impl<F: Fn(f32) -> bool> WithSimd for First<'_, F> {
    type Output = Option<usize>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> Option<usize> {
        const STRIDE: usize = 64;
        let Self(samples, does) = self;
        let (pieces, rest) = samples.as_chunks::<STRIDE>();
        for (k, piece) in pieces.iter().enumerate() {
            let mut any = false;
            for x in piece {
                any |= does(*x);
            }
            if any {
                return piece.iter().position(|x| does(*x)).map(|at| k * STRIDE + at);
            }
        }
        rest.iter().position(|x| does(*x)).map(|at| samples.len() - rest.len() + at)
    }
}

/// When the samples cross the middle one of three levels near an edge, in samples: the mean of the first and the last
/// crossing between the two others, beyond which noise no longer crosses it.
fn crossing(x: &[f32], edge: Edge, levels: [f64; 3], rising: bool) -> f64 {
    // The least single that is not less than a level: samples compare with it as they do with the level.
    let [below, level, above] = levels.map(|level| {
        let single = level as f32;
        if f64::from(single) < level { single.next_up() } else { single }
    });
    let (near, far) = if rising { (below, above) } else { (above, below) };
    let is_beyond = |x: f32, level: f32| (x >= level) == rising;
    let a = x[1..=edge.before].iter().rposition(|x| !is_beyond(*x, near)).map_or(0, |k| k + 1);
    let b = x[edge.after..].iter().position(|x| is_beyond(*x, far)).map_or(x.len() - 1, |k| edge.after + k);
    let between = |k: usize| {
        let (y, z) = (f64::from(x[k]), f64::from(x[k + 1]));
        let share = (levels[1] - y) / (z - y);
        k as f64 + if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.5 }
    };
    // Chosen, not branched on: where a crossing lies cannot be foretold.
    let (mut first, mut last) = (None, None);
    let mut was = is_beyond(x[a], level);
    for (k, sample) in x[a + 1..=b].iter().enumerate() {
        let is = is_beyond(*sample, level);
        let here = if is && !was { Some(a + k) } else { None };
        (first, last, was) = (first.or(here), here.or(last), is);
    }
    match (first, last) {
        (Some(first), Some(last)) => f64::midpoint(between(first), between(last)),
        _ => f64::midpoint(a as f64, b as f64),
    }
}

//! Pulses that detach one drop: for a pulse current the pulse times whose lower bound keeps the floor and whose s
//! the trials reach.

use meltlaw_line::Limit;

use super::super::optimum::Ground;
use super::fences::tighten;
use super::runs::{even, runs};
use super::{End, Range};

/// Pulse currents at which windows are worked out in full.
const CURRENTS: usize = 33;

/// Positions at which the bound is asked first.
const POSITIONS: usize = 49;

/// Ends of windows, in s.
const TOLERANCE: f64 = 1e-9;

/// Windows of s by ln(I_p/I₀), the same at all feeds.
pub(super) struct Windows<'a> {
    ground: &'a Ground<'a>,
    pub(super) currents: Range,
    /// Positions looked at.
    reach: Range,
    known: Vec<(f64, Vec<Range>)>,
}

impl<'a> Windows<'a> {
    pub(super) fn new(ground: &'a Ground<'a>) -> Self {
        let [low, high] = ground.bound.positions();
        let mut reach = [(low, Limit::OneDropLow), (high, Limit::OneDropLow)];
        tighten(&mut reach, ground.reach[2], [Limit::DataLow, Limit::DataHigh]);
        let mut windows = Self { ground, currents: ground.currents, reach, known: Vec::new() };
        let [low, high] = ground.currents.map(|c| c.0);
        if low <= high && (high - low).is_finite() {
            windows.known = even([low, high], CURRENTS, None).into_iter().map(|x| (x, windows.in_full(x))).collect();
        }
        windows
    }

    /// How far the bound's logit lies above the floor's, and its slope in s.
    fn above_floor(&self, x: f64, s: f64) -> [f64; 2] {
        let [value, slope] = self.ground.bound.logit_and_slope(x, s);
        [value - self.ground.floor, slope]
    }

    fn in_full(&self, x: f64) -> Vec<Range> {
        let [low, high] = self.reach;
        if !(low.0 < high.0) {
            return Vec::new();
        }
        let points = even([low.0, high.0], POSITIONS, Some(self.ground.bound.best[1]));
        let named = |s: f64, end: End| if s == end.0 { end } else { (s, Limit::OneDropLow) };
        runs(&points, TOLERANCE, |s| self.above_floor(x, s)[0] + 1e-6)
            .into_iter()
            .map(|[a, b]| [named(a, low), named(b, high)])
            .collect()
    }

    /// Windows of s at a pulse current: between two that are known by Newton from the straight way between.
    fn positions(&self, x: f64) -> Vec<Range> {
        let after = self.known.partition_point(|(known, _)| *known < x);
        let (Some((b, above)), Some((a, below))) =
            (self.known.get(after), after.checked_sub(1).and_then(|i| self.known.get(i)))
        else {
            return self
                .known
                .get(after)
                .filter(|(known, _)| *known == x)
                .map_or_else(|| self.in_full(x), |k| k.1.clone());
        };
        if above.len() != below.len() {
            return self.in_full(x);
        }
        let t = (x - a) / (b - a);
        let mut found = Vec::with_capacity(above.len());
        for (p, q) in below.iter().zip(above) {
            let ends = [0, 1].map(|i| self.polished(x, p[i], q[i], t));
            let [Some(low), Some(high)] = ends else { return self.in_full(x) };
            found.push([low, high]);
        }
        found
    }

    fn polished(&self, x: f64, below: End, above: End, t: f64) -> Option<End> {
        if below.1 != above.1 {
            return None;
        }
        let mut s = below.0 + t * (above.0 - below.0);
        if below.1 != Limit::OneDropLow {
            return Some((s, below.1));
        }
        for _ in 0..4 {
            let [value, slope] = self.above_floor(x, s);
            let step = (value + 1e-6) / slope;
            if !(step.abs() < 0.1) {
                return None;
            }
            s -= step;
            if step.abs() < TOLERANCE {
                return Some((s, below.1));
            }
        }
        None
    }

    /// Pulse times in ms that detach one drop and that the source has.
    pub(super) fn times(&self, x: f64) -> Vec<Range> {
        let exponent = self.ground.exponent();
        let source = self.ground.study.source.pulse_time_ms;
        self.positions(x)
            .into_iter()
            .filter_map(|window| {
                let mut times = window.map(|(s, limit)| ((s - exponent * x).exp(), limit));
                tighten(&mut times, source, [Limit::PulseTimeLow, Limit::PulseTimeHigh]);
                (times[0].0 <= times[1].0 * (1.0 + 2e-6)).then_some(times)
            })
            .collect()
    }
}

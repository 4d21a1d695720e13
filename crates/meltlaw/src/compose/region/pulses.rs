//! Pulse times by pulse current for which some frequency and background keep all fences.

use meltlaw_line::Limit;

use super::fences::Setting;
use super::runs::{even, runs};
use super::shrink::{Room, shrink};
use super::{Range, Region};

/// Pulse currents shown.
const SHOWN: usize = 21;

/// Pulse currents looked at for the ends.
const LOOKED_AT: usize = 17;

/// Pulse times looked at in a window.
const TIMES: usize = 9;

/// Ends, in logarithms: a tenth of what is promised.
pub(super) const TOLERANCE: f64 = 1e-4;

/// One stretch and what ends it.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) limits: [Vec<Limit>; 2],
}

impl Region<'_> {
    pub(super) fn pulse_a(&self, x: f64) -> f64 {
        self.reference_a * x.exp()
    }

    /// Backgrounds that a pulse leaves, their frequency from the melt balance.
    pub(super) fn room(&self, x: f64, time_ms: f64, window: &Range) -> Room {
        self.room_of(x, window, |pulse_a, background_a| self.fences.with_background(pulse_a, time_ms, background_a))
    }

    /// Backgrounds that the fences leave at a pulse current, the rest of the setting as stated.
    pub(super) fn room_of(&self, x: f64, window: &Range, setting: impl Fn(f64, f64) -> Setting) -> Room {
        let pulse_a = self.pulse_a(x);
        let fences = &self.fences;
        shrink(
            &fences.backgrounds(pulse_a),
            pulse_a,
            |j| fences.limit(j, window),
            |background_a| fences.margins(&setting(pulse_a, background_a), window),
        )
    }

    /// Logarithms of pulse times to look at: evenly over a window, the chosen one at its own current.
    fn log_times(&self, x: f64, window: &Range) -> Vec<f64> {
        let chosen = ((x - self.chosen.log_current).abs() < 1e-12).then_some(self.chosen.log_time);
        even(window.map(|t| t.0.ln()), TIMES, chosen)
    }

    /// The widest room at a pulse current.
    fn widest(&self, x: f64) -> f64 {
        let mut most = -1.0;
        for window in self.windows.times(x) {
            for time in self.log_times(x, &window) {
                most = self.room(x, time.exp(), &window).width.max(most);
            }
        }
        most
    }

    /// Pulse times that do at a pulse current.
    pub(super) fn times(&self, x: f64) -> Vec<Piece> {
        let mut pieces = Vec::new();
        for window in self.windows.times(x) {
            let points = self.log_times(x, &window);
            let width = |time: f64| self.room(x, time.exp(), &window).width;
            for ends in runs(&points, TOLERANCE, width) {
                let limits = [0, 1].map(|i| {
                    let edge = if i == 0 { points[0] } else { points[points.len() - 1] };
                    if ends[i] == edge {
                        vec![window[i].1]
                    } else {
                        self.room(x, ends[i].exp(), &window).limits.to_vec()
                    }
                });
                pieces.push(Piece { low: ends[0].exp(), high: ends[1].exp(), limits });
            }
        }
        pieces
    }

    /// Pulse times by pulse current in A, and the stretches of ln(I_p/I₀) in which there are any.
    pub(super) fn times_by_current(&self) -> (Vec<(f64, Piece)>, Vec<[f64; 2]>) {
        let [low, high] = self.currents.map(|c| c.0);
        let chosen = Some(self.chosen.log_current);
        if !(low <= high && (high - low).is_finite()) {
            return (Vec::new(), Vec::new());
        }
        let found = runs(&even([low, high], LOOKED_AT, chosen), TOLERANCE, |x| self.widest(x));
        let mut pieces = Vec::new();
        for stretch in &found {
            for x in even(*stretch, SHOWN, chosen) {
                pieces.extend(self.times(x).into_iter().map(|piece| (self.pulse_a(x), piece)));
            }
        }
        (pieces, found)
    }
}

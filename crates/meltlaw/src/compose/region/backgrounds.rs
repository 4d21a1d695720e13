//! Backgrounds by frequency for which some pulse melts what is fed and keeps all fences.

use meltlaw_line::Limit;

use super::pulses::{Piece, TOLERANCE};
use super::runs::{even, highest, runs};
use super::shrink::Room;
use super::{Range, Region};

/// Frequencies shown.
const SHOWN: usize = 21;

/// Frequencies looked at for the ends.
const LOOKED_AT: usize = 17;

/// Pulse currents looked at by frequency.
const CURRENTS: usize = 9;

/// Places of the highest and lowest background, in ln(I_p/I₀).
const PLACE: f64 = 5e-4;

/// What binds at an end lies this near.
const BINDS: f64 = 1e-3;

impl Region<'_> {
    /// Backgrounds at a frequency and a pulse current, the pulse time from the melt balance.
    pub(super) fn room_at(&self, per_ms: f64, x: f64, window: &Range) -> Room {
        self.room_of(x, window, |pulse_a, background_a| self.fences.with_frequency(pulse_a, per_ms, background_a))
    }

    /// The room in the window of that number; nothing where there is no such window.
    fn numbered(&self, per_ms: f64, x: f64, number: usize) -> Option<(Range, Room)> {
        let window = *self.windows.times(x).get(number)?;
        Some((window, self.room_at(per_ms, x, &window)))
    }

    fn width(&self, per_ms: f64, x: f64, number: usize) -> f64 {
        self.numbered(per_ms, x, number).map_or(-1.0, |(_, room)| room.width)
    }

    /// ln(I_p/I₀) to look at.
    fn looked_at(&self, stretch: [f64; 2]) -> Vec<f64> {
        even(stretch, CURRENTS, Some(self.chosen.log_current))
    }

    /// Backgrounds that do at a frequency, over pulse currents of a stretch.
    fn backgrounds(&self, per_ms: f64, stretch: [f64; 2]) -> Vec<Piece> {
        let points = self.looked_at(stretch);
        let most = points.iter().map(|&x| self.windows.times(x).len()).max().unwrap_or(0);
        let mut pieces = Vec::new();
        for number in 0..most {
            for [from, to] in runs(&points, PLACE, |x| self.width(per_ms, x, number)) {
                let mut inside: Vec<f64> = points.iter().copied().filter(|x| (from..=to).contains(x)).collect();
                inside.extend([from, to]);
                inside.sort_by(f64::total_cmp);
                inside.dedup();
                if let [Some((low, low_limits)), Some((high, high_limits))] =
                    [-1.0, 1.0].map(|side| self.outermost(per_ms, &inside, number, side))
                {
                    pieces.push(Piece { low, high, limits: [low_limits, high_limits] });
                }
            }
        }
        pieces
    }

    /// The lowest (side −1) or highest (side 1) background over pulse currents, and what holds it there.
    fn outermost(&self, per_ms: f64, inside: &[f64], number: usize, side: f64) -> Option<(f64, Vec<Limit>)> {
        let reach = |x: f64| match self.numbered(per_ms, x, number) {
            Some((_, room)) if room.width >= 0.0 => side * if side < 0.0 { room.low } else { room.high },
            _ => f64::NEG_INFINITY,
        };
        let best = (0..inside.len()).max_by(|&i, &j| reach(inside[i]).total_cmp(&reach(inside[j])))?;
        let bracket = [inside[best.saturating_sub(1)], inside[(best + 1).min(inside.len() - 1)]];
        let golden = highest(bracket, PLACE, reach, false);
        let x = if reach(golden) > reach(inside[best]) { golden } else { inside[best] };
        let (window, room) = self.numbered(per_ms, x, number)?;
        let (end, own) = if side < 0.0 { (room.low, room.limits[0]) } else { (room.high, room.limits[1]) };
        let setting = self.fences.with_frequency(self.pulse_a(x), per_ms, end);
        let mut limits = self.fences.binding(&setting, &window, BINDS);
        limits.push(own);
        let [low, high] = self.currents;
        limits.extend([(x - low.0, low.1), (high.0 - x, high.1)].iter().filter(|e| e.0 < BINDS).map(|e| e.1));
        end.is_finite().then_some((end, limits))
    }

    /// A frequency and its backgrounds without the slack of the fences: a source does not go beyond what it states.
    fn stated(&self, per_ms: f64, piece: Piece) -> (f64, Piece) {
        let [frequency, background] = &self.fences.stated;
        let within = |value: f64, [low, high]: &Range| value.max(low.0).min(high.0);
        let [low, high] = [piece.low, piece.high].map(|a| within(a, background));
        (within(per_ms, frequency), Piece { low, high, ..piece })
    }

    /// Backgrounds that do at a frequency.
    pub(super) fn backgrounds_at(&self, per_ms: f64, stretches: &[[f64; 2]]) -> Vec<Piece> {
        merged(stretches.iter().flat_map(|s| self.backgrounds(per_ms, *s)).collect())
    }

    /// Backgrounds in A by pulses per ms, over stretches of ln(I_p/I₀) in which pulses do.
    pub(super) fn backgrounds_by_frequency(&self, stretches: &[[f64; 2]]) -> Vec<(f64, Piece)> {
        let [low, high] = self.fences.per_ms.map(|f| f.0.ln());
        let chosen = Some(self.chosen.per_ms.ln());
        if stretches.is_empty() || !(low <= high && (high - low).is_finite()) {
            return Vec::new();
        }
        let widest = |log_per_ms: f64| {
            let per_ms = log_per_ms.exp();
            let mut most: f64 = -1.0;
            for stretch in stretches {
                for x in self.looked_at(*stretch) {
                    for window in self.windows.times(x) {
                        most = most.max(self.room_at(per_ms, x, &window).width);
                    }
                }
            }
            most
        };
        let mut pieces = Vec::new();
        for found in runs(&even([low, high], LOOKED_AT, chosen), TOLERANCE, widest) {
            for log_per_ms in even(found, SHOWN, chosen) {
                let per_ms = log_per_ms.exp();
                pieces
                    .extend(self.backgrounds_at(per_ms, stretches).into_iter().map(|piece| self.stated(per_ms, piece)));
            }
        }
        pieces
    }
}

/// Stretches that overlap made one.
fn merged(mut pieces: Vec<Piece>) -> Vec<Piece> {
    pieces.sort_by(|a, b| a.low.total_cmp(&b.low));
    let mut whole: Vec<Piece> = Vec::new();
    for piece in pieces {
        match whole.last_mut() {
            Some(last) if piece.low <= last.high => {
                if piece.high > last.high {
                    last.high = piece.high;
                    let [_, high] = piece.limits;
                    last.limits[1] = high;
                }
            }
            _ => whole.push(piece),
        }
    }
    whole
}

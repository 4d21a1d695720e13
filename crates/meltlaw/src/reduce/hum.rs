//! Mains hum in readings that come at known times: their projection on the mains frequencies.
//!
//! Readings taken once a pulse are free of the pulses themselves, so what they still hold at 50 or 60 Hz and twice and
//! three times that is hum.

use std::f64::consts::TAU;

/// Mains frequencies, Hz.
const MAINS: [f64; 2] = [50.0, 60.0];
/// The multiples of each that are looked at: once, twice, three times.
const MULTIPLES: usize = 3;
const FREQUENCIES: [f64; 6] = [50.0, 100.0, 150.0, 60.0, 120.0, 180.0];
/// Beyond what scatter makes once in a thousand logs, six frequencies looked at.
const TIMES_SCATTER: f64 = 4.0;

/// Cosine and sine of every frequency at one time: what several readings of that time share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Phases([[f64; 2]; FREQUENCIES.len()]);

impl Phases {
    /// Multiples follow by angle addition from one cosine and sine of each mains frequency.
    pub(super) fn at(at_s: f64) -> Self {
        let mut all = [[0.0; 2]; FREQUENCIES.len()];
        for (of, f) in all.chunks_exact_mut(MULTIPLES).zip(MAINS) {
            let (sin, cos) = (TAU * f * at_s).sin_cos();
            let mut turned = [1.0, 0.0];
            for phase in of {
                turned = [turned[0] * cos - turned[1] * sin, turned[0] * sin + turned[1] * cos];
                *phase = turned;
            }
        }
        Self(all)
    }
}

/// Sums over readings.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Hum {
    count: f64,
    near: Option<f64>,
    sum: f64,
    squares: f64,
    /// Σx·cos, Σx·sin, Σcos, Σsin by frequency.
    parts: [[f64; 4]; FREQUENCIES.len()],
}

impl Hum {
    pub(super) fn push(&mut self, at: &Phases, value: f64) {
        if !value.is_finite() {
            return;
        }
        let x = value - *self.near.get_or_insert(value);
        self.count += 1.0;
        self.sum += x;
        self.squares += x * x;
        for (part, [cos, sin]) in self.parts.iter_mut().zip(at.0) {
            for (p, by) in part.iter_mut().zip([x * cos, x * sin, cos, sin]) {
                *p += by;
            }
        }
    }

    /// The strongest frequency, Hz, with its amplitude, where it stands out of the scatter.
    pub(super) fn found(&self) -> Option<(f64, f64)> {
        let n = self.count;
        if n < 50.0 {
            return None;
        }
        let mean = self.sum / n;
        let variance = (self.squares / n - mean * mean).max(0.0);
        let amplitude = |[xc, xs, c, s]: [f64; 4]| 2.0 / n * (xc - mean * c).hypot(xs - mean * s);
        let (f, a) = FREQUENCIES.into_iter().zip(self.parts.map(amplitude)).max_by(|a, b| a.1.total_cmp(&b.1))?;
        // Readings that come at a multiple of the mains cannot be told from a steady value.
        let told = self.parts.iter().zip(FREQUENCIES).any(|(p, g)| g == f && p[2].hypot(p[3]) < 0.5 * n);
        let scatter = (2.0 * variance / n).sqrt();
        (told && a > TIMES_SCATTER * scatter).then_some((f, a))
    }
}

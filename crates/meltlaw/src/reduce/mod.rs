//! A weld's current and voltage, sample by sample, to one row of the trial table.
//!
//! [`Reducer`] takes samples as they come, in pieces of any length, and keeps no more of them than a pulse or two; what
//! it answers does not depend on how they were cut. `block` sums, `window` what belongs to the weld, `levels` the two
//! states of a pulsed current, `pulses` pulse by pulse with the medians of `middle`, `drops` what the voltage shows of
//! drops, `batches` standard errors that honour autocorrelation, `hum` the mains, `findings` what to say of the log.
//!
//! ```text
//! Ī = Σi/N,  I_rms = √(Σi²/N),  Ū = Σu/N,  P̄ = Σu·i/N,  E = P̄·T
//! ```
//!
//! # Source
//! Arc energy from instantaneous power: ISO/TR 18491:2015. Levels of a two-state signal by the modes of its histogram, width
//! at half height between them: IEEE 181. Standard errors of correlated readings by batch means: L. W. Schruben,
//! Operations Research 30 (1982) 569–590, and its references (IEEE 181 and what the paper holds from memory).

mod batches;
mod block;
mod drops;
mod findings;
mod hum;
mod lanes;
mod levels;
mod middle;
mod pictures;
mod pulses;
mod reduced;
mod thinned;
mod window;

pub use drops::DropSigns;
pub use findings::Finding;
pub use pictures::{FoldedTime, OverviewColumn, Pictures};
pub use reduced::{Measured, PulsedPart, Reduced, ReductionError, mean_of};

use block::Sums;
use drops::SignFinder;
use pictures::Gathered;
use pulses::Pulses;
use window::{Record, Window};

/// How a log is reduced.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReduceSettings {
    /// Samples per second.
    pub sample_rate_hz: f64,
    /// What is cut off after ignition and before the end.
    pub cut_ends_s: f64,
    /// Mean current of 10 ms from which the arc burns.
    pub arc_from_a: f64,
    /// A short circuit begins below this voltage.
    pub short_below_v: f64,
    /// And ends above this one.
    pub short_ends_above_v: f64,
    /// Whether to look for drops in the voltage.
    pub drops: bool,
    /// Whether to keep what pictures are drawn from.
    pub pictures: bool,
}

impl ReduceSettings {
    /// The usual ones at a sample rate: half a second cut off at each end, the arc burns from 20 A, short circuits below
    /// 8 V that end above 12 V (common practice).
    pub const fn usual(sample_rate_hz: f64) -> Self {
        Self {
            sample_rate_hz,
            cut_ends_s: 0.5,
            arc_from_a: 20.0,
            short_below_v: 8.0,
            short_ends_above_v: 12.0,
            drops: false,
            pictures: false,
        }
    }

    /// Samples of a block: 10 ms.
    fn block_samples(&self) -> usize {
        ((0.01 * self.sample_rate_hz).round() as usize).max(1)
    }

    fn block_s(&self) -> f64 {
        self.block_samples() as f64 / self.sample_rate_hz
    }
}

/// Takes the samples of one log.
#[derive(Debug)]
pub struct Reducer {
    settings: ReduceSettings,
    /// Samples that do not fill a block yet.
    current: Vec<f32>,
    voltage: Vec<f32>,
    /// Number of the next block's first sample.
    at: u64,
    /// Samples that a clock says are missing.
    missing: u64,
    whole: Sums,
    /// Ends of both ranges so far, in the window.
    furthest: [f32; 4],
    window: Window,
    pulses: Pulses,
    gathered: Option<Gathered>,
    short: bool,
}

impl Reducer {
    /// For one log.
    pub fn new(settings: ReduceSettings) -> Self {
        let block = settings.block_samples();
        let finder = settings.drops.then(|| SignFinder::new(settings.sample_rate_hz, settings.short_below_v));
        let sign_finder = finder.flatten();
        Self {
            settings,
            current: Vec::with_capacity(block),
            voltage: Vec::with_capacity(block),
            at: 0,
            missing: 0,
            whole: Sums::default(),
            furthest: [f32::INFINITY, f32::NEG_INFINITY, f32::INFINITY, f32::NEG_INFINITY],
            window: Window::new(&settings),
            pulses: Pulses::new(settings.sample_rate_hz, sign_finder),
            gathered: settings.pictures.then(|| Gathered::new(settings.sample_rate_hz)),
            short: false,
        }
    }

    /// More samples, A and V; both of one length.
    pub fn push(&mut self, mut current: &[f32], mut voltage: &[f32]) {
        debug_assert_eq!(current.len(), voltage.len(), "both channels have a sample each");
        let block = self.settings.block_samples();
        if !self.current.is_empty() {
            let take = (block - self.current.len()).min(current.len());
            self.current.extend_from_slice(&current[..take]);
            self.voltage.extend_from_slice(&voltage[..take]);
            (current, voltage) = (&current[take..], &voltage[take..]);
            if self.current.len() < block {
                return;
            }
            self.kept_block();
        }
        for (i, u) in current.chunks_exact(block).zip(voltage.chunks_exact(block)) {
            self.block(i, u);
        }
        let rest = current.len() - current.len() % block;
        self.current.extend_from_slice(&current[rest..]);
        self.voltage.extend_from_slice(&voltage[rest..]);
    }

    /// So many samples are missing here: the clock runs on, the pulse that they cut is not taken.
    pub fn gap(&mut self, samples: u64) {
        if !self.current.is_empty() {
            self.kept_block();
        }
        self.at += samples;
        self.missing += samples;
        self.pulses.interrupt();
    }

    fn kept_block(&mut self) {
        let (mut i, mut u) = (std::mem::take(&mut self.current), std::mem::take(&mut self.voltage));
        self.block(&i, &u);
        i.clear();
        u.clear();
        (self.current, self.voltage) = (i, u);
    }

    fn block(&mut self, current: &[f32], voltage: &[f32]) {
        let mut sums = Sums::of(current, voltage);
        self.whole.add(&sums);
        let (start, end) = (self.at, self.at + current.len() as u64);
        self.at = end;
        let start_s = start as f64 / self.settings.sample_rate_hz;
        if let Some(gathered) = &mut self.gathered {
            gathered.overview.push(start_s, end as f64 / self.settings.sample_rate_hz, &sums);
        }
        let burns = sums.mean_current().abs() >= self.settings.arc_from_a;
        if !self.window.holds(start, end, burns) {
            return;
        }
        sums.count_ends(current, voltage, &mut self.furthest);
        let mut record = Record { start, end, sums, ..Record::default() };
        record.shorts = self.shorts(&sums, voltage);
        let folded = self.gathered.as_mut().map(|g| &mut g.folded);
        self.pulses.push(start, current, voltage, sums.bad > 0, folded, &mut record.pulses);
        if !self.pulses.pulsed() {
            record.milliseconds = self.milliseconds(start_s, current);
        }
        self.window.take(record);
    }

    /// Mean currents of a millisecond each with their times.
    fn milliseconds(&self, start_s: f64, current: &[f32]) -> Vec<(f64, f32)> {
        let rate = self.settings.sample_rate_hz;
        let long = ((rate / 1000.0).round() as usize).max(1);
        let of = |(k, piece): (usize, &[f32])| {
            (start_s + (k * long) as f64 / rate, piece.iter().sum::<f32>() / piece.len() as f32)
        };
        current.chunks(long).enumerate().map(of).collect()
    }

    /// Short circuits that begin in a block.
    fn shorts(&mut self, sums: &Sums, voltage: &[f32]) -> u32 {
        let (below, above) = (self.settings.short_below_v as f32, self.settings.short_ends_above_v as f32);
        if !self.short && !(sums.voltage_range[0] < below) {
            return 0;
        }
        let mut begun = 0;
        for &u in voltage {
            if self.short && u > above {
                self.short = false;
            } else if !self.short && u < below {
                self.short = true;
                begun += 1;
            }
        }
        begun
    }

    /// The row.
    ///
    /// # Errors
    /// [`ReductionError`] where there is no weld to reduce.
    pub fn finish(mut self) -> Result<Reduced, ReductionError> {
        if !self.current.is_empty() {
            self.kept_block();
        }
        reduced::reduced(self)
    }
}

#[cfg(test)]
mod tests;

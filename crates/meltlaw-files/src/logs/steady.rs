//! Channels beside current and voltage that hold still or nearly so: wire feed, distances, travel speed, gas. A row gets
//! their means over the window.

use meltlaw::reduce::{Measured, mean_of};
use meltlaw::trials::Column;

/// Columns of the trial table that a log may hold as channels.
pub(super) const STEADY: [Column; 6] =
    [Column::WireFeed, Column::Ctwd, Column::Extension, Column::ArcLength, Column::TravelSpeed, Column::GasFlow];
/// Stretches that are kept; when there are more, neighbours are joined.
const MOST_STRETCHES: usize = 4096;
/// Samples of a stretch at first.
const FIRST_SAMPLES: u64 = 256;

/// Readings of one channel, in as much memory however long the log is: sums over stretches of samples.
#[derive(Debug, Clone)]
pub(super) struct Readings {
    /// Samples of a stretch.
    samples: u64,
    /// Sum and number of readings in each.
    stretches: Vec<(f64, u32)>,
}

impl Default for Readings {
    fn default() -> Self {
        Self { samples: FIRST_SAMPLES, stretches: Vec::new() }
    }
}

impl Readings {
    /// A reading at a sample; what is no number is none.
    pub(super) fn push(&mut self, sample: u64, value: f64) {
        if !value.is_finite() {
            return;
        }
        while sample / self.samples >= MOST_STRETCHES as u64 {
            self.stretches = self
                .stretches
                .chunks(2)
                .map(|pair| pair.iter().fold((0.0, 0), |all, (sum, count)| (all.0 + sum, all.1 + count)))
                .collect();
            self.samples *= 2;
        }
        let place = (sample / self.samples) as usize;
        if self.stretches.len() <= place {
            self.stretches.resize(place + 1, (0.0, 0));
        }
        self.stretches[place].0 += value;
        self.stretches[place].1 += 1;
    }

    /// Mean over the stretches whose middle lies between two samples.
    pub(super) fn mean(&self, [from, to]: [f64; 2]) -> Option<Measured> {
        let width = self.samples as f64;
        let inside = |(k, _): &(usize, &(f64, u32))| (from..to).contains(&((*k as f64 + 0.5) * width));
        let there = self.stretches.iter().enumerate().filter(inside).filter(|(_, (_, count))| *count > 0);
        mean_of(there.map(|(_, (sum, count))| sum / f64::from(*count)))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]
mod tests {
    use super::*;

    #[test]
    fn means_are_those_of_the_window_however_long_the_log() {
        for length in [10_000_u64, 30_000_000] {
            let mut readings = Readings::default();
            let (from, to) = (length as f64 * 0.25, length as f64 * 0.75);
            for sample in (0..length).step_by(64) {
                // A feed that is 0 before and after the weld.
                let welds = (from..to).contains(&(sample as f64));
                readings.push(sample, if welds { 6.0 + (sample / 64 % 2) as f64 } else { 0.0 });
                readings.push(sample, f64::NAN);
            }
            let margin = length as f64 * 0.05;
            let mean = readings.mean([from + margin, to - margin]).unwrap();
            assert!((mean.value - 6.5).abs() < 1e-9, "{length}: {mean:?}");
            assert!(readings.stretches.len() <= MOST_STRETCHES);
        }
        assert!(Readings::default().mean([0.0, 1e9]).is_none());
    }
}

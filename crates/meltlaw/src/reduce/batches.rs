//! Means of readings that come one after another, with a standard error that honours their autocorrelation.
//!
//! Readings are averaged in batches; when there are too many batches, neighbours are joined. So there are always 32 to 64
//! of them, each long against what makes neighbouring readings alike, and their scatter is that of the mean. What two
//! neighbours still share is allowed for by (1 + r)/(1 − r).

/// At most so many batches.
const MOST: usize = 64;
/// Fewer tell no standard error.
const FEWEST: usize = 8;

/// Batch means of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Batches {
    size: u64,
    open: (f64, u64),
    done: Vec<f64>,
    sum: f64,
    squares: f64,
    count: u64,
    /// Taken off before squares are summed, so that they keep their digits.
    near: f64,
}

impl Default for Batches {
    fn default() -> Self {
        Self { size: 1, open: (0.0, 0), done: Vec::with_capacity(MOST), sum: 0.0, squares: 0.0, count: 0, near: 0.0 }
    }
}

impl Batches {
    pub(super) fn push(&mut self, value: f64) {
        if !value.is_finite() {
            return;
        }
        if self.count == 0 {
            self.near = value;
        }
        self.count += 1;
        self.sum += value;
        self.squares += (value - self.near).powi(2);
        self.open.0 += value;
        self.open.1 += 1;
        if self.open.1 == self.size {
            self.done.push(self.open.0 / self.size as f64);
            self.open = (0.0, 0);
            if self.done.len() == MOST {
                self.done = self.done.chunks_exact(2).map(|pair| f64::midpoint(pair[0], pair[1])).collect();
                self.size *= 2;
            }
        }
    }

    pub(super) const fn count(&self) -> u64 {
        self.count
    }

    pub(super) fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }

    /// Standard deviation of single readings.
    pub(super) fn standard_deviation(&self) -> Option<f64> {
        let mean = self.mean()?;
        let n = self.count as f64;
        (self.count > 1).then(|| ((self.squares - n * (mean - self.near).powi(2)) / (n - 1.0)).max(0.0).sqrt())
    }

    /// Standard error of the mean.
    pub(super) fn standard_error(&self) -> Option<f64> {
        let m = self.done.len();
        if m < FEWEST {
            return None;
        }
        let mean = self.done.iter().sum::<f64>() / m as f64;
        let off: Vec<f64> = self.done.iter().map(|b| b - mean).collect();
        let variance = off.iter().map(|o| o * o).sum::<f64>() / (m as f64 - 1.0);
        if !(variance > 0.0) {
            return Some(0.0);
        }
        let neighbours = off.windows(2).map(|w| w[0] * w[1]).sum::<f64>() / (m as f64 - 1.0);
        let r = (neighbours / variance).clamp(0.0, 0.9);
        Some((variance / m as f64 * (1.0 + r) / (1.0 - r)).sqrt())
    }

    /// Change from the first to the last by a straight line, with its standard error.
    pub(super) fn trend(&self) -> Option<(f64, f64)> {
        let m = self.done.len();
        if m < FEWEST {
            return None;
        }
        let middle = (m as f64 - 1.0) / 2.0;
        let mean = self.done.iter().sum::<f64>() / m as f64;
        let square: f64 = (0..m).map(|k| (k as f64 - middle).powi(2)).sum();
        let slope = self.done.iter().enumerate().map(|(k, b)| (k as f64 - middle) * (b - mean)).sum::<f64>() / square;
        let left: f64 =
            self.done.iter().enumerate().map(|(k, b)| (b - mean - slope * (k as f64 - middle)).powi(2)).sum::<f64>()
                / (m as f64 - 2.0);
        Some((slope * m as f64, (left / square).sqrt() * m as f64))
    }
}

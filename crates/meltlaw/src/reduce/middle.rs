//! Means and medians of a stretch of samples.
//!
//! The median of a pulse is found by counting: how many samples lie below a threshold, and which are its nearest
//! neighbours on both sides. The previous pulse says where to begin, so four or five passes over what the cache holds
//! give the exact order statistic, several times as fast as to part the samples about it.

use pulp::{Arch, Simd, WithSimd};

use super::lanes::{parted, sum};

/// So many passes; samples that no straight line describes are parted instead.
const MOST_PASSES: usize = 16;

/// Mean of samples, summed in doubles in a fixed order.
pub(super) fn mean(samples: &[f32]) -> f64 {
    Arch::new().dispatch(Mean(samples))
}

struct Mean<'a>(&'a [f32]);

impl WithSimd for Mean<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> f64 {
        sum(self.0, self.0, |x, _| x) / self.0.len() as f64
    }
}

/// What a pass over the samples tells of a threshold.
#[derive(Debug, Clone, Copy)]
struct Counted {
    /// How many samples lie below it.
    below: usize,
    /// The largest of those.
    under: f32,
    /// The smallest of the others.
    over: f32,
}

#[inline(always)]
fn counted<S: Simd>(simd: S, samples: &[f32], threshold: f32) -> Counted {
    let (below, [under, over]) = parted(simd, samples, threshold);
    Counted { below, under, over }
}

/// Medians of stretches that are much alike, one after another.
#[derive(Debug, Clone, Default)]
pub(super) struct Middle {
    /// The previous one.
    before: f32,
    /// By how much the samples near it rise from one to the next, in order of size.
    rise: f32,
    scratch: Vec<f32>,
}

impl Middle {
    /// The median of finite samples, one at least; the mean of the two in the middle where there is no middle one.
    pub(super) fn of(&mut self, samples: &[f32]) -> f64 {
        let found = Arch::new().dispatch(Search { samples, guess: self.before, rise: &mut self.rise });
        let median = found.unwrap_or_else(|| self.parted(samples));
        self.before = median as f32;
        median
    }

    fn parted(&mut self, samples: &[f32]) -> f64 {
        self.scratch.clear();
        self.scratch.extend_from_slice(samples);
        let n = samples.len();
        let (below, upper, _) = self.scratch.select_nth_unstable_by(n / 2, f32::total_cmp);
        let upper = f64::from(*upper);
        if n % 2 == 1 {
            return upper;
        }
        let lower = below.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        f64::midpoint(f64::from(lower), upper)
    }
}

/// Closes in on the sample that has half of the others below it, between one it cannot be less than and one it cannot
/// exceed.
struct Search<'a> {
    samples: &'a [f32],
    guess: f32,
    rise: &'a mut f32,
}

impl WithSimd for Search<'_> {
    type Output = Option<f64>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Option<f64> {
        let Self { samples, guess, rise } = self;
        let n = samples.len();
        let upper = n / 2;
        let (mut low, mut high): (Option<(f32, usize)>, Option<(f32, usize)>) = (None, None);
        let (mut threshold, mut step) = (guess, *rise);
        for _ in 0..MOST_PASSES {
            let at = counted(simd, samples, threshold);
            if at.below == upper {
                return Some(if n % 2 == 1 {
                    f64::from(at.over)
                } else {
                    f64::midpoint(f64::from(at.under), f64::from(at.over))
                });
            }
            if at.below == upper + 1 && n % 2 == 1 {
                return Some(f64::from(at.under));
            }
            // Samples below the lower bound; samples up to the upper one.
            if at.below < upper {
                low = Some((at.over, at.below));
            } else {
                high = Some((at.under, at.below));
            }
            let wanted = upper as f32 + 0.5;
            threshold = match (low, high) {
                (Some((a, _)), Some((b, _))) if a == b => return Some(f64::from(a)),
                (Some((a, below)), Some((b, up_to))) => {
                    *rise = (b - a) / (up_to - below) as f32;
                    let between = a + *rise * (wanted - below as f32);
                    // Beyond the lower bound and not beyond the upper one: every pass then takes a sample off.
                    if between > a && between <= b { between } else { b }
                }
                (Some((a, below)), None) if step > 0.0 => (a + step * (wanted - below as f32)).max(a.next_up()),
                (None, Some((b, up_to))) if step > 0.0 => (b - step * (up_to as f32 - wanted)).min(b),
                (_, None) => f32::INFINITY,
                (None, _) => f32::NEG_INFINITY,
            };
            // A bound that is not found soon is far off.
            step *= 2.0;
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_are_those_of_sorted_samples_whatever_came_before() {
        let mut bits = 1_u64;
        let mut random = || {
            // An xorshift: any scatter will do.
            bits ^= bits << 13;
            bits ^= bits >> 7;
            bits ^= bits << 17;
            (bits >> 40) as f32 / (1 << 24) as f32
        };
        let mut middle = Middle::default();
        for n in (1..60).chain([100, 125, 400, 401, 1000]) {
            for kind in 0..6 {
                let samples: Vec<f32> = (0..n)
                    .map(|k| match kind {
                        0 => 400.0 + 5.0 * (random() + random() - 1.0),
                        1 => (8.0 * random()).floor(),
                        2 => 7.25,
                        3 => (20.0 * random()).exp(),
                        4 => {
                            if k % 2 == 0 {
                                -1e30
                            } else {
                                1e30
                            }
                        }
                        _ => -500.0 + k as f32,
                    })
                    .collect();
                let mut sorted = samples.clone();
                sorted.sort_by(f32::total_cmp);
                let wanted = f64::midpoint(f64::from(sorted[(n - 1) / 2]), f64::from(sorted[n / 2]));
                assert_eq!(middle.of(&samples), wanted, "{n} samples of kind {kind}");
                let wanted = samples.iter().map(|x| f64::from(*x)).sum::<f64>() / n as f64;
                // Two orders of a sum of n doubles.
                let size = samples.iter().map(|x| f64::from(x.abs())).sum::<f64>() / n as f64;
                assert!(
                    (mean(&samples) - wanted).abs() <= n as f64 * f64::EPSILON * size,
                    "{n} samples of kind {kind}"
                );
            }
        }
    }
}

//! Replicates of the detachment fit.

use nalgebra::DMatrix;
use rayon::prelude::*;

use super::counts::{Chances, Redrawn};
use super::detachment_kernel::{Kernel, Scratch};
use super::{Failure, Replicate, Replicates};
use crate::fit::detachment::{QUADRATURE_POINTS, scatter_start};
use crate::fit::newton::{CurvedMinimum, minimise};
use crate::fit::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use crate::fit::scatter::SMALLEST_SCATTER;
use crate::statistics::{DrawStream, GaussHermite, Purpose};

/// What a refit does with the trial scatter τ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scatter {
    /// τ stays as in the fit.
    Held,
    /// τ is fitted anew, zero included, as the fit itself does.
    Refitted,
}

/// Which replicates are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DetachmentRequest {
    /// How many.
    pub replicates: usize,
    /// Seed of their streams.
    pub seed: u64,
    /// What becomes of τ.
    pub scatter: Scatter,
}

/// Refits the detachment law (both thresholds) to redrawn counts; coefficients are
/// (n, ln k, s1, ln(s2 − s1), ln τ), ln τ = −∞ where τ is zero.
///
/// Settings stay as the fit sees them. Where τ or what is unknown of a setting is not zero, each replicate
/// draws every trial's own position first (one normal number for each trial), then its counts.
pub fn detachment(trials: &[CountedTrial], q: &[f64; 5], request: DetachmentRequest) -> Replicates<5> {
    let kernel = if request.scatter == Scatter::Held { Kernel::new(trials, q) } else { None };
    let rule = GaussHermite::new(QUADRATURE_POINTS);
    let one = |scratch: &mut Option<Scratch>, index: usize| {
        let mut stream = DrawStream::new(request.seed, Purpose::Resampling, index as u64);
        let counts = match &kernel {
            Some(kernel) => {
                let scratch = scratch.get_or_insert_with(|| kernel.scratch());
                kernel.draw(scratch, &mut stream);
                if let Some(replicate) = kernel.refit(scratch) {
                    return Ok(replicate);
                }
                kernel.counts(scratch)
            }
            None => trials.iter().map(|t| redraw(t, q, &mut stream)).collect(),
        };
        let redrawn: Vec<CountedTrial> =
            trials.iter().zip(counts).map(|(t, count)| CountedTrial { count, ..*t }).collect();
        General { trials: &redrawn, rule: &rule, q: *q }.refit(request.scatter)
    };
    let outcomes = (0..request.replicates).into_par_iter().with_min_len(4).map_init(|| None, one).collect::<Vec<_>>();
    Replicates::sort(outcomes)
}

/// One trial's counts where its position scatters.
fn redraw(trial: &CountedTrial, q: &[f64; 5], stream: &mut DrawStream) -> Count {
    let (n, k) = (q[0], q[1].exp());
    let [cc, ct, tt] = trial.unknown;
    let spread = ((2.0 * q[4]).exp() + (n * n * cc + 2.0 * n * ct + tt).max(0.0)).sqrt();
    let s = n * trial.log_current + trial.log_time + if spread > 0.0 { spread * stream.normal() } else { 0.0 };
    Redrawn::new(trial).draw(Chances::at(k * (s - q[2]), k * q[3].exp()), stream)
}

/// The general fit of one replicate.
struct General<'a> {
    trials: &'a [CountedTrial],
    rule: &'a GaussHermite,
    /// The fit around which was redrawn.
    q: [f64; 5],
}

impl General<'_> {
    fn likelihood(&self, free: Vec<usize>, fixed: [f64; 5]) -> Likelihood<'_> {
        let thresholds = Thresholds::Both;
        Likelihood { trials: self.trials, rule: self.rule, thresholds, with_unknown: true, free, fixed }
    }

    fn refit(&self, scatter: Scatter) -> Result<Replicate<5>, Failure> {
        if self.class_missing() {
            return Err(Failure::Separated);
        }
        let q = self.q;
        let held = if scatter == Scatter::Held { q[4] } else { f64::NEG_INFINITY };
        let fixed = [q[0], q[1], q[2], q[3], held];
        let without = minimise(&self.likelihood(vec![0, 1, 2, 3], fixed), &q[..4], 1.0);
        if !without.converged {
            return Err(self.why());
        }
        let without_q = [without.x[0], without.x[1], without.x[2], without.x[3], held];
        let four = || replicate(&without, without_q);
        if scatter == Scatter::Held {
            return four();
        }
        let all = self.likelihood(vec![0, 1, 2, 3, 4], without_q);
        // From the fit's own τ first; where that leads nowhere, from the likeliest of several, as the fit does.
        let from = |log_tau: f64| {
            let found = minimise(&all, &[without.x[0], without.x[1], without.x[2], without.x[3], log_tau], 1.0);
            let inside = found.converged && found.x[4].exp() > SMALLEST_SCATTER && found.value <= without.value + 1e-9;
            inside.then_some(found)
        };
        let with = Some(q[4]).filter(|t| t.is_finite()).and_then(from).or_else(|| {
            scatter_start(&self.likelihood(vec![], without_q), without_q, -without.value, None).and_then(from)
        });
        match with {
            Some(m) => replicate(&m, [m.x[0], m.x[1], m.x[2], m.x[3], m.x[4]]),
            None => four(),
        }
    }

    fn class_missing(&self) -> bool {
        let (mut none, mut more) = (false, false);
        for t in self.trials {
            let (without, doubles) = match t.count {
                Count::Classes { none, more, .. } => (none > 0.0, more > 0.0),
                Count::Totals { drops, pulses } => (drops < pulses, drops > pulses),
            };
            none |= without;
            more |= doubles;
        }
        !(none && more)
    }

    /// Why no maximum was found.
    fn why(&self) -> Failure {
        let settings: Vec<(f64, f64)> = self.trials.iter().map(|t| (t.log_current, t.log_time)).collect();
        let seen: Vec<_> = self.trials.iter().map(|t| crate::fit::detachment::seen(t.count)).collect();
        if crate::fit::separation::separated(&settings, &seen, true) {
            Failure::Separated
        } else {
            Failure::NotConverged
        }
    }
}

fn replicate(minimum: &CurvedMinimum, q: [f64; 5]) -> Result<Replicate<5>, Failure> {
    let inverse: DMatrix<f64> = minimum.inverse_hessian().ok_or(Failure::NotConverged)?;
    let mut covariance = [[0.0; 5]; 5];
    for i in 0..inverse.nrows() {
        for j in 0..inverse.ncols() {
            covariance[i][j] = inverse[(i, j)];
        }
    }
    Ok(Replicate { index: 0, coefficients: q, covariance, sum_of_squares: None })
}

#[cfg(test)]
mod tests {
    use super::*;

    const SEED: u64 = 3;

    /// Thirty settings across both thresholds of n = 1.9, k = 8, 1.75 and 4 ms, 150 pulses each.
    fn lab(unknown: [f64; 3], totals: bool) -> (Vec<CountedTrial>, [f64; 5]) {
        let q = [1.9, 8.0_f64.ln(), 1.75_f64.ln(), (4.0_f64 / 1.75).ln().ln(), f64::NEG_INFINITY];
        let trials = (0..30)
            .map(|i| {
                let i = f64::from(i);
                let log_current = 0.12 * (1.7 * i).sin();
                let log_time = 0.4 + 1.2 * i / 29.0 - 1.9 * log_current;
                let count = if totals {
                    Count::Totals { drops: 150.0, pulses: 150.0 }
                } else {
                    Count::Classes { none: 50.0, one: 50.0, more: 50.0 }
                };
                CountedTrial { log_current, log_time, unknown, count }
            })
            .collect();
        (trials, q)
    }

    fn request(replicates: usize, scatter: Scatter) -> DetachmentRequest {
        DetachmentRequest { replicates, seed: SEED, scatter }
    }

    #[test]
    fn the_kernel_has_the_maximum_of_the_general_likelihood() {
        let (trials, q) = lab([0.0; 3], false);
        let kernel = Kernel::new(&trials, &q).expect("the kernel's own kind of lab");
        let mut scratch = kernel.scratch();
        let found = detachment(&trials, &q, request(200, Scatter::Held));
        assert!(found.failed.is_empty());
        let rule = GaussHermite::new(QUADRATURE_POINTS);
        for replicate in &found.fitted {
            kernel.draw(&mut scratch, &mut DrawStream::new(SEED, Purpose::Resampling, replicate.index as u64));
            let redrawn: Vec<CountedTrial> =
                trials.iter().zip(kernel.counts(&scratch)).map(|(t, count)| CountedTrial { count, ..*t }).collect();
            let general = General { trials: &redrawn, rule: &rule, q }.refit(Scatter::Held).expect("a maximum");
            for i in 0..4 {
                let apart = (replicate.coefficients[i] / general.coefficients[i] - 1.0).abs();
                assert!(apart < 1e-8, "replicate {}, {i}: {apart}", replicate.index);
                for j in 0..4 {
                    // Both are inverses of the exact observed information, one step before the maximum.
                    let scale = (general.covariance[i][i] * general.covariance[j][j]).sqrt();
                    let apart = (replicate.covariance[i][j] - general.covariance[i][j]).abs() / scale;
                    assert!(apart < 1e-3, "covariance {i} {j}: {apart}");
                }
            }
        }
    }

    #[test]
    fn the_number_of_threads_changes_nothing() {
        let with = |threads: usize, unknown: [f64; 3], scatter: Scatter, replicates: usize| {
            let (trials, q) = lab(unknown, false);
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
            pool.install(|| detachment(&trials, &q, request(replicates, scatter)))
        };
        let alone = with(1, [0.0; 3], Scatter::Held, 200);
        assert_eq!(alone, with(2, [0.0; 3], Scatter::Held, 200));
        assert_eq!(alone, with(5, [0.0; 3], Scatter::Held, 200));
        let unknown = [6e-5, 0.0, 1e-4];
        assert_eq!(with(1, unknown, Scatter::Refitted, 6), with(3, unknown, Scatter::Refitted, 6));
    }

    #[test]
    fn replicates_scatter_as_the_information_says() {
        let (trials, q) = lab([0.0; 3], false);
        let found = detachment(&trials, &q, request(4000, Scatter::Held));
        // Covariance at one replicate stands for that at the fit: within 10 %.
        let typical = found.fitted[0].covariance;
        for i in 0..4 {
            let values: Vec<f64> = found.fitted.iter().map(|r| r.coefficients[i]).collect();
            let mean = crate::statistics::mean(&values);
            let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64;
            assert!((variance / typical[i][i] - 1.0).abs() < 0.2, "{i}: {variance} {}", typical[i][i]);
            // Bias of an ordered logit from 4500 pulses is a few per cent of a standard error.
            assert!((mean - q[i]).abs() < 0.2 * variance.sqrt(), "{i}: {mean}");
        }
    }

    #[test]
    fn scatter_and_totals_take_the_general_way() {
        let (trials, mut q) = lab([6e-5, 0.0, 1e-4], false);
        q[4] = 0.05_f64.ln();
        let found = detachment(&trials, &q, request(12, Scatter::Refitted));
        assert_eq!(found.fitted.len() + found.failed.len(), 12);
        assert!(found.failed.is_empty());
        assert!(found.fitted.iter().filter(|r| r.coefficients[4].is_finite()).count() >= 10);
        let (trials, q) = lab([0.0; 3], true);
        let found = detachment(&trials, &q, request(4, Scatter::Held));
        assert!(found.failed.is_empty() && found.fitted.iter().all(|r| r.coefficients[4] == f64::NEG_INFINITY));
    }

    #[test]
    fn separated_replicates_are_counted_not_dropped() {
        // Ten pulses a trial at settings far from both thresholds but for two trials: many replicates show
        // no overlap.
        let (mut trials, mut q) = lab([0.0; 3], false);
        q[1] = 60.0_f64.ln();
        trials.truncate(30);
        for t in &mut trials {
            t.count = Count::Classes { none: 1.0, one: 1.0, more: 1.0 };
        }
        let found = detachment(&trials, &q, request(100, Scatter::Held));
        assert_eq!(found.fitted.len() + found.failed.len(), 100);
        assert!(found.failed.iter().any(|(_, why)| *why == Failure::Separated), "{:?}", found.failed);
    }
}

//! Replicates of the burn-off fit.

use rayon::prelude::*;

use super::burn_off_kernel::{Kernel, Scratch};
use super::readings::Behind;
use super::{Failure, Replicate, Replicates};
use crate::fit::errors_in_variables::{EivFit, MOST, Observation, fit as fit_eiv};
use crate::laws::BurnOff;
use crate::statistics::{DrawStream, Purpose};
use crate::study::BurnOffForm;

/// What is taken as true while readings are redrawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truth {
    /// The readings: simple, but they scatter more than the truth did.
    Readings,
    /// The readings as adjusted by the fit: the most likely true settings.
    Adjusted,
}

/// Which replicates are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BurnOffRequest {
    /// How many.
    pub replicates: usize,
    /// Seed of their streams.
    pub seed: u64,
    /// What is taken as true.
    pub truth: Truth,
    /// Whether the feed's standard error is a share of its reading.
    pub feed_error_in_proportion: bool,
}

/// Refits the burn-off law to redrawn readings; coefficients are (α, β, offset), the last zero where the form
/// has none.
///
/// Every refit reaches the minimum of [`crate::fit::errors_in_variables::fit`] on its replicate's readings.
pub fn burn_off(
    form: BurnOffForm,
    observations: &[Observation],
    fit: &EivFit,
    request: BurnOffRequest,
) -> Replicates<3> {
    let law = BurnOff(form);
    let behind: Vec<Behind> = observations
        .iter()
        .map(|o| match request.truth {
            Truth::Readings => Behind::at_readings(&law, &fit.b, o, request.feed_error_in_proportion),
            Truth::Adjusted => Behind::at_adjusted(&law, fit, o, request.feed_error_in_proportion),
        })
        .collect();
    let mut start = [0.0; 3];
    start[..fit.b.len()].copy_from_slice(&fit.b);
    let kernel = Kernel::new(form, &behind, start);
    let arch = pulp::Arch::new();
    let one = |scratch: &mut Option<Scratch>, index: usize| {
        let stream = || DrawStream::new(request.seed, Purpose::Resampling, index as u64);
        let quick = kernel.as_ref().and_then(|kernel| {
            let scratch = scratch.get_or_insert_with(|| kernel.scratch());
            kernel.draw(scratch, &mut stream());
            // The widest vectors that this processor has; the lanes keep their own sums, so the result is the same.
            arch.dispatch(|| kernel.refit(scratch))
        });
        quick.map_or_else(|| general(&law, &behind, &fit.b, &mut stream()), Ok)
    };
    let outcomes = (0..request.replicates).into_par_iter().with_min_len(16).map_init(|| None, one).collect::<Vec<_>>();
    Replicates::sort(outcomes)
}

/// A replicate by the general fit: for errors of another form, and where the kernel does not arrive.
fn general(law: &BurnOff, behind: &[Behind], b: &[f64], stream: &mut DrawStream) -> Result<Replicate<3>, Failure> {
    let observations: Vec<Observation> = behind.iter().map(|b| b.redraw(stream)).collect();
    let fit = fit_eiv(law, &observations, b).map_err(|_| Failure::NotConverged)?;
    let mut replicate = Replicate { index: 0, coefficients: [0.0; 3], covariance: [[0.0; 3]; 3], sum_of_squares: None };
    replicate.sum_of_squares = Some(fit.sum_of_squares());
    for i in 0..fit.b.len().min(MOST) {
        replicate.coefficients[i] = fit.b[i];
        for j in 0..fit.b.len() {
            replicate.covariance[i][j] = fit.stated_covariance[(i, j)];
        }
    }
    Ok(replicate)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::errors_in_variables::ReadingError;

    const SEED: u64 = 11;

    fn lab(own_errors: bool) -> Vec<Observation> {
        (0..43)
            .map(|i| {
                let i = f64::from(i);
                let mean = 90.0 + 5.0 * i;
                let rms = mean * (1.6 - 0.012 * i);
                let extension = [11.0, 14.0, 18.0][i as usize % 3];
                let y = 0.284 * mean + 5.0e-5 * extension * rms * rms;
                let y = y * (1.0 + 0.004 * (2.4 * i).sin());
                let mut errors = vec![
                    ReadingError { standard_deviation: 0.008, direction: [mean, rms, 0.0, 0.0] },
                    ReadingError { standard_deviation: 0.15, direction: [0.0, 0.0, 1.0, 0.0] },
                ];
                if own_errors {
                    errors.push(ReadingError { standard_deviation: 0.7, direction: [0.0, 1.0, 0.0, 0.0] });
                }
                Observation { y, y_se: 0.004 * y, row: [mean, rms, extension, 0.0], errors }
            })
            .collect()
    }

    fn request(truth: Truth, feed_error_in_proportion: bool) -> BurnOffRequest {
        BurnOffRequest { replicates: 60, seed: SEED, truth, feed_error_in_proportion }
    }

    /// Largest relative difference of coefficients, covariance and minimum between the replicates and the
    /// general fit of the same redrawn readings.
    fn apart(form: BurnOffForm, own_errors: bool, request: BurnOffRequest, enlarge: f64) -> [f64; 3] {
        let law = BurnOff(form);
        let mut observations = lab(own_errors);
        for o in &mut observations {
            o.y_se *= enlarge;
            o.errors.iter_mut().for_each(|e| e.standard_deviation *= enlarge);
        }
        let fit = crate::fit::burn_off::fit(form, &observations).expect("a lab that can be fitted");
        let found = burn_off(form, &observations, &fit, request);
        assert!(found.failed.is_empty() && found.fitted.len() == request.replicates);
        let mut worst = [0.0_f64; 3];
        for replicate in &found.fitted {
            let mut stream = DrawStream::new(request.seed, Purpose::Resampling, replicate.index as u64);
            let redrawn: Vec<Observation> = observations
                .iter()
                .map(|o| match request.truth {
                    Truth::Readings => Behind::at_readings(&law, &fit.b, o, request.feed_error_in_proportion),
                    Truth::Adjusted => Behind::at_adjusted(&law, &fit, o, request.feed_error_in_proportion),
                })
                .map(|b| b.redraw(&mut stream))
                .collect();
            let general = crate::fit::burn_off::fit(form, &redrawn).expect("a replicate that can be fitted");
            for i in 0..fit.b.len() {
                worst[0] = worst[0].max((replicate.coefficients[i] / general.b[i] - 1.0).abs());
                let variance = general.stated_covariance[(i, i)];
                worst[1] = worst[1].max((replicate.covariance[i][i] / variance - 1.0).abs());
            }
            worst[2] =
                worst[2].max((replicate.sum_of_squares.expect("least squares") / general.sum_of_squares() - 1.0).abs());
        }
        worst
    }

    #[test]
    fn every_replicate_has_the_minimum_of_the_general_fit() {
        // 1e-8 is what the kernel promises; it stops where 1e-9 of a standard error is left. Its covariance
        // keeps the curvature that Gauss-Newton drops, a few parts in a hundred at these errors.
        for truth in [Truth::Readings, Truth::Adjusted] {
            for proportion in [false, true] {
                let [b, variance, minimum] = apart(BurnOffForm::Proportional, false, request(truth, proportion), 1.0);
                assert!(b < 1e-8 && variance < 0.05 && minimum < 1e-8, "{b} {variance} {minimum}");
            }
        }
        let [b, variance, minimum] = apart(BurnOffForm::Offset, false, request(Truth::Adjusted, true), 1.0);
        // The offset is near zero, so its relative difference is the largest.
        assert!(b < 1e-8 && variance < 0.05 && minimum < 1e-8, "{b} {variance} {minimum}");
    }

    #[test]
    fn large_errors_and_other_errors_reach_it_too() {
        let [b, _, minimum] = apart(BurnOffForm::Proportional, false, request(Truth::Readings, true), 5.0);
        assert!(b < 1e-8 && minimum < 1e-8, "{b} {minimum}");
        let [b, variance, minimum] = apart(BurnOffForm::Proportional, true, request(Truth::Readings, true), 1.0);
        assert!(b < 1e-8 && variance < 1e-6 && minimum < 1e-8, "{b} {variance} {minimum}");
    }

    #[test]
    fn the_number_of_threads_changes_nothing() {
        let observations = lab(false);
        let fit = crate::fit::burn_off::fit(BurnOffForm::Proportional, &observations).expect("a good lab");
        let with = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
            let asked = BurnOffRequest { replicates: 200, ..request(Truth::Adjusted, true) };
            pool.install(|| burn_off(BurnOffForm::Proportional, &observations, &fit, asked))
        };
        let alone = with(1);
        assert_eq!(alone, with(2));
        assert_eq!(alone, with(5));
    }

    #[test]
    fn replicates_scatter_as_the_covariance_says() {
        let observations = lab(false);
        let fit = crate::fit::burn_off::fit(BurnOffForm::Proportional, &observations).expect("a good lab");
        let asked = BurnOffRequest { replicates: 4000, ..request(Truth::Adjusted, true) };
        let found = burn_off(BurnOffForm::Proportional, &observations, &fit, asked);
        for i in 0..2 {
            let values: Vec<f64> = found.fitted.iter().map(|r| r.coefficients[i]).collect();
            let mean = crate::statistics::mean(&values);
            let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64;
            // A variance from 4000 values has a relative standard error of √(2/3999) = 2.2 %: 4 of them, and
            // 2 % for what Gauss-Newton's covariance leaves out.
            let ratio = variance / fit.stated_covariance[(i, i)];
            assert!((ratio - 1.0).abs() < 0.11, "{i}: {ratio}");
        }
    }
}

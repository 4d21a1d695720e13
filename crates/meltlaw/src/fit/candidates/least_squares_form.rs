//! One form of a law fitted by least squares: how well it predicts trials that it has not seen.

use nalgebra::{DMatrix, DVector};

use super::left_out::Expansion;
use super::{aicc, held_out_range, lower_part, not_tried};
use crate::fit::errors_in_variables::{EivFit, MOST, NoFit, Observation, fit as fit_eiv};
use crate::laws::{Candidate, HeldOutRange, Law};
use crate::study::CovarianceFrom;

/// AICc, leave-one-out prediction and held-out range of one form.
///
/// ```text
/// AICc = N·ln(SS/N) + 2p + 2p(p + 1)/(N − p − 1), p counts the variance
/// density of a left-out trial: its value given the fit of the others, Student's t about the prediction with
/// variance s²·(v + gᵀCg), v the effective variance of the trial, C and s² the fit of the others
/// ```
///
/// With `stated_errors` the density is normal and s² at least 1. Densities are per unit of the law (mm/s, V):
/// only their differences between forms mean something. The held-out range fits the trials with the lower
/// `key` and predicts the others.
pub(super) fn candidate(
    form: &str,
    law: &impl Law,
    observations: &[Observation],
    fitted: &Result<EivFit, NoFit>,
    key: impl Fn(&Observation) -> f64,
    footing: CovarianceFrom,
) -> Candidate {
    let Ok(fit) = fitted else { return not_tried(form, "these trials do not determine this form") };
    let (n, p) = (observations.len() as f64, fit.b.len() as f64 + 1.0);
    let aicc = aicc(n * (fit.sum_of_squares() / n).ln(), n, p);
    let left_out = leave_one_out(law, observations, fit, footing);
    let keys: Vec<f64> = observations.iter().map(key).collect();
    let held_out_range = held_out(law, observations, fit, &keys, footing);
    let mut reasons = Vec::new();
    if n <= p + 1.0 || observations.len() < fit.b.len() + 2 {
        reasons.push("too few trials");
    } else if aicc.is_none() || !left_out.is_some_and(|l| l.1.is_finite()) {
        reasons.push("the residuals have no spread to judge by, or a trial alone fixes a coefficient");
    }
    if held_out_range.is_none() {
        reasons.push("the lower part of the range alone does not determine this form");
    }
    Candidate {
        form: form.to_owned(),
        aicc,
        leave_one_out_relative: left_out.map(|l| l.0),
        leave_one_out_log_density: left_out.map(|l| l.1).filter(|l| l.is_finite()),
        held_out_range,
        line_effect: None,
        reason: (!reasons.is_empty()).then(|| reasons.join("; ")),
    }
}

/// What a fit says about a trial that it has not seen.
struct Prediction {
    value: f64,
    variance: f64,
    degrees: f64,
}

/// A prediction from coefficients, their covariance by the stated errors and χ² per degree.
fn predict(
    law: &impl Law,
    (b, covariance, chi): (&[f64], &DMatrix<f64>, f64),
    degrees: f64,
    o: &Observation,
    footing: CovarianceFrom,
) -> Prediction {
    let mut gradient = DVector::zeros(b.len());
    law.gradient(b, &o.row[..law.quantities()], gradient.as_mut_slice());
    let (scale, degrees) = match footing {
        CovarianceFrom::StatedErrors => (chi.max(1.0), f64::INFINITY),
        _ => (chi, degrees),
    };
    Prediction {
        value: law.predict(b, &o.row[..law.quantities()]),
        variance: scale * (effective_variance(law, b, o) + gradient.dot(&(covariance * &gradient))),
        degrees,
    }
}

/// v = σ² + Σ σⱼ²·(∂f/∂δⱼ)² at the readings.
fn effective_variance(law: &impl Law, b: &[f64], o: &Observation) -> f64 {
    let n = law.quantities();
    let mut by_row = [0.0; MOST];
    law.gradient_by_row(b, &o.row[..n], &mut by_row[..n]);
    o.errors.iter().fold(o.y_se * o.y_se, |sum, e| {
        let slope: f64 = e.direction[..n].iter().zip(&by_row[..n]).map(|(d, g)| d * g).sum();
        sum + (e.standard_deviation * slope).powi(2)
    })
}

/// RMS of (left-out measured − predicted)/measured, and the mean log density of the left-out trials.
///
/// Each trial is left out by the expansion of `left_out`, linear in the number of trials.
pub fn leave_one_out(
    law: &impl Law,
    observations: &[Observation],
    fit: &EivFit,
    footing: CovarianceFrom,
) -> Option<(f64, f64)> {
    if observations.len() < fit.b.len() + 2 {
        return None;
    }
    let (n, degrees) = (observations.len() as f64, fit.degrees_of_freedom() as f64 - 1.0);
    let expansion = Expansion::new(law, observations, fit);
    let (mut squares, mut density) = (0.0, 0.0);
    for (i, o) in observations.iter().enumerate() {
        let rest = expansion.without(i)?;
        let p = predict(law, (&rest.b, &rest.stated_covariance, rest.chi_squared_per_degree), degrees, o, footing);
        squares += (p.value / o.y - 1.0).powi(2);
        density += log_density(o.y - p.value, p.variance, p.degrees);
    }
    let relative = (squares / n).sqrt();
    relative.is_finite().then_some((relative, density / n))
}

/// Log density of Student's t with its location and scale; normal without end of degrees.
fn log_density(miss: f64, variance: f64, degrees: f64) -> f64 {
    let square = miss * miss / variance;
    if degrees.is_infinite() {
        return -0.5 * (square + (2.0 * std::f64::consts::PI * variance).ln());
    }
    use crate::statistics::ln_gamma;
    ln_gamma(f64::midpoint(degrees, 1.0))
        - ln_gamma(degrees / 2.0)
        - 0.5 * (degrees * std::f64::consts::PI * variance).ln()
        - f64::midpoint(degrees, 1.0) * (square / degrees).ln_1p()
}

/// Fit to the lower part of the range, prediction of the upper part.
fn held_out(
    law: &impl Law,
    observations: &[Observation],
    fit: &EivFit,
    keys: &[f64],
    footing: CovarianceFrom,
) -> Option<HeldOutRange> {
    let (lower, upper) = lower_part(keys);
    if upper.is_empty() || lower.len() < fit.b.len() + 2 {
        return None;
    }
    let fitted: Vec<Observation> = lower.iter().map(|&i| observations[i].clone()).collect();
    let part = fit_eiv(law, &fitted, &fit.b).ok()?;
    let misses: Vec<(f64, f64)> = upper
        .iter()
        .map(|&i| {
            let degrees = part.degrees_of_freedom() as f64;
            let numbers = (part.b.as_slice(), &part.stated_covariance, part.chi_squared_per_degree());
            let p = predict(law, numbers, degrees, &observations[i], footing);
            let miss = observations[i].y - p.value;
            (miss / observations[i].y, miss * miss / p.variance)
        })
        .collect();
    held_out_range(lower.len(), &misses)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::burn_off;
    use crate::fit::errors_in_variables::ReadingError;
    use crate::laws::BurnOff;
    use crate::study::BurnOffForm;

    fn observations() -> Vec<Observation> {
        (0..40)
            .map(|i| {
                let u = f64::from(i);
                let current = 120.0 + 3.0 * u;
                let (rms, extension) = (current * (1.25 - 0.003 * u), [11.0, 14.0, 18.0][i as usize % 3]);
                let exact = 0.305 * current + 5.5e-5 * extension * rms * rms;
                Observation {
                    y: exact * (1.0 + 0.01 * (2.3 * u).sin()),
                    y_se: 0.004 * exact,
                    row: [current, rms, extension, 0.0],
                    errors: vec![
                        ReadingError { standard_deviation: 0.008, direction: [current, rms, 0.0, 0.0] },
                        ReadingError { standard_deviation: 0.15, direction: [0.0, 0.0, 1.0, 0.0] },
                    ],
                }
            })
            .collect()
    }

    #[test]
    fn leaving_out_by_expansion_agrees_with_refits() {
        let observations = observations();
        let law = BurnOff(BurnOffForm::Proportional);
        let fit = burn_off::fit(law.0, &observations).expect("two coefficients from forty trials");
        for footing in [CovarianceFrom::Residuals, CovarianceFrom::StatedErrors] {
            let (relative, density) = leave_one_out(&law, &observations, &fit, footing).expect("enough trials");
            let (mut squares, mut sum) = (0.0, 0.0);
            for (i, o) in observations.iter().enumerate() {
                let rest: Vec<Observation> =
                    observations.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, o)| o.clone()).collect();
                let refit = fit_eiv(&law, &rest, &fit.b).expect("determined");
                let numbers = (refit.b.as_slice(), &refit.stated_covariance, refit.chi_squared_per_degree());
                let p = predict(&law, numbers, refit.degrees_of_freedom() as f64, o, footing);
                squares += (p.value / o.y - 1.0).powi(2);
                sum += log_density(o.y - p.value, p.variance, p.degrees);
            }
            // Third order in shifts of a tenth of a standard error.
            assert!((density - sum / 40.0).abs() < 1e-6, "{density} {}", sum / 40.0);
            assert!((relative / (squares / 40.0).sqrt() - 1.0).abs() < 1e-6);
        }
    }

    #[test]
    fn density_of_a_left_out_trial_is_that_of_students_t() {
        // t with 1 degree is Cauchy: 1/(π·s·(1 + (x/s)²)) = 1/(π·2·2) at x = s = 2.
        assert!((log_density(2.0, 4.0, 1.0) + (4.0 * std::f64::consts::PI).ln()).abs() < 1e-12);
        // Normal at its centre: 1/(√(2π)·2).
        assert!((log_density(0.0, 4.0, f64::INFINITY) + 0.918_938_533_204_672_8 + 2.0_f64.ln()).abs() < 1e-12);
    }

    #[test]
    fn sixty_per_cent_with_the_lower_values_are_fitted() {
        let keys = [5.0, 1.0, 4.0, 2.0, 3.0];
        assert_eq!(lower_part(&keys), (vec![1, 3, 4], vec![2, 0]));
    }
}

//! Other forms of a law, tried beside and reported; never used unless the study says so.

use rayon::prelude::*;

use super::errors_in_variables::{EivFit, NoFit, Observation, fit as fit_eiv};
use crate::laws::{Candidate, Law};

/// Trials up to which every trial is left out by refitting; above, the leverage says nearly the same.
const REFIT_UP_TO: usize = 300;

/// AICc and leave-one-out error of one form.
///
/// ```text
/// AICc = N·ln(SS/N) + 2p + 2p(p + 1)/(N − p − 1), p counts the variance
/// ```
/// # Source
/// Hurvich and Tsai (1989), Biometrika 76, 297 (from memory).
pub fn candidate(
    form: &str,
    law: &(impl Law + Sync),
    observations: &[Observation],
    fitted: Result<EivFit, NoFit>,
) -> Candidate {
    let Ok(fit) = fitted else {
        return Candidate {
            form: form.to_owned(),
            aicc: None,
            leave_one_out_relative: None,
            leave_one_out_log_density: None,
            held_out_range: None,
            line_effect: None,
            reason: Some("these trials do not determine this form".to_owned()),
        };
    };
    let (n, p) = (observations.len() as f64, fit.b.len() as f64 + 1.0);
    let aicc =
        (n > p + 1.0).then(|| n * (fit.sum_of_squares() / n).ln() + 2.0 * p + 2.0 * p * (p + 1.0) / (n - p - 1.0));
    let leave_one_out = leave_one_out_relative(law, observations, &fit);
    let reason = (aicc.is_none() || leave_one_out.is_none()).then(|| "too few trials".to_owned());
    Candidate {
        form: form.to_owned(),
        aicc: aicc.filter(|v| v.is_finite()),
        leave_one_out_relative: leave_one_out,
        leave_one_out_log_density: None,
        held_out_range: None,
        line_effect: None,
        reason,
    }
}

/// RMS of (left-out measured − predicted)/measured.
fn leave_one_out_relative(law: &(impl Law + Sync), observations: &[Observation], fit: &EivFit) -> Option<f64> {
    let n = law.quantities();
    if observations.len() > REFIT_UP_TO {
        let sum: f64 = (0..observations.len())
            .map(|i| ((observations[i].y - fit.fitted[i]) / (1.0 - fit.leverage[i]) / observations[i].y).powi(2))
            .sum();
        return Some((sum / observations.len() as f64).sqrt());
    }
    let misses: Vec<f64> = (0..observations.len())
        .into_par_iter()
        .map(|left_out| {
            let rest: Vec<Observation> =
                observations.iter().enumerate().filter(|(i, _)| *i != left_out).map(|(_, o)| o.clone()).collect();
            let o = &observations[left_out];
            fit_eiv(law, &rest, &fit.b).map_or(f64::NAN, |f| (law.predict(&f.b, &o.row[..n]) / o.y - 1.0).powi(2))
        })
        .collect();
    let mean = misses.iter().sum::<f64>() / misses.len() as f64;
    mean.is_finite().then(|| mean.sqrt())
}

//! Other forms of each law, tried beside the one used: how well each predicts, what it would do to the line.
//!
//! They are shown, never chosen: an interval made after picking the form that fits best no longer holds the
//! truth at its stated rate. The default stays unless `[laws]` of the study says otherwise.
//!
//! Every candidate carries AICc, the mean log density of each trial as the others predict it, a fit to the
//! lower part of the range held against the upper part, and the largest change over the line asked for.

mod arc_voltage_forms;
mod burn_off_forms;
mod counted_form;
mod detachment_forms;
mod form_test;
mod least_squares_form;
mod left_out;
mod over_the_line;

pub use arc_voltage_forms::arc_voltage_forms;
pub use burn_off_forms::{PhysicalBeta, burn_off_forms};
pub use detachment_forms::detachment_forms;
pub use least_squares_form::leave_one_out;
pub use left_out::without_each;

use crate::laws::{Candidate, FitTest, HeldOutRange};

/// The candidates of a law and what they say together.
#[derive(Debug, Clone)]
pub struct Forms {
    /// Each form, the used one among them.
    pub candidates: Vec<Candidate>,
    /// Whether the trials ask for another form, and what it would do to the line.
    pub test: FitTest,
}

/// Share of the trials that the held-out test fits: those with the lower values.
const FITTED_SHARE: f64 = 0.6;

/// How many of `trials` are fitted and, by rising `key`, which.
fn lower_part(keys: &[f64]) -> (Vec<usize>, Vec<usize>) {
    let mut order: Vec<usize> = (0..keys.len()).collect();
    order.sort_by(|a, b| keys[*a].total_cmp(&keys[*b]));
    let upper = order.split_off((FITTED_SHARE * keys.len() as f64).round() as usize);
    order.sort_unstable();
    (order, upper)
}

/// What the trials predicted from the lower part come to; `misses` are relative, in the unit of the struct, with
/// their squares over the predicted variances. `None` where a number is none.
fn held_out_range(fitted: usize, misses: &[(f64, f64)]) -> Option<HeldOutRange> {
    let n = misses.len() as f64;
    let range = HeldOutRange {
        fitted,
        predicted: misses.len(),
        rms_relative: (misses.iter().map(|m| m.0.powi(2)).sum::<f64>() / n).sqrt(),
        mean_relative: misses.iter().map(|m| m.0).sum::<f64>() / n,
        standardised: (misses.iter().map(|m| m.1).sum::<f64>() / n).sqrt(),
    };
    [range.rms_relative, range.mean_relative, range.standardised].iter().all(|v| v.is_finite()).then_some(range)
}

fn not_tried(form: &str, reason: impl Into<String>) -> Candidate {
    Candidate {
        form: form.to_owned(),
        aicc: None,
        leave_one_out_relative: None,
        leave_one_out_log_density: None,
        held_out_range: None,
        line_effect: None,
        reason: Some(reason.into()),
    }
}

/// AICc from minus twice the log-likelihood (up to a constant), trials and free numbers.
///
/// # Source
/// Hurvich and Tsai (1989), Biometrika 76, 297–307.
fn aicc(minus_twice_log: f64, trials: f64, free: f64) -> Option<f64> {
    (trials > free + 1.0)
        .then(|| minus_twice_log + 2.0 * free + 2.0 * free * (free + 1.0) / (trials - free - 1.0))
        .filter(|v| v.is_finite())
}

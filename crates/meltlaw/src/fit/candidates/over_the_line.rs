//! Where forms of a law are compared: at the feeds of the line asked for, at currents typical of the trials.

use nalgebra::DVector;

use crate::fit::errors_in_variables::EivFit;
use crate::fit::selection::Selection;
use crate::laws::{Law, LineEffect};
use crate::study::{CovarianceFrom, Study};

/// Feeds of the request in m/min: both ends and the study's step between, at most 100.
pub(super) fn feeds_m_min(study: &Study) -> Vec<f64> {
    let [low, high] = study.line.wire_feed_m_min;
    let steps = ((high - low) / study.line.step_m_min).ceil().clamp(1.0, 100.0);
    (0..=steps as usize).map(|i| low + (high - low) * i as f64 / steps).collect()
}

/// One setting of the line: feed, mean and RMS current at which the used burn-off law melts it.
#[derive(Debug, Clone, Copy)]
pub(super) struct TypicalSetting {
    pub(super) feed_m_min: f64,
    pub(super) mean_a: f64,
    pub(super) rms_a: f64,
}

/// Typical settings: the RMS current stands to the mean current as it does on average over the trials, and
/// the mean current is what the burn-off law then asks for at the study's extension.
///
/// ```text
/// α·Ī + β·L·r²·Ī² + offset = w, r = mean of I_rms/Ī
/// ```
pub(super) fn typical_settings(study: &Study, burn: &Selection, b: &[f64]) -> Vec<TypicalSetting> {
    let ratio = burn.observations.iter().map(|o| o.row[1] / o.row[0]).sum::<f64>() / burn.observations.len() as f64;
    let extension = study.conditions().extension_mm;
    let bend = b[1] * extension * ratio * ratio;
    feeds_m_min(study)
        .into_iter()
        .filter_map(|feed_m_min| {
            let wanted = feed_m_min / 0.06 - b.get(2).copied().unwrap_or(0.0);
            // The root that goes to w/α as the bend goes to zero, without cancellation.
            let mean_a = 2.0 * wanted / (b[0] + (b[0] * b[0] + 4.0 * bend * wanted).sqrt());
            (mean_a > 0.0 && mean_a.is_finite()).then_some(TypicalSetting { feed_m_min, mean_a, rms_a: ratio * mean_a })
        })
        .collect()
}

/// A fitted form.
pub(super) struct FittedForm<'a, L> {
    pub(super) law: &'a L,
    pub(super) fit: &'a EivFit,
}

/// Largest change of the prediction against the form used over `settings`, in units of `unit` = `factor`
/// times the law's.
///
/// The forms are nested, so the variance of the change is the difference of both predictions' variances
/// (Hausman 1978, Econometrica 46, 1251–1271), both with the larger form's residual scale.
pub(super) fn largest_change<A: Law, B: Law>(
    used: &FittedForm<'_, A>,
    other: &FittedForm<'_, B>,
    rows: &[(f64, Vec<f64>)],
    (factor, unit): (f64, &str),
    footing: CovarianceFrom,
) -> Option<LineEffect> {
    let larger = if used.fit.b.len() > other.fit.b.len() { used.fit } else { other.fit };
    let chi = larger.chi_squared_per_degree();
    let scale = if footing == CovarianceFrom::StatedErrors { chi.max(1.0) } else { chi };
    rows.iter()
        .map(|(feed, row)| {
            let change = other.law.predict(&other.fit.b, row) - used.law.predict(&used.fit.b, row);
            let spread = scale * (variance(used.law, used.fit, row) - variance(other.law, other.fit, row)).abs();
            LineEffect {
                value: factor * change,
                unit: unit.to_owned(),
                at_wire_feed_m_min: *feed,
                standard_errors: Some(change.abs() / spread.sqrt()).filter(|s| s.is_finite()),
            }
        })
        .filter(|e| e.value.is_finite())
        .max_by(|a, b| a.value.abs().total_cmp(&b.value.abs()))
}

fn variance(law: &impl Law, fit: &EivFit, row: &[f64]) -> f64 {
    let mut gradient = DVector::zeros(fit.b.len());
    law.gradient(&fit.b, row, gradient.as_mut_slice());
    gradient.dot(&(&fit.stated_covariance * &gradient))
}

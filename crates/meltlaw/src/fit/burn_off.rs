//! The burn-off law from trials: w, both currents and the extension carry errors.

use super::errors_in_variables::{EivFit, MOST, NoFit, Observation, ReadingError, fit as fit_eiv, linear_start};
use super::prior_rows::{PriorRows, fit_to_both};
use super::selection::{Selection, gain_se, select};
use crate::laws::{BurnOff, Law};
use crate::study::{BurnOffForm, Study};
use crate::trials::{Column, Mode, Trial, Trials};

/// Trials chosen for the law, in its units, with their errors.
///
/// The true current is the gain times the reading, one gain per trial shared by mean and RMS; a
/// column's own standard error comes on top. Feed in mm/s: m/min over 0.06.
pub fn observations(study: &Study, trials: &Trials) -> Selection {
    select(trials, |trial| observation(study, trials, trial))
}

fn observation(study: &Study, trials: &Trials, trial: &Trial) -> Result<Observation, String> {
    let need = |column: Column| trial.get(column).ok_or_else(|| format!("no {}", column.name()));
    let feed_m_min = need(Column::WireFeed)?;
    let mean = need(Column::CurrentMean)?;
    let (rms, rms_is_mean) = match (trial.get(Column::CurrentRms), trial.mode) {
        (Some(rms), _) => (rms, false),
        (None, Mode::ConstantCurrent) => (mean, true),
        (None, _) => return Err("no current_rms_a (it may be left out only for mode constant_current)".to_owned()),
    };
    let geometry =
        trials.geometry(trial, &study.bench).ok_or("no extension: neither extension_mm nor ctwd_mm is given")?;
    let feed = feed_m_min / 0.06;
    let feed_se = trial.stated_se(Column::WireFeed).map_or(study.bench.wire_feed_relative_se * feed, |se| se / 0.06);
    let mut errors = vec![
        ReadingError { standard_deviation: gain_se(study, trial), direction: [mean, rms, 0.0, 0.0] },
        ReadingError { standard_deviation: geometry.extension_se_mm, direction: [0.0, 0.0, 1.0, 0.0] },
    ];
    let mean_se = trial.stated_se(Column::CurrentMean).unwrap_or(0.0);
    if mean_se > 0.0 {
        let moves_rms = if rms_is_mean { 1.0 } else { 0.0 };
        errors.push(ReadingError { standard_deviation: mean_se, direction: [1.0, moves_rms, 0.0, 0.0] });
    }
    let rms_se = trial.stated_se(Column::CurrentRms).filter(|_| !rms_is_mean).unwrap_or(0.0);
    if rms_se > 0.0 {
        errors.push(ReadingError { standard_deviation: rms_se, direction: [0.0, 1.0, 0.0, 0.0] });
    }
    let mut row = [0.0; MOST];
    row[..3].copy_from_slice(&[mean, rms, geometry.extension_mm]);
    Ok(Observation { y: feed, y_se: feed_se, row, errors })
}

/// Fits the form that the study asks for, with what the study states of its coefficients.
///
/// # Errors
/// [`NoFit`] where trials and statements do not determine it.
pub fn fit_for(study: &Study, observations: &[Observation]) -> Result<EivFit, NoFit> {
    let law = BurnOff(study.laws.burn_off);
    let prior = PriorRows::of(study, "burn_off", law.coefficients());
    fit_to_both(&law, observations, prior, study.numerics.covariance_from)
}

/// Fits one form of the law to the trials alone.
///
/// # Errors
/// [`NoFit`] where the trials do not determine it.
/// # Source
/// Maximum likelihood under the stated errors without the log-determinant term; see
/// [`super::errors_in_variables`].
pub fn fit(form: BurnOffForm, observations: &[Observation]) -> Result<EivFit, NoFit> {
    let law = BurnOff(form);
    let start = linear_start(&law, observations).ok_or(NoFit::Dependent)?;
    fit_eiv(&law, observations, &start)
}

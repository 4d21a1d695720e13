//! The arc voltage law from trials: the gain and the arc length are the variables with error; the arc
//! length moves E·a and r·L oppositely.

use super::errors_in_variables::{EivFit, MOST, NoFit, Observation, ReadingError, fit as fit_eiv, linear_start};
use super::prior_rows::{PriorRows, fit_to_both};
use super::selection::{Selection, gain_se, select};
use crate::laws::{ArcVoltage, Law};
use crate::statistics::student_t_quantile;
use crate::study::{ArcVoltageForm, CovarianceFrom, Study};
use crate::trials::{Column, Trial, Trials};

/// Trials chosen for the law, in its units, with their errors.
pub fn observations(study: &Study, trials: &Trials) -> Selection {
    select(trials, |trial| observation(study, trials, trial))
}

fn observation(study: &Study, trials: &Trials, trial: &Trial) -> Result<Observation, String> {
    let mean = trial.get(Column::CurrentMean).ok_or("no current_mean_a")?;
    let voltage = Trials::contact_tip_voltage_v(trial, &study.bench).ok_or("no voltage_mean_v")?;
    let geometry =
        trials.geometry(trial, &study.bench).ok_or("no arc length: neither ctwd_mm nor arc_length_mm is given")?;
    let arc = geometry.arc_length_mm.ok_or("no arc length: extension_mm is given without ctwd_mm or arc_length_mm")?;
    let mut errors = vec![
        ReadingError { standard_deviation: gain_se(study, trial), direction: [mean, 0.0, 0.0, 0.0] },
        ReadingError { standard_deviation: geometry.arc_length_se_mm, direction: [0.0, 1.0, -1.0, 0.0] },
    ];
    let mean_se = trial.stated_se(Column::CurrentMean).unwrap_or(0.0);
    if mean_se > 0.0 {
        errors.push(ReadingError { standard_deviation: mean_se, direction: [1.0, 0.0, 0.0, 0.0] });
    }
    let mut row = [0.0; MOST];
    row[..3].copy_from_slice(&[mean, arc, geometry.extension_mm]);
    let y_se = trial.stated_se(Column::VoltageMean).unwrap_or(study.bench.voltage_se_v);
    Ok(Observation { y: voltage, y_se, row, errors })
}

/// Fits one form of the law to the trials alone.
///
/// # Errors
/// [`NoFit`] where the trials do not determine it.
pub fn fit(form: ArcVoltageForm, observations: &[Observation]) -> Result<EivFit, NoFit> {
    let law = ArcVoltage(form);
    let start = linear_start(&law, observations).ok_or(NoFit::Dependent)?;
    fit_eiv(&law, observations, &start)
}

/// Fits one form with what the study states of its coefficients.
fn fit_form(study: &Study, form: ArcVoltageForm, observations: &[Observation]) -> Result<EivFit, NoFit> {
    let law = ArcVoltage(form);
    let prior = PriorRows::of(study, "arc_voltage", law.coefficients());
    fit_to_both(&law, observations, prior, study.numerics.covariance_from)
}

/// The form that the data can tell, the fit, and why a term was dropped.
///
/// r, then E, is kept where its interval from the trials excludes zero, or where the study states it.
///
/// # Errors
/// [`NoFit`] where not even the shortest form can be fitted.
pub fn choose(study: &Study, observations: &[Observation]) -> Result<(ArcVoltageForm, EivFit, Vec<String>), NoFit> {
    if let Some(form) = study.laws.arc_voltage {
        return Ok((form, fit_form(study, form, observations)?, Vec::new()));
    }
    let mut dropped = Vec::new();
    for (form, term) in [
        (ArcVoltageForm::CurrentArcExtension, "r (extension_ohm_per_mm)"),
        (ArcVoltageForm::CurrentArc, "E (gradient_v_per_mm)"),
    ] {
        let last = ArcVoltage(form).coefficients().last().expect("every form has coefficients").name;
        if study.prior_of("arc_voltage").any(|p| p.coefficient == last) {
            return Ok((form, fit_form(study, form, observations)?, dropped));
        }
        match fit_form(study, form, observations) {
            Ok(found) if tells_last_term(&found, study) => return Ok((form, found, dropped)),
            Ok(_) => dropped.push(format!(
                "{term} is left out: its interval from the trials includes zero, so the data cannot tell it; trials {} would",
                if form == ArcVoltageForm::CurrentArc { "at clearly different arc lengths" } else { "at clearly different contact-tip-to-work distances" }
            )),
            Err(_) => dropped.push(format!("{term} is left out: these trials do not determine it")),
        }
    }
    let found = fit_form(study, ArcVoltageForm::Current, observations)?;
    Ok((ArcVoltageForm::Current, found, dropped))
}

fn tells_last_term(fit: &EivFit, study: &Study) -> bool {
    let last = fit.b.len() - 1;
    let [scale, _] = fit.scales(study.numerics.covariance_from);
    let nu = match study.numerics.covariance_from {
        CovarianceFrom::StatedErrors => f64::INFINITY,
        _ => fit.effective_degrees(),
    };
    let se = (fit.stated_covariance[(last, last)] * scale).sqrt();
    fit.b[last].abs() > student_t_quantile(0.5 + study.numerics.confidence / 2.0, nu) * se
}

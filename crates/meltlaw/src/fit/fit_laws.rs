//! All three laws of a study, and what the stated common errors do to them.

use std::collections::BTreeMap;

use super::assemble::{CommonErrors, coefficient, footing, least_squares_law, no_fit_reason, unusable};
use super::errors_in_variables::{EivFit, NoFit};
use super::selection::Selection;
use super::{
    arc_voltage, burn_off, candidates, detachment, detachment_law, diagnosis, plausibility, power, prior_pull,
};
use crate::laws::{ArcVoltage, BurnOff, CalibrationEffect, FittedLaw, Law, Laws, TrialCloud};
use crate::statistics::{mean, range};
use crate::study::{ArcVoltageForm, CalibrationTerm, CovarianceFrom, Study};
use crate::trials::Trials;

/// Distances that differ by less are one and the same.
const ONE_CTWD_MM: f64 = 1e-9;

/// The laws of a study.
#[derive(Debug, Clone)]
pub struct FittedStudy {
    /// The three laws.
    pub laws: Laws,
    /// What each stated common error does to their coefficients.
    pub calibration: Vec<CalibrationEffect>,
}

/// The raw fits of one table.
struct Fits {
    burn_off: (Selection, Result<EivFit, NoFit>),
    arc_voltage: (Selection, Result<(ArcVoltageForm, EivFit, Vec<String>), NoFit>),
    detachment: (detachment::CountedSelection, detachment::Outcome),
}

/// Fits burn-off, detachment and arc voltage to the trials of a study.
///
/// A law that cannot be fitted is part of the answer, with its reason.
pub fn fit_laws(study: &Study, trials: &Trials) -> FittedStudy {
    let burn = burn_off::observations(study, trials);
    let volt = arc_voltage::observations(study, trials);
    let counted = detachment::select(study, trials);
    let ((burn_fit, volt_fit), outcome) = rayon::join(
        || (burn_off::fit_for(study, &burn.observations), arc_voltage::choose(study, &volt.observations)),
        || detachment::fit(&counted, study.numerics.confidence, study.laws.trial_scatter, None),
    );
    let fits = Fits { burn_off: (burn, burn_fit), arc_voltage: (volt, volt_fit), detachment: (counted, outcome) };
    let effects: Vec<TermEffects> = {
        use rayon::prelude::*;
        study.calibration.par_iter().map(|c| effects_of(study, trials, &fits, c.term)).collect()
    };
    let common = |pick: fn(&TermEffects) -> &Vec<f64>| {
        CommonErrors(
            study.calibration.iter().zip(&effects).map(|(c, e)| (c.standard_uncertainty, pick(e).clone())).collect(),
        )
    };
    let burn = fits.burn_off.1.as_ref().ok().map(|fit| (&fits.burn_off.0, fit));
    let (burn_off, (arc_voltage, detachment)) = rayon::join(
        || burn_off_law(study, trials, &fits.burn_off, &common(|e| &e.burn_off)),
        || {
            rayon::join(
                || arc_voltage_law(study, trials, &fits.arc_voltage, burn, &common(|e| &e.arc_voltage)),
                || detachment_record(study, trials, &fits.detachment, burn, &common(|e| &e.detachment)),
            )
        },
    );
    let mut laws = Laws { burn_off, detachment, arc_voltage, carried: None };
    prior_pull::show(study, trials, &mut laws);
    let calibration = study
        .calibration
        .iter()
        .zip(&effects)
        .map(|(c, e)| CalibrationEffect {
            name: c.term.name().to_owned(),
            standard_uncertainty: c.standard_uncertainty,
            unit: c.term.unit().to_owned(),
            effects: named_effects(&laws, e),
        })
        .collect();
    FittedStudy { laws, calibration }
}

/// Derivatives of every coefficient by one common error.
struct TermEffects {
    burn_off: Vec<f64>,
    arc_voltage: Vec<f64>,
    detachment: Vec<f64>,
}

fn named_effects(laws: &Laws, effects: &TermEffects) -> BTreeMap<String, f64> {
    let mut named = BTreeMap::new();
    for ((name, law), values) in
        laws.by_name().into_iter().zip([&effects.burn_off, &effects.detachment, &effects.arc_voltage])
    {
        if law.ended.usable {
            for (coefficient, value) in law.coefficient_order.iter().zip(values) {
                named.insert(format!("{name}.{coefficient}"), *value);
            }
        }
    }
    named
}

/// Half step of the central differences: relative for gains, V or mm for offsets. The laws bend so little
/// over it that the next order is below 1e-8 of the effect.
const STEP: f64 = 1e-4;

/// Central difference, or one-sided where a refit did not come about.
fn derivative(low: Option<Vec<f64>>, high: Option<Vec<f64>>, middle: &[f64]) -> Vec<f64> {
    let width = STEP * f64::from(u8::from(low.is_some()) + u8::from(high.is_some())).max(1.0);
    let (low, high) = (low.unwrap_or_else(|| middle.to_vec()), high.unwrap_or_else(|| middle.to_vec()));
    low.iter().zip(&high).map(|(l, h)| (h - l) / width).collect()
}

fn effects_of(study: &Study, trials: &Trials, fits: &Fits, term: CalibrationTerm) -> TermEffects {
    let sides = [-STEP, STEP].map(|error| trials.corrected(&study.bench, term, error));
    let at_side = |side: &(Trials, crate::study::Bench)| Study { bench: side.1.clone(), ..study.clone() };
    let burn_off = match &fits.burn_off.1 {
        Ok(fit) => {
            let [low, high] = [0, 1].map(|i| {
                let observations = burn_off::observations(&at_side(&sides[i]), &sides[i].0).observations;
                super::errors_in_variables::fit_with(&BurnOff(study.laws.burn_off), &observations, &fit.b, &fit.prior)
                    .ok()
                    .map(|f| f.b)
            });
            derivative(low, high, &fit.b)
        }
        Err(_) => Vec::new(),
    };
    let arc_voltage = match &fits.arc_voltage.1 {
        Ok((form, fit, _)) => {
            let [low, high] = [0, 1].map(|i| {
                let observations = arc_voltage::observations(&at_side(&sides[i]), &sides[i].0).observations;
                super::errors_in_variables::fit_with(&ArcVoltage(*form), &observations, &fit.b, &fit.prior)
                    .ok()
                    .map(|f| f.b)
            });
            derivative(low, high, &fit.b)
        }
        Err(_) => Vec::new(),
    };
    let detachment = match &fits.detachment.1 {
        detachment::Outcome::Fitted(fit)
            if matches!(term, CalibrationTerm::CurrentGainRelative | CalibrationTerm::PulseTimeGainRelative) =>
        {
            let [low, high] = [0, 1].map(|i| {
                let selection = detachment::select(&at_side(&sides[i]), &sides[i].0);
                match detachment::fit(&selection, study.numerics.confidence, study.laws.trial_scatter, Some(&fit.q)) {
                    // A refit whose scatter falls to zero belongs to another branch of the likelihood.
                    detachment::Outcome::Fitted(f) if f.q[4].is_finite() == fit.q[4].is_finite() => {
                        Some(f.natural().to_vec())
                    }
                    _ => None,
                }
            });
            derivative(low, high, &fit.natural())
        }
        _ => vec![0.0; 5],
    };
    TermEffects { burn_off, arc_voltage, detachment }
}

fn least_squares_footing(study: &Study) -> CovarianceFrom {
    match study.numerics.covariance_from {
        CovarianceFrom::StatedErrors => CovarianceFrom::StatedErrors,
        _ => CovarianceFrom::Residuals,
    }
}

/// Covariance of the coefficients by the study's footing.
fn scaled_covariance(study: &Study, fit: &EivFit) -> nalgebra::DMatrix<f64> {
    let (_, scale, _, _) = footing(study, fit);
    fit.covariance_at(scale)
}

fn burn_off_law(
    study: &Study,
    trials: &Trials,
    (selection, fit): &(Selection, Result<EivFit, NoFit>),
    common: &CommonErrors,
) -> FittedLaw {
    let law = BurnOff(study.laws.burn_off);
    let names = law.coefficients();
    let fit = match fit {
        Ok(fit) => fit,
        Err(reason) => {
            let (how, why) = no_fit_reason(
                *reason,
                selection.used.len(),
                names.len(),
                "vary the current and the extension independently, for example at two contact-tip-to-work distances",
            );
            return unusable(
                law.0.word(),
                law.equation(),
                "mm/s",
                how,
                &why,
                selection.names(trials),
                selection.left_out.clone(),
                least_squares_footing(study),
            );
        }
    };
    let diagnosis = diagnosis::least_squares(&law, trials, selection, fit, &scaled_covariance(study, fit));
    let without = candidates::without_each(&law, &selection.observations, fit);
    let mut record = least_squares_law(study, trials, selection, fit, names, common, "mm/s", &without, diagnosis);
    record.form = law.0.word().to_owned();
    record.equation = law.equation().to_owned();
    let current: Vec<f64> = selection.observations.iter().map(|o| o.row[0]).collect();
    let heated: Vec<f64> = selection.observations.iter().map(|o| o.row[2] * o.row[1] * o.row[1]).collect();
    record.range.insert("current_mean_a".to_owned(), range(current.iter().copied()));
    record.range.insert("extension_rms_squared_mm_a2".to_owned(), range(heated.iter().copied()));
    record.cloud = Some(TrialCloud::new(
        &record.trials_used,
        &[("current_mean_a", current), ("extension_rms_squared_mm_a2", heated)],
        &[],
    ));
    let forms = candidates::burn_off_forms(study, selection, fit, least_squares_footing(study));
    record.tests.insert("form".to_owned(), forms.test);
    record.candidates = forms.candidates;
    record.plausibility = plausibility::burn_off_of_trials(study, trials, selection, fit);
    if record.coefficients.get("alpha_mm_per_a_s").is_some_and(|c| c.interval[0].is_some_and(|low| low <= 0.0)) {
        record.notes.push("alpha cannot be told from zero: these trials do not separate arc heat from resistive heat; weld at clearly different wire feeds and contact-tip-to-work distances".to_owned());
    }
    if record.coefficients.get("beta_per_a2_s").is_some_and(|c| c.interval[0].is_some_and(|low| low <= 0.0)) {
        record.notes.push("beta cannot be told from zero: these trials do not separate arc heat from resistive heat; trials at clearly different contact-tip-to-work distances would (for aluminium beta is small by nature)".to_owned());
    }
    record
}

fn detachment_record(
    study: &Study,
    trials: &Trials,
    (selection, outcome): &(detachment::CountedSelection, detachment::Outcome),
    burn: Option<(&Selection, &EivFit)>,
    common: &CommonErrors,
) -> FittedLaw {
    let mut record = detachment_law::record(study, trials, selection, outcome, common);
    if let detachment::Outcome::Fitted(fit) = outcome {
        let forms = candidates::detachment_forms(study, trials, selection, fit, burn.map(|(_, fit)| fit.b.as_slice()));
        record.tests.insert("form".to_owned(), forms.test);
        record.candidates = forms.candidates;
        record.plausibility = plausibility::detachment(study, fit);
    }
    record.plausibility.extend(plausibility::counts(study, trials, selection));
    record
}

/// With r left out because the data cannot tell it from zero, E is known no better than with it: its interval is
/// widened to hold that of the form with r. Where r is small but there, E alone would take part of it up: on invented
/// aluminium labs its interval held the gradient in 91 % instead of 95 %.
fn widen_by_left_out(
    study: &Study,
    observations: &[super::errors_in_variables::Observation],
    common: &CommonErrors,
    record: &mut FittedLaw,
) {
    const GRADIENT: usize = 2;
    let Ok(whole) = arc_voltage::fit(ArcVoltageForm::CurrentArcExtension, observations) else { return };
    let (_, scale, degrees, _) = footing(study, &whole);
    let with_r = coefficient(
        whole.b[GRADIENT],
        "V/mm",
        whole.stated_covariance[(GRADIENT, GRADIENT)] * scale,
        common.variance(GRADIENT),
        degrees,
        study.numerics.confidence,
        false,
    );
    let Some(c) = record.coefficients.get_mut("gradient_v_per_mm") else { return };
    let [Some(low), Some(high)] = with_r.interval else { return };
    let wider = [c.interval[0].map(|l| l.min(low)), c.interval[1].map(|h| h.max(high))];
    if wider != c.interval {
        c.interval = wider;
        c.interval_method.push_str(", widened by what the left-out r could do");
    }
}

fn arc_voltage_law(
    study: &Study,
    trials: &Trials,
    (selection, fit): &(Selection, Result<(ArcVoltageForm, EivFit, Vec<String>), NoFit>),
    burn: Option<(&Selection, &EivFit)>,
    common: &CommonErrors,
) -> FittedLaw {
    let (form, fit, dropped) = match fit {
        Ok(found) => found,
        Err(reason) => {
            let law = ArcVoltage(study.laws.arc_voltage.unwrap_or(ArcVoltageForm::Current));
            let why = if selection.used.is_empty() {
                "measure voltage_mean_v of the trials"
            } else {
                match law.0 {
                    ArcVoltageForm::Current => "weld trials at clearly different currents",
                    ArcVoltageForm::CurrentArc => "weld trials at clearly different currents and arc lengths",
                    ArcVoltageForm::CurrentArcExtension => {
                        "weld trials at clearly different currents, arc lengths and contact-tip-to-work distances"
                    }
                }
            };
            let (how, why) = no_fit_reason(*reason, selection.used.len(), law.coefficients().len(), why);
            return unusable(
                law.0.word(),
                law.equation(),
                "V",
                how,
                &why,
                selection.names(trials),
                selection.left_out.clone(),
                least_squares_footing(study),
            );
        }
    };
    let law = ArcVoltage(*form);
    if let Some(why) = power::impossible_powers(study, trials, selection) {
        return unusable(
            law.0.word(),
            law.equation(),
            "V",
            "impossible_power",
            &why,
            selection.names(trials),
            selection.left_out.clone(),
            least_squares_footing(study),
        );
    }
    let diagnosis = diagnosis::least_squares(&law, trials, selection, fit, &scaled_covariance(study, fit));
    let without = candidates::without_each(&law, &selection.observations, fit);
    let mut record =
        least_squares_law(study, trials, selection, fit, law.coefficients(), common, "V", &without, diagnosis);
    record.form = form.word().to_owned();
    record.equation = law.equation().to_owned();
    record.notes.clone_from(dropped);
    if study.laws.arc_voltage.is_none() && *form == ArcVoltageForm::CurrentArc {
        widen_by_left_out(study, &selection.observations, common, &mut record);
    }
    let extension: Vec<f64> = selection.observations.iter().map(|o| o.row[2]).collect();
    record.mean_extension_mm = Some(mean(&extension));
    let [current, arc] = [0, 1].map(|i| selection.observations.iter().map(|o| o.row[i]).collect::<Vec<_>>());
    record.range.insert("current_mean_a".to_owned(), range(current.iter().copied()));
    record.range.insert("arc_length_mm".to_owned(), range(arc.iter().copied()));
    record.range.insert("extension_mm".to_owned(), range(extension.iter().copied()));
    record.range.insert(
        "ctwd_mm".to_owned(),
        range(
            selection
                .used
                .iter()
                .filter_map(|&i| trials.geometry(&trials.rows[i], &study.bench).and_then(|g| g.ctwd_mm)),
        ),
    );
    let jointly = [("current_mean_a", current), ("arc_length_mm", arc)];
    let along = ("extension_mm", extension);
    // At one distance the extension says no more than the arc length; without r the law does not know it.
    let [nearest, farthest] = record.range["ctwd_mm"];
    let knows_extension = *form == ArcVoltageForm::CurrentArcExtension && farthest - nearest > ONE_CTWD_MM;
    record.cloud = Some(if knows_extension {
        let [current, arc] = jointly;
        TrialCloud::new(&record.trials_used, &[current, arc, along], &[])
    } else {
        TrialCloud::new(&record.trials_used, &jointly, &[along])
    });
    let forms = candidates::arc_voltage_forms(study, selection, (*form, fit), burn, least_squares_footing(study));
    record.tests.insert("form".to_owned(), forms.test);
    record.candidates = forms.candidates;
    let (test, rule) = power::judge(study, trials, selection, fit, &record.covariance);
    record.tests.insert("power".to_owned(), test);
    record.power = Some(rule);
    record.plausibility = plausibility::arc_voltage(study, fit);
    record
}

//! From a raw fit to the record of a law: covariance, standard errors, intervals, diagnostics, reasons.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::diagnosis::{Diagnosis, satterthwaite};
use super::errors_in_variables::{EivFit, NoFit};
use super::prior_rows::FEWEST_DEGREES;
use super::selection::Selection;
use crate::laws::{
    BetweenBlocks, Coefficient, CoefficientName, CovarianceBeside, Ended, FittedLaw, TrialDiagnostic, TrialLeftOut,
};
use crate::statistics::{student_t_quantile, student_t_two_sided};
use crate::study::{CovarianceFrom, Study};
use crate::trials::Trials;

/// Derivatives of the coefficients by each stated common error, with its standard uncertainty.
#[derive(Debug, Clone, Default)]
pub struct CommonErrors(pub Vec<(f64, Vec<f64>)>);

impl CommonErrors {
    /// Variance that the common errors add to coefficient `i`.
    pub(super) fn variance(&self, i: usize) -> f64 {
        self.0.iter().map(|(u, effects)| (u * effects[i]).powi(2)).sum()
    }
}

/// A law that could not be fitted: always with how, why and the trial that would cure it.
pub fn unusable(
    form: &str,
    equation: &str,
    unit: &str,
    how: &str,
    reason: &str,
    trials_used: Vec<String>,
    left_out: Vec<TrialLeftOut>,
    from: CovarianceFrom,
) -> FittedLaw {
    FittedLaw {
        form: form.to_owned(),
        equation: equation.to_owned(),
        coefficients: BTreeMap::new(),
        coefficient_order: Vec::new(),
        covariance: Vec::new(),
        ended: Ended { how: how.to_owned(), usable: false, reason: reason.to_owned() },
        covariance_from: from,
        covariance_beside: None,
        chi_squared_per_degree: None,
        chi_squared_per_degree_reason: Some("the law could not be fitted".to_owned()),
        residual_standard_deviation: None,
        residual_standard_deviation_reason: Some("the law could not be fitted".to_owned()),
        residual_unit: unit.to_owned(),
        degrees_of_freedom: 0,
        trials_used,
        trials_left_out: left_out,
        range: BTreeMap::new(),
        reach: BTreeMap::new(),
        cloud: None,
        clouds: Vec::new(),
        candidates: Vec::new(),
        diagnostics: Vec::new(),
        tests: BTreeMap::new(),
        plausibility: Vec::new(),
        notes: Vec::new(),
        reference_current_a: None,
        mean_log_pulse_current: None,
        counts: None,
        counting_covariance: None,
        d: None,
        mean_extension_mm: None,
        power: None,
        between_blocks: None,
        robust: None,
        profiles: Vec::new(),
    }
}

/// Why a least-squares law has no fit, in words with the cure.
pub fn no_fit_reason(reason: NoFit, used: usize, coefficients: usize, cure: &str) -> (&'static str, String) {
    match reason {
        NoFit::TooFew => (
            "too_few_trials",
            format!(
                "{used} usable trial(s) cannot determine {coefficients} coefficients and a residual spread: weld at least {} more",
                coefficients + 1 - used.min(coefficients)
            ),
        ),
        NoFit::Dependent => ("not_determined", format!("these trials cannot tell the coefficients apart: {cure}")),
        NoFit::Ended(ending) => ("not_converged", format!("{}: check the trials for wrong numbers", ending.words())),
    }
}

/// Scale of the stated covariance, its degrees of freedom, and the same on the other footing.
pub fn footing(study: &Study, fit: &EivFit) -> (CovarianceFrom, f64, f64, f64) {
    let from = study.numerics.covariance_from;
    let [scale, other] = fit.scales(from);
    match from {
        CovarianceFrom::StatedErrors => (CovarianceFrom::StatedErrors, scale, f64::INFINITY, other),
        _ => (CovarianceFrom::Residuals, scale, fit.effective_degrees(), other),
    }
}

/// One coefficient with its interval: Student's t at Welch–Satterthwaite degrees, the common errors
/// known without limit.
pub fn coefficient(
    value: f64,
    unit: &str,
    variance: f64,
    common: f64,
    degrees: f64,
    confidence: f64,
    on_logarithm: bool,
) -> Coefficient {
    let se = variance.sqrt();
    let total = (variance + common).sqrt();
    let effective = if se > 0.0 { degrees * (total / se).powi(4) } else { f64::INFINITY };
    let half = student_t_quantile(0.5 + confidence / 2.0, effective) * total;
    let ends = if on_logarithm {
        [value * (-half / value).exp(), value * (half / value).exp()]
    } else {
        [value - half, value + half]
    };
    let method = if effective.is_finite() && effective < 1e7 {
        format!("t, {effective:.1} degrees of freedom")
    } else {
        "normal".to_owned()
    };
    Coefficient {
        value: Some(value),
        unit: unit.to_owned(),
        standard_error: Some(se),
        standard_error_with_calibration: Some(total),
        interval: ends.map(Some),
        interval_method: if on_logarithm { format!("{method}, on the logarithm") } else { method },
        reason: None,
        prior: None,
    }
}

/// The record of a law fitted by least squares, without ranges, candidates, tests and plausibility.
pub fn least_squares_law(
    study: &Study,
    trials: &Trials,
    selection: &Selection,
    fit: &EivFit,
    names: &[CoefficientName],
    common: &CommonErrors,
    unit: &str,
    without: &[Option<Vec<f64>>],
    diagnosis: Diagnosis,
) -> FittedLaw {
    let (covariance_from, scale, degrees, other_scale) = footing(study, fit);
    let trials_only = fit.covariance_at(scale);
    let other = fit.covariance_at(other_scale);
    let between = diagnosis.between_blocks.as_ref();
    let covariance = with_blocks(&trials_only, between);
    let residuals =
        DVector::from_iterator(fit.fitted.len(), selection.observations.iter().zip(&fit.fitted).map(|(o, f)| o.y - f));
    let coefficients = names
        .iter()
        .enumerate()
        .map(|(i, n)| {
            let c = coefficient(
                fit.b[i],
                n.unit,
                covariance[(i, i)],
                common.variance(i),
                degrees_with_blocks(i, &trials_only, fit.degrees_of(i, &trials_only, degrees), between),
                study.numerics.confidence,
                false,
            );
            let c = Coefficient { interval_method: method_with_blocks(c.interval_method, between), ..c };
            (n.name.to_owned(), c)
        })
        .collect();
    let mut law =
        unusable("", "", unit, "converged", "", selection.names(trials), selection.left_out.clone(), covariance_from);
    law.ended.usable = true;
    law.coefficients = coefficients;
    law.coefficient_order = names.iter().map(|n| n.name.to_owned()).collect();
    law.covariance = rows(&covariance);
    law.covariance_beside = Some(CovarianceBeside {
        covariance_from: if covariance_from == CovarianceFrom::Residuals {
            CovarianceFrom::StatedErrors
        } else {
            CovarianceFrom::Residuals
        },
        standard_errors: names.iter().enumerate().map(|(i, n)| (n.name.to_owned(), other[(i, i)].sqrt())).collect(),
    });
    law.chi_squared_per_degree = Some(fit.chi_squared_per_degree());
    law.chi_squared_per_degree_reason = None;
    law.residual_standard_deviation =
        Some((residuals.norm_squared() / fit.effective_degrees().max(FEWEST_DEGREES)).sqrt());
    law.residual_standard_deviation_reason = None;
    law.degrees_of_freedom = fit.degrees_of_freedom();
    law.diagnostics = diagnostics(trials, selection, fit, residuals.as_slice());
    let nu = fit.degrees_of_freedom() as f64;
    for (i, d) in law.diagnostics.iter_mut().enumerate() {
        d.surprise = d.studentised_residual.map(|t| student_t_two_sided(t, nu - 1.0)).filter(|p| p.is_finite());
        if let Some(b) = &without[i] {
            d.without_it = names.iter().enumerate().map(|(j, n)| (n.name.to_owned(), b[j] - fit.b[j])).collect();
        }
    }
    name_outliers(&mut law.diagnostics, &diagnosis.outliers);
    law.tests = diagnosis.tests;
    law.robust = diagnosis.robust;
    law.between_blocks = diagnosis.between_blocks;
    law
}

/// The covariance with the scatter between blocks.
pub fn with_blocks(covariance: &DMatrix<f64>, between: Option<&BetweenBlocks>) -> DMatrix<f64> {
    let mut sum = covariance.clone();
    if let Some(between) = between {
        for (i, row) in between.covariance.iter().enumerate() {
            for (j, v) in row.iter().enumerate() {
                sum[(i, j)] += v;
            }
        }
    }
    sum
}

/// Degrees of freedom of coefficient `i` with the scatter between blocks.
pub fn degrees_with_blocks(i: usize, trials_only: &DMatrix<f64>, degrees: f64, between: Option<&BetweenBlocks>) -> f64 {
    between.map_or(degrees, |b| satterthwaite(trials_only[(i, i)], degrees, b.covariance[i][i], (b.blocks - 1) as f64))
}

/// The words for an interval with the scatter between blocks.
pub fn method_with_blocks(method: String, between: Option<&BetweenBlocks>) -> String {
    if between.is_some() { format!("{method}, with scatter between blocks") } else { method }
}

/// Flags the trials that stand out.
pub fn name_outliers(diagnostics: &mut [TrialDiagnostic], outliers: &[(usize, f64)]) {
    for (i, t) in outliers {
        diagnostics[*i].flags.insert(0, format!("stands out: {t:+.1} standard errors from what the other trials say"));
    }
}

fn diagnostics(trials: &Trials, selection: &Selection, fit: &EivFit, residuals: &[f64]) -> Vec<TrialDiagnostic> {
    selection
        .used
        .iter()
        .enumerate()
        .map(|(i, &row)| {
            let studentised = fit.external(i);
            let cook = fit.cooks_distance(i);
            let mut flags = Vec::new();
            if let Some(d) = cook.filter(|d| *d > 1.0) {
                flags.push(format!("moves the law: Cook's distance {d:.1}"));
            }
            TrialDiagnostic {
                trial: trials.rows[row].name.clone(),
                fitted: fit.fitted[i],
                residual: residuals[i],
                studentised_residual: studentised,
                leverage: Some(fit.leverage[i]),
                cooks_distance: cook,
                surprise: None,
                without_it: BTreeMap::new(),
                flags,
                reason: (studentised.is_none() || cook.is_none()).then(|| {
                    "this trial alone fixes a coefficient, or a single degree of freedom is left: weld more trials"
                        .to_owned()
                }),
            }
        })
        .collect()
}

/// A matrix as rows.
pub fn rows(matrix: &DMatrix<f64>) -> Vec<Vec<f64>> {
    matrix.row_iter().map(|r| r.iter().copied().collect()).collect()
}

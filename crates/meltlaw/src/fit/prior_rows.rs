//! Prior knowledge in a fit by least squares: each statement is one more row.
//!
//! ```text
//! minimise Σ trials + s²·Σⱼ (bⱼ − meanⱼ)²/sd²ⱼ,   covariance s²·(JᵀJ)⁻¹ over all rows
//! ```
//!
//! s² is what the trials' weighted residuals are worth: χ² per degree where the covariance rests on the
//! residuals, max(1, χ² per degree) where it rests on the stated errors. So a statement weighs against trials
//! as they really scatter, and the covariance is that of the two together. Where the trials alone determine
//! the law s² is theirs alone: taken from the compromise it would grow with the misfit that a wrong statement
//! causes, and give it the more weight the more it contradicts. Otherwise both are found together, over
//! N − p + Σ shares degrees.

use nalgebra::DMatrix;

use super::errors_in_variables::{EivFit, MOST, NoFit, Observation, fit, fit_with, linear_start, linear_start_with};
use super::least_squares::{Ending, covariance_and_leverage};
use crate::laws::{CoefficientName, Law};
use crate::study::{CovarianceFrom, Study};

/// Degrees of freedom below which no residual spread is taken from the trials: with half a degree a 95 %
/// interval is already hundreds of standard errors wide.
pub const FEWEST_DEGREES: f64 = 0.5;

/// s² where the trials are met exactly, so that the statements keep a weight.
const SMALLEST_SCALE: f64 = 1e-10;

/// Rounds in search of s² and of the weights of readings taken as settings; a handful usually does.
const ROUNDS: usize = 200;

/// What is stated of one coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PriorRow {
    /// Its place among the law's coefficients.
    pub place: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub standard_deviation: f64,
}

/// All statements about one law and the scale s² on which they meet the trials.
#[derive(Debug, Clone, PartialEq)]
pub struct PriorRows {
    /// One row for each.
    pub rows: Vec<PriorRow>,
    /// s².
    pub scale: f64,
    /// Whether the readings count as settings about which the true values scatter; so where the trials
    /// alone do not determine the law.
    pub nominal: bool,
}

impl Default for PriorRows {
    fn default() -> Self {
        Self { rows: Vec::new(), scale: 1.0, nominal: false }
    }
}

impl PriorRows {
    /// What the study states of a law with these coefficients.
    pub fn of(study: &Study, law: &str, names: &[CoefficientName]) -> Self {
        let rows = study
            .prior_of(law)
            .filter_map(|p| {
                let place = names.iter().position(|n| n.name == p.coefficient)?;
                Some(PriorRow { place, mean: p.mean, standard_deviation: p.standard_deviation })
            })
            .collect();
        Self { rows, scale: 1.0, nominal: false }
    }

    /// s/sd: what the distance from the mean is multiplied by.
    pub fn weight(&self, row: &PriorRow) -> f64 {
        self.scale.sqrt() / row.standard_deviation
    }
}

/// Fits a law to trials and statements, s² and coefficients together.
///
/// # Errors
/// [`NoFit`] where trials and statements do not determine it.
pub fn fit_to_both(
    law: &impl Law,
    observations: &[Observation],
    mut prior: PriorRows,
    from: CovarianceFrom,
) -> Result<EivFit, NoFit> {
    if prior.rows.is_empty() {
        let start = linear_start(law, observations).ok_or(NoFit::Dependent)?;
        return fit(law, observations, &start);
    }
    let alone = linear_start(law, observations).and_then(|start| fit(law, observations, &start).ok());
    prior.nominal = alone.is_none();
    prior.scale = alone.map_or(1.0, |f| next_scale(&f, from));
    let mut start = linear_start_with(law, observations, &prior).ok_or(NoFit::Dependent)?;
    if !prior.nominal {
        return fit_with(law, observations, &start, &prior);
    }
    for round in 1..=ROUNDS {
        let found = fit_with(law, observations, &start, &prior)?;
        let next = next_scale(&found, from);
        let of_b =
            |(new, old): (&f64, &f64)| if new == old { 0.0 } else { (new - old).abs() / new.abs().max(old.abs()) };
        let by_b = found.b.iter().zip(&start).map(of_b).fold(0.0, f64::max);
        let moved = (next / prior.scale - 1.0).abs().max(by_b);
        if moved < 1e-11 || round == ROUNDS {
            let spread_known = from == CovarianceFrom::StatedErrors || found.effective_degrees() >= FEWEST_DEGREES;
            return match (moved < 1e-6, spread_known) {
                (true, true) => Ok(found),
                (_, false) => Err(NoFit::TooFew),
                (false, true) => Err(NoFit::Ended(Ending::TooManySteps)),
            };
        }
        prior.scale = next;
        start = found.b;
    }
    Err(NoFit::Ended(Ending::TooManySteps))
}

/// Trials whose readings carry no error any more, what they carried being put into the value predicted, at
/// coefficients `b`.
///
/// Errors in variables take it that readings scatter about true values. Where a quantity was set once and
/// never varied, its reading does not scatter, and e²/v could be lowered without end by a coefficient that
/// makes v large. With v held, such trials say nothing of that coefficient.
///
/// # Source
/// Settings about which true values scatter: Berkson (1950), J. Amer. Statist. Assoc. 45, 164–180.
pub(super) fn as_settings(law: &impl Law, observations: &[Observation], b: &[f64]) -> Vec<Observation> {
    let n = law.quantities();
    observations
        .iter()
        .map(|o| {
            let mut by_row = [0.0; MOST];
            law.gradient_by_row(b, &o.row[..n], &mut by_row[..n]);
            let variance: f64 = o
                .errors
                .iter()
                .map(|e| {
                    let slope: f64 = e.direction[..n].iter().zip(&by_row[..n]).map(|(d, g)| d * g).sum();
                    (e.standard_deviation * slope).powi(2)
                })
                .sum();
            Observation { y_se: (o.y_se * o.y_se + variance).sqrt(), errors: Vec::new(), ..o.clone() }
        })
        .collect()
}

fn next_scale(fit: &EivFit, from: CovarianceFrom) -> f64 {
    match from {
        CovarianceFrom::StatedErrors => fit.chi_squared_per_degree().max(1.0),
        _ => fit.chi_squared_per_degree().max(SMALLEST_SCALE),
    }
}

impl EivFit {
    /// Degrees of freedom of s²: trials less coefficients, and where the trials alone do not determine the
    /// law, less what of the coefficients rests on them, N − p + Σ shares of the statements.
    pub fn effective_degrees(&self) -> f64 {
        let stated = if self.prior.nominal { self.prior_share.iter().sum() } else { 0.0 };
        self.weighted.len() as f64 - self.b.len() as f64 + stated
    }

    /// Scale of the covariance on the footing that the study asks for, and on the other one.
    pub fn scales(&self, from: CovarianceFrom) -> [f64; 2] {
        let chi = self.chi_squared_per_degree();
        let [own, other] = if from == CovarianceFrom::StatedErrors { [chi.max(1.0), chi] } else { [chi, chi.max(1.0)] };
        [if self.prior.rows.is_empty() { own } else { self.prior.scale }, other]
    }

    /// Covariance of the coefficients when the trials' residuals are worth `scale`.
    pub fn covariance_at(&self, scale: f64) -> DMatrix<f64> {
        if self.prior.rows.is_empty() || scale == self.prior.scale || !(scale > 0.0) {
            return &self.stated_covariance * scale;
        }
        let mut jacobian = self.jacobian.clone();
        for i in self.weighted.len()..jacobian.nrows() {
            jacobian.row_mut(i).scale_mut((scale / self.prior.scale).sqrt());
        }
        covariance_and_leverage(&jacobian).map_or_else(|| &self.stated_covariance * scale, |(c, _)| c * scale)
    }

    /// Degrees of freedom of coefficient `i`: the trials' own, but what comes from a statement is known
    /// without limit (Welch and Satterthwaite).
    pub fn degrees_of(&self, i: usize, covariance: &DMatrix<f64>, degrees: f64) -> f64 {
        let all = covariance[(i, i)];
        let stated: f64 =
            self.prior.rows.iter().map(|r| (covariance[(i, r.place)] / r.standard_deviation).powi(2)).sum();
        if stated > 0.0 { degrees * (all / (all - stated).max(0.0)).powi(2) } else { degrees }
    }
}

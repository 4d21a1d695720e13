//! The laws as composing needs them: numbers in arrays, covariances on the scale that is drawn from,
//! common errors in one order for all laws. Built from the record alone, so that a line composed from
//! `laws.json` is the line composed on the way.

use nalgebra::{DMatrix, DVector};

use crate::fit::detachment_law::natural_by_q;
use crate::laws::{CalibrationEffect, Counts, Detachment, FittedLaw, Laws};
use crate::statistics::normal_quantile;
use crate::study::CovarianceFrom;

/// A least-squares law at work.
#[derive(Debug, Clone)]
pub struct LeastSquaresAtWork {
    /// Coefficients.
    pub b: Vec<f64>,
    /// Covariance from the trials, scatter between blocks among it.
    pub covariance: DMatrix<f64>,
    /// What scatter between blocks adds to it.
    pub between_blocks: Option<DMatrix<f64>>,
    /// Covariance before scaling by the residual spread.
    pub stated_covariance: DMatrix<f64>,
    /// Degrees of freedom; infinite for stated errors.
    pub degrees_of_freedom: f64,
    /// Whether other studies and not trials stand behind it.
    pub of_studies: bool,
    /// Largest leverage among the trials used.
    pub largest_leverage: f64,
    /// Derivatives of the coefficients by each common error.
    pub effects: Vec<Vec<f64>>,
}

/// The detachment law at work.
#[derive(Debug, Clone)]
pub struct DetachmentAtWork {
    /// The law.
    pub law: Detachment,
    /// (n, ln k, s1, ln(s2 − s1), ln τ).
    pub q: [f64; 5],
    /// Covariance of q, scatter between blocks among it.
    pub covariance_q: DMatrix<f64>,
    /// What scatter between blocks adds to it.
    pub between_blocks_q: Option<DMatrix<f64>>,
    /// Covariance of q by counting alone.
    pub counting_covariance_q: DMatrix<f64>,
    /// Whether other studies and not trials stand behind it.
    pub of_studies: bool,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Derivatives of q by each common error.
    pub effects_q: Vec<Vec<f64>>,
    /// Where Wald's interval of τ fails: τ is drawn as |estimate + spread·z|.
    pub folded_scatter: Option<f64>,
    /// I₀.
    pub reference_current_a: f64,
    /// Whether only totals were counted.
    pub totals_only: bool,
}

/// A stated common error.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonError {
    /// Name.
    pub name: String,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
}

/// All laws at work.
#[derive(Debug, Clone)]
pub struct LawsAtWork {
    /// Burn-off.
    pub burn_off: LeastSquaresAtWork,
    /// Arc voltage.
    pub arc_voltage: LeastSquaresAtWork,
    /// Detachment.
    pub detachment: DetachmentAtWork,
    /// Common errors, one order for all laws.
    pub common: Vec<CommonError>,
    /// Instant resistance and its standard error, where power follows it instead of the law.
    pub instant_resistance: Option<(f64, f64)>,
    /// How many times their stated errors the trials scatter about the burn-off and the voltage law; 1 unless the
    /// test of the stated errors warns.
    pub weld_scatter: [f64; 2],
}

impl LawsAtWork {
    /// From the record of usable laws; `None` where one is missing or its record is incomplete.
    pub fn new(laws: &Laws, calibration: &[CalibrationEffect], confidence: f64) -> Option<Self> {
        if !laws.missing().is_empty() {
            return None;
        }
        let common = calibration
            .iter()
            .map(|c| CommonError { name: c.name.clone(), standard_uncertainty: c.standard_uncertainty })
            .collect();
        let instant_resistance = laws
            .arc_voltage
            .power
            .as_ref()
            .filter(|p| p.rule == "instant_resistance")
            .and_then(|p| Some((p.instant_resistance_ohm?, p.instant_resistance_ohm_se.unwrap_or(0.0))));
        Some(Self {
            burn_off: least_squares(&laws.burn_off, "burn_off", calibration)?,
            arc_voltage: least_squares(&laws.arc_voltage, "arc_voltage", calibration)?,
            detachment: detachment(&laws.detachment, calibration, confidence)?,
            common,
            instant_resistance,
            weld_scatter: [&laws.burn_off, &laws.arc_voltage].map(scatter_over_stated),
        })
    }
}

fn scatter_over_stated(law: &FittedLaw) -> f64 {
    law.tests.get("stated_errors").filter(|t| t.warns).and_then(|t| t.effect).filter(|r| *r > 0.0).unwrap_or(1.0)
}

fn values(law: &FittedLaw) -> Option<Vec<f64>> {
    law.coefficient_order.iter().map(|name| law.coefficients.get(name)?.value).collect()
}

fn matrix(rows: &[Vec<f64>], size: usize) -> Option<DMatrix<f64>> {
    (rows.len() == size && rows.iter().all(|r| r.len() == size))
        .then(|| DMatrix::from_fn(size, size, |i, j| rows[i][j]))
}

fn effects(law: &FittedLaw, name: &str, calibration: &[CalibrationEffect]) -> Vec<Vec<f64>> {
    calibration
        .iter()
        .map(|c| {
            law.coefficient_order
                .iter()
                .map(|k| c.effects.get(&format!("{name}.{k}")).copied().unwrap_or(0.0))
                .collect()
        })
        .collect()
}

pub(crate) fn least_squares(
    law: &FittedLaw,
    name: &str,
    calibration: &[CalibrationEffect],
) -> Option<LeastSquaresAtWork> {
    let b = values(law)?;
    let covariance = matrix(&law.covariance, b.len())?;
    let chi = law.chi_squared_per_degree.filter(|c| *c >= 0.0)?;
    let (scale, degrees_of_freedom) = match law.covariance_from {
        CovarianceFrom::StatedErrors => (chi.max(1.0), f64::INFINITY),
        _ => (chi, law.degrees_of_freedom as f64),
    };
    let between_blocks = between_blocks(law, b.len());
    let trials_only = between_blocks.as_ref().map_or_else(|| covariance.clone(), |b| &covariance - b);
    Some(LeastSquaresAtWork {
        effects: effects(law, name, calibration),
        // Data met exactly leave no spread to take out again; support then rests on the ranges.
        stated_covariance: if scale > 0.0 { trials_only / scale } else { trials_only },
        covariance,
        between_blocks,
        of_studies: law.is_extended(),
        degrees_of_freedom: with_blocks(law, degrees_of_freedom),
        largest_leverage: law.diagnostics.iter().filter_map(|d| d.leverage).fold(0.0, f64::max),
        b,
    })
}

/// Covariance that scatter between blocks adds, where the record has any.
fn between_blocks(law: &FittedLaw, size: usize) -> Option<DMatrix<f64>> {
    matrix(&law.between_blocks.as_ref()?.covariance, size)
}

/// Degrees of freedom, fewer where scatter between blocks rests on few of them.
fn with_blocks(law: &FittedLaw, degrees_of_freedom: f64) -> f64 {
    law.between_blocks.as_ref().map_or(degrees_of_freedom, |b| b.degrees_of_freedom)
}

pub(crate) fn detachment(
    law: &FittedLaw,
    calibration: &[CalibrationEffect],
    confidence: f64,
) -> Option<DetachmentAtWork> {
    let natural = values(law)?;
    let [exponent, steepness, one, more, scatter] = natural[..] else { return None };
    if !(steepness > 0.0 && one > 0.0 && more > one && scatter >= 0.0) {
        return None;
    }
    let q = [exponent, steepness.ln(), one.ln(), (more / one).ln().ln(), scatter.ln()];
    // At τ = 0 its row and column are zero on either scale.
    let size = if scatter > 0.0 { 5 } else { 4 };
    let jacobian = natural_by_q(&q).view((0, 0), (size, size)).into_owned();
    let to_q = |natural: DMatrix<f64>| -> Option<DMatrix<f64>> {
        let lu = jacobian.clone().lu();
        let half = lu.solve(&natural.view((0, 0), (size, size)).into_owned())?;
        let whole = lu.solve(&half.transpose())?;
        let mut out = DMatrix::zeros(5, 5);
        out.view_mut((0, 0), (size, size)).copy_from(&whole.transpose());
        Some(out)
    };
    let effects_q = effects(law, "detachment", calibration)
        .into_iter()
        .map(|e| {
            let solved = jacobian.clone().lu().solve(&DVector::from_vec(e[..size].to_vec()))?;
            let mut out = solved.as_slice().to_vec();
            out.resize(5, 0.0);
            Some(out)
        })
        .collect::<Option<Vec<_>>>()?;
    let interval = law.coefficients.get("trial_scatter")?.interval;
    let folded_scatter = match interval {
        [Some(0.0), Some(high)] => Some(((high - scatter) / normal_quantile(0.5 + confidence / 2.0)).max(0.0)),
        // A scatter that nothing bounds from above is drawn over a factor of e: no probability then keeps a floor.
        [Some(0.0), None] => Some(1.0),
        _ => None,
    };
    Some(DetachmentAtWork {
        law: Detachment { exponent, steepness, one_drop_s: one.ln(), more_drops_s: more.ln(), trial_scatter: scatter },
        covariance_q: to_q(matrix(&law.covariance, 5)?)?,
        between_blocks_q: between_blocks(law, 5).and_then(to_q),
        counting_covariance_q: to_q(matrix(law.counting_covariance.as_ref()?, 5)?)?,
        q,
        of_studies: law.is_extended(),
        degrees_of_freedom: with_blocks(law, law.degrees_of_freedom as f64),
        effects_q,
        folded_scatter,
        reference_current_a: law.reference_current_a?,
        totals_only: law.counts == Some(Counts::Totals),
    })
}

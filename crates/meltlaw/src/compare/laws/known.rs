//! A law of one wire as numbers: what it predicts is, at any place, a sum of its coefficients with weights.

use nalgebra::DMatrix;

use super::{NotComparable, WireLaws};
use crate::compose::draws::root;
use crate::compose::laws_at_work::{detachment, least_squares};
use crate::laws::{ArcVoltage, BurnOff, CoefficientName, DETACHMENT_COEFFICIENTS, FittedLaw, Law, Laws};
use crate::record::LawsWithOrigin;
use crate::statistics::DrawStream;
use crate::study::{ArcVoltageForm, BurnOffForm, CalibrationTerm};

/// Most coefficients of a law.
pub(super) const MOST: usize = 5;

/// Weights of the coefficients at a place.
pub(super) type Weights = [f64; MOST];

/// An error of an instrument that all trials of a wire share.
#[derive(Debug, Clone)]
pub(super) struct Common {
    pub(super) term: CalibrationTerm,
    pub(super) standard_uncertainty: f64,
    /// Derivatives of the coefficients by it.
    pub(super) effects: Weights,
}

/// A law of one wire: estimates with their errors.
#[derive(Debug, Clone)]
pub(super) struct Known {
    /// Coefficients; detachment as (n, ln k, s1, s2, ln τ), in which both thresholds are sums.
    pub(super) b: Vec<f64>,
    /// Their covariance from the trials, and between batches.
    pub(super) covariance: DMatrix<f64>,
    root: DMatrix<f64>,
    /// Degrees of freedom of that covariance.
    pub(super) degrees: f64,
    /// Number of trials.
    pub(super) trials: usize,
    /// Calibration terms that are stated.
    pub(super) common: Vec<Common>,
    /// Whether the law was fitted to counts: its spread is then not estimated by residuals.
    pub(super) counted: bool,
}

impl Known {
    /// From estimates and their covariance.
    pub(super) fn new(
        b: Vec<f64>,
        covariance: DMatrix<f64>,
        degrees: f64,
        trials: usize,
        common: Vec<Common>,
        counted: bool,
    ) -> Self {
        Self { root: root(&covariance), b, covariance, degrees, trials, common, counted }
    }

    /// A law of a record; `None` where it is not usable or its record incomplete.
    pub(super) fn of(name: &str, laws: LawsWithOrigin<'_>) -> Option<Self> {
        let law = law_named(&laws.record.laws, name);
        if !law.ended.usable {
            return None;
        }
        let calibration = &laws.record.calibration;
        let (b, covariance, degrees, effects) = if name == "detachment" {
            let d = detachment(law, calibration, laws.record.confidence)?;
            let mut q = d.q.to_vec();
            // ln 0 takes part in nothing that is compared.
            q.iter_mut().filter(|v| !v.is_finite()).for_each(|v| *v = 0.0);
            let gap = d.law.more_drops_s - d.law.one_drop_s;
            q[3] = d.law.more_drops_s;
            // s2 = s1 + exp(ln(s2 − s1)).
            let mut by_gap = DMatrix::identity(MOST, MOST);
            (by_gap[(3, 2)], by_gap[(3, 3)]) = (1.0, gap);
            let effects = d.effects_q.into_iter().map(|mut e| {
                e[3] = e[2] + gap * e[3];
                e
            });
            (q, &by_gap * d.covariance_q * by_gap.transpose(), d.degrees_of_freedom, effects.collect())
        } else {
            let l = least_squares(law, name, calibration)?;
            (l.b, l.covariance, l.degrees_of_freedom, l.effects)
        };
        let common = calibration
            .iter()
            .zip(effects)
            .filter_map(|(c, e)| {
                let mut effects = [0.0; MOST];
                effects[..e.len()].copy_from_slice(&e);
                let term = CalibrationTerm::from_name(&c.name)?;
                Some(Common { term, standard_uncertainty: c.standard_uncertainty, effects })
            })
            .collect();
        Some(Self::new(b, covariance, degrees, law.trials_used.len(), common, name == "detachment"))
    }

    /// Σ weight·coefficient.
    pub(super) fn at(&self, weights: &Weights) -> f64 {
        self.b.iter().zip(weights).map(|(b, g)| b * g).sum()
    }

    /// Variance of that sum by the trials.
    pub(super) fn variance(&self, weights: &Weights) -> f64 {
        let p = self.b.len();
        (0..p)
            .flat_map(|i| (0..p).map(move |j| (i, j)))
            .map(|(i, j)| weights[i] * self.covariance[(i, j)] * weights[j])
            .sum()
    }

    /// What one unit of a common error does to that sum, and the error's standard uncertainty.
    pub(super) fn moved_by(&self, term: CalibrationTerm, weights: &Weights) -> Option<(f64, f64)> {
        let common = self.common.iter().find(|c| c.term == term)?;
        Some((common.effects.iter().zip(weights).map(|(e, g)| e * g).sum(), common.standard_uncertainty))
    }

    /// Writes a normal error of the coefficients and gives the factor by which their estimated variances are off,
    /// χ²_ν/ν.
    pub(super) fn draw(&self, stream: &mut DrawStream, out: &mut Weights) -> f64 {
        let p = self.b.len();
        let mut normal = [0.0; MOST];
        normal[..p].iter_mut().for_each(|v| *v = stream.normal());
        for i in 0..p {
            out[i] = (0..p).map(|j| self.root[(i, j)] * normal[j]).sum();
        }
        stream.student_factor(self.degrees).powi(-2)
    }
}

/// A law of a record by its name in files.
pub(super) fn law_named<'a>(laws: &'a Laws, name: &str) -> &'a FittedLaw {
    match name {
        "burn_off" => &laws.burn_off,
        "detachment" => &laws.detachment,
        _ => &laws.arc_voltage,
    }
}

/// Refuses laws of forms or units that this program does not know.
pub(super) fn check(wires: &[WireLaws<'_>]) -> Result<(), NotComparable> {
    wires.iter().flat_map(|w| &w.batches).try_for_each(|laws| {
        laws.record.laws.by_name().into_iter().filter(|(_, law)| law.ended.usable).try_for_each(|(name, law)| {
            let refused = |found: String, needed: String| NotComparable::Record {
                name: laws.name.to_owned(),
                found: format!("laws.{name}: {found}"),
                needed,
                remedy: "fit the study again with this program".to_owned(),
            };
            let Some(known) = coefficients(name, &law.form) else {
                let needed = format!("one of {} was needed", forms(name).join(", "));
                return Err(refused(format!("form '{}' was found", law.form), needed));
            };
            known.iter().try_for_each(|c| {
                let found = law.coefficients.get(c.name).map(|found| found.unit.as_str());
                // Other programs write powers with a digit.
                let plain = |unit: &str| unit.replace('²', "2").replace('^', "");
                if found.map(plain) == Some(plain(c.unit)) {
                    return Ok(());
                }
                let found = found.map_or("no value".to_owned(), |unit| format!("unit '{unit}'"));
                Err(refused(format!("{} with {found} was found", c.name), format!("unit '{}' was needed", c.unit)))
            })
        })
    })
}

/// Coefficients of a form with their units.
fn coefficients(law: &str, form: &str) -> Option<&'static [CoefficientName]> {
    match law {
        "burn_off" => [BurnOffForm::Proportional, BurnOffForm::Offset]
            .into_iter()
            .find(|f| f.word() == form)
            .map(|f| BurnOff(f).coefficients()),
        "detachment" => (form == "ordered_logit").then_some(&DETACHMENT_COEFFICIENTS[..]),
        _ => VOLTAGE_FORMS.into_iter().find(|f| f.word() == form).map(|f| ArcVoltage(f).coefficients()),
    }
}

const VOLTAGE_FORMS: [ArcVoltageForm; 3] =
    [ArcVoltageForm::Current, ArcVoltageForm::CurrentArc, ArcVoltageForm::CurrentArcExtension];

fn forms(law: &str) -> Vec<&'static str> {
    match law {
        "burn_off" => vec![BurnOffForm::Proportional.word(), BurnOffForm::Offset.word()],
        "detachment" => vec!["ordered_logit"],
        _ => VOLTAGE_FORMS.iter().map(|f| f.word()).collect(),
    }
}

//! Draws of a law at the target, and the record that composing and reports read.

use std::collections::BTreeMap;

use nalgebra::DMatrix;

use super::ExtensionRequest;
use super::bases::{Base, Place};
use super::law_pool::{Carrier, LawPool};
use super::mapped::map_trials;
use super::pool::Pooled;
use crate::fit::assemble::unusable;
use crate::fit::detachment_law::natural_by_q;
use crate::laws::{
    ArcVoltage, BurnOff, Coefficient, CoefficientName, Counts, DETACHMENT_COEFFICIENTS, Detachment,
    DetachmentConstants, Ended, FittedLaw, Law, PowerRule, ValueWithUnit,
};
use crate::statistics::{interval_of, mean, normal_quantile, quantile, student_t_quantile};
use crate::study::{BurnOffForm, CovarianceFrom};

/// A law at the target: every draw as the coefficients that are drawn from when a line is composed.
#[derive(Debug, Clone)]
pub(super) struct Carried {
    pub(super) pool: LawPool,
    pub(super) pooled: Vec<Pooled>,
    /// One row a draw: α, β; n, ln k, s1, ln(s2 − s1); U0, R, E, r.
    pub(super) draws: Vec<Vec<f64>>,
    /// The pooled law carried to the target, the same way.
    pub(super) middle: Vec<f64>,
}

impl Carried {
    /// Draws a law at the target; `None` where the studies leave it open.
    pub(super) fn new(pool: LawPool, request: &ExtensionRequest, law: u64) -> Option<Self> {
        let pooled = pool
            .pools
            .iter()
            .enumerate()
            .map(|(i, (_, p))| p.pooled(request.seed, (law << 40) + ((i as u64) << 32), request.draws, true))
            .collect::<Option<Vec<_>>>()?;
        let first = pool.pools.first()?.0;
        let mut draws = Vec::with_capacity(request.draws);
        for index in 0..request.draws {
            // Two candidates take turns by their weights.
            let place = (index as f64 + 0.5) / request.draws as f64;
            let which = usize::from(pooled.len() > 1 && place > first);
            let drawn = &pooled[which].draws[index];
            draws.extend(pool.carrier.coefficients(drawn));
        }
        let heaviest = usize::from(pooled.len() > 1 && first < 0.5);
        let middle = pool.carrier.coefficients(&pooled[heaviest].middle)?;
        (draws.len() > request.draws / 2).then_some(Self { pool, pooled, draws, middle })
    }

    /// What the pooled law gives of a coefficient at one of its studies; `None` where it is not carried one by one.
    pub(super) fn pooled_at(&self, study: usize, base: &Base<'_>, i: usize) -> Option<f64> {
        let heaviest = usize::from(self.pool.pools.len() > 1 && self.pool.pools[0].0 < 0.5);
        let traits = &self.pool.pools[heaviest].1.traits.get(study)?.design * &self.pooled[heaviest].mean;
        let carrier = match self.pool.carrier {
            Carrier::Section(_) => Carrier::Section(base.at.section_mm2),
            Carrier::LogCurrent { log_current, power, .. } => {
                let ours = base.laws.record.wire.material.reference_current_a();
                let theirs = base.laws.record.laws.detachment.reference_current_a?;
                Carrier::LogCurrent {
                    log_current: log_current + (ours / theirs).ln(),
                    power,
                    log_d: base.at.diameter_mm.ln(),
                }
            }
            Carrier::AsTheyAre => return traits.as_slice().get(i).copied().filter(|_| i < 3),
        };
        let c = carrier.coefficients(&traits)?;
        match (self.pool.law, i) {
            ("detachment", 1) => Some(c[1].exp()),
            ("detachment", 2) => Some(c[2].exp()),
            ("detachment", 3) => Some((c[2] + c[3].exp()).exp()),
            _ => c.get(i).copied(),
        }
    }

    fn column(&self, i: usize) -> Vec<f64> {
        self.draws.iter().map(|d| d[i]).collect()
    }

    /// Degrees of Student's t whose tails are those of the draws: half width at the confidence over that at one half.
    fn degrees(&self, confidence: f64) -> usize {
        let mut ratios: Vec<f64> = (0..self.middle.len())
            .map(|i| {
                let mut column = self.column(i);
                let [low, high] = interval_of(&mut column, confidence);
                let [near_low, near_high] = interval_of(&mut column, 0.5);
                (high - low) / (near_high - near_low)
            })
            .filter(|r| r.is_finite())
            .collect();
        let ratio = quantile(&mut ratios, 0.5);
        let of = |degrees: usize| {
            student_t_quantile(0.5 + confidence / 2.0, degrees as f64) / student_t_quantile(0.75, degrees as f64)
        };
        let within = self.pooled.iter().map(|p| p.degrees).fold(f64::INFINITY, f64::min);
        // Nothing tells more degrees than the number of studies apart from many.
        let most = if within.is_finite() { 30 } else { 200 };
        (1..=most).find(|d| of(*d) <= ratio).unwrap_or(most)
    }

    /// Covariance of the coefficients that are drawn from, such that Student's interval with the degrees has the half
    /// widths of the draws; correlations by ranks, since a few draws lie far out.
    fn covariance(&self, confidence: f64, degrees: usize) -> DMatrix<f64> {
        let p = self.middle.len();
        let t = student_t_quantile(0.5 + confidence / 2.0, degrees as f64);
        let sd: Vec<f64> = (0..p)
            .map(|i| {
                let [low, high] = interval_of(&mut self.column(i), confidence);
                (high - low) / 2.0 / t
            })
            .collect();
        let ranks: Vec<Vec<f64>> = (0..p).map(|i| ranks(&self.column(i))).collect();
        let n = self.draws.len() as f64;
        DMatrix::from_fn(p, p, |i, j| {
            if i == j {
                return sd[i] * sd[i];
            }
            let product: f64 = ranks[i].iter().zip(&ranks[j]).map(|(a, b)| a * b).sum();
            // Spearman's over Pearson's for normal errors.
            let correlation = 2.0 * (std::f64::consts::PI / 6.0 * (12.0 * product / (n * n * n))).sin();
            correlation.clamp(-0.999, 0.999) * sd[i] * sd[j]
        })
    }
}

/// Ranks about their middle.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
    let middle = (values.len() as f64 - 1.0) / 2.0;
    let mut out = vec![0.0; values.len()];
    for (rank, place) in order.into_iter().enumerate() {
        out[place] = rank as f64 - middle;
    }
    out
}

/// What calibration does to the law's coefficients at the target: by term, name and uncertainty.
pub(super) type Effects = Vec<(String, f64, Vec<f64>)>;

/// A law that nobody welded, from its draws.
pub(super) fn record(
    carried: &Carried,
    bases: &[Base<'_>],
    to: Place,
    confidence: f64,
    scatter: Option<(f64, f64)>,
    effects: &Effects,
) -> FittedLaw {
    let law = carried.pool.law;
    let names = coefficient_names(law, carried.middle.len());
    let degrees = carried.degrees(confidence);
    let drawn = carried.covariance(confidence, degrees);
    // Values, covariance and intervals on the scale of the files.
    let (values, covariance, mut intervals) = if law == "detachment" {
        let m = &carried.middle;
        let (tau, tau_se) = scatter.unwrap_or((0.0, 0.0));
        let q = [m[0], m[1], m[2], m[3], tau.max(f64::MIN_POSITIVE).ln()];
        let by_q = natural_by_q(&q);
        let mut whole = DMatrix::zeros(5, 5);
        whole.view_mut((0, 0), (4, 4)).copy_from(&drawn);
        let mut natural = &by_q * whole * by_q.transpose();
        natural[(4, 4)] = if tau > 0.0 { tau_se * tau_se } else { 0.0 };
        let gap = m[3].exp();
        let column = |f: &dyn Fn(&Vec<f64>) -> f64| {
            let mut values: Vec<f64> = carried.draws.iter().map(f).collect();
            interval_of(&mut values, confidence)
        };
        let z = normal_quantile(0.5 + confidence / 2.0);
        let intervals = vec![
            column(&|d| d[0]),
            column(&|d| d[1].exp()),
            column(&|d| d[2].exp()),
            column(&|d| (d[2] + d[3].exp()).exp()),
            [(tau - z * tau_se).max(0.0), tau + z * tau_se],
        ];
        (vec![m[0], m[1].exp(), m[2].exp(), (m[2] + gap).exp(), tau], natural, intervals)
    } else {
        let p = carried.middle.len();
        let intervals = (0..p).map(|i| interval_of(&mut carried.column(i), confidence)).collect();
        (carried.middle.clone(), drawn, intervals)
    };
    let z = normal_quantile(0.5 + confidence / 2.0);
    let mut coefficients = BTreeMap::new();
    for (i, name) in names.iter().enumerate() {
        let common: f64 = effects.iter().map(|(_, u, e)| (e.get(i).copied().unwrap_or(0.0) * u).powi(2)).sum();
        let wider = |end: f64| {
            let off = end - values[i];
            values[i] + off.signum() * off.hypot(z * common.sqrt())
        };
        intervals[i] = intervals[i].map(wider);
        let positive = law == "detachment" && i > 0;
        let interval = intervals[i].map(|end| Some(if positive { end.max(0.0) } else { end }));
        coefficients.insert(
            name.name.to_owned(),
            Coefficient {
                value: Some(values[i]),
                unit: name.unit.to_owned(),
                standard_error: Some(covariance[(i, i)].max(0.0).sqrt()),
                standard_error_with_calibration: Some((covariance[(i, i)].max(0.0) + common).sqrt()),
                interval,
                interval_method: format!(
                    "{} draws of a study that nobody welded, from what {} studies scatter and err, with calibration",
                    carried.draws.len(),
                    bases.len()
                ),
                reason: None,
                prior: None,
            },
        );
    }
    let equation = equation(law, names.len());
    let mut law = unusable(
        &carried.pool.form,
        equation,
        unit_of(law),
        FittedLaw::EXTENDED,
        "",
        Vec::new(),
        Vec::new(),
        CovarianceFrom::Residuals,
    );
    law.coefficients = coefficients;
    law.coefficient_order = names.iter().map(|n| n.name.to_owned()).collect();
    law.covariance = covariance.row_iter().map(|r| r.iter().copied().collect()).collect();
    law.ended = Ended { how: FittedLaw::EXTENDED.to_owned(), usable: true, reason: String::new() };
    law.chi_squared_per_degree = Some(1.0);
    law.chi_squared_per_degree_reason = None;
    law.residual_standard_deviation_reason =
        Some("the law has no trials of its own: weld the confirming welds".to_owned());
    law.degrees_of_freedom = degrees;
    finish(carried, bases, to, &mut law);
    law
}

/// What composing needs besides: where the trials of the studies lie, and what each law keeps for itself.
fn finish(carried: &Carried, bases: &[Base<'_>], to: Place, law: &mut FittedLaw) {
    let of = |b: &Base<'_>| super::law_of(b.laws.record, carried.pool.law).clone();
    map_trials(carried.pool.law, bases, to, law);
    match carried.pool.law {
        "burn_off" => {}
        "detachment" => {
            let reference = bases[0].laws.record.wire.material.reference_current_a();
            law.reference_current_a = Some(reference);
            if let Carrier::LogCurrent { log_current, .. } = carried.pool.carrier {
                law.mean_log_pulse_current = Some(log_current);
            }
            let totals = bases.iter().any(|b| of(b).counts == Some(Counts::Totals));
            law.counts = Some(if totals { Counts::Totals } else { Counts::Classes });
            law.counting_covariance = Some(vec![vec![0.0; 5]; 5]);
            let value = |name: &str| law.coefficients.get(name).and_then(|c| c.value).unwrap_or(f64::NAN);
            let n = value("exponent");
            let constant = |ms: f64| ValueWithUnit { value: ms * reference.powf(n), unit: "A^n ms".to_owned() };
            law.d = Some(DetachmentConstants {
                one_drop: constant(value("one_drop_from_ms")),
                more_drops: constant(value("more_drops_from_ms")),
            });
        }
        _ => {
            let extensions: Vec<f64> = bases.iter().filter_map(|b| of(b).mean_extension_mm).collect();
            law.mean_extension_mm = (!extensions.is_empty()).then(|| mean(&extensions));
            law.power = Some(PowerRule {
                rule: "law".to_owned(),
                instant_resistance_ohm: None,
                instant_resistance_ohm_se: None,
                reason: Some(
                    "the law has no trials of its own: measure power_mean_w in the confirming welds".to_owned(),
                ),
            });
        }
    }
}

fn coefficient_names(law: &str, count: usize) -> &'static [CoefficientName] {
    match law {
        "burn_off" => BurnOff(if count == 3 { BurnOffForm::Offset } else { BurnOffForm::Proportional }).coefficients(),
        "detachment" => &DETACHMENT_COEFFICIENTS,
        _ => ArcVoltage::with_coefficients(count).coefficients(),
    }
}

fn equation(law: &str, count: usize) -> &'static str {
    match law {
        "burn_off" => BurnOff(if count == 3 { BurnOffForm::Offset } else { BurnOffForm::Proportional }).equation(),
        "detachment" => Detachment::EQUATION,
        _ => ArcVoltage::with_coefficients(count).equation(),
    }
}

fn unit_of(law: &str) -> &'static str {
    match law {
        "burn_off" => "mm/s",
        "detachment" => "drops per pulse",
        _ => "V",
    }
}

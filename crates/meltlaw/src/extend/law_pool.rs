//! Each law's traits: what of a law is the wire's substance and what is its size.
//!
//! ```text
//! burn-off    α·A, β·A²: the heat balance at the wire tip holds per volume of wire
//! detachment  n, ln k, and both thresholds at one pulse current as ln t = c + p·ln d
//! voltage     U0, R, E, r as they are, or r·A: the resistance of the extension
//! ```
//!
//! # Source
//! Energy balance at the wire tip: α = φ/(A·ρ·H), β = ρ_e/(A²·ρ·H) (common practice; values in `datasets/check_values.md`).

use nalgebra::{DMatrix, DVector};

use super::bases::{Base, Place};
use super::pool::{Between, Level, Pool, Traits, tells_scatter};
use super::{ExtensionRequest, USUAL_HETEROGENEITY_RELATIVE};
use crate::compose::laws_at_work::{detachment, least_squares};
use crate::laws::FittedLaw;
use crate::statistics::mean;

/// Scatter of the voltage between studies that is taken where two cannot tell it (assumed: nobody has published one).
pub const USUAL_VOLTAGE_HETEROGENEITY_V: f64 = 0.3;
/// Below this probability of agreement a trait that should be the same in all studies is not.
pub(super) const CONTRADICTED: f64 = 0.05;

/// A law of several studies ready to be pooled.
#[derive(Debug, Clone)]
pub(super) struct LawPool {
    pub(super) law: &'static str,
    pub(super) form: String,
    /// Candidates with their weights: for voltage two ways in which the extension may act.
    pub(super) pools: Vec<(f64, Pool)>,
    /// What the wire's size and the pulse current turn traits into coefficients by.
    pub(super) carrier: Carrier,
    /// In words, by trait.
    pub(super) scaling: Vec<String>,
    /// What was stated.
    pub(super) stated: Vec<String>,
    /// Traits that are taken to be the same in all studies, since these do not contradict it.
    pub(super) same: Vec<String>,
}

/// From traits to the coefficients that are drawn from: α, β; n, ln k, s1, ln(s2 − s1); U0, R, E, r.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Carrier {
    Section(f64),
    /// ln of the pulse current of the thresholds over the law's reference current; a stated power of the diameter, of
    /// which the traits are free, and ln d.
    LogCurrent {
        log_current: f64,
        power: f64,
        log_d: f64,
    },
    AsTheyAre,
}

impl Carrier {
    /// `None` where thresholds drawn lie the wrong way round.
    pub(super) fn coefficients(self, traits: &DVector<f64>) -> Option<Vec<f64>> {
        let y = traits.as_slice();
        Some(match self {
            Self::Section(a) => y.iter().zip([a, a * a, a]).map(|(v, by)| v / by).collect(),
            Self::LogCurrent { log_current, power, log_d } => {
                let gap = y[3] - y[2];
                if !(gap > 0.0) {
                    return None;
                }
                vec![y[0], y[1], y[2] + power * log_d + y[0] * log_current, gap.ln()]
            }
            Self::AsTheyAre => y.to_vec(),
        })
    }
}

fn middle_of(law: &FittedLaw, name: &str) -> f64 {
    law.range.get(name).map_or(0.0, |[low, high]| f64::midpoint(*low, *high))
}

/// What the mean moves along and by how much at a place.
#[derive(Debug, Clone, Copy)]
struct Along<'a> {
    bases: &'a [Base<'a>],
    to: Place,
    carbon_dioxide: bool,
}

impl Along<'_> {
    /// Off the bases' middle, so that the coefficients of the mean stay apart.
    fn at(&self, place: Place) -> f64 {
        if !self.carbon_dioxide {
            return 0.0;
        }
        let middle = mean(&self.bases.iter().map(|b| b.at.carbon_dioxide_per_cent).collect::<Vec<_>>());
        place.carbon_dioxide_per_cent - middle
    }

    fn of_bases(&self) -> Vec<f64> {
        if self.carbon_dioxide { self.bases.iter().map(|b| self.at(b.at)).collect() } else { Vec::new() }
    }

    /// The identity, and beside it the traits that move along carbon dioxide.
    fn design(&self, place: Place, traits: usize, moving: &[usize]) -> DMatrix<f64> {
        if !self.carbon_dioxide {
            return DMatrix::identity(traits, traits);
        }
        let mut x = DMatrix::zeros(traits, traits + moving.len());
        x.view_mut((0, 0), (traits, traits)).fill_with_identity();
        for (column, &row) in moving.iter().enumerate() {
            x[(row, traits + column)] = self.at(place);
        }
        x
    }
}

/// Estimated from the studies where they can tell, else as stated.
fn between(studies: usize, same_mean: bool, stated: f64) -> Between {
    if tells_scatter(studies, same_mean) { Between::Estimated } else { Between::Stated(stated) }
}

fn unit(p: usize, i: usize) -> DVector<f64> {
    DVector::from_fn(p, |j, _| f64::from(u8::from(i == j)))
}

fn diagonal(p: usize, entries: &[(usize, f64)]) -> DMatrix<f64> {
    let mut m = DMatrix::zeros(p, p);
    for &(i, v) in entries {
        m[(i, i)] = v;
    }
    m
}

/// Traits that should be the same in all studies: they scatter only where the studies say so.
fn unless_contradicted(traits: &[Traits], i: usize, name: &str, same: &mut Vec<String>) -> Option<Level> {
    let p = traits.first()?.y.len();
    let level = Level {
        weights: unit(p, i),
        between: Between::Estimated,
        stated: 0.0,
        along: Vec::new(),
        unit_scatter: diagonal(p, &[(i, 1.0)]),
    };
    if level.data(traits).probability(0.0) < CONTRADICTED {
        return Some(level);
    }
    same.push(name.to_owned());
    None
}

/// The law of all bases, ready to be carried; the reason where it cannot be.
pub(super) fn law_pool(
    law: &'static str,
    bases: &[Base<'_>],
    to: Place,
    request: &ExtensionRequest,
) -> Result<LawPool, String> {
    for base in bases {
        let found = super::law_of(base.laws.record, law);
        if !found.ended.usable {
            return Err(format!(
                "{} of {} could not be fitted: {}",
                law.replace('_', " "),
                base.label(),
                found.ended.reason
            ));
        }
    }
    let along = Along { bases, to, carbon_dioxide: request.target.carbon_dioxide_per_cent.is_some() };
    match law {
        "burn_off" => burn_off(&along, request),
        "detachment" => detachment_pool(&along, request),
        _ => arc_voltage(&along, request),
    }
}

fn relative(request: &ExtensionRequest) -> f64 {
    request.heterogeneity_relative.unwrap_or(USUAL_HETEROGENEITY_RELATIVE)
}

fn incomplete(law: &str, base: &Base<'_>) -> String {
    format!("the record of {law} of {} is incomplete: fit the study again", base.label())
}

fn burn_off(along: &Along<'_>, request: &ExtensionRequest) -> Result<LawPool, String> {
    let bases = along.bases;
    let form = &bases[0].laws.record.laws.burn_off.form;
    if let Some(other) = bases.iter().find(|b| b.laws.record.laws.burn_off.form != *form) {
        return Err(format!(
            "{} has the form '{}', {} the form '{form}': state one in [laws] burn_off of both studies",
            other.label(),
            other.laws.record.laws.burn_off.form,
            bases[0].label()
        ));
    }
    let mut traits = Vec::new();
    let mut ratios = Vec::new();
    for base in bases {
        let law = &base.laws.record.laws.burn_off;
        let found = least_squares(law, "burn_off", &[]).ok_or_else(|| incomplete("burn-off", base))?;
        let a = base.at.section_mm2;
        let p = found.b.len();
        let scale = DMatrix::from_diagonal(&DVector::from_fn(p, |i, _| [a, a * a, a][i]));
        traits.push(Traits {
            y: &scale * DVector::from_vec(found.b),
            covariance: &scale * found.covariance * &scale,
            degrees: found.degrees_of_freedom,
            design: along.design(base.at, p, &[0, 1]),
        });
        ratios.push(middle_of(law, "extension_rms_squared_mm_a2") / (a * middle_of(law, "current_mean_a")));
    }
    let p = traits[0].y.len();
    // Where the studies were welded, in heat of the extension over current of the same wire volume.
    let ratio = mean(&ratios);
    let at = |i: usize| mean(&traits.iter().map(|t| t.y[i]).collect::<Vec<_>>());
    let parts = [at(0), at(1) * ratio];
    let mut weights = DVector::zeros(p);
    (weights[0], weights[1]) = (1.0, ratio);
    let squares = parts[0] * parts[0] + parts[1] * parts[1];
    let h = relative(request);
    let between = between(bases.len(), !along.carbon_dioxide, h * squares.sqrt());
    let mut stated = vec!["alpha and beta scatter between studies by the same fraction, each by itself".to_owned()];
    if between != Between::Estimated {
        stated.push(format!("heterogeneity of alpha and beta {:.1} %: two studies cannot tell it", 100.0 * h));
    }
    let size = request.target.wire_diameter_mm.is_some();
    let mut scaling = if size {
        vec!["1/A".to_owned(), "1/A^2".to_owned(), "1/A".to_owned()]
    } else {
        vec!["the same".to_owned(); 3]
    };
    scaling.truncate(p);
    let unit_scatter = diagonal(p, &[(0, parts[0] * parts[0] / squares), (1, at(1) * at(1) / squares)]);
    let pool = Pool {
        levels: vec![Level { weights, between, stated: h * squares.sqrt(), along: along.of_bases(), unit_scatter }],
        target: along.design(along.to, p, &[0, 1]),
        traits,
        shared: 0.0,
    };
    Ok(LawPool {
        law: "burn_off",
        form: form.clone(),
        pools: vec![(1.0, pool)],
        carrier: Carrier::Section(along.to.section_mm2),
        scaling,
        stated,
        same: Vec::new(),
    })
}

/// ln of the pulse current at which thresholds are carried, A: the mean over the studies.
pub(super) fn threshold_log_current(bases: &[Base<'_>]) -> f64 {
    let each: Vec<f64> = bases
        .iter()
        .filter_map(|b| {
            let law = &b.laws.record.laws.detachment;
            let x = law.mean_log_pulse_current.unwrap_or_else(|| middle_of(law, "log_pulse_current"));
            Some(x + law.reference_current_a?.ln())
        })
        .collect();
    mean(&each)
}

fn detachment_pool(along: &Along<'_>, request: &ExtensionRequest) -> Result<LawPool, String> {
    let bases = along.bases;
    let log_current = threshold_log_current(bases);
    let size = request.target.wire_diameter_mm.is_some();
    let free_power = size && request.detachment_power.is_none();
    let log_d: Vec<f64> = bases.iter().map(|b| b.at.diameter_mm.ln()).collect();
    let middle = mean(&log_d);
    let power = request.detachment_power.filter(|_| size).unwrap_or(0.0);
    let mut traits = Vec::new();
    for base in bases {
        let record = base.laws.record;
        let found = detachment(&record.laws.detachment, &[], record.confidence)
            .ok_or_else(|| incomplete("detachment", base))?;
        let x = log_current - found.reference_current_a.ln();
        let gap = found.law.more_drops_s - found.law.one_drop_s;
        // (n, ln k, s1 − n·x, s2 − n·x) from (n, ln k, s1, ln(s2 − s1)).
        let mut by_q = DMatrix::zeros(4, 4);
        (by_q[(0, 0)], by_q[(1, 1)]) = (1.0, 1.0);
        (by_q[(2, 0)], by_q[(2, 2)]) = (-x, 1.0);
        (by_q[(3, 0)], by_q[(3, 2)], by_q[(3, 3)]) = (-x, 1.0, gap);
        let shift = power * base.at.diameter_mm.ln();
        let law = found.law;
        let y = vec![
            law.exponent,
            law.steepness.ln(),
            law.one_drop_s - law.exponent * x - shift,
            law.more_drops_s - law.exponent * x - shift,
        ];
        let covariance = &by_q * found.covariance_q.view((0, 0), (4, 4)) * by_q.transpose();
        traits.push(Traits {
            y: DVector::from_vec(y),
            covariance,
            degrees: found.degrees_of_freedom,
            design: thresholds_design(along, base.at, free_power, middle),
        });
    }
    let mut stated = Vec::new();
    if power != 0.0 {
        stated.push(format!("pulse times for detachment grow with the diameter to the power {power}, as stated"));
    }
    let h = relative(request);
    let between = between(bases.len(), !free_power && !along.carbon_dioxide, h);
    if between != Between::Estimated {
        stated.push(format!("heterogeneity of both thresholds {:.1} %: the studies cannot tell it", 100.0 * h));
    }
    stated.push("half of what scatters in one threshold scatters in the other too; each threshold's own interval does not depend on it".to_owned());
    let level = |i: usize| Level {
        weights: unit(4, i),
        between,
        stated: h,
        along: if free_power { log_d.clone() } else { along.of_bases() },
        unit_scatter: diagonal(4, &[(i, 1.0)]),
    };
    let mut levels = vec![level(2), level(3)];
    let mut same = Vec::new();
    for (i, name) in [(0, "exponent"), (1, "steepness")] {
        levels.extend(unless_contradicted(&traits, i, name, &mut same));
    }
    let scaling_of_time = if free_power {
        "power of diameter, estimated".to_owned()
    } else if size {
        format!("power of diameter, {power} as stated")
    } else {
        "the same".to_owned()
    };
    let target = thresholds_design(along, along.to, free_power, middle);
    let shared = if levels.len() == 2 { 0.5 } else { 0.0 };
    let reference = bases[0].laws.record.wire.material.reference_current_a();
    Ok(LawPool {
        law: "detachment",
        form: "ordered_logit".to_owned(),
        pools: vec![(1.0, Pool { traits, levels, target, shared })],
        carrier: Carrier::LogCurrent {
            log_current: log_current - reference.ln(),
            power,
            log_d: along.to.diameter_mm.ln(),
        },
        scaling: vec!["the same".to_owned(), "the same".to_owned(), scaling_of_time.clone(), scaling_of_time],
        stated,
        same,
    })
}

/// n, ln k, c1, c2 and, where it is free, the power p that both thresholds share.
fn thresholds_design(along: &Along<'_>, place: Place, free_power: bool, middle: f64) -> DMatrix<f64> {
    let base = along.design(place, 4, &[2, 3]);
    if !free_power {
        return base;
    }
    let columns = base.ncols();
    let mut x = base.insert_column(columns, 0.0);
    for row in [2, 3] {
        x[(row, columns)] = place.diameter_mm.ln() - middle;
    }
    x
}

fn arc_voltage(along: &Along<'_>, request: &ExtensionRequest) -> Result<LawPool, String> {
    let bases = along.bases;
    let laws: Vec<&FittedLaw> = bases.iter().map(|b| &b.laws.record.laws.arc_voltage).collect();
    let found = bases
        .iter()
        .map(|b| {
            least_squares(&b.laws.record.laws.arc_voltage, "arc_voltage", &[])
                .ok_or_else(|| incomplete("arc voltage", b))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let fewest = found.iter().map(|f| f.b.len()).min().unwrap_or(0);
    if fewest < 3 && found.iter().any(|f| f.b.len() != fewest) {
        return Err("arc voltage: some studies cannot tell the arc length and others can; weld at clearly different arc lengths in each".to_owned());
    }
    let p = fewest;
    let mean_extension = mean(&laws.iter().filter_map(|l| l.mean_extension_mm).collect::<Vec<_>>());
    let [current, arc] =
        ["current_mean_a", "arc_length_mm"].map(|n| mean(&laws.iter().map(|l| middle_of(l, n)).collect::<Vec<_>>()));
    let size = request.target.wire_diameter_mm.is_some();
    let (mut stated, mut same) = (Vec::new(), Vec::new());
    let pool_with = |by_section: bool, stated: &mut Vec<String>, same: &mut Vec<String>| {
        let traits: Vec<Traits> = bases
            .iter()
            .zip(&found)
            .map(|(base, f)| {
                let q = f.b.len();
                let ratio = if by_section { base.at.section_mm2 / along.to.section_mm2 } else { 1.0 };
                let mut to = DMatrix::zeros(p, q);
                for i in 0..p.min(q) {
                    to[(i, i)] = 1.0;
                }
                if p == 3 && q == 4 {
                    // R' = R + r·L at the studies' mean extension.
                    to[(1, 3)] = mean_extension;
                } else if p == 4 {
                    to[(3, 3)] = ratio;
                }
                Traits {
                    y: &to * DVector::from_column_slice(&f.b),
                    covariance: &to * &f.covariance * to.transpose(),
                    degrees: f.degrees_of_freedom,
                    design: along.design(base.at, p, &[0]),
                }
            })
            .collect();
        let usual = USUAL_VOLTAGE_HETEROGENEITY_V;
        let between = between(bases.len(), !along.carbon_dioxide, usual);
        if between != Between::Estimated {
            stated.push(format!("heterogeneity of the voltage {usual} V: the studies cannot tell it"));
        }
        let all = [1.0, current, arc, mean_extension * current];
        let mut levels = vec![Level {
            weights: DVector::from_column_slice(&all[..p]),
            between,
            stated: usual,
            along: along.of_bases(),
            unit_scatter: diagonal(p, &[(0, 1.0)]),
        }];
        for i in 1..p {
            levels.extend(unless_contradicted(&traits, i, ["", "R", "E", "r"][i], same));
        }
        Pool { traits, levels, target: along.design(along.to, p, &[0]), shared: 0.0 }
    };
    let mut scaling = vec!["the same".to_owned(); p];
    let pools = if size && p == 4 {
        // The extension's resistance goes with 1/A; what else r took up does not. The studies weigh both.
        let both = [true, false].map(|by| pool_with(by, &mut Vec::new(), &mut Vec::new()));
        let misfits = [both[0].misfit(), both[1].misfit()];
        let best = misfits[0].min(misfits[1]);
        let weights = misfits.map(|q| (-(q - best) / 2.0).exp());
        let share = weights[0] / (weights[0] + weights[1]);
        pool_with(true, &mut stated, &mut same);
        scaling[3] = format!("1/A with weight {share:.2}, the same with weight {:.2}", 1.0 - share);
        let [one, other] = both;
        vec![(share, one), (1.0 - share, other)]
    } else {
        vec![(1.0, pool_with(false, &mut stated, &mut same))]
    };
    Ok(LawPool {
        law: "arc_voltage",
        form: ["current", "current_arc", "current_arc_extension"][p.clamp(2, 4) - 2].to_owned(),
        pools,
        carrier: Carrier::AsTheyAre,
        scaling,
        stated,
        same,
    })
}

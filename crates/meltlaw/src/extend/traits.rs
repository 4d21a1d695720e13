//! What was carried, base by base, for the record; and what is carried without a scaling.

use super::bases::Base;
use super::carried::Carried;
use super::law_pool::Carrier;
use super::pool::Between;
use super::{BaseValue, Trait, law_of};
use crate::laws::FittedLaw;
use crate::statistics::{mean, student_t_quantile};

/// The trial scatter of detachment over the studies: weighted mean and standard error, never below nought.
pub(super) fn scatter(bases: &[Base<'_>]) -> (f64, f64) {
    let each: Vec<(f64, f64)> = bases
        .iter()
        .filter_map(|b| {
            let c = b.laws.record.laws.detachment.coefficients.get("trial_scatter")?;
            let value = c.value?;
            // Half the interval; where it is open above, as wide as the value or a tenth.
            let half = match c.interval {
                [Some(low), Some(high)] => (high - low) / 2.0,
                _ => value.max(0.1),
            };
            Some((value, (half / 1.96).max(1e-6)))
        })
        .collect();
    let weights: f64 = each.iter().map(|(_, se)| se.powi(-2)).sum();
    if !(weights > 0.0) {
        return (0.0, 0.1);
    }
    (each.iter().map(|(v, se)| v / (se * se)).sum::<f64>() / weights, weights.powf(-0.5))
}

/// Scatter of single welds about the burn-off law, relative to the feed: the mean over the studies.
pub(super) fn weld_scatter_relative(bases: &[Base<'_>]) -> Option<f64> {
    let each: Vec<f64> = bases
        .iter()
        .filter_map(|b| {
            let law = &b.laws.record.laws.burn_off;
            let fitted: Vec<f64> = law.diagnostics.iter().map(|d| d.fitted).filter(|w| *w > 0.0).collect();
            Some(law.residual_standard_deviation? / if fitted.is_empty() { return None } else { mean(&fitted) })
        })
        .collect();
    (!each.is_empty()).then(|| mean(&each))
}

/// Every coefficient of a carried law.
pub(super) fn of_law(carried: &Carried, bases: &[Base<'_>], law: &FittedLaw) -> Vec<Trait> {
    let heaviest = carried.pool.pools.iter().zip(&carried.pooled).max_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let Some(((_, pool), pooled)) = heaviest else { return Vec::new() };
    law.coefficient_order
        .iter()
        .enumerate()
        .filter_map(|(i, name)| {
            let at_target = law.coefficients.get(name)?;
            // The level that this trait takes part in.
            let level = pool.levels.iter().position(|l| l.unit_scatter.nrows() > i && l.unit_scatter[(i, i)] > 0.0);
            let between = level.map(|l| (pool.levels[l].between, pooled.between[l]));
            let is_time = carried.pool.law == "detachment" && (i == 2 || i == 3);
            let mut found = Trait {
                law: carried.pool.law.to_owned(),
                name: name.clone(),
                unit: at_target.unit.clone(),
                scaling: carried.pool.scaling.get(i).cloned().unwrap_or_else(|| "the same".to_owned()),
                power_of_diameter: None,
                power_interval: None,
                heterogeneity: None,
                heterogeneity_unit: if carried.pool.law == "arc_voltage" {
                    at_target.unit.clone()
                } else {
                    "1".to_owned()
                },
                heterogeneity_interval: [None, None],
                heterogeneity_from: "none: the studies agree".to_owned(),
                bases: bases.iter().enumerate().filter_map(|(k, b)| base_value(carried, (k, b), name, i)).collect(),
                at_target: BaseValue {
                    value: at_target.value?,
                    interval: [at_target.interval[0]?, at_target.interval[1]?],
                    pooled: at_target.value?,
                },
                reason: None,
            };
            match between {
                Some((Between::Stated(sd), _)) => {
                    found.heterogeneity = Some(relative(carried, pool, level, sd));
                    found.heterogeneity_from = "stated".to_owned();
                }
                Some((Between::Estimated, Some((sd, interval)))) => {
                    found.heterogeneity = Some(relative(carried, pool, level, sd));
                    found.heterogeneity_interval = interval.map(|v| Some(relative(carried, pool, level, v)));
                    found.heterogeneity_from = format!("estimated from {}", bases.len());
                }
                _ => found.reason = Some("heterogeneity: the studies agree, none is estimated".to_owned()),
            }
            match carried.pool.carrier {
                Carrier::Section(_) if found.scaling.starts_with("1/A") => {
                    found.power_of_diameter = Some(if i == 1 { -4.0 } else { -2.0 });
                }
                Carrier::LogCurrent { .. } if is_time => power(&mut found, pool, pooled),
                _ => {}
            }
            if found.power_of_diameter.is_none() && found.reason.is_none() {
                found.reason = Some("power_of_diameter: it is not carried by a power of the diameter".to_owned());
            }
            Some(found)
        })
        .collect()
}

/// A scatter of a level as a fraction of what scatters: α and β by themselves for burn-off.
fn relative(carried: &Carried, pool: &super::pool::Pool, level: Option<usize>, sd: f64) -> f64 {
    if carried.pool.law != "burn_off" {
        return sd;
    }
    let Some(level) = level.map(|l| &pool.levels[l]) else { return sd };
    let alpha = mean(&pool.traits.iter().map(|t| t.y[0]).collect::<Vec<_>>());
    sd * level.unit_scatter[(0, 0)].sqrt() / alpha
}

/// The power of the diameter: estimated as the last coefficient of the mean, or stated.
fn power(found: &mut Trait, pool: &super::pool::Pool, pooled: &super::pool::Pooled) {
    let columns = pool.target.ncols();
    if found.scaling.contains("estimated") && columns > 4 {
        let value = pooled.mean[columns - 1];
        let se = pooled.mean_covariance[(columns - 1, columns - 1)].max(0.0).sqrt();
        let degrees = if pooled.degrees.is_finite() { pooled.degrees } else { f64::INFINITY };
        let half = student_t_quantile(0.975, degrees) * se;
        found.power_of_diameter = Some(value);
        found.power_interval = Some([value - half, value + half]);
    } else {
        let words: Vec<&str> = found.scaling.split_whitespace().collect();
        found.power_of_diameter = words.iter().find_map(|w| w.trim_end_matches(',').parse().ok());
    }
}

/// A base's own coefficient, and what the pooled law gives there.
fn base_value(carried: &Carried, (place, base): (usize, &Base<'_>), name: &str, i: usize) -> Option<BaseValue> {
    let own = law_of(base.laws.record, carried.pool.law).coefficients.get(name)?;
    let (value, interval) = (own.value?, [own.interval[0]?, own.interval[1]?]);
    Some(BaseValue { value, interval, pooled: carried.pooled_at(place, base, i).unwrap_or(value) })
}

//! Do the studies agree with the scaling, and which does not?

use std::collections::BTreeMap;

use nalgebra::DVector;

use super::bases::Base;
use super::law_pool::{LawPool, USUAL_VOLTAGE_HETEROGENEITY_V};
use super::pool::{Level, LevelData};
use super::{ExtensionRequest, USUAL_HETEROGENEITY_RELATIVE};
use crate::fit::diagnosis::WARNS_BELOW;
use crate::in_words::probability;
use crate::laws::{FitTest, Reading};
use crate::statistics::{Groups, normal_above, normal_quantile};

/// Tests of one law's pool.
pub(super) fn tests(pool: &LawPool, bases: &[Base<'_>], request: &ExtensionRequest) -> BTreeMap<String, FitTest> {
    let mut found = BTreeMap::new();
    let Some((_, heaviest)) = pool.pools.iter().max_by(|a, b| a.0.total_cmp(&b.0)) else { return found };
    let stated = request.heterogeneity_relative.unwrap_or(USUAL_HETEROGENEITY_RELATIVE);
    for (level, name) in heaviest.levels.iter().zip(level_names(pool.law)) {
        let mut data = level.data(&heaviest.traits);
        // Relative where the level is one of melting: to its mean.
        let unit = if pool.law == "burn_off" { data.groups().line(0.0).mean } else { 1.0 };
        data.values.iter_mut().for_each(|v| *v /= unit);
        data.variances.iter_mut().for_each(|v| *v /= unit * unit);
        // A relative scatter of α and β by themselves moves their sum by less: as far as the level says.
        let usual = if pool.law == "arc_voltage" { USUAL_VOLTAGE_HETEROGENEITY_V } else { of_level(level, stated) };
        found.insert(format!("odd_one_out_{name}"), odd_one_out(pool.law, name, &data, usual, bases));
        found.insert(format!("heterogeneity_{name}"), heterogeneity(pool.law, name, &data, usual));
    }
    if pool.law == "burn_off" && request.target.wire_diameter_mm.is_some() {
        for (i, name, power) in [(0, "alpha", 1.0), (1, "beta", 2.0)] {
            found.insert(
                format!("scaling_{name}"),
                scaling(name, power, heaviest.traits.iter().map(|t| t.level(&unit(t.y.len(), i))), bases, stated),
            );
        }
    }
    found
}

fn unit(p: usize, i: usize) -> DVector<f64> {
    DVector::from_fn(p, |j, _| f64::from(u8::from(i == j)))
}

fn of_level(level: &Level, stated: f64) -> f64 {
    let p = level.weights.len();
    if p == 4 {
        return stated;
    }
    // Parts of the level by α and by β, each scattering by the same fraction of itself: their root sum of squares.
    let alpha = level.unit_scatter[(0, 0)].sqrt();
    let beta = level.unit_scatter[(1, 1)].sqrt() * level.weights[1];
    stated * alpha.hypot(beta) / (alpha + beta)
}

fn level_names(law: &str) -> &'static [&'static str] {
    match law {
        "burn_off" => &["melting"],
        "detachment" => &["one_drop", "more_drops"],
        _ => &["voltage"],
    }
}

fn words(name: &str) -> &'static str {
    match name {
        "melting" => "melting",
        "one_drop" => "the pulse time for a drop",
        "more_drops" => "the pulse time for a second drop",
        _ => "the voltage",
    }
}

fn told(law: &str, value: f64) -> String {
    match law {
        "arc_voltage" => format!("{value:+.2} V"),
        _ => format!("{:+.1} %", 100.0 * value),
    }
}

const fn unit_of(law: &str) -> &'static str {
    match law.as_bytes() {
        b"arc_voltage" => "V",
        _ => "1",
    }
}

/// Each study against what the others say of it, in standard errors with the usual scatter between studies.
fn odd_one_out(law: &str, name: &str, data: &LevelData, usual: f64, bases: &[Base<'_>]) -> FitTest {
    let expected = format!(
        "no study stands off the others by more than {} and its errors explain",
        told(law, usual).trim_start_matches('+')
    );
    let k = data.values.len();
    let coefficients = if data.along.is_empty() { 1 } else { 2 };
    if k <= coefficients {
        return FitTest::not_made(
            unit_of(law),
            &expected,
            "with so few studies there is nothing over to test by",
            "weld another diameter",
        );
    }
    let mut worst: Option<(usize, f64, f64)> = None;
    for i in 0..k {
        let without = |v: &[f64]| v.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, v)| *v).collect::<Vec<_>>();
        let (values, variances, along) = (without(&data.values), without(&data.variances), without(&data.along));
        let others = Groups { values: &values, variances: &variances, along: &along };
        let line = others.line(usual * usual);
        let place = data.along.get(i).copied().unwrap_or(0.0);
        let off = data.values[i] - line.at(place);
        let z = off / (line.variance_at(place) + data.variances[i] + usual * usual).sqrt();
        if worst.is_none_or(|(_, w, _)| z.abs() > w.abs()) {
            worst = Some((i, z, off));
        }
    }
    let Some((i, z, off)) = worst else {
        return FitTest::not_made(unit_of(law), &expected, "there is no study", "name studies");
    };
    // Two studies stand off each other alike.
    let looks = if k == 2 { 1.0 } else { k as f64 };
    let p = (looks * 2.0 * normal_above(z.abs())).min(1.0);
    let warns = p < WARNS_BELOW;
    let who = if k == 2 { format!("{} and {}", bases[0].label(), bases[1].label()) } else { bases[i].label() };
    let seen = if k == 2 {
        format!(
            "{who}: {} differs by {} more than the scaling explains ({})",
            words(name),
            told(law, off),
            probability(p)
        )
    } else {
        format!(
            "{who} stands farthest off: {} {} against what the others say ({})",
            words(name),
            told(law, off),
            probability(p)
        )
    };
    let action = if warns {
        "do not use these laws before it is cleared: check the diameter written on the spool, whether material and heat content are the same, and the study's instruments; leave it out, or weld another"
    } else {
        "nothing"
    };
    FitTest {
        statistic: Some(z),
        p_value: Some(p),
        effect: Some(off),
        unit: unit_of(law).to_owned(),
        reading: Reading::new(expected, seen, action),
        warns,
        trials: if warns { vec![bases[i].laws.name.to_owned()] } else { Vec::new() },
        reason: None,
    }
    .finite_or_missing()
}

/// Whether studies scatter by more than is usual.
fn heterogeneity(law: &str, name: &str, data: &LevelData, usual: f64) -> FitTest {
    let expected =
        format!("studies scatter about the scaling by no more than {}", told(law, usual).trim_start_matches('+'));
    let groups = data.groups();
    if groups.degrees() < 1.0 {
        return FitTest::not_made(
            unit_of(law),
            &expected,
            "with so few studies the scatter cannot be told",
            "weld another diameter",
        );
    }
    let p = data.probability(usual);
    let h = groups.between().sqrt();
    let [low, high] = groups.interval(0.95).map(f64::sqrt);
    let plain = |v: f64| told(law, v).trim_start_matches('+').to_owned();
    let warns = p < WARNS_BELOW;
    FitTest {
        statistic: Some(groups.scatter(usual * usual)),
        p_value: Some(p),
        effect: Some(h),
        unit: unit_of(law).to_owned(),
        reading: Reading::new(
            expected,
            format!(
                "{} scatters by {} from study to study (95 %: {} to {}; {})",
                words(name),
                plain(h),
                plain(low),
                plain(high),
                probability(p)
            ),
            if warns { "see which study is the odd one; the intervals hold this scatter" } else { "nothing" },
        ),
        warns,
        trials: Vec::new(),
        reason: None,
    }
    .finite_or_missing()
}

/// The power of the section by which a coefficient truly falls, with the usual scatter between studies.
fn scaling(
    name: &str,
    power: f64,
    traits: impl Iterator<Item = (f64, f64)>,
    bases: &[Base<'_>],
    stated: f64,
) -> FitTest {
    let expected = format!("{name} falls with the metal section to the power {power}");
    let found: Vec<(f64, f64)> = traits.collect();
    // Where β is hardly told from zero it has no logarithm worth the name.
    if found.iter().any(|(y, v)| !(*y > 2.0 * v.sqrt())) {
        return FitTest::not_made(
            "1",
            &expected,
            format!("{name} of a study cannot be told from zero"),
            "nothing: what cannot be told does little",
        );
    }
    let values: Vec<f64> = found.iter().map(|(y, _)| y.ln()).collect();
    let variances: Vec<f64> = found.iter().map(|(y, v)| v / (y * y)).collect();
    let along: Vec<f64> = bases.iter().map(|b| b.at.section_mm2.ln()).collect();
    let line = Groups { values: &values, variances: &variances, along: &along }.line(stated * stated);
    let se = line.slope_variance.sqrt();
    let (z, half) = (line.slope / se, normal_quantile(0.975) * se);
    let p = 2.0 * normal_above(z.abs());
    let warns = p < WARNS_BELOW;
    FitTest {
        statistic: Some(z),
        p_value: Some(p),
        effect: Some(power - line.slope),
        unit: "1".to_owned(),
        reading: Reading::new(
            expected,
            format!(
                "it falls with the power {:.2} ({:.2} to {:.2}, with {:.1} % scatter between studies; {})",
                power - line.slope,
                power - line.slope - half,
                power - line.slope + half,
                100.0 * stated,
                probability(p)
            ),
            if warns {
                "the wires are not of one kind, or a diameter is wrong: see which study is the odd one"
            } else {
                "nothing"
            },
        ),
        warns,
        trials: Vec::new(),
        reason: None,
    }
    .finite_or_missing()
}

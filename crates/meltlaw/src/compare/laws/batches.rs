//! Batches of one specification as one wire: their mean law, and how far a batch lies off it.
//!
//! A batch melts, lets go and burns a little otherwise than the next. How far is judged by what is compared: wire feed in
//! the middle of the trials, both thresholds at the mean pulse current, voltage in the middle. Heat content moves α and β
//! alike in kind but not in step, so both scatter by the same fraction, independently; thresholds scatter each by itself;
//! the voltage scatters in its level. The variance of the mean comes from the scatter of so few batches, so it has k − 1
//! degrees of freedom, and never less than what the trials leave.

use nalgebra::{DMatrix, DVector};

use super::known::{Common, Known, MOST, Weights, law_named};
use super::spots::Quantity;
use super::{BatchSpread, WireLaws, words};
use crate::laws::FittedLaw;
use crate::statistics::{Groups, mean};

/// At which confidence a spread is quoted.
const CONFIDENCE: f64 = 0.95;

/// A law of a wire; of several batches their mean, with what scatters between them. `None` where a batch lacks it.
pub(super) fn known(law: &str, wire: &WireLaws<'_>) -> Option<Known> {
    let all = each(law, wire)?;
    if let [one] = &all[..] {
        return Some(one.clone());
    }
    let levels = Levels::of(law, wire, &all);
    let p = all[0].b.len();
    // How far the coefficients scatter between batches.
    let mut between = DMatrix::zeros(p, p);
    let mut excess: f64 = 1.0;
    for (quantity, weights) in &levels.middles {
        let found = levels.groups(*quantity, weights, &all);
        let groups = Groups { values: &found.0, variances: &found.1, along: &[] };
        let variance = groups.between();
        excess = excess.max(groups.scatter(variance) / groups.degrees());
        spread_over(*quantity, weights, &all, variance, &mut between);
    }
    let information: Vec<DMatrix<f64>> =
        all.iter().map(|k| regular(&(&k.covariance + &between))).map(|m| m.try_inverse()).collect::<Option<_>>()?;
    let covariance = information.iter().fold(DMatrix::zeros(p, p), |sum, i| sum + i).try_inverse()?;
    let weighted =
        information.iter().zip(&all).fold(DVector::zeros(p), |sum, (i, k)| sum + i * DVector::from_column_slice(&k.b));
    let b = &covariance * weighted;
    let common = mean_effects(&all);
    let trials = all.iter().map(|k| k.trials).sum();
    let degrees = all.len() as f64 - 1.0;
    // A variance that was regular only by a little stays nought.
    let mut covariance = covariance * excess;
    for i in 0..p {
        if all.iter().all(|k| k.covariance[(i, i)] == 0.0) {
            covariance.row_mut(i).fill(0.0);
            covariance.column_mut(i).fill(0.0);
        }
    }
    Some(Known::new(b.as_slice().to_vec(), covariance, degrees, trials, common, all[0].counted))
}

/// Each batch's law; `None` where one is missing, of another form or at another reference current.
fn each(law: &str, wire: &WireLaws<'_>) -> Option<Vec<Known>> {
    let first = law_named(&wire.batches.first()?.record.laws, law);
    let alike = |l: &FittedLaw| l.form == first.form && l.reference_current_a == first.reference_current_a;
    wire.batches.iter().map(|&b| Known::of(law, b).filter(|_| alike(law_named(&b.record.laws, law)))).collect()
}

/// What is looked at to judge how far batches scatter.
struct Levels {
    /// Quantity with the weights of the coefficients in the middle of all batches' trials.
    middles: Vec<(Quantity, Weights)>,
}

impl Levels {
    fn of(law: &str, wire: &WireLaws<'_>, all: &[Known]) -> Self {
        let records: Vec<&FittedLaw> = wire.batches.iter().map(|b| law_named(&b.record.laws, law)).collect();
        let middle = |name: &str| {
            let each: Vec<f64> = records
                .iter()
                .filter_map(|l| l.range.get(name))
                .map(|[low, high]| f64::midpoint(*low, *high))
                .collect();
            if each.is_empty() { 0.0 } else { mean(&each) }
        };
        let current = middle("current_mean_a");
        let middles = match law {
            "burn_off" => vec![(Quantity::WireFeed, [current, middle("extension_rms_squared_mm_a2"), 1.0, 0.0, 0.0])],
            "detachment" => {
                let logs: Vec<f64> = records.iter().filter_map(|l| l.mean_log_pulse_current).collect();
                let x = if logs.is_empty() { middle("log_pulse_current") } else { mean(&logs) };
                vec![(Quantity::OneDrop, [-x, 0.0, 1.0, 0.0, 0.0]), (Quantity::MoreDrops, [-x, 0.0, 0.0, 1.0, 0.0])]
            }
            _ => {
                let extension: Vec<f64> = records.iter().filter_map(|l| l.mean_extension_mm).collect();
                let extension = if extension.is_empty() { 0.0 } else { mean(&extension) };
                vec![(Quantity::Voltage, [1.0, current, middle("arc_length_mm"), extension * current, 0.0])]
            }
        };
        let p = all.first().map_or(0, |k| k.b.len());
        let cut = |(q, mut w): (Quantity, Weights)| {
            w[p..].fill(0.0);
            (q, w)
        };
        Self { middles: middles.into_iter().map(cut).collect() }
    }

    /// Value and variance of each batch; wire feed relative to the mean of all.
    fn groups(&self, quantity: Quantity, weights: &Weights, all: &[Known]) -> (Vec<f64>, Vec<f64>) {
        let sums: Vec<f64> = all.iter().map(|k| k.at(weights)).collect();
        let unit = unit(quantity, &sums);
        (sums.iter().map(|s| s / unit).collect(), all.iter().map(|k| k.variance(weights) / (unit * unit)).collect())
    }
}

/// What a scatter is relative to: the mean for wire feed; thresholds are logarithms already.
fn unit(quantity: Quantity, sums: &[f64]) -> f64 {
    if quantity == Quantity::WireFeed { mean(sums) } else { 1.0 }
}

/// Adds to the covariance between batches what a variance of a quantity's level stands for.
fn spread_over(quantity: Quantity, weights: &Weights, all: &[Known], variance: f64, between: &mut DMatrix<f64>) {
    match quantity {
        Quantity::WireFeed => {
            let at = |i: usize| mean(&all.iter().map(|k| k.b[i]).collect::<Vec<_>>());
            let parts = [0, 1].map(|i| at(i) * weights[i]);
            let level = unit(quantity, &all.iter().map(|k| k.at(weights)).collect::<Vec<_>>());
            let relative = variance * level * level / (parts[0] * parts[0] + parts[1] * parts[1]);
            for i in 0..2 {
                between[(i, i)] += relative * at(i) * at(i);
            }
        }
        Quantity::OneDrop => between[(2, 2)] += variance,
        Quantity::MoreDrops => between[(3, 3)] += variance,
        Quantity::Voltage => between[(0, 0)] += variance,
    }
}

/// With something on the diagonal where a coefficient has no variance: it then keeps its value.
fn regular(m: &DMatrix<f64>) -> DMatrix<f64> {
    let mut m = m.clone();
    for i in 0..m.nrows() {
        if m[(i, i)] == 0.0 {
            m[(i, i)] = 1.0;
        }
    }
    m
}

/// Batches of one wire are read by one laboratory: its instruments' errors stay in the mean.
fn mean_effects(all: &[Known]) -> Vec<Common> {
    let Some(first) = all.first() else { return Vec::new() };
    first
        .common
        .iter()
        .map(|c| {
            let of = |k: &Known| k.common.iter().find(|o| o.term == c.term).cloned();
            let found: Vec<Common> = all.iter().filter_map(of).collect();
            let mut effects = [0.0; MOST];
            for (i, e) in effects.iter_mut().enumerate() {
                *e = found.iter().map(|o| o.effects[i]).sum::<f64>() / found.len() as f64;
            }
            let largest = found.iter().map(|o| o.standard_uncertainty).fold(0.0, f64::max);
            Common { term: c.term, standard_uncertainty: largest, effects }
        })
        .collect()
}

/// How far the batches of a wire scatter, law by law; of two batches only a bound.
pub(super) fn spread(wire: &WireLaws<'_>) -> Vec<BatchSpread> {
    let mut found = Vec::new();
    for law in super::LAWS {
        let Some(all) = each(law, wire) else {
            found.extend(Quantity::of_law(law).iter().map(|&q| words::no_spread(wire, law, q)));
            continue;
        };
        let levels = Levels::of(law, wire, &all);
        for (quantity, weights) in &levels.middles {
            let (values, variances) = levels.groups(*quantity, weights, &all);
            let groups = Groups { values: &values, variances: &variances, along: &[] };
            let two = values.len() == 2;
            let [low, high] = if two {
                // One degree cannot tell a spread: its upper end, one-sided, is a bound.
                let tail = crate::statistics::chi_squared_quantile(1.0 - CONFIDENCE, 1.0);
                [None, Some(groups.between_at(tail).sqrt())]
            } else {
                groups.interval(CONFIDENCE).map(|v| Some(v.sqrt()))
            };
            let centre = groups.line(groups.between()).mean;
            let off = wire.batches.iter().zip(&values).map(|(b, v)| (b.name.to_owned(), v - centre)).collect();
            let estimate = (!two).then(|| groups.between().sqrt());
            found.push(words::spread(wire, law, *quantity, estimate, [low, high], off));
        }
    }
    found
}

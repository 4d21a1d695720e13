//! Sums over many laboratories: bias, coverage, stated against true error, width against the oracle's.

use std::collections::BTreeMap;

use statrs::distribution::{Binomial, DiscreteCDF};

use super::examine::{Examined, Scored};
use crate::statistics::mean;

/// Coverage of 95 % intervals that is aimed at, low and high.
const AIM: [f64; 2] = [0.94, 0.96];

/// Laboratories of one kind, summed up.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    examined: Vec<Examined>,
}

/// One number over all laboratories of a kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// `law.coefficient` or `line.quantity`.
    pub name: String,
    /// Laboratories with an interval of it.
    pub labs: usize,
    /// Share of intervals open on a side.
    pub open: f64,
    /// Mean of (estimate − truth)/stated error.
    pub bias: f64,
    /// Share of intervals that hold the truth, by confidence.
    pub coverage: [f64; 3],
    /// Standard error of the coverage at 95 %; feeds of one laboratory count as one.
    pub coverage_se: f64,
    /// Lowest coverage at 95 % over the feeds.
    pub lowest: f64,
    /// Mean stated error over the standard deviation of the estimates about the truth's mean.
    pub stated_over_spread: f64,
    /// Mean width of the 95 % interval over the oracle's.
    pub width_over_oracle: f64,
    /// Coverage at 95 % lies outside 95 ± 1 % by more than three standard errors: low, high.
    pub outside: [bool; 2],
}

impl Tally {
    /// From laboratories in any order.
    pub fn new(examined: Vec<Examined>) -> Self {
        Self { examined }
    }

    /// Number of laboratories.
    pub fn labs(&self) -> usize {
        self.examined.len()
    }

    /// Share of laboratories that carry any warning.
    pub fn warned(&self) -> f64 {
        self.share(|e| !e.warnings.is_empty())
    }

    /// Share of laboratories for which something holds.
    pub fn share(&self, holds: impl Fn(&Examined) -> bool) -> f64 {
        self.examined.iter().filter(|e| holds(e)).count() as f64 / self.examined.len().max(1) as f64
    }

    /// Warnings with the share of laboratories that carry them, most frequent first.
    pub fn warnings(&self) -> Vec<(String, f64)> {
        self.by_frequency(|e| e.warnings.iter().cloned().collect())
    }

    /// Laws that could not be fitted with the share of laboratories.
    pub fn unusable(&self) -> Vec<(String, f64)> {
        self.by_frequency(|e| e.unusable.iter().map(|law| (*law).to_owned()).collect())
    }

    /// Forms of the voltage law with the share of laboratories.
    pub fn voltage_forms(&self) -> Vec<(String, f64)> {
        self.by_frequency(|e| vec![e.arc_voltage_form.clone()])
    }

    fn by_frequency(&self, names: impl Fn(&Examined) -> Vec<String>) -> Vec<(String, f64)> {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for name in self.examined.iter().flat_map(names) {
            *counts.entry(name).or_default() += 1;
        }
        let all = self.examined.len() as f64;
        let mut shares: Vec<(String, f64)> = counts.into_iter().map(|(n, c)| (n, c as f64 / all)).collect();
        shares.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        shares
    }

    /// How many laboratories hold the truth at 95 % in a number at one of its places (coefficients have one, the
    /// line's numbers one per feed), and of how many.
    pub fn held(&self, name: &str, place: usize) -> (u64, u64) {
        let held = |e: &Examined| e.scored.get(name)?.get(&place)?.held[1];
        let all: Vec<bool> = self.examined.iter().filter_map(held).collect();
        (all.iter().filter(|h| **h).count() as u64, all.len() as u64)
    }

    /// One row per number, laws first.
    pub fn rows(&self) -> Vec<Row> {
        let mut names: Vec<&String> = self.examined.iter().flat_map(|e| e.scored.keys()).collect();
        names.sort_by_key(|n| (rank(n), *n));
        names.dedup();
        names.into_iter().map(|name| self.row(name)).collect()
    }

    fn row(&self, name: &str) -> Row {
        let labs: Vec<&BTreeMap<usize, Scored>> = self.examined.iter().filter_map(|e| e.scored.get(name)).collect();
        let all: Vec<&Scored> = labs.iter().flat_map(|l| l.values()).collect();
        let known: Vec<&&Scored> = all
            .iter()
            .filter(|s| s.error.is_finite() && s.standard_error.is_finite() && s.standard_error > 0.0)
            .collect();
        let closed: Vec<&&Scored> = all.iter().filter(|s| s.width.is_finite() && s.oracle_width.is_finite()).collect();
        let coverage = std::array::from_fn(|level| share(all.iter().filter_map(|s| s.held[level])));
        let per_lab: Vec<f64> =
            labs.iter().map(|l| share(l.values().filter_map(|s| s.held[1]))).filter(|c| c.is_finite()).collect();
        let coverage_se = (spread(&per_lab).powi(2) / per_lab.len() as f64).sqrt();
        let places = all.len() as f64 / labs.len().max(1) as f64;
        let limit = |aim: f64| {
            // Where every laboratory agrees the spread between them says nothing: the binomial does.
            let binomial = (aim * (1.0 - aim) / (labs.len() as f64 * places)).sqrt();
            3.0 * coverage_se.max(binomial)
        };
        Row {
            name: name.to_owned(),
            labs: labs.len(),
            open: share(all.iter().map(|s| s.width == f64::INFINITY)),
            bias: mean(&known.iter().map(|s| s.error / s.standard_error).collect::<Vec<_>>()),
            coverage,
            coverage_se,
            lowest: (0..5)
                .map(|place| share(labs.iter().filter_map(|l| l.get(&place)?.held[1])))
                .filter(|c| c.is_finite())
                .fold(f64::NAN, f64::min),
            stated_over_spread: stated_over_spread(&labs),
            width_over_oracle: mean(&closed.iter().map(|s| s.width).collect::<Vec<_>>())
                / mean(&closed.iter().map(|s| s.oracle_width).collect::<Vec<_>>()),
            outside: [coverage[1] < AIM[0] - limit(AIM[0]), coverage[1] > AIM[1] + limit(AIM[1])],
        }
    }
}

/// Mean stated error over the spread of the errors made, at each place on its own, then averaged.
fn stated_over_spread(labs: &[&BTreeMap<usize, Scored>]) -> f64 {
    let ratios: Vec<f64> = (0..5)
        .filter_map(|place| {
            let here: Vec<&Scored> = labs
                .iter()
                .filter_map(|l| l.get(&place))
                .filter(|s| s.error.is_finite() && s.standard_error.is_finite())
                .collect();
            let stated = mean(&here.iter().map(|s| s.standard_error).collect::<Vec<_>>());
            (here.len() > 1).then(|| stated / spread(&here.iter().map(|s| s.error).collect::<Vec<_>>()))
        })
        .collect();
    mean(&ratios)
}

fn share(of: impl Iterator<Item = bool>) -> f64 {
    let (mut yes, mut all) = (0.0, 0.0);
    for v in of {
        all += 1.0;
        yes += f64::from(u8::from(v));
    }
    yes / all
}

/// Standard deviation.
fn spread(values: &[f64]) -> f64 {
    let middle = mean(values);
    (values.iter().map(|v| (v - middle).powi(2)).sum::<f64>() / (values.len() as f64 - 1.0)).sqrt()
}

fn rank(name: &str) -> usize {
    ["burn_off", "arc_voltage", "detachment", "line"].iter().position(|l| name.starts_with(l)).unwrap_or(4)
}

/// Fewest and most successes of `trials` that still agree with a chance between `low` and `high`: beyond
/// them lie at most `tail` of the outcomes on that side.
///
/// Exact binomial tails; nothing about normality is assumed.
pub fn binomial_limits(trials: u64, [low, high]: [f64; 2], tail: f64) -> [u64; 2] {
    let (Ok(at_low), Ok(at_high)) = (Binomial::new(low, trials), Binomial::new(high, trials)) else {
        return [0, trials];
    };
    let fewest = (0..=trials).find(|k| at_low.cdf(*k) > tail).unwrap_or(trials);
    let most = (0..=trials).rev().find(|k| *k == 0 || at_high.sf(k - 1) > tail).unwrap_or(0);
    [fewest, most]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn binomial_limits_are_exact() {
        // Ten fair coins: P(0) = 1/1024 = 0.00098, P(≤1) = 11/1024 = 0.0107.
        assert_eq!(binomial_limits(10, [0.5, 0.5], 0.001), [1, 9]);
        assert_eq!(binomial_limits(10, [0.5, 0.5], 0.0009), [0, 10]);
    }
}

//! What a law says in the middle of a study's trials, in trade units: by that the scaling is tested and studies are
//! predicted from the others.

use nalgebra::DVector;

use super::bases::Base;
use super::law_pool::{Carrier, LawPool};
use super::pool::Traits;

/// A quantity as a weighted sum of traits.
#[derive(Debug, Clone)]
pub(super) struct Sum {
    pub(super) quantity: &'static str,
    pub(super) unit: &'static str,
    weights: DVector<f64>,
    shift: f64,
    scale: Scale,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Scale {
    /// mm/s to m/min.
    Feed,
    /// ln ms to ms.
    Time,
    Volt,
}

impl Sum {
    /// The value that people read, of traits.
    pub(super) fn of(&self, y: &DVector<f64>) -> f64 {
        self.read(self.weights.dot(y))
    }

    /// The value that people read, with an error of the traits' own in so many standard errors.
    pub(super) fn of_measured(&self, y: &DVector<f64>, standard_error: f64, errors: f64) -> f64 {
        self.read(self.weights.dot(y) + standard_error * errors)
    }

    /// Standard error of the sum by a study's own errors.
    pub(super) fn standard_error(&self, traits: &Traits) -> f64 {
        traits.level(&self.weights).1.sqrt()
    }

    fn read(&self, sum: f64) -> f64 {
        match self.scale {
            Scale::Feed => 0.06 * sum,
            Scale::Time => (sum + self.shift).exp(),
            Scale::Volt => sum,
        }
    }
}

/// The quantities of a law in the middle of a study's trials; `pool` carries to that study's place.
pub(super) fn sums(pool: &LawPool, base: &Base<'_>) -> Vec<Sum> {
    let law = super::law_of(base.laws.record, pool.law);
    let middle = |name: &str| law.range.get(name).map_or(0.0, |[low, high]| f64::midpoint(*low, *high));
    let p = pool.pools.first().map_or(0, |(_, pool)| pool.target.nrows());
    let vector = |all: &[f64]| DVector::from_column_slice(&all[..p]);
    match pool.carrier {
        Carrier::Section(_) => {
            let a = base.at.section_mm2;
            let all = [middle("current_mean_a") / a, middle("extension_rms_squared_mm_a2") / (a * a), 1.0 / a];
            vec![Sum {
                quantity: "wire_feed_m_min",
                unit: "m/min",
                weights: vector(&all),
                shift: 0.0,
                scale: Scale::Feed,
            }]
        }
        Carrier::LogCurrent { power, log_d, .. } => [("one_drop_from_ms", 2), ("more_drops_from_ms", 3)]
            .into_iter()
            .map(|(quantity, place)| {
                let mut weights = DVector::zeros(p);
                weights[place] = 1.0;
                Sum { quantity, unit: "ms", weights, shift: power * log_d, scale: Scale::Time }
            })
            .collect(),
        Carrier::AsTheyAre => {
            let current = middle("current_mean_a");
            let extension = law.mean_extension_mm.unwrap_or_else(|| middle("extension_mm"));
            let all = [1.0, current, middle("arc_length_mm"), extension * current];
            vec![Sum { quantity: "voltage_mean_v", unit: "V", weights: vector(&all), shift: 0.0, scale: Scale::Volt }]
        }
    }
}

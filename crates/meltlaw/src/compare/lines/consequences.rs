//! What the settings of two lines do, with the difference and its interval.

use meltlaw_line::Waveform;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Pair;
use crate::compare::ErrorRule;
use crate::compare::combined::{Looks, Reach};
use crate::compose::{LawsAtWork, LeastSquaresAtWork, melting_mm_s};
use crate::laws::{FittedLaw, Laws};
use crate::line::Node;
use crate::record::LineRecord;
use crate::study::CovarianceFrom;

/// Name of what the first line's setting melts, by the first line's law and by the second's: at equal current and
/// extension, does the wire melt faster?
pub const MELTED: &str = "melted_by_first_setting_m_min";

/// A quantity of both lines at one feed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Consequence {
    /// The law that its error comes from.
    pub law: String,
    /// Its name in files.
    pub quantity: String,
    /// The feed.
    pub at: AtWireFeed,
    /// In the first line.
    pub first: f64,
    /// In the second.
    pub second: f64,
    /// Second minus first.
    pub difference: f64,
    /// Of the difference; for each quantity all feeds together hold at the stated confidence.
    pub interval: Option<[f64; 2]>,
    /// Lines have no margin: null.
    pub margin: Option<f64>,
    /// No verdict without a margin: null.
    pub verdict: Option<String>,
    /// Whether the interval leaves zero out: beyond error.
    pub differs_from_zero: Option<bool>,
    /// Null for lines.
    pub trials_to_settle: Option<usize>,
    /// Why the nulls are null.
    pub reason: String,
}

/// A place of comparison.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AtWireFeed {
    /// Wire feed speed.
    pub wire_feed_m_min: f64,
}

const NO_MARGIN: &str = "lines are held against zero: whether a change is beyond error. Margins, a verdict by them and trials that \
                         would settle it belong to laws";
const NO_INTERVAL: &str = "a line does not hold an interval of it: compose it again with this program; ";

/// Name, law, value and interval at a node.
struct Quantity {
    name: &'static str,
    law: &'static str,
    value: fn(&Node) -> f64,
    interval: fn(&Node) -> Option<[f64; 2]>,
    is_probability: bool,
}

const QUANTITIES: [Quantity; 5] = [
    Quantity {
        name: "background_current_a",
        law: "burn_off",
        value: |n| n.background_current_a,
        interval: |n| Some(n.balancing_background_current_a_interval),
        is_probability: false,
    },
    Quantity {
        name: "current_mean_a",
        law: "burn_off",
        value: |n| n.current_mean_a,
        interval: |n| n.balancing_current_mean_a_interval,
        is_probability: false,
    },
    Quantity {
        name: "voltage_mean_v",
        law: "arc_voltage",
        value: |n| n.voltage_mean_v,
        interval: |n| Some(n.voltage_mean_v_interval),
        is_probability: false,
    },
    Quantity {
        name: "power_mean_w",
        law: "arc_voltage",
        value: |n| n.power_mean_w,
        interval: |n| n.power_mean_w_interval,
        is_probability: false,
    },
    Quantity {
        name: "one_drop_probability",
        law: "detachment",
        value: |n| n.one_drop_probability.value,
        interval: |n| Some(n.one_drop_probability.interval),
        is_probability: true,
    },
];

pub(super) fn of(
    first: &LineRecord,
    second: &LineRecord,
    pairs: &[Pair],
    confidence: f64,
    rule: ErrorRule,
) -> Vec<Consequence> {
    let places = pairs.len();
    let mut all = melted(first, second, pairs, confidence, rule);
    for quantity in &QUANTITIES {
        let laws = [first, second].map(|line| law(&line.laws, quantity.law));
        // Each line reads its own settings, so the coefficients of both laws come in with weights of their own.
        let looks = Looks { places, coefficients: laws.iter().map(|law| law.coefficient_order.len()).sum() };
        let factor =
            |line: &LineRecord, law: &FittedLaw| looks.widening(line.confidence, confidence, degrees_of_freedom(law));
        let factors = [factor(first, laws[0]), factor(second, laws[1])];
        for pair in pairs {
            let reach = |node: &Node, factor: f64| {
                let (value, interval) = ((quantity.value)(node), (quantity.interval)(node)?);
                Some(match quantity.is_probability {
                    true => Reach::of_probability(value, interval, factor),
                    false => Reach::of(value, interval, factor),
                })
            };
            let interval = reach(&pair.first, factors[0])
                .zip(reach(&pair.second, factors[1]))
                .map(|(first, second)| rule.difference(first, second));
            let values = [(quantity.value)(&pair.first), (quantity.value)(&pair.second)];
            all.push(consequence(quantity.name, quantity.law, pair.wire_feed_m_min, values, interval));
        }
    }
    all
}

fn consequence(name: &str, law: &str, feed: f64, [first, second]: [f64; 2], interval: Option<[f64; 2]>) -> Consequence {
    let difference = second - first;
    // NaN ends leave nothing out.
    let beyond = interval.map(|[low, high]| low > 0.0 || high < 0.0);
    let missing = if interval.is_none() { NO_INTERVAL } else { "" };
    Consequence {
        law: law.to_owned(),
        quantity: name.to_owned(),
        at: AtWireFeed { wire_feed_m_min: feed },
        first,
        second,
        difference,
        interval,
        margin: None,
        verdict: None,
        differs_from_zero: beyond,
        trials_to_settle: None,
        reason: format!("{missing}{NO_MARGIN}"),
    }
}

/// What the first line's setting melts at its extension, by either burn-off law; nothing where a law is missing.
fn melted(
    first: &LineRecord,
    second: &LineRecord,
    pairs: &[Pair],
    confidence: f64,
    rule: ErrorRule,
) -> Vec<Consequence> {
    let laws = |line: &LineRecord| {
        LawsAtWork::new(&line.laws, line.calibration.as_deref().unwrap_or_default(), line.confidence)
    };
    let (Some(ours), Some(theirs)) = (laws(first), laws(second)) else { return Vec::new() };
    // Both laws are read at the same settings: only the differences of their coefficients come in.
    let coefficients = ours.burn_off.b.len().max(theirs.burn_off.b.len());
    let looks = Looks { places: pairs.len(), coefficients };
    let extension = first.conditions.extension_mm;
    let reach = |laws: &LawsAtWork, wave: &Waveform| {
        let m = wave.moments();
        let value = 0.06 * melting_mm_s(&laws.burn_off.b, extension, m.mean_a, m.mean_square_a2);
        let se = 0.06 * standard_error(laws, &laws.burn_off, &[m.mean_a, extension * m.mean_square_a2, 1.0]);
        let half = looks.quantile(confidence, laws.burn_off.degrees_of_freedom.max(1.0)) * se;
        Reach { value, below: half, above: half }
    };
    pairs
        .iter()
        .map(|pair| {
            let wave = pair.first.waveform();
            let (a, b) = (reach(&ours, &wave), reach(&theirs, &wave));
            let interval = Some(rule.difference(a, b));
            consequence(MELTED, "burn_off", pair.wire_feed_m_min, [a.value, b.value], interval)
        })
        .collect()
}

/// √(gᵀ·C·g + Σ(g·effect·u)²), from the trials and the stated common errors.
fn standard_error(laws: &LawsAtWork, law: &LeastSquaresAtWork, gradient: &[f64]) -> f64 {
    let g = &gradient[..law.b.len().min(gradient.len())];
    let trials: f64 = g
        .iter()
        .enumerate()
        .flat_map(|(i, a)| g.iter().enumerate().map(move |(j, b)| (i, j, a * b)))
        .map(|(i, j, ab)| ab * law.covariance[(i, j)])
        .sum();
    let common: f64 = law
        .effects
        .iter()
        .zip(&laws.common)
        .map(|(effect, error)| {
            let moved: f64 = effect.iter().zip(g).map(|(e, g)| e * g).sum();
            (moved * error.standard_uncertainty).powi(2)
        })
        .sum();
    (trials + common).max(0.0).sqrt()
}

fn law<'a>(laws: &'a Laws, name: &str) -> &'a FittedLaw {
    match name {
        "burn_off" => &laws.burn_off,
        "detachment" => &laws.detachment,
        _ => &laws.arc_voltage,
    }
}

/// Degrees of freedom behind the law's intervals; few make the tails long, which many looks reach into.
fn degrees_of_freedom(law: &FittedLaw) -> f64 {
    let own = match law.covariance_from {
        CovarianceFrom::StatedErrors => f64::INFINITY,
        _ => law.degrees_of_freedom as f64,
    };
    law.between_blocks.as_ref().map_or(own, |b| b.degrees_of_freedom).max(1.0)
}

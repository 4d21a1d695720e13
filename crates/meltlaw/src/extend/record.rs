//! What laws for something that nobody welded rest on; kept in `laws.json` beside the laws.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::laws::FitTest;

/// That laws were extended, to what, from what, and how far they may be trusted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Extension {
    /// What the laws were extended to.
    pub target: Target,
    /// In words, such as `to 1.6 mm from 0.8, 1.0 and 1.2 mm`.
    pub words: String,
    /// The studies that it rests on.
    pub rests_on: Vec<RestsOn>,
    /// Quantities that were carried: at each base, by the pooled law, at the target.
    pub traits: Vec<Trait>,
    /// Whether the scaling agrees with the studies, and which does not.
    pub tests: BTreeMap<String, FitTest>,
    /// Each base study predicted from the others: the proof that the intervals may be trusted.
    pub left_out: Vec<LeftOut>,
    /// Welds that would confirm the laws.
    pub confirm: Vec<ConfirmingWeld>,
    /// What the laws rest on that was stated and not measured.
    pub stated: Vec<String>,
}

/// What laws were extended to; what is absent is as in the studies.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Target {
    /// A wire diameter.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub wire_diameter_mm: Option<f64>,
    /// Carbon dioxide in the gas, per cent by volume, the rest argon.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub carbon_dioxide_per_cent: Option<f64>,
    /// A contact-tip-to-work distance.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ctwd_mm: Option<f64>,
    /// Wire feeds.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub wire_feed_m_min: Option<[f64; 2]>,
    /// A batch of the same specification.
    #[serde(default)]
    pub any_batch: bool,
}

/// A study that an extension rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RestsOn {
    /// Name of the study.
    pub study: String,
    /// Its file, as given.
    pub file: String,
    /// Checksum of its laws.
    pub laws_checksum: String,
    /// Wire diameter.
    pub wire_diameter_mm: f64,
    /// Metal section.
    pub metal_section_mm2: f64,
    /// Carbon dioxide in its gas; null where the gas is not stated.
    pub carbon_dioxide_per_cent: Option<f64>,
    /// Why it is null.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
    /// Trials used by burn-off, detachment and arc voltage.
    pub trials: [usize; 3],
}

/// A quantity that was carried to the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Trait {
    /// The law.
    pub law: String,
    /// Its name, such as `alpha_mm_per_a_s`.
    pub name: String,
    /// Unit of values as in the law.
    pub unit: String,
    /// How it is carried, such as `1/A`, `power of diameter, 1.94`, `the same`.
    pub scaling: String,
    /// Power of the diameter by which it is carried; null where it is not by one.
    pub power_of_diameter: Option<f64>,
    /// Interval of that power where it was estimated.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub power_interval: Option<[f64; 2]>,
    /// Heterogeneity between the bases: standard deviation, relative or in the unit that `heterogeneity_unit` says.
    pub heterogeneity: Option<f64>,
    /// `1` for relative, else a unit.
    pub heterogeneity_unit: String,
    /// Interval of the heterogeneity; the upper end is null where it is stated.
    pub heterogeneity_interval: [Option<f64>; 2],
    /// `estimated from N`, `stated`, `none: the studies agree`.
    pub heterogeneity_from: String,
    /// At each base, in the order of `rests_on`.
    pub bases: Vec<BaseValue>,
    /// At the target.
    pub at_target: BaseValue,
    /// Why anything above is null.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// A value with its interval at the laws' confidence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BaseValue {
    /// The value.
    pub value: f64,
    /// Its interval.
    pub interval: [f64; 2],
    /// What the pooled law, carried here, gives.
    pub pooled: f64,
}

/// A base study predicted from the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LeftOut {
    /// The study left out.
    pub study: String,
    /// The law.
    pub law: String,
    /// `wire_feed_m_min`, `one_drop_from_ms`, `more_drops_from_ms`, `voltage_mean_v` in the middle of its trials.
    pub quantity: String,
    /// Unit.
    pub unit: String,
    /// What the others predict.
    pub predicted: f64,
    /// The interval in which what its own trials find should lie, at the laws' confidence.
    pub interval: [f64; 2],
    /// What its own trials find.
    pub found: f64,
    /// Whether it lies inside.
    pub inside: bool,
}

/// A weld that would confirm extended laws.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConfirmingWeld {
    /// Wire feed to set.
    pub wire_feed_m_min: f64,
    /// Contact-tip-to-work distance.
    pub ctwd_mm: f64,
    /// Arc length.
    pub arc_length_mm: f64,
    /// Pulse current to set.
    pub pulse_current_a: f64,
    /// Pulse time to set.
    pub pulse_time_ms: f64,
    /// Mean current that the laws expect, with the interval for a single weld.
    pub current_mean_a: f64,
    /// Its interval.
    pub current_mean_a_interval: [f64; 2],
    /// Relative standard error of the melting rate that the laws leave there, with calibration.
    pub melting_rate_relative_se: f64,
    /// Why this one.
    pub why: String,
}

/// What an extension that cannot be made lacks.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ExtensionError {
    /// Too few studies, or what they state does not reach the target.
    #[error("{found}; {needed}; {remedy}")]
    Lacking {
        /// What was found.
        found: String,
        /// What was needed.
        needed: String,
        /// What to do.
        remedy: String,
    },
}

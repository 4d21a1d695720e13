//! A composed line: one struct is the truth for `line.json`, its schema, `at` and the report.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::study::Weights;

/// The composed part of a line document: what the laws and the study give.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Line {
    /// By range: what confirmation welds said.
    pub standing: Vec<StandingRange>,
    /// How values between nodes are had, and the error that this leaves.
    pub interpolation: Interpolation,
    /// Ranges that `support` rests on.
    pub validity: BTreeMap<String, Validity>,
    /// What ends the usable feeds, and which trials would move the ends.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub range_ends: Vec<RangeEnd>,
    /// Feeds for which there is no setting, and why.
    pub unsupported: Vec<Unsupported>,
    /// Usable settings, ascending in wire feed.
    pub nodes: Vec<Node>,
    /// How the nodes would move without each trial; in large studies without those that move them most.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub influence: Vec<Influence>,
    /// How the settings were chosen and what that gained; absent in lines of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub composing: Option<Composing>,
    /// All settings that would do at a few feeds, not only the one chosen.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub admissible: Vec<Admissible>,
}

/// How the settings of a line were chosen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Composing {
    /// `optimised` or `midpoint`.
    pub rule: String,
    /// In words.
    pub meaning: String,
    /// What the optimum weighs; absent for `midpoint`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub weights: Option<Weights>,
    /// The pulse with the highest lower bound of the one-drop probability, whatever the feed.
    pub best_pulse: BestPulse,
    /// Smallest lower bound of the one-drop probability along the line; absent without nodes.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub smallest_one_drop_bound: Option<f64>,
    /// Feeds with a setting, m/min altogether.
    pub usable_m_min: f64,
    /// The same of the line by the midpoint rule: what the optimum gains.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub midpoint: Option<MidpointLine>,
}

/// The pulse that detaches one drop most surely.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BestPulse {
    /// Its current.
    pub pulse_current_a: f64,
    /// Its time.
    pub pulse_time_ms: f64,
    /// Lower bound of its one-drop probability, to first order.
    pub one_drop_bound: f64,
}

/// What the midpoint rule gives for the same study.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MidpointLine {
    /// Smallest lower bound of the one-drop probability along that line, to first order; absent without nodes.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub smallest_one_drop_bound: Option<f64>,
    /// The same of this line's own nodes where the midpoint rule has a setting too; absent where there is none.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub one_drop_bound_beside: Option<f64>,
    /// Feeds with a setting, m/min altogether.
    pub usable_m_min: f64,
}

/// What a node gave up, against the best pulse and the target drop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cost {
    /// Lower bound of the one-drop probability below that of the best pulse.
    pub one_drop_bound: f64,
    /// Drop diameter over its target, minus 1.
    pub drop_relative: f64,
    /// Pulse current minus that which the trials know best.
    pub pulse_current_a: f64,
    /// What each binding limit costs, by name: what the optimum would save if it lay 1 % further out, where 1 is
    /// the cost of a preference at its stated departure. Empty where the rule has no cost.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub by_limit: BTreeMap<String, f64>,
}

/// How far each setting may move alone before the process fails, all others held and nothing else controlled.
///
/// The wire then melts at another rate, and the arc length moves until the extension has restored the balance.
/// Words for what fails first: those of `limits` (`one_drop_low`, `drop_small`, `drop_large`, `slopes`, limits of the
/// source), and for the arc `arc_short` (it is gone: the wire touches the pool), `burn_back` (it reaches the contact
/// tip), `arc_unknown` (it leaves the trials' arc lengths, widened by `extended_by`), `arc_unstable` (the trials do
/// not show at the study's confidence that more extension melts more, so that nothing halts an arc that moves);
/// `nothing` where no failure was found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Drift {
    /// Of the pulse current, A.
    pub pulse_current_a: DriftRange,
    /// Of the pulse time, ms.
    pub pulse_time_ms: DriftRange,
    /// Of the frequency, Hz.
    pub pulse_frequency_hz: DriftRange,
    /// Of the background current, A.
    pub background_current_a: DriftRange,
    /// Of the wire feed, m/min.
    pub wire_feed_m_min: DriftRange,
}

/// Between which values a setting may lie, and what fails first beyond either end. Where something fails at the
/// setting itself both ends are that setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DriftRange {
    /// Lowest value.
    pub low: f64,
    /// What fails below it.
    pub fails_below: String,
    /// Highest value.
    pub high: f64,
    /// What fails above it.
    pub fails_above: String,
}

/// All settings that would do at one feed: each point has at least one choice of the other settings that
/// melts the feed, detaches one drop at the stated confidence, and keeps all limits and supports.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Admissible {
    /// The feed.
    pub wire_feed_m_min: f64,
    /// For pulse currents (A), the pulse times (ms) that do.
    pub pulse_time_ms_by_pulse_current_a: Vec<Span>,
    /// For frequencies (Hz), the background currents (A) that do.
    pub background_current_a_by_pulse_frequency_hz: Vec<Span>,
}

/// One stretch of an admissible region.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Span {
    /// Value of the first setting.
    pub at: f64,
    /// Lowest value of the second.
    pub low: f64,
    /// Highest value of the second.
    pub high: f64,
    /// What ends it below: one limit, or two between which no room is left.
    pub low_limits: Vec<String>,
    /// What ends it above.
    pub high_limits: Vec<String>,
}

/// Standing of a range of the line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StandingRange {
    /// `proposed`, `confirmed`, `contradicted` or `withdrawn`.
    pub state: String,
    /// From which to which feed.
    pub wire_feed_m_min: [f64; 2],
    /// The decision rule, where not `proposed`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rule: Option<String>,
    /// The evidence, where not `proposed`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub evidence: Option<String>,
    /// The day, where not `proposed`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub date: Option<String>,
    /// By whom, where not `proposed`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub by: Option<String>,
}

/// Rule and error between nodes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Interpolation {
    /// In words.
    pub rule: String,
    /// Largest relative error of the melt balance between nodes; null without nodes.
    pub largest_relative_melt_balance_error: Option<f64>,
    /// Largest error of the one-drop probability between nodes: of the pulse there less what is read there; absent in
    /// lines of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub largest_one_drop_probability_error: Option<f64>,
    /// Why it is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// A range that support rests on: of the trials, or as mapped to what nobody welded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Validity {
    /// Range of the trials used, mapped where laws were carried to what nobody welded.
    pub measured: [f64; 2],
    /// Up to where a setting may still be `extended`: that range widened by `extended_by` on both sides, or to where the
    /// laws were extended; distances from the work by 1 mm at least.
    pub extended: [f64; 2],
    /// Where the range comes from.
    pub reason: String,
    /// The trials at both ends; absent where the record of the laws does not name them.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ends: Option<[ValidityEnd; 2]>,
}

/// The trial that a range ends with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ValidityEnd {
    /// Its identifier.
    pub trial: String,
    /// Its reading, in the unit of the variable.
    pub value: f64,
    /// Where the range would end without it; null for a single trial.
    pub next: Option<f64>,
}

/// An end of the usable feeds: what ends it, and which trial would move it by how much.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RangeEnd {
    /// The last node.
    pub wire_feed_m_min: f64,
    /// `low`: no setting below it; `high`: none above it.
    pub side: String,
    /// What stands in the way beyond; empty where no more was asked for.
    pub limits: Vec<String>,
    /// Where the data end it: the variable, named as in `validity`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub variable: Option<String>,
    /// The law whose trials lie elsewhere together, where no single range ends it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub together: Option<String>,
    /// The most extended value of the variable, in its unit; absent where no single range ends it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub limit_value: Option<f64>,
    /// The trial that sets it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub trial: Option<String>,
    /// What one more trial would gain.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub further_trial: Option<FurtherTrial>,
    /// Where the usable feeds would end without `trial`: ranges only, laws and settings held.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub without_trial_m_min: Option<f64>,
    /// In words.
    pub reason: String,
}

/// A trial one step beyond an end, with the line's own settings carried on in a straight line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FurtherTrial {
    /// Its wire feed.
    pub wire_feed_m_min: f64,
    /// Its value of the variable that ends the feeds, in its unit.
    pub value: f64,
    /// Where the data would then end the usable feeds, laws held and the trial read without error; no farther than
    /// was asked for.
    pub end_m_min: f64,
}

/// A range of feeds without a setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Unsupported {
    /// From which to which feed.
    pub wire_feed_m_min: [f64; 2],
    /// What stands in the way.
    pub limits: Vec<String>,
    /// In words, with what would cure it.
    pub reason: String,
}

/// A value with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Uncertain {
    /// The value.
    pub value: f64,
    /// Interval at the study's confidence.
    pub interval: [f64; 2],
    /// Standard error of its ends because there are only so many draws; absent where too few tell it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub interval_error: Option<f64>,
}

/// Standard errors of interval ends because there are only so many draws, the larger of both ends; absent
/// where too few draws tell it.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct IntervalErrors {
    /// Of `balancing_background_current_a_interval`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub balancing_background_current_a: Option<f64>,
    /// Of `voltage_mean_v_interval`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub voltage_mean_v: Option<f64>,
    /// Of the next weld's current.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub next_weld_current_mean_a: Option<f64>,
    /// Of the next weld's voltage.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub next_weld_voltage_mean_v: Option<f64>,
    /// Of the next weld's power.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub next_weld_power_mean_w: Option<f64>,
}

/// What one trial does to the line: how the nodes would move without it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Influence {
    /// Identifier of the trial.
    pub trial: String,
    /// The law that it was used for.
    pub law: String,
    /// What moves: the feed that a node's settings melt, the voltage, the pulse time mid-window.
    pub quantity: String,
    /// Its unit.
    pub unit: String,
    /// Change at each node.
    pub changes: Vec<f64>,
    /// Change at the node where it is largest.
    pub largest: f64,
    /// That node's feed.
    pub at_wire_feed_m_min: f64,
    /// The largest change over the standard uncertainty of the quantity there.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub standard_errors: Option<f64>,
}

/// One usable setting and all that is known about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Node {
    /// Wire feed speed.
    pub wire_feed_m_min: f64,
    /// Pulse current.
    pub pulse_current_a: f64,
    /// Pulse time at half height.
    pub pulse_time_ms: f64,
    /// Pulse frequency.
    pub pulse_frequency_hz: f64,
    /// Background current.
    pub background_current_a: f64,
    /// Background time, 1000/f − pulse time.
    pub background_time_ms: f64,
    /// Slope of the rising edge.
    pub rise_a_per_ms: f64,
    /// Slope of the falling edge.
    pub fall_a_per_ms: f64,
    /// Mean current.
    pub current_mean_a: f64,
    /// RMS current.
    pub current_rms_a: f64,
    /// Drop diameter.
    pub drop_diameter_mm: f64,
    /// Melted metal, losses not subtracted.
    pub melting_rate_kg_h: f64,
    /// Relative standard error of the melting rate.
    pub melting_rate_relative_se: f64,
    /// The same on the trials' own instruments.
    pub melting_rate_relative_se_same_bench: f64,
    /// Mean voltage between contact tip and work.
    pub voltage_mean_v: f64,
    /// Interval of the mean.
    pub voltage_mean_v_interval: [f64; 2],
    /// Mean instantaneous power.
    pub power_mean_w: f64,
    /// Interval of that mean.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub power_mean_w_interval: Option<[f64; 2]>,
    /// Probability that a pulse detaches exactly one drop.
    pub one_drop_probability: Uncertain,
    /// Background recomposed for each draw, all else held.
    pub balancing_background_current_a_interval: [f64; 2],
    /// Mean current with the background recomposed for each draw.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub balancing_current_mean_a_interval: Option<[f64; 2]>,
    /// Arc energy per length; absent where no travel speed is stated.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub arc_energy_kj_mm: Option<f64>,
    /// Interval of that energy.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub arc_energy_kj_mm_interval: Option<[f64; 2]>,
    /// Heat input per length; absent where no travel speed is stated.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub heat_input_kj_mm: Option<f64>,
    /// Interval of that heat input; the thermal efficiency is taken as exact.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub heat_input_kj_mm_interval: Option<[f64; 2]>,
    /// Where the readings of one new weld should lie.
    pub next_weld: NextWeld,
    /// How far the ends of the intervals may be off because there are only so many draws.
    #[serde(default)]
    pub interval_errors: IntervalErrors,
    /// What moves the arc.
    pub sensitivities: Sensitivities,
    /// Shares of variance.
    pub budget: Budget,
    /// `covered`, `extended` or `carried`: how well the trials support the setting.
    pub support: String,
    /// What binds here.
    pub limits: Vec<String>,
    /// Remarks.
    pub notes: Vec<String>,
    /// Settings that the study pins here.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub pinned: Vec<String>,
    /// What this node gave up and to which limit.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cost: Option<Cost>,
    /// How far each setting may move alone.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub drift: Option<Drift>,
}

/// Intervals for the readings of one new weld at kept arc length.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextWeld {
    /// Mean current.
    pub current_mean_a: [f64; 2],
    /// Mean voltage.
    pub voltage_mean_v: [f64; 2],
    /// Mean power.
    pub power_mean_w: [f64; 2],
}

/// What a step of one quantity does to the arc and what would restore it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Sensitivity {
    /// Change of the arc length with settings held.
    pub arc_length_mm: f64,
    /// Change of the mean voltage with settings held.
    pub voltage_mean_v: f64,
    /// Change of the background current that restores the arc length.
    pub background_current_a: f64,
}

/// Sensitivities per +1 mm, +1 %, +1 %.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Sensitivities {
    /// +1 mm of contact-tip-to-work distance.
    pub ctwd: Sensitivity,
    /// +1 % of wire feed.
    pub wire_feed: Sensitivity,
    /// +1 % of wire diameter.
    pub wire_diameter: Sensitivity,
}

/// Shares of variance: `trials`, `drop_counting` and each calibration term; each sums to 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Budget {
    /// Of the melting rate.
    pub melting_rate: BTreeMap<String, f64>,
    /// Of the one-drop probability.
    pub one_drop_probability: BTreeMap<String, f64>,
    /// Of the mean voltage.
    pub voltage: BTreeMap<String, f64>,
}

impl Line {
    /// What confirmation said of a feed; where ranges meet or overlap, the most cautious of them, and `Proposed` where
    /// nothing was said.
    pub fn standing_at(&self, wire_feed_m_min: f64) -> meltlaw_line::Standing {
        let said = self.standing.iter().filter(|range| range.holds(wire_feed_m_min)).map(StandingRange::standing);
        said.max_by_key(|standing| standing.caution()).unwrap_or(meltlaw_line::Standing::Proposed)
    }

    /// Ranges that must not be used, because confirmation welds contradict the line there or because it was withdrawn.
    pub fn refused(&self) -> impl Iterator<Item = &StandingRange> {
        self.standing.iter().filter(|range| range.standing().refuses().is_some())
    }
}

impl StandingRange {
    /// The standing that `state` names; an unknown word is read as `Contradicted`, so that it permits nothing.
    pub fn standing(&self) -> meltlaw_line::Standing {
        meltlaw_line::Standing::from_word(&self.state).unwrap_or(meltlaw_line::Standing::Contradicted)
    }

    /// Whether a feed lies in the range, ends included.
    pub fn holds(&self, wire_feed_m_min: f64) -> bool {
        let [low, high] = self.wire_feed_m_min;
        low <= wire_feed_m_min && wire_feed_m_min <= high
    }

    /// Why the range has no setting, in words; to be asked of a range of [`Line::refused`].
    pub fn refusal_words(&self) -> String {
        let [low, high] = self.wire_feed_m_min;
        match self.standing() {
            meltlaw_line::Standing::Withdrawn => format!("the line was withdrawn from {low} to {high} m/min"),
            _ => format!("confirmation welds contradict the line from {low} to {high} m/min: do not use it there"),
        }
    }
}

impl Unsupported {
    /// Whether some of the gap lies between two neighbouring nodes.
    pub fn lies_between(&self, lower_node_m_min: f64, upper_node_m_min: f64) -> bool {
        meltlaw_line::gap_between(self.wire_feed_m_min, lower_node_m_min, upper_node_m_min)
    }
}

impl Node {
    /// The waveform that the node sets.
    pub fn waveform(&self) -> meltlaw_line::Waveform {
        meltlaw_line::Waveform {
            pulse_current_a: self.pulse_current_a,
            pulse_time_ms: self.pulse_time_ms,
            background_current_a: self.background_current_a,
            pulse_frequency_hz: self.pulse_frequency_hz,
            rise_a_per_ms: self.rise_a_per_ms,
            fall_a_per_ms: self.fall_a_per_ms,
        }
    }
}

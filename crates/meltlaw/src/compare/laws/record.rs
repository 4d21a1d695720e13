//! What a comparison of laws comes to, as `compare --json` gives it and the page draws it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::laws::Reading;
use crate::line_conditions::ConditionDifference;
use crate::study::Margins;

/// Do two laws give the same, within a margin?
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The simultaneous interval of the difference lies inside ± margin over the common measured range.
    Alike,
    /// Neither: more trials would tell.
    Undecided,
    /// The interval lies wholly outside ± margin at some point.
    Different,
}

impl Verdict {
    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Alike => "alike",
            Self::Undecided => "undecided",
            Self::Different => "different",
        }
    }
}

/// Every wire held against the first, law by law.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LawsComparison {
    /// `alike` where every statement is, `different` where any is, else `undecided`; by wire in `comparisons`.
    pub overall: Verdict,
    /// Each law's intervals hold at this confidence over all places, quantities and wires together.
    pub confidence: f64,
    /// Margins that verdicts rest on.
    pub margins: Margins,
    /// Where the margins come from, such as `study.toml` or `assumed: the usual margins`.
    pub margins_from: String,
    /// The wires, the first among them, in the order asked for.
    pub wires: Vec<ComparedWire>,
    /// Which instruments the wires share, and what no interval covers.
    pub instruments: Instruments,
    /// One statement for each wire but the first, law and quantity.
    pub comparisons: Vec<LawStatement>,
    /// The difference over the common measured range, as drawn; one for each statement that could be made.
    pub bands: Vec<Band>,
    /// Joint confidence regions of two coefficients: α and β of every wire, and of each difference from the first.
    pub regions: Vec<Region>,
    /// Is there any difference at all? Beside the verdicts, never instead of them.
    pub likelihood_ratio: Vec<LikelihoodRatio>,
    /// Spread between batches of one specification, where several were given.
    pub batch_spread: Vec<BatchSpread>,
    /// What a reader must know, such as what was converted.
    pub notes: Vec<String>,
}

impl LawsComparison {
    /// The band that a statement was read off.
    pub fn band_of(&self, statement: &LawStatement) -> Option<&Band> {
        self.bands
            .iter()
            .find(|b| b.wire == statement.wire && b.law == statement.law && b.quantity == statement.quantity)
    }
}

/// A wire, or several batches of one specification, that took part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ComparedWire {
    /// What it is called here: its file, or the name of the group of batches.
    pub name: String,
    /// Names of the studies.
    pub studies: Vec<String>,
    /// Files of the laws.
    pub files: Vec<String>,
    /// Checksums of the laws files.
    pub checksums: Vec<String>,
    /// Wire and gas in words.
    pub words: String,
    /// Number of batches.
    pub batches: usize,
    /// Trials used by burn-off, detachment and arc voltage, over all batches.
    pub trials: [usize; 3],
    /// What is other than with the first wire.
    pub conditions: Vec<ConditionDifference>,
}

/// What the wires' instruments share.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Instruments {
    /// Calibration terms stated to be of the same instrument in all files: their errors cancel in differences.
    pub same: Vec<String>,
    /// Terms that some file does not state: no interval covers them.
    pub not_covered: Vec<String>,
    /// In words.
    pub words: String,
}

/// Where in the laws' own variables something is compared. What a law does not know is absent.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct PlaceOfLaw {
    /// Ī.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub current_mean_a: Option<f64>,
    /// L·I_rms².
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extension_rms_squared_mm_a2: Option<f64>,
    /// I_p.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_current_a: Option<f64>,
    /// a.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub arc_length_mm: Option<f64>,
    /// L.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extension_mm: Option<f64>,
}

/// One judged quantity of one wire against the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LawStatement {
    /// The wire that is held against the first.
    pub wire: String,
    /// `burn_off`, `detachment`, `arc_voltage`.
    pub law: String,
    /// `wire_feed_m_min`, `one_drop_from_ms`, `more_drops_from_ms`, `voltage_mean_v`.
    pub quantity: String,
    /// Unit of difference, interval and margin.
    pub unit: String,
    /// The place that decides: farthest outside the margin, else nearest to leaving it. Null where nothing is compared.
    pub at: Option<PlaceOfLaw>,
    /// What the first wire does there.
    pub first: Option<f64>,
    /// Second minus first, there.
    pub difference: Option<f64>,
    /// The simultaneous interval, there.
    pub interval: Option<[f64; 2]>,
    /// The margin in the same unit, there.
    pub margin: Option<f64>,
    /// Largest and smallest difference over the range in per cent of the first wire's value; absent for voltage.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub range_per_cent: Option<[f64; 2]>,
    /// Against the margin.
    pub verdict: Verdict,
    /// Whether the interval leaves zero out at any place.
    pub differs_from_zero: Option<bool>,
    /// So many further trials of each wire would settle it in four of five cases; null where it is settled, or where
    /// trials alone will not.
    pub trials_to_settle: Option<usize>,
    /// Where to weld them, or why there is no number.
    pub settle: String,
    /// Why anything above is null.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
    /// Share of the interval's variance at the deciding place: each wire's trials, its batches, what calibration leaves.
    pub budget: Vec<(String, f64)>,
    /// In words.
    pub reading: Reading,
}

/// A difference over the common measured range.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Band {
    /// The wire that is held against the first.
    pub wire: String,
    /// The law.
    pub law: String,
    /// The quantity.
    pub quantity: String,
    /// Unit of the quantity.
    pub unit: String,
    /// Standard errors that the band is wide, so that it holds everywhere at once.
    pub critical: f64,
    /// Along the first variable of the law, through the middle of where both wires were welded.
    pub along: Vec<BandPlace>,
    /// All places that were judged.
    pub places: Vec<BandPlace>,
}

/// Both laws at one place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BandPlace {
    /// The place.
    pub at: PlaceOfLaw,
    /// By the first wire's law.
    pub first: f64,
    /// By the other's.
    pub second: f64,
    /// Second minus first.
    pub difference: f64,
    /// Its simultaneous interval.
    pub interval: [f64; 2],
    /// The margin.
    pub margin: f64,
}

/// A joint confidence region of two coefficients.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Region {
    /// The wire.
    pub wire: String,
    /// Whether it is of the difference from the first wire.
    pub of_difference: bool,
    /// Names of both coefficients.
    pub coefficients: [String; 2],
    /// Units of both.
    pub units: [String; 2],
    /// Its middle.
    pub centre: [f64; 2],
    /// Points of its rim, closed.
    pub rim: Vec<[f64; 2]>,
    /// At which confidence it holds both coefficients at once.
    pub confidence: f64,
}

/// One law for all wires, or one for each?
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LikelihoodRatio {
    /// The wire that is held against the first.
    pub wire: String,
    /// The law.
    pub law: String,
    /// 2·ln of the ratio.
    pub statistic: Option<f64>,
    /// Coefficients that one law for both saves.
    pub degrees_of_freedom: usize,
    /// Probability of a ratio at least as large where both wires follow one law.
    pub p_value: Option<f64>,
    /// How the probability was had.
    pub p_value_from: String,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
    /// In words.
    pub reading: Reading,
}

/// How far batches of one specification scatter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BatchSpread {
    /// The group of batches.
    pub wire: String,
    /// The law.
    pub law: String,
    /// `wire_feed_m_min`, `one_drop_from_ms`, `more_drops_from_ms`, `voltage_mean_v`.
    pub quantity: String,
    /// Unit: `1` where relative.
    pub unit: String,
    /// Standard deviation between batches; null with two, where only a bound can be quoted.
    pub standard_deviation: Option<f64>,
    /// Its interval at 95 %; for two batches the upper end alone.
    pub interval: [Option<f64>; 2],
    /// Number of batches that it rests on.
    pub batches: usize,
    /// Each batch off the mean of all.
    pub batches_off: Vec<(String, f64)>,
    /// In words.
    pub reading: Reading,
    /// Why anything above is null.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

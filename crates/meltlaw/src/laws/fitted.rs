//! What a fit leaves: one struct is the truth for `laws.json`, its schema, the composer and the report.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::TrialCloud;
use crate::study::CovarianceFrom;

/// What a check, test or plausibility says in words for the bench.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Reading {
    /// What should be seen.
    pub expected: String,
    /// What is seen.
    pub seen: String,
    /// What to do.
    #[serde(rename = "do")]
    pub action: String,
}

impl Reading {
    /// From three sentences.
    pub fn new(expected: impl Into<String>, seen: impl Into<String>, action: impl Into<String>) -> Self {
        Self { expected: expected.into(), seen: seen.into(), action: action.into() }
    }

    /// Whether it asks for anything: there is something to do that does not begin with `nothing`.
    pub fn asks(&self) -> bool {
        let action = self.action.trim();
        !action.is_empty() && !action.to_lowercase().starts_with("nothing")
    }
}

/// The three laws, always all three.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Laws {
    /// How fast the wire melts.
    pub burn_off: FittedLaw,
    /// When a drop lets go.
    pub detachment: FittedLaw,
    /// The voltage between contact tip and work.
    pub arc_voltage: FittedLaw,
    /// To what nobody welded the laws were carried; absent where they hold for what was welded.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub carried: Option<CarriedTo>,
}

/// To what nobody welded laws were carried, from what, and how the ranges of the trials were mapped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CarriedTo {
    /// What nobody welded: `wire diameter`, `gas`, `contact-tip-to-work distance`, or two of these.
    pub what: String,
    /// To what and from what, such as `to 1.4 mm from 0.9, 1.0 and 1.2 mm`.
    pub words: String,
    /// Names of the studies that the laws were carried from.
    pub studies: Vec<String>,
    /// The contact-tip-to-work distance that they were carried to and hold at; absent where they hold at the
    /// distances of the trials.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ctwd_mm: Option<f64>,
    /// How the trials' range of a variable was mapped, by its name in `validity`.
    pub mapped: BTreeMap<String, String>,
}

impl CarriedTo {
    /// `nobody has welded this wire diameter: the laws were carried to 1.4 mm from 0.9 and 1.2 mm (studies A; B)`.
    pub fn sentence(&self) -> String {
        let studies = match &self.studies[..] {
            [] => String::new(),
            [one] => format!(" (study {one})"),
            several => format!(" (studies {})", several.join("; ")),
        };
        format!("nobody has welded this {}: the laws were carried {}{studies}", self.what, self.words)
    }
}

impl Laws {
    /// The laws with their names, in the order of the files.
    pub fn by_name(&self) -> [(&'static str, &FittedLaw); 3] {
        [("burn_off", &self.burn_off), ("detachment", &self.detachment), ("arc_voltage", &self.arc_voltage)]
    }

    /// The names of laws that a line cannot be composed without and that are not usable.
    pub fn missing(&self) -> Vec<&'static str> {
        self.by_name().into_iter().filter(|(_, law)| !law.ended.usable).map(|(name, _)| name).collect()
    }
}

/// A fitted law with everything known about the fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FittedLaw {
    /// Which form of the law.
    pub form: String,
    /// The equation in words.
    pub equation: String,
    /// Coefficients by name; empty where the law could not be fitted.
    pub coefficients: BTreeMap<String, Coefficient>,
    /// Order of the covariance.
    pub coefficient_order: Vec<String>,
    /// Covariance of the coefficients from the trials only, scatter between blocks among it, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// How the fit ended.
    pub ended: Ended,
    /// What the covariance rests on.
    pub covariance_from: CovarianceFrom,
    /// The covariance on the other footing (residuals against stated errors), where there is one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub covariance_beside: Option<CovarianceBeside>,
    /// χ² per degree of freedom of the weighted residuals.
    pub chi_squared_per_degree: Option<f64>,
    /// Why `chi_squared_per_degree` is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub chi_squared_per_degree_reason: Option<String>,
    /// Root of the summed squared residuals over the degrees of freedom, in the law's unit.
    pub residual_standard_deviation: Option<f64>,
    /// Why `residual_standard_deviation` is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub residual_standard_deviation_reason: Option<String>,
    /// The law's unit: mm/s, drops per pulse, V.
    #[serde(default)]
    pub residual_unit: String,
    /// Degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Identifiers of the trials used.
    pub trials_used: Vec<String>,
    /// Trials left out and why.
    pub trials_left_out: Vec<TrialLeftOut>,
    /// Ranges of the trials used, as read.
    pub range: BTreeMap<String, [f64; 2]>,
    /// How far beyond its range the law was extended on request to more feeds: up to there settings are `extended`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub reach: BTreeMap<String, [f64; 2]>,
    /// Where the trials used lie together; absent in records of other programs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cloud: Option<TrialCloud>,
    /// Where the trials of each study lie together, mapped to what a law that was extended from them is for.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub clouds: Vec<TrialCloud>,
    /// Forms that were tried beside; reported, never used unless the study says so.
    pub candidates: Vec<Candidate>,
    /// Each trial against the law.
    pub diagnostics: Vec<TrialDiagnostic>,
    /// Tests of the fit.
    pub tests: BTreeMap<String, FitTest>,
    /// Coefficients against physics.
    pub plausibility: Vec<Plausibility>,
    /// Remarks about this fit that a reader must know.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub notes: Vec<String>,
    /// Detachment: I₀ of the law.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reference_current_a: Option<f64>,
    /// Detachment: mean ln(I_p/I₀) of the trials used, where the thresholds are known best.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub mean_log_pulse_current: Option<f64>,
    /// Detachment: what was counted.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub counts: Option<Counts>,
    /// Detachment: covariance by the counts' information alone.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub counting_covariance: Option<Vec<Vec<f64>>>,
    /// Detachment: the thresholds as I_pⁿ·t_p = D.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub d: Option<DetachmentConstants>,
    /// Arc voltage: mean extension of the trials used.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub mean_extension_mm: Option<f64>,
    /// Arc voltage: how power is computed.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub power: Option<PowerRule>,
    /// Scatter between named blocks (days, coils, plates), where there is more than trials alone explain; its
    /// covariance is part of `covariance`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub between_blocks: Option<BetweenBlocks>,
    /// The law refitted so that single trials cannot pull it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub robust: Option<RobustRefit>,
    /// How the likelihood falls off around each coefficient.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub profiles: Vec<Profile>,
}

/// Scatter between blocks as a random effect on the residuals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BetweenBlocks {
    /// Standard deviation of a block's level, in standard errors of one trial.
    pub standard_deviation: f64,
    /// The same in the unit of `effect_unit`, at the middle of the trials.
    pub effect: f64,
    /// Unit of `effect`: m/min, V, ms.
    pub effect_unit: String,
    /// Factors that it is the scatter of; empty in files of earlier programs, which knew `block` only.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub factors: Vec<String>,
    /// Number of blocks that it rests on; of several factors the one with fewest levels.
    pub blocks: usize,
    /// Covariance of the coefficients that it adds.
    pub covariance: Vec<Vec<f64>>,
    /// Degrees of freedom of the intervals with it (Satterthwaite, the smallest over the coefficients).
    pub degrees_of_freedom: f64,
    /// In words.
    pub reading: Reading,
}

/// A refit with bounded influence of single trials.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RobustRefit {
    /// Method in words.
    pub method: String,
    /// Coefficients of the refit.
    pub coefficients: BTreeMap<String, f64>,
    /// Refit less fit, in standard errors of the fit.
    pub shift: BTreeMap<String, f64>,
    /// Trials whose weight fell under one half, with their weights.
    pub downweighted: BTreeMap<String, f64>,
    /// In words.
    pub reading: Reading,
}

/// Minus twice the log of the likelihood ratio along one coefficient, the others at their best.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Profile {
    /// The coefficient.
    pub coefficient: String,
    /// Its unit.
    pub unit: String,
    /// Values of the coefficient, ascending.
    pub values: Vec<f64>,
    /// Signed root of the loss against the best fit, in standard errors; a straight line through zero where
    /// Wald's interval is exact.
    pub signed_root: Vec<f64>,
    /// Interval by this profile at the study's confidence; a null bound is open.
    pub interval: [Option<f64>; 2],
    /// Why a bound is open.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// A coefficient with its uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Coefficient {
    /// The estimate; null where the data only bound it.
    pub value: Option<f64>,
    /// Unit.
    pub unit: String,
    /// Standard error from the trials.
    pub standard_error: Option<f64>,
    /// Standard error with the stated calibration.
    pub standard_error_with_calibration: Option<f64>,
    /// Interval at the study's confidence, with calibration where stated; a null bound is open.
    pub interval: [Option<f64>; 2],
    /// How the interval was made.
    pub interval_method: String,
    /// Why anything above is null, and what trial would cure it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
    /// What knowledge stated in the study does to it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub prior: Option<PriorPull>,
}

/// Knowledge stated in the study beside what the trials alone say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PriorPull {
    /// Mean as stated.
    pub mean: f64,
    /// Standard deviation as stated.
    pub standard_deviation: f64,
    /// Where it comes from, as stated.
    pub source: String,
    /// Estimate from the trials alone; null where they do not determine it.
    pub without: Option<f64>,
    /// Its standard error.
    pub without_standard_error: Option<f64>,
    /// Share of the coefficient's information that the statement brings, 0 to 1.
    pub share: f64,
    /// (trials alone − stated mean) over the standard error of that difference.
    pub distance: Option<f64>,
    /// Probability of a distance at least as large where the statement holds.
    #[serde(default)]
    pub p_value: Option<f64>,
    /// In words.
    pub reading: Reading,
    /// Why anything above is null.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

impl FittedLaw {
    /// How a law ended that was carried from other studies and not fitted to trials.
    pub const EXTENDED: &'static str = "extended";

    /// Whether other studies and not trials stand behind it.
    pub fn is_extended(&self) -> bool {
        self.ended.how == Self::EXTENDED
    }
}

/// How a fit ended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Ended {
    /// `converged`, `not_converged`, `separated`, `too_few_trials`, …
    pub how: String,
    /// Whether the law may be used for composing.
    pub usable: bool,
    /// Why not, and what trial would cure it; empty where usable.
    pub reason: String,
}

/// The covariance on the other footing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CovarianceBeside {
    /// What it rests on.
    pub covariance_from: CovarianceFrom,
    /// Standard errors by coefficient.
    pub standard_errors: BTreeMap<String, f64>,
}

/// A trial that a law did not use.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct TrialLeftOut {
    /// Identifier.
    pub trial: String,
    /// Why.
    pub reason: String,
}

/// A form tried beside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Candidate {
    /// Form of the law.
    pub form: String,
    /// Corrected Akaike criterion of the weighted residuals.
    pub aicc: Option<f64>,
    /// RMS of (left-out measured − predicted)/measured.
    pub leave_one_out_relative: Option<f64>,
    /// Mean log density of each trial as predicted by the others; larger is better.
    #[serde(default)]
    pub leave_one_out_log_density: Option<f64>,
    /// Fitted to the lower part of the range, held against the upper part.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub held_out_range: Option<HeldOutRange>,
    /// Largest change of what the law predicts over the line asked for, against the form used.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub line_effect: Option<LineEffect>,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// A test of a form outside the range that it was fitted to: burn-off and detachment are fitted to the lower
/// wire feeds, arc voltage to the lower currents. For detachment "relative" is relative to the one drop per
/// pulse that is wanted: the misses are in drops per pulse.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HeldOutRange {
    /// Number of trials fitted: those with the lower values.
    pub fitted: usize,
    /// Number of trials predicted.
    pub predicted: usize,
    /// RMS of (measured − predicted)/measured over the predicted trials.
    pub rms_relative: f64,
    /// Mean of (measured − predicted)/measured: a tendency.
    pub mean_relative: f64,
    /// Root mean square of the prediction errors over their predicted standard errors; about 1 where the form
    /// holds.
    pub standardised: f64,
}

/// What another form would do to the line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LineEffect {
    /// Largest change.
    pub value: f64,
    /// Its unit: m/min, V, ms.
    pub unit: String,
    /// Wire feed at which it is largest.
    pub at_wire_feed_m_min: f64,
    /// The change over its standard error.
    pub standard_errors: Option<f64>,
}

/// One trial against the law.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrialDiagnostic {
    /// Identifier.
    pub trial: String,
    /// The law at the readings.
    pub fitted: f64,
    /// Measured − fitted.
    pub residual: f64,
    /// Externally studentised residual.
    pub studentised_residual: Option<f64>,
    /// Leverage: the trial's share in its own fitted value.
    pub leverage: Option<f64>,
    /// Cook's distance.
    pub cooks_distance: Option<f64>,
    /// Probability of a weld at least as far from what the other trials predict.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub surprise: Option<f64>,
    /// Change of each coefficient when this trial is left out.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub without_it: BTreeMap<String, f64>,
    /// What stands out, in words.
    pub flags: Vec<String>,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// A test of a fit: effect first, p second.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FitTest {
    /// Test statistic.
    pub statistic: Option<f64>,
    /// Probability of a statistic at least as extreme where all is well.
    pub p_value: Option<f64>,
    /// Size of what was found.
    pub effect: Option<f64>,
    /// Unit of the effect.
    pub unit: String,
    /// In words.
    pub reading: Reading,
    /// Whether it is a warning: so unlikely where all is well that, over all tests of a study, a clean one
    /// carries any warning in at most one of twenty.
    #[serde(default)]
    pub warns: bool,
    /// Trials that the reading is about.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub trials: Vec<String>,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

impl FitTest {
    /// Whether there was anything to judge by. `reason` alone does not tell: a test without a probability states
    /// one, too.
    pub fn was_made(&self) -> bool {
        [self.statistic, self.p_value, self.effect].iter().any(Option::is_some)
    }

    /// A test that could not be made.
    pub fn not_made(unit: &str, expected: &str, reason: impl Into<String>, action: &str) -> Self {
        let reason = reason.into();
        Self {
            statistic: None,
            p_value: None,
            effect: None,
            unit: unit.to_owned(),
            reading: Reading::new(expected, format!("not tested: {reason}"), action),
            warns: false,
            trials: Vec::new(),
            reason: Some(reason),
        }
    }
}

impl FitTest {
    /// The same test; where residuals or repeats without any spread leave a number that is none, it is
    /// missing with that reason.
    #[must_use]
    pub fn finite_or_missing(mut self) -> Self {
        let mut lost = false;
        for number in [&mut self.statistic, &mut self.p_value, &mut self.effect] {
            if number.is_some_and(|v| !v.is_finite()) {
                *number = None;
                lost = true;
            }
        }
        if lost {
            let reason = "the residuals or the repeats have no spread to compare with";
            self.reading = Reading::new(
                self.reading.expected,
                format!("not tested: {reason}"),
                "check that repeats were measured and not copied",
            );
            self.warns = false;
            self.reason = Some(reason.to_owned());
        }
        self
    }
}

/// A coefficient against what physics expects. Bands from memory only warn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Plausibility {
    /// What is judged.
    pub name: String,
    /// Its value.
    pub value: f64,
    /// Unit.
    pub unit: String,
    /// Lower end of the band.
    pub low: f64,
    /// Upper end of the band.
    pub high: f64,
    /// Whether it lies inside.
    pub inside: bool,
    /// In words.
    pub reading: Reading,
}

/// What was counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Counts {
    /// Pulses by number of drops, in some trials at least.
    Classes,
    /// Totals of drops and pulses only.
    Totals,
}

/// Thresholds as I_pⁿ·t_p = D.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DetachmentConstants {
    /// D at which half the pulses detach.
    pub one_drop: ValueWithUnit,
    /// D at which half the pulses detach more than one.
    pub more_drops: ValueWithUnit,
}

/// A number with its unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ValueWithUnit {
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: String,
}

/// How power is computed from the voltage law.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PowerRule {
    /// `law`: the voltage law read at each instant; `instant_resistance`: the measured instant
    /// resistance, where power disagrees with the law.
    pub rule: String,
    /// Mean of (P − Ū·Ī)/(I_rms² − Ī²) over the trials with power; null where there are none.
    pub instant_resistance_ohm: Option<f64>,
    /// Its standard error.
    pub instant_resistance_ohm_se: Option<f64>,
    /// Why it is missing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// A calibration term and what it does to the coefficients.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CalibrationEffect {
    /// The term's name.
    pub name: String,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// Unit of the standard uncertainty.
    pub unit: String,
    /// `law.coefficient` → derivative of the coefficient by the instrument's error.
    pub effects: BTreeMap<String, f64>,
}

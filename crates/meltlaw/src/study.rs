//! A study as meant: checked, units settled, defaults filled in and listed. `StudyFile` in
//! `meltlaw-files` is the study as typed; past this type nothing is re-checked.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::factors::{Factor, StatedScatter};
use crate::gas::Gas;
use crate::materials::Material;
use crate::setup::{ConfirmRule, Setup};

/// Everything about a study but its trials.
#[derive(Debug, Clone, PartialEq)]
pub struct Study {
    /// One line of text, shown everywhere.
    pub name: String,
    /// The wire.
    pub wire: Wire,
    /// The shielding gas; `None` where the study does not say.
    pub gas: Option<Gas>,
    /// Where the trials were welded and how well each was measured.
    pub bench: Bench,
    /// Errors common to all trials that the study states.
    pub calibration: Vec<CalibrationUncertainty>,
    /// Calibration terms that the study does not state: not covered by any interval.
    pub not_covered: Vec<CalibrationTerm>,
    /// Limits of the power source and feeder.
    pub source: SourceLimits,
    /// The line asked for.
    pub line: LineRequest,
    /// Margins within which two laws count as alike.
    pub compare: Margins,
    /// Margins within which confirmation welds agree with the line.
    pub confirm: ConfirmRule,
    /// How torch, joint and machine were set up.
    pub setup: Setup,
    /// Scatter between the levels of factors that the study states.
    pub factors: BTreeMap<Factor, StatedScatter>,
    /// Seed, draws, confidence.
    pub numerics: Numerics,
    /// Law forms other than the default.
    pub laws: LawChoices,
    /// Prior knowledge of coefficients that the study states; empty by default.
    pub prior: Vec<Prior>,
    /// Defaults that the study did not state, `key = value` as in the study file.
    pub assumed: Vec<Assumed>,
}

/// A value that the study left open and the program filled in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Assumed {
    /// The key as it would stand in the study file, such as `bench.arc_length_mm`.
    pub key: String,
    /// The value used, as text with its unit where the key does not carry it.
    pub value: String,
    /// Where the value comes from.
    pub source: String,
}

/// The wire.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Wire {
    /// Free text, shown everywhere.
    pub designation: String,
    /// What the wire is made of.
    pub material: Material,
    /// Nominal diameter.
    pub diameter_mm: f64,
    /// Cored wire: the metal's cross-section; else π·d²/4.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub metal_section_mm2: Option<f64>,
    /// Density of the metal.
    pub density_kg_m3: f64,
    /// Cored wire: mass per length, overrides section times density.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub linear_mass_g_m: Option<f64>,
}

impl Wire {
    /// Cross-section of the metal, mm².
    pub fn section_mm2(&self) -> f64 {
        self.metal_section_mm2.unwrap_or(std::f64::consts::PI * self.diameter_mm * self.diameter_mm / 4.0)
    }

    /// Melted metal per time at a wire feed, losses not subtracted.
    ///
    /// ```text
    /// ṁ = ρ·A·w, or linear mass · w where stated
    /// ```
    /// # Units
    /// mm/s in, kg/h out: kg/m³ · mm² · mm/s · 3600 s/h · 10⁻⁹ m³/mm³; g/m · mm/s · 3.6·10⁻³.
    pub fn melting_rate_kg_h(&self, wire_feed_mm_s: f64) -> f64 {
        match self.linear_mass_g_m {
            Some(linear_mass_g_m) => linear_mass_g_m * wire_feed_mm_s * 3.6e-3,
            None => self.density_kg_m3 * self.section_mm2() * wire_feed_mm_s * 3600e-9,
        }
    }
}

/// Where the voltage probe sat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum VoltagePlace {
    /// Between contact tip and work: arc plus extension.
    ContactTip,
    /// At the power source; the cable drop is subtracted by the stated resistance.
    Source,
}

/// The bench: geometry and the standard errors of one trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Bench {
    /// Contact-tip-to-work distance.
    pub ctwd_mm: f64,
    /// Wire tip to pool surface.
    pub arc_length_mm: f64,
    /// Where the voltage was measured.
    pub voltage_measured_at: VoltagePlace,
    /// Resistance of the leads between the source and the contact tip and back.
    pub lead_resistance_ohm: f64,
    /// Relative standard error of the wire feed in one trial.
    pub wire_feed_relative_se: f64,
    /// The probe's gain error in one trial, shared by every current column and by power.
    pub current_relative_se: f64,
    /// Standard error of the mean voltage.
    pub voltage_se_v: f64,
    /// Standard error of the CTWD.
    pub ctwd_se_mm: f64,
    /// Standard error of the arc length.
    pub arc_length_se_mm: f64,
    /// Standard error of a directly measured extension.
    pub extension_se_mm: f64,
    /// Relative standard error of the pulse time.
    pub pulse_time_relative_se: f64,
}

/// The standard errors of one trial that a study states or assumes. With them, with the `_se` columns of
/// the trials and with the conditions the laws can be fitted again.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadingErrors {
    /// Of the wire feed, relative to the measured feed.
    pub wire_feed_relative_se: f64,
    /// Of the probe's gain in one trial, relative; one error shared by every current column and by power.
    pub current_relative_se: f64,
    /// Of the mean voltage.
    pub voltage_se_v: f64,
    /// Of the contact-tip-to-work distance.
    pub ctwd_se_mm: f64,
    /// Of the arc length.
    pub arc_length_se_mm: f64,
    /// Of an extension that is measured itself.
    pub extension_se_mm: f64,
    /// Of the pulse time, relative.
    pub pulse_time_relative_se: f64,
}

impl Bench {
    /// The standard errors of one trial.
    pub const fn reading_errors(&self) -> ReadingErrors {
        ReadingErrors {
            wire_feed_relative_se: self.wire_feed_relative_se,
            current_relative_se: self.current_relative_se,
            voltage_se_v: self.voltage_se_v,
            ctwd_se_mm: self.ctwd_se_mm,
            arc_length_se_mm: self.arc_length_se_mm,
            extension_se_mm: self.extension_se_mm,
            pulse_time_relative_se: self.pulse_time_relative_se,
        }
    }
}

/// Instruments whose common errors the study may state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CalibrationTerm {
    /// Gain of the current probe.
    CurrentGainRelative,
    /// Gain of the wire feed reading.
    WireFeedGainRelative,
    /// Offset of the voltage reading.
    VoltageOffsetV,
    /// Gain of the voltage reading.
    VoltageGainRelative,
    /// Offset of the CTWD.
    CtwdOffsetMm,
    /// Offset of the arc length.
    ArcLengthOffsetMm,
    /// Gain of the pulse time.
    PulseTimeGainRelative,
}

impl CalibrationTerm {
    /// All terms, in the order in which they are listed and drawn.
    pub const ALL: [Self; 7] = [
        Self::CurrentGainRelative,
        Self::WireFeedGainRelative,
        Self::VoltageOffsetV,
        Self::VoltageGainRelative,
        Self::CtwdOffsetMm,
        Self::ArcLengthOffsetMm,
        Self::PulseTimeGainRelative,
    ];

    /// The name in study files and results.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CurrentGainRelative => "current_gain_relative",
            Self::WireFeedGainRelative => "wire_feed_gain_relative",
            Self::VoltageOffsetV => "voltage_offset_v",
            Self::VoltageGainRelative => "voltage_gain_relative",
            Self::CtwdOffsetMm => "ctwd_offset_mm",
            Self::ArcLengthOffsetMm => "arc_length_offset_mm",
            Self::PulseTimeGainRelative => "pulse_time_gain_relative",
        }
    }

    /// From the name in study files.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|term| term.name() == name)
    }

    /// The unit of the standard uncertainty.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::VoltageOffsetV => "V",
            Self::CtwdOffsetMm | Self::ArcLengthOffsetMm => "mm",
            _ => "1",
        }
    }
}

/// A common error and its standard uncertainty (GUM type B).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CalibrationUncertainty {
    /// Which instrument.
    pub term: CalibrationTerm,
    /// Standard uncertainty in the term's unit.
    pub standard_uncertainty: f64,
}

/// Limits of the power source and feeder; `None` is no limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SourceLimits {
    /// Bounds mean and pulse current.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub current_a: Option<[f64; 2]>,
    /// Bounds the background current.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub background_current_a: Option<[f64; 2]>,
    /// Bounds the pulse time.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_time_ms: Option<[f64; 2]>,
    /// Bounds the pulse frequency.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_frequency_hz: Option<[f64; 2]>,
    /// Slope of the rising edge.
    pub rise_a_per_ms: f64,
    /// Slope of the falling edge.
    pub fall_a_per_ms: f64,
    /// Bounds pulse time times frequency.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_duty: Option<[f64; 2]>,
    /// Steps in which settings can be set.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub setting_steps: Option<SettingSteps>,
    /// What the source means by its pulse time.
    #[serde(skip_serializing_if = "PulseTimeIs::is_usual", default)]
    pub pulse_time_is: PulseTimeIs,
    /// Rating of the torch in this gas, RMS.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub torch_rms_a: Option<f64>,
    /// Make and type of the machine.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub name: Option<String>,
    /// Its serial number.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub serial: Option<String>,
    /// Its cables.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cable: Option<String>,
}

impl SourceLimits {
    /// Slope of an edge where the study states none.
    pub const USUAL_SLOPE_A_PER_MS: f64 = 600.0;
}

impl Default for SourceLimits {
    fn default() -> Self {
        Self {
            current_a: None,
            background_current_a: None,
            pulse_time_ms: None,
            pulse_frequency_hz: None,
            rise_a_per_ms: Self::USUAL_SLOPE_A_PER_MS,
            fall_a_per_ms: Self::USUAL_SLOPE_A_PER_MS,
            pulse_duty: None,
            setting_steps: None,
            pulse_time_is: PulseTimeIs::default(),
            torch_rms_a: None,
            name: None,
            serial: None,
            cable: None,
        }
    }
}

/// Steps in which a source lets its settings be set.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct SettingSteps {
    /// Of the pulse current.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_current_a: Option<f64>,
    /// Of the pulse time.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_time_ms: Option<f64>,
    /// Of the pulse frequency.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_frequency_hz: Option<f64>,
    /// Of the background current.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub background_current_a: Option<f64>,
}

/// What a source means by its pulse time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PulseTimeIs {
    /// Width at half height, as everywhere here.
    #[default]
    HalfHeight,
    /// Time at pulse current, without the edges.
    FlatTop,
    /// Flat top with the rising edge.
    WithRise,
}

impl PulseTimeIs {
    /// All, the default first.
    pub const ALL: [Self; 3] = [Self::HalfHeight, Self::FlatTop, Self::WithRise];

    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::HalfHeight => "half-height",
            Self::FlatTop => "flat-top",
            Self::WithRise => "with-rise",
        }
    }

    #[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks by reference")]
    fn is_usual(&self) -> bool {
        *self == Self::default()
    }
}

/// The line asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LineRequest {
    /// From which to which wire feed.
    pub wire_feed_m_min: [f64; 2],
    /// Nodes at least this dense.
    pub step_m_min: f64,
    /// Target drop diameter over wire diameter.
    pub drop_to_wire_ratio: f64,
    /// Within which the ratio may move.
    pub drop_to_wire_limits: [f64; 2],
    /// Largest relative melt balance error between nodes.
    pub interpolation_tolerance: f64,
    /// Lowest acceptable lower bound of the one-drop probability.
    pub one_drop_floor: f64,
    /// How far beyond the ranges of the trials a node may still be `extended`, as a fraction of the range.
    pub extended_by: f64,
    /// Largest acceptable relative standard error of the melting rate.
    pub extended_melting_rate_relative_se: f64,
    /// Travel speed for arc energy and heat input.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub travel_speed_mm_s: Option<f64>,
    /// Fixed values at single feeds, ascending in feed.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub pins: Vec<Pin>,
    /// How settings are chosen.
    #[serde(default)]
    pub composing: ComposingRule,
    /// What the optimum weighs.
    #[serde(default)]
    pub weights: Weights,
}

impl LineRequest {
    /// [`Self::extended_melting_rate_relative_se`] where a study states none.
    pub const USUAL_MELTING_RATE_RELATIVE_SE: f64 = 0.02;
}

/// How the settings of a line are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ComposingRule {
    /// By an optimum along the whole line.
    #[default]
    Optimised,
    /// Preferred pulse current, middle of the one-drop window, target drop; at limits the drop size gives way
    /// first, then the pulse current, then the place in the window.
    Midpoint,
}

impl ComposingRule {
    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Optimised => "optimised",
            Self::Midpoint => "midpoint",
        }
    }
}

/// Weights of what composing prefers. Each preference costs its weight at the stated departure, more with its
/// square beyond.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Weights {
    /// Chance of not one drop (1 − lower bound) a tenth above the smallest possible; it grows with the fourth power.
    pub one_drop: f64,
    /// Drop diameter 10 % off the target.
    pub drop_size: f64,
    /// Pulse current off the trials' mean by a quarter of their range of ln I_p.
    pub pulse_current: f64,
    /// Pulse current, pulse time and drop diameter bending by 60 % per (m/min)² over 1 m/min.
    pub smoothness: f64,
}

impl Default for Weights {
    fn default() -> Self {
        Self { one_drop: 1.0, drop_size: 1.0, pulse_current: 1.0, smoothness: 1.0 }
    }
}

/// An expert's last word at one feed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Pin {
    /// The feed; always a node.
    pub wire_feed_m_min: f64,
    /// Fixed pulse current.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_current_a: Option<f64>,
    /// Fixed pulse time.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_time_ms: Option<f64>,
    /// Fixed pulse frequency.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pulse_frequency_hz: Option<f64>,
}

impl Pin {
    fn fixed(&self) -> impl Iterator<Item = (&'static str, f64)> {
        [
            ("pulse_current_a", self.pulse_current_a),
            ("pulse_time_ms", self.pulse_time_ms),
            ("pulse_frequency_hz", self.pulse_frequency_hz),
        ]
        .into_iter()
        .filter_map(|(name, value)| Some((name, value?)))
    }

    /// Names of the settings that it fixes.
    pub fn names(&self) -> Vec<String> {
        self.fixed().map(|(name, _)| name.to_owned()).collect()
    }

    /// The settings that it fixes, as in the study file.
    pub fn values(&self) -> Vec<String> {
        self.fixed().map(|(name, value)| format!("{name} = {value}")).collect()
    }
}

/// Margins within which two laws count as alike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Margins {
    /// Relative wire feed at equal current and extension.
    pub wire_feed_relative: f64,
    /// Relative pulse time at equal pulse current.
    pub detachment_relative: f64,
    /// Voltage.
    pub voltage_v: f64,
    /// Whether what the laws themselves get wrong is one and the same for both.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub shared_form: bool,
}

impl Default for Margins {
    fn default() -> Self {
        Self { wire_feed_relative: 0.02, detachment_relative: 0.05, voltage_v: 0.5, shared_form: false }
    }
}

/// What the covariance of the least-squares laws rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CovarianceFrom {
    /// Scaled by the residual spread; Student's t.
    Residuals,
    /// The stated errors, times max(1, χ² per degree); normal.
    StatedErrors,
    /// Inverse Hessian of the marginal likelihood (detachment only); Student's t.
    ObservedInformation,
}

/// Seed, draws, confidence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Numerics {
    /// Seed of the random streams.
    pub seed: u64,
    /// Number of draws.
    pub draws: usize,
    /// Confidence of every interval.
    pub confidence: f64,
    /// What the covariance rests on.
    pub covariance_from: CovarianceFrom,
}

/// How the trial scatter τ of the detachment law is estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ScatterFrom {
    /// Likelihood adjusted for the coefficients fitted beside it.
    #[default]
    AdjustedLikelihood,
    /// Maximum likelihood: too small by what the coefficients took up.
    Likelihood,
}

impl ScatterFrom {
    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::AdjustedLikelihood => "adjusted_likelihood",
            Self::Likelihood => "likelihood",
        }
    }
}

/// Form of the burn-off law.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BurnOffForm {
    /// w = α·Ī + β·L·I_rms².
    #[default]
    Proportional,
    /// With `offset_mm_per_s` added.
    Offset,
}

/// Form of the arc voltage law.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ArcVoltageForm {
    /// U0 + R·Ī.
    Current,
    /// … + E·arc length.
    CurrentArc,
    /// … + r·L·Ī.
    CurrentArcExtension,
}

impl BurnOffForm {
    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Proportional => "proportional",
            Self::Offset => "offset",
        }
    }
}

impl ArcVoltageForm {
    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Current => "current",
            Self::CurrentArc => "current_arc",
            Self::CurrentArcExtension => "current_arc_extension",
        }
    }
}

/// Law forms and reference that the study asks for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LawChoices {
    /// Burn-off form.
    pub burn_off: BurnOffForm,
    /// Arc voltage form; `None`: the data decide.
    pub arc_voltage: Option<ArcVoltageForm>,
    /// Reference current of the detachment law; `None`: by material.
    pub reference_current_a: Option<f64>,
    /// How the trial scatter of the detachment law is estimated.
    pub trial_scatter: ScatterFrom,
    /// What is said of the laws' own errors.
    pub discrepancy: Discrepancy,
}

/// What is said of what a law itself gets wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Discrepancy {
    /// Nothing: the laws alone.
    #[default]
    None,
}

impl Discrepancy {
    /// All of them.
    pub const ALL: [Self; 1] = [Self::None];

    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::None => "none",
        }
    }
}

/// Prior knowledge of one coefficient: it enters the fit as one more measurement.
///
/// Normal about the mean; for the detachment law's steepness, thresholds and trial scatter normal on the
/// logarithm, with median `mean` and standard deviation `standard_deviation / mean` there.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// `burn_off`, `detachment` or `arc_voltage`.
    pub law: &'static str,
    /// The coefficient, as in `laws.json`.
    pub coefficient: &'static str,
    /// Mean, in the coefficient's unit.
    pub mean: f64,
    /// Standard deviation, in the coefficient's unit.
    pub standard_deviation: f64,
    /// Where the knowledge comes from.
    pub source: String,
}

/// Conditions under which a law or line holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Conditions {
    /// Contact-tip-to-work distance.
    pub ctwd_mm: f64,
    /// Arc length.
    pub arc_length_mm: f64,
    /// Electrode extension, CTWD − arc length.
    pub extension_mm: f64,
    /// Where the voltage was measured; voltages in the file are between contact tip and work.
    pub voltage_measured_at: VoltagePlace,
    /// Resistance of the leads by which voltages at the source were corrected; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub lead_resistance_ohm: Option<f64>,
}

impl Study {
    /// Prior knowledge of a law's coefficients.
    pub fn prior_of<'a>(&'a self, law: &'a str) -> impl Iterator<Item = &'a Prior> {
        self.prior.iter().filter(move |p| p.law == law)
    }

    /// The study's standing conditions.
    pub fn conditions(&self) -> Conditions {
        Conditions {
            ctwd_mm: self.bench.ctwd_mm,
            arc_length_mm: self.bench.arc_length_mm,
            extension_mm: self.bench.ctwd_mm - self.bench.arc_length_mm,
            voltage_measured_at: self.bench.voltage_measured_at,
            lead_resistance_ohm: (self.bench.voltage_measured_at == VoltagePlace::Source)
                .then_some(self.bench.lead_resistance_ohm),
        }
    }

    /// I₀ of the detachment law: the study's, or 400 A for steels and nickel, 250 A for aluminium and
    /// copper.
    pub fn reference_current_a(&self) -> f64 {
        self.laws.reference_current_a.unwrap_or(self.wire.material.reference_current_a())
    }

    /// Whether the study states any common error.
    pub fn calibration_uncertainty(&self, term: CalibrationTerm) -> Option<f64> {
        self.calibration.iter().find(|c| c.term == term).map(|c| c.standard_uncertainty)
    }
}

/// Counts by reason, for reports.
pub type CountByReason = BTreeMap<String, usize>;

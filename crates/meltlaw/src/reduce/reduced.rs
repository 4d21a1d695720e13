//! A log as one row.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::Reducer;
use super::batches::Batches;
use super::drops::DropSigns;
use super::findings::{Finding, findings};
use super::pictures::Pictures;
use super::window::Weld;
use crate::trials::Mode;

/// Fewer whole pulses are no pulsed weld.
const FEWEST_PULSES: u64 = 3;

/// A value with the standard error that the log's own scatter leaves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Value.
    pub value: f64,
    /// Standard error; none where the window is too short to tell.
    pub standard_error: Option<f64>,
}

impl Measured {
    fn of(batches: &Batches) -> Option<Self> {
        Some(Self { value: batches.mean()?, standard_error: batches.standard_error() })
    }

    /// So many times as large.
    #[must_use]
    pub fn times(self, by: f64) -> Self {
        self.scaled(self.value * by, by)
    }

    fn scaled(self, value: f64, by: f64) -> Self {
        Self { value, standard_error: self.standard_error.map(|e| (by * e).abs()) }
    }
}

/// Mean of readings that come one after another, with a standard error that honours their autocorrelation; none of none.
pub fn mean_of(readings: impl IntoIterator<Item = f64>) -> Option<Measured> {
    let mut batches = Batches::default();
    readings.into_iter().for_each(|reading| batches.push(reading));
    Measured::of(&batches)
}

/// What only a pulsed weld has.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PulsedPart {
    /// Whole pulses with the pause after them.
    pub pulses: u64,
    /// Pulses that are missing from the row of periods.
    pub missed_pulses: u64,
    /// Median of each pulse's central half, averaged.
    pub pulse_current_a: Measured,
    /// Median of each pause's central three fifths, averaged.
    pub background_current_a: Measured,
    /// Width at half height.
    pub pulse_time_ms: Measured,
    /// Period less width.
    pub background_time_ms: Measured,
    /// 1/mean period.
    pub pulse_frequency_hz: Measured,
    /// Standard deviation of the period.
    pub pulse_period_sd_ms: Option<f64>,
    /// Between a fifth and four fifths of the step; none where the samples are too far apart.
    pub rise_a_per_ms: Option<Measured>,
    /// The same of the fall.
    pub fall_a_per_ms: Option<Measured>,
    /// Drops by the voltage, where they were looked for and it tells.
    #[serde(default)]
    pub drop_signs: Option<DropSigns>,
}

/// A log as one row.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Reduced {
    /// Samples of the log, missing ones among them.
    pub samples: u64,
    /// Samples per second.
    pub sample_rate_hz: f64,
    /// From the first to the last moment the arc burns.
    pub arc_s: [f64; 2],
    /// What the row was taken from.
    pub window_s: [f64; 2],
    /// How it was welded, as the current tells.
    #[serde(serialize_with = "word", deserialize_with = "from_word")]
    pub mode: Mode,
    /// Mean current.
    pub current_mean_a: Measured,
    /// Root mean square of the current.
    pub current_rms_a: Measured,
    /// Mean voltage.
    pub voltage_mean_v: Measured,
    /// Mean of u·i.
    pub power_mean_w: Measured,
    /// Mean power times the length of the window (ISO/TR 18491).
    pub arc_energy_j: f64,
    /// Short circuits that begin in the window.
    pub short_circuits: u64,
    /// Means over the window of channels that hold still, by their column in the trial table.
    #[serde(default)]
    pub steady: Vec<(String, Measured)>,
    /// Pulses, where there are any.
    pub pulsed: Option<PulsedPart>,
    /// What is to be looked at.
    pub findings: Vec<Finding>,
    /// What pictures are drawn from, where they were asked for.
    #[serde(skip)]
    pub pictures: Option<Pictures>,
}

impl Reduced {
    /// Mean power times the length of the window, with the standard error that the power leaves.
    pub fn arc_energy(&self) -> Measured {
        self.power_mean_w.times(self.window_s[1] - self.window_s[0])
    }
}

fn word<S: Serializer>(mode: &Mode, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(mode.word())
}

fn from_word<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Mode, D::Error> {
    let word = String::deserialize(deserializer)?;
    Mode::from_word(&word).ok_or_else(|| serde::de::Error::custom(format!("'{word}' is no mode")))
}

/// More than any arc of a welded wire carries, mean or RMS.
const MOST_CURRENT_A: f64 = 5000.0;
/// More than any source for arc welding gives without a load.
const MOST_VOLTAGE_V: f64 = 500.0;
/// A mean voltage below this with the sign turned round is a probe that sits the other way round, and not a dead one.
const TURNED_ROUND_V: f64 = -1.0;

/// Why a log gives no row.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum ReductionError {
    /// Nothing to reduce.
    NoSamples {
        /// Samples found.
        samples: u64,
    },
    /// No current.
    NoArc {
        /// Largest sample.
        largest_a: f64,
        /// From where the arc burns.
        needed_a: f64,
    },
    /// The cuts leave nothing.
    TooShort {
        /// How long it burned.
        burned_s: f64,
        /// Cut at each end.
        cut_s: f64,
        /// How long it must burn.
        needed_s: f64,
    },
    /// A probe sits the other way round.
    Negative {
        /// `current` or `voltage`.
        channel: &'static str,
        /// Its mean in the window.
        mean: f64,
        /// A or V.
        unit: &'static str,
    },
    /// No arc has such a current or voltage: the numbers are of another kind, unit or scale.
    Impossible {
        /// What it is.
        what: &'static str,
        /// Its value in the window.
        value: f64,
        /// The most there can be.
        most: f64,
        /// A or V.
        unit: &'static str,
    },
}

impl ReductionError {
    /// What was found, what was needed, what to do.
    pub fn parts(&self) -> [String; 3] {
        match self {
            Self::NoSamples { samples } => [
                format!("{samples} samples"),
                "a weld".to_owned(),
                "record current and voltage through a whole weld".to_owned(),
            ],
            Self::NoArc { largest_a, needed_a } => [
                format!("no arc: the largest single sample is {largest_a:.1} A"),
                format!("a mean current of {needed_a} A over 10 ms somewhere"),
                "check the probe's scale and which column is the current, or give --arc-from-a".to_owned(),
            ],
            Self::TooShort { burned_s, cut_s, needed_s } => [
                format!("an arc of {burned_s:.2} s, of which {cut_s} s are cut off at each end"),
                format!("more than {needed_s:.2} s"),
                "weld longer, or give a smaller --cut-ends-s".to_owned(),
            ],
            Self::Negative { channel, mean, unit } => [
                format!("a mean {channel} of {mean:.1} {unit}"),
                "a positive one".to_owned(),
                format!(
                    "the probe sits the other way round: write invert = {channel} into the row of this log in the table beside the logs (--sidecar), or give --invert {channel} where all logs are so"
                ),
            ],
            Self::Impossible { what, value, most, unit } => [
                format!("{what} of {value:.3e} {unit}"),
                format!("at most {most} {unit}"),
                "check how the numbers are stored (--raw), the unit in the column's name, which column is which, and --scale".to_owned(),
            ],
        }
    }
}

impl fmt::Display for ReductionError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [found, needed, action] = self.parts();
        write!(f, "found {found}, needed {needed}; {action}")
    }
}

impl std::error::Error for ReductionError {}

/// Refuses what no arc has; a quantity that is no number is refused too.
fn possible(mean_a: f64, rms_a: f64, mean_v: f64) -> Result<(), ReductionError> {
    for (what, value, most, unit) in
        [("an RMS current", rms_a, MOST_CURRENT_A, "A"), ("a mean voltage", mean_v, MOST_VOLTAGE_V, "V")]
    {
        if !(value.abs() <= most) {
            return Err(ReductionError::Impossible { what, value, most, unit });
        }
    }
    if mean_a < 0.0 {
        return Err(ReductionError::Negative { channel: "current", mean: mean_a, unit: "A" });
    }
    if mean_v < TURNED_ROUND_V {
        return Err(ReductionError::Negative { channel: "voltage", mean: mean_v, unit: "V" });
    }
    Ok(())
}

pub(super) fn reduced(mut reducer: Reducer) -> Result<Reduced, ReductionError> {
    let settings = reducer.settings;
    let rate = settings.sample_rate_hz;
    let samples = reducer.at;
    if samples < 2 {
        return Err(ReductionError::NoSamples { samples });
    }
    let mut late = Vec::new();
    reducer.pulses.finish(reducer.gathered.as_mut().map(|g| &mut g.folded), &mut late);
    let whole = reducer.whole;
    let (first, last, out) = (reducer.window.first, reducer.window.last, reducer.window.out);
    let Some(first) = first else {
        let largest = whole.current_range[1].max(-whole.current_range[0]);
        return Err(ReductionError::NoArc { largest_a: f64::from(largest), needed_a: settings.arc_from_a });
    };
    let weld = reducer.window.finish(late);
    let burned_s = (last - first) as f64 / rate;
    let Some(start) = weld.start.filter(|_| weld.sums.count > 0) else {
        return Err(ReductionError::TooShort {
            burned_s,
            cut_s: settings.cut_ends_s,
            needed_s: 2.0 * settings.cut_ends_s + settings.block_s(),
        });
    };
    let mean_a = weld.sums.mean_current();
    let n = weld.sums.count as f64;
    let square = weld.sums.square / n;
    let rms = square.sqrt();
    possible(mean_a, rms, weld.sums.mean_voltage())?;
    let with = |value: f64, batches: &Batches, by: f64| Measured {
        value,
        standard_error: batches.standard_error().map(|e| by * e),
    };
    let power = weld.sums.power / n;
    let pulsed = pulsed(&weld);
    let mode = match &pulsed {
        Some(_) => Mode::Pulsed,
        None => constant(&weld),
    };
    let window_s = [start, weld.end].map(|at| at as f64 / rate);
    let mut reduced = Reduced {
        samples,
        sample_rate_hz: rate,
        arc_s: [first, last].map(|at| at as f64 / rate),
        window_s,
        mode,
        current_mean_a: with(mean_a, &weld.current, 1.0),
        current_rms_a: with(rms, &weld.square, 0.5 / rms),
        voltage_mean_v: with(weld.sums.mean_voltage(), &weld.voltage, 1.0),
        power_mean_w: with(power, &weld.power, 1.0),
        arc_energy_j: power * (window_s[1] - window_s[0]),
        short_circuits: weld.shorts,
        steady: Vec::new(),
        pulsed,
        findings: Vec::new(),
        pictures: reducer.gathered.map(|gathered| gathered.pictures(weld.some.kept())),
    };
    reduced.findings = findings(&reduced, &weld, &settings, reducer.missing, whole.bad, out as f64 / rate);
    Ok(reduced)
}

fn pulsed(weld: &Weld) -> Option<PulsedPart> {
    let pulses = weld.period.count();
    // Current peaks at every short circuit are no pulses.
    if pulses < FEWEST_PULSES || 2 * weld.shorts >= pulses {
        return None;
    }
    let period = Measured::of(&weld.period)?;
    let hertz = 1000.0 / period.value;
    let told = |batches: &Batches| Measured::of(batches).filter(|_| 2 * batches.count() >= pulses);
    Some(PulsedPart {
        pulses,
        missed_pulses: weld.missed,
        pulse_current_a: Measured::of(&weld.pulse_current)?,
        background_current_a: Measured::of(&weld.background_current)?,
        pulse_time_ms: Measured::of(&weld.pulse_time)?,
        background_time_ms: Measured::of(&weld.background_time)?,
        pulse_frequency_hz: period.scaled(hertz, hertz / period.value),
        pulse_period_sd_ms: weld.period.standard_deviation(),
        rise_a_per_ms: told(&weld.rise),
        fall_a_per_ms: told(&weld.fall),
        drop_signs: weld.drops.told(),
    })
}

/// Which of current and voltage is held: the one that scatters less against its mean.
fn constant(weld: &Weld) -> Mode {
    let relative = |b: &Batches| b.standard_deviation().unwrap_or(0.0) / b.mean().unwrap_or(1.0).abs();
    if weld.shorts == 0 && relative(&weld.current) < relative(&weld.voltage) {
        Mode::ConstantCurrent
    } else {
        Mode::ConstantVoltage
    }
}

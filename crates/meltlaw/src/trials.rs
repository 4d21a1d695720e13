//! Trials as understood: one row per steady weld window, in contract units, each with its way back to
//! the file it came from.

use crate::factors::Factor;
use crate::study::{Bench, CalibrationTerm, VoltagePlace};

macro_rules! columns {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $unit:literal, $ucum:literal, $least:literal, $most:literal;)+) => {
        /// Numeric columns of the trial table.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Column { $($(#[$doc])* $variant,)+ }
        impl Column {
            /// All columns, in the order of the contract.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// Number of numeric columns.
            pub const COUNT: usize = Self::ALL.len();
            /// Name with its unit suffix.
            pub const fn name(self) -> &'static str { match self { $(Self::$variant => $name),+ } }
            /// Unit for people.
            pub const fn unit(self) -> &'static str { match self { $(Self::$variant => $unit),+ } }
            /// UCUM code of the unit.
            pub const fn ucum(self) -> &'static str { match self { $(Self::$variant => $ucum),+ } }
            /// Smallest and largest conceivable size of a value that is not zero. Both are some thousand times
            /// beyond what is welded, so that a slip of unit still reaches the checks, which name it.
            pub const fn sizes(self) -> [f64; 2] { match self { $(Self::$variant => [$least, $most]),+ } }
        }
    };
}

columns! {
    /// Measured wire feed speed.
    WireFeed = "wire_feed_m_min", "m/min", "m/min", 1e-4, 1e5;
    /// Mean current.
    CurrentMean = "current_mean_a", "A", "A", 1e-4, 1e6;
    /// RMS current, from samples.
    CurrentRms = "current_rms_a", "A", "A", 1e-4, 1e6;
    /// Electrode extension.
    Extension = "extension_mm", "mm", "mm", 1e-5, 1e6;
    /// Contact-tip-to-work distance.
    Ctwd = "ctwd_mm", "mm", "mm", 1e-5, 1e6;
    /// Arc length.
    ArcLength = "arc_length_mm", "mm", "mm", 1e-5, 1e6;
    /// Mean voltage.
    VoltageMean = "voltage_mean_v", "V", "V", 1e-4, 1e6;
    /// Mean of instantaneous power.
    PowerMean = "power_mean_w", "W", "W", 1e-4, 1e9;
    /// Pulse current.
    PulseCurrent = "pulse_current_a", "A", "A", 1e-4, 1e6;
    /// Pulse time at half height.
    PulseTime = "pulse_time_ms", "ms", "ms", 1e-6, 1e6;
    /// Background current.
    BackgroundCurrent = "background_current_a", "A", "A", 1e-4, 1e6;
    /// Background time.
    BackgroundTime = "background_time_ms", "ms", "ms", 1e-6, 1e6;
    /// Pulse frequency.
    PulseFrequency = "pulse_frequency_hz", "Hz", "Hz", 1e-4, 1e6;
    /// Counted pulses that detached no drop.
    WithoutDrop = "pulses_without_drop", "1", "1", 1.0, 1e9;
    /// Counted pulses that detached one drop.
    OneDrop = "pulses_with_one_drop", "1", "1", 1.0, 1e9;
    /// Counted pulses that detached more drops.
    MoreDrops = "pulses_with_more_drops", "1", "1", 1.0, 1e9;
    /// Counted drops in total.
    Drops = "drops", "1", "1", 1.0, 1e9;
    /// Counted pulses in total.
    Pulses = "pulses", "1", "1", 1.0, 1e9;
    /// Order welded.
    RunOrder = "run_order", "1", "1", 1e-6, 1e12;
    /// Arc time on the contact tip.
    TipMinutes = "tip_minutes", "min", "min", 1e-6, 1e7;
    /// Travel speed.
    TravelSpeed = "travel_speed_mm_s", "mm/s", "mm/s", 1e-4, 1e6;
    /// Gas flow.
    GasFlow = "gas_flow_l_min", "l/min", "L/min", 1e-4, 1e6;
    /// Current on the source's own display.
    DisplayedCurrent = "displayed_current_a", "A", "A", 1e-4, 1e6;
    /// Voltage on the source's own display.
    DisplayedVoltage = "displayed_voltage_v", "V", "V", 1e-4, 1e6;
    /// The probe's gain error in this trial.
    CurrentGainSe = "current_gain_relative_se", "1", "1", 1e-6, 1.0;
}

impl Column {
    /// What is measured, in words and without its unit.
    pub fn quantity(self) -> String {
        let unit = format!("_{}", self.unit().replace('/', "_"));
        self.name().strip_suffix(&unit).unwrap_or(self.name()).replace('_', " ")
    }

    /// From the name with unit suffix.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|c| c.name() == name)
    }

    /// Whether a value is conceivable at all; NaN and infinities never are. Signs are the checks' business.
    pub fn can_be(self, value: f64) -> bool {
        let [least, most] = self.sizes();
        value == 0.0 || (least..=most).contains(&value.abs())
    }

    /// Whether a standard error of the column is conceivable.
    pub fn can_have_se(self, standard_error: f64) -> bool {
        let [least, most] = self.sizes();
        standard_error == 0.0 || (1e-3 * least..=most).contains(&standard_error)
    }

    /// Whether the column may have a standard error beside it.
    pub const fn may_have_se(self) -> bool {
        !matches!(
            self,
            Self::WithoutDrop
                | Self::OneDrop
                | Self::MoreDrops
                | Self::Drops
                | Self::Pulses
                | Self::RunOrder
                | Self::DisplayedCurrent
                | Self::DisplayedVoltage
                | Self::CurrentGainSe
        )
    }

    /// Whether a sheet can ask a welder for it: the column may stand with `asked_` before its name.
    pub const fn may_be_asked(self) -> bool {
        matches!(
            self,
            Self::WireFeed
                | Self::CurrentMean
                | Self::Extension
                | Self::Ctwd
                | Self::ArcLength
                | Self::VoltageMean
                | Self::PulseCurrent
                | Self::PulseTime
                | Self::BackgroundCurrent
                | Self::BackgroundTime
                | Self::PulseFrequency
                | Self::TravelSpeed
                | Self::GasFlow
        )
    }

    /// Name of the column that holds what a sheet asked for.
    pub fn asked_name(self) -> String {
        format!("asked_{}", self.name())
    }
}

/// How the trial was welded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mode {
    /// Pulsed current.
    #[default]
    Pulsed,
    /// Constant current.
    ConstantCurrent,
    /// Constant voltage.
    ConstantVoltage,
}

impl Mode {
    /// The word in tables.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pulsed => "pulsed",
            Self::ConstantCurrent => "constant_current",
            Self::ConstantVoltage => "constant_voltage",
        }
    }

    /// From the word in tables.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Pulsed, Self::ConstantCurrent, Self::ConstantVoltage].into_iter().find(|m| m.word() == word)
    }
}

/// Where the numbers of a trial come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Origin {
    /// From a weld.
    #[default]
    Measured,
    /// From a calculation: fitted, never evidence that a line holds.
    Simulated,
}

impl Origin {
    /// Both, the default first.
    pub const ALL: [Self; 2] = [Self::Measured, Self::Simulated];

    /// The word in tables.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Simulated => "simulated",
        }
    }

    /// From the word in tables.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|o| o.word() == word)
    }
}

/// One row of a trial table.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Identifier, unique in the study.
    pub name: String,
    /// Index of the table in [`Trials::sources`].
    pub source: usize,
    /// Row in that table as people count it: the line of a CSV file, the row number of a sheet.
    pub row: usize,
    /// Values by [`Column`], NaN where blank.
    values: [f64; Column::COUNT],
    /// Stated standard errors by [`Column`], NaN where not stated.
    errors: [f64; Column::COUNT],
    /// What a sheet asked for by [`Column`], NaN where it did not; never fitted.
    asked: [f64; Column::COUNT],
    /// Levels by [`Factor`].
    levels: [Option<String>; Factor::ALL.len()],
    /// How it was welded.
    pub mode: Mode,
    /// Where its numbers come from.
    pub origin: Origin,
    /// Whether the user wants it used.
    pub use_it: bool,
    /// Why the study leaves it out, where the study and not the table does.
    pub left_out: Option<String>,
    /// The user's remark.
    pub note: String,
    /// Cells of columns that the program does not know, in the order of [`Trials::other_columns`].
    pub other: Vec<String>,
}

impl Trial {
    /// A trial without any number.
    pub fn new(name: impl Into<String>, source: usize, row: usize) -> Self {
        Self {
            name: name.into(),
            source,
            row,
            values: [f64::NAN; Column::COUNT],
            errors: [f64::NAN; Column::COUNT],
            asked: [f64::NAN; Column::COUNT],
            levels: [const { None }; Factor::ALL.len()],
            mode: Mode::Pulsed,
            origin: Origin::Measured,
            use_it: true,
            left_out: None,
            note: String::new(),
            other: Vec::new(),
        }
    }

    /// The value of a column, `None` where blank.
    pub fn get(&self, column: Column) -> Option<f64> {
        Some(self.values[column as usize]).filter(|v| !v.is_nan())
    }

    /// The stated standard error of a column, `None` where not stated.
    pub fn stated_se(&self, column: Column) -> Option<f64> {
        Some(self.errors[column as usize]).filter(|v| !v.is_nan())
    }

    /// Sets a value; NaN or `None` is blank.
    pub fn set(&mut self, column: Column, value: Option<f64>) {
        self.values[column as usize] = value.unwrap_or(f64::NAN);
    }

    /// Sets a stated standard error.
    pub fn set_se(&mut self, column: Column, value: Option<f64>) {
        self.errors[column as usize] = value.unwrap_or(f64::NAN);
    }

    /// What a sheet asked for, `None` where it did not.
    pub fn asked(&self, column: Column) -> Option<f64> {
        Some(self.asked[column as usize]).filter(|v| !v.is_nan())
    }

    /// Sets what a sheet asked for; NaN or `None` is blank.
    pub fn set_asked(&mut self, column: Column, value: Option<f64>) {
        self.asked[column as usize] = value.unwrap_or(f64::NAN);
    }

    /// Leaves the trial out for a reason that the study gives.
    pub fn leave_out(&mut self, reason: impl Into<String>) {
        self.use_it = false;
        self.left_out = Some(reason.into());
    }

    /// The level of a factor, `None` where blank.
    pub fn level(&self, factor: Factor) -> Option<&str> {
        self.levels[factor as usize].as_deref()
    }

    /// Sets the level of a factor.
    pub fn set_level(&mut self, factor: Factor, level: Option<String>) {
        self.levels[factor as usize] = level;
    }

    /// The same trial with a value set; for tests and simulators.
    #[must_use]
    pub fn with(mut self, column: Column, value: f64) -> Self {
        self.set(column, Some(value));
        self
    }
}

/// A table that trials came from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TrialSource {
    /// Path relative to the study, with `/`.
    pub file: String,
    /// SHA-256 of the file, lower-case hexadecimal.
    pub sha256: String,
    /// How it was read, in words: separator, decimal mark, sheet.
    pub read_as: String,
    /// Data rows read.
    pub rows: usize,
    /// Trials of other tables to which it adds columns; empty where its rows are trials.
    pub joined: Vec<String>,
}

/// All trials of a study.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trials {
    /// Rows, in the order of the tables.
    pub rows: Vec<Trial>,
    /// The tables.
    pub sources: Vec<TrialSource>,
    /// Names of columns that the program does not know.
    pub other_columns: Vec<String>,
    /// Whether any table has the column at all (a blank cell in a column is another thing than no column).
    pub has_column: Vec<Column>,
    /// Remarks from reading, such as conversions made.
    pub reading_notes: Vec<String>,
}

impl Trials {
    /// Factors that any trial names.
    pub fn factors(&self) -> impl Iterator<Item = Factor> {
        Factor::ALL.into_iter().filter(|&f| self.rows.iter().any(|t| t.level(f).is_some()))
    }
}

/// Where an extension came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExtensionFrom {
    /// Measured directly.
    Measured,
    /// CTWD − arc length, both measured.
    CtwdAndArcLength,
    /// CTWD − the study's arc length.
    CtwdAndStudyArcLength,
}

/// Extension and arc length of one trial, with their standard errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geometry {
    /// Electrode extension.
    pub extension_mm: f64,
    /// Its standard error.
    pub extension_se_mm: f64,
    /// Arc length; `None` where neither measured nor derivable.
    pub arc_length_mm: Option<f64>,
    /// Its standard error.
    pub arc_length_se_mm: f64,
    /// CTWD; `None` where not given.
    pub ctwd_mm: Option<f64>,
    /// Where the extension came from.
    pub from: ExtensionFrom,
    /// Whether the CTWD is the study's because no table has the column.
    pub ctwd_from_study: bool,
}

impl Trials {
    /// Rows that the user wants used.
    pub fn used(&self) -> impl Iterator<Item = &Trial> {
        self.rows.iter().filter(|t| t.use_it)
    }

    /// Whether some table has the column.
    pub fn has(&self, column: Column) -> bool {
        self.has_column.contains(&column)
    }

    /// Extension, arc length and CTWD of a trial by the contract's three ways.
    ///
    /// The study's CTWD stands in only where no table has a CTWD column; a blank cell in such a
    /// column is missing.
    pub fn geometry(&self, trial: &Trial, bench: &Bench) -> Option<Geometry> {
        let (ctwd_mm, ctwd_from_study) = match trial.get(Column::Ctwd) {
            Some(ctwd) => (Some(ctwd), false),
            None if !self.has(Column::Ctwd) => (Some(bench.ctwd_mm), true),
            None => (None, false),
        };
        let ctwd_se = trial.stated_se(Column::Ctwd).unwrap_or(bench.ctwd_se_mm);
        let arc = trial.get(Column::ArcLength);
        let arc_se = trial.stated_se(Column::ArcLength).unwrap_or(bench.arc_length_se_mm);
        if let Some(extension_mm) = trial.get(Column::Extension) {
            let extension_se_mm = trial.stated_se(Column::Extension).unwrap_or(bench.extension_se_mm);
            let (arc_length_mm, arc_length_se_mm) = match (arc, ctwd_mm) {
                (Some(arc), _) => (Some(arc), arc_se),
                (None, Some(ctwd)) => (Some(ctwd - extension_mm), extension_se_mm.hypot(ctwd_se)),
                (None, None) => (None, 0.0),
            };
            return Some(Geometry {
                extension_mm,
                extension_se_mm,
                arc_length_mm,
                arc_length_se_mm,
                ctwd_mm: ctwd_mm.or(arc.map(|arc| extension_mm + arc)),
                from: ExtensionFrom::Measured,
                ctwd_from_study: ctwd_from_study && arc.is_none(),
            });
        }
        let ctwd = ctwd_mm?;
        let (arc_length_mm, from) = match arc {
            Some(arc) => (arc, ExtensionFrom::CtwdAndArcLength),
            None => (bench.arc_length_mm, ExtensionFrom::CtwdAndStudyArcLength),
        };
        Some(Geometry {
            extension_mm: ctwd - arc_length_mm,
            extension_se_mm: ctwd_se.hypot(arc_se),
            arc_length_mm: Some(arc_length_mm),
            arc_length_se_mm: arc_se,
            ctwd_mm: Some(ctwd),
            from,
            ctwd_from_study,
        })
    }

    /// Mean voltage between contact tip and work: the reading less the cable drop where it was taken
    /// at the source.
    pub fn contact_tip_voltage_v(trial: &Trial, bench: &Bench) -> Option<f64> {
        let reading = trial.get(Column::VoltageMean)?;
        match bench.voltage_measured_at {
            VoltagePlace::ContactTip => Some(reading),
            VoltagePlace::Source => Some(reading - bench.lead_resistance_ohm * trial.get(Column::CurrentMean)?),
        }
    }

    /// Mean power between contact tip and work.
    pub fn contact_tip_power_w(trial: &Trial, bench: &Bench) -> Option<f64> {
        let reading = trial.get(Column::PowerMean)?;
        match bench.voltage_measured_at {
            VoltagePlace::ContactTip => Some(reading),
            VoltagePlace::Source => {
                let rms = trial.get(Column::CurrentRms)?;
                Some(reading - bench.lead_resistance_ohm * rms * rms)
            }
        }
    }

    /// The table and bench as they would read if an instrument's common error were `error`:
    /// reading = true·(1 + e) for gains, true + e for offsets. Effects of calibration are derivatives
    /// by this `e`.
    pub fn corrected(&self, bench: &Bench, term: CalibrationTerm, error: f64) -> (Self, Bench) {
        let (mut trials, mut bench) = (self.clone(), bench.clone());
        let gain = |trials: &mut Self, columns: &[Column]| {
            for trial in &mut trials.rows {
                for &c in columns {
                    trial.values[c as usize] /= 1.0 + error;
                }
            }
        };
        let offset = |trials: &mut Self, column: Column| {
            for trial in &mut trials.rows {
                trial.values[column as usize] -= error;
            }
        };
        match term {
            CalibrationTerm::CurrentGainRelative => gain(
                &mut trials,
                &[
                    Column::CurrentMean,
                    Column::CurrentRms,
                    Column::PulseCurrent,
                    Column::BackgroundCurrent,
                    Column::PowerMean,
                ],
            ),
            CalibrationTerm::WireFeedGainRelative => gain(&mut trials, &[Column::WireFeed]),
            CalibrationTerm::VoltageGainRelative => gain(&mut trials, &[Column::VoltageMean, Column::PowerMean]),
            CalibrationTerm::PulseTimeGainRelative => gain(&mut trials, &[Column::PulseTime]),
            CalibrationTerm::VoltageOffsetV => {
                for trial in &mut trials.rows {
                    // The same offset sits in every sample, so power reads e·Ī too much.
                    let mean = trial.values[Column::CurrentMean as usize];
                    trial.values[Column::PowerMean as usize] -= error * mean;
                }
                offset(&mut trials, Column::VoltageMean);
            }
            CalibrationTerm::CtwdOffsetMm => {
                offset(&mut trials, Column::Ctwd);
                bench.ctwd_mm -= error;
            }
            CalibrationTerm::ArcLengthOffsetMm => {
                offset(&mut trials, Column::ArcLength);
                bench.arc_length_mm -= error;
            }
        }
        (trials, bench)
    }
}

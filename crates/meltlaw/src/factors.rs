//! Factors: what several trials share that a law does not know of, such as the day or the spool of wire.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A column of the trial table that names what trials share. All trials at one level share a shift.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Factor {
    /// Day of welding.
    Day,
    /// Spool of wire.
    Spool,
    /// Welding station with its instruments.
    Station,
    /// Anything else: a coil, a plate.
    Block,
}

impl Factor {
    /// All factors, in the order of the contract.
    pub const ALL: [Self; 4] = [Self::Day, Self::Spool, Self::Station, Self::Block];

    /// Name of the column.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Spool => "spool",
            Self::Station => "station",
            Self::Block => "block",
        }
    }

    /// Its levels, in words; also the name of the test that looks at them.
    pub const fn levels(self) -> &'static str {
        match self {
            Self::Day => "days",
            Self::Spool => "spools",
            Self::Station => "stations",
            Self::Block => "blocks",
        }
    }

    /// From the name of the column.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.name() == name)
    }
}

/// Scatter between the levels of a factor as the study states it, where the trials cannot tell it.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct StatedScatter {
    /// Standard deviation of the melting rate, relative.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub melting_relative: Option<f64>,
    /// Standard deviation of the mean voltage.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub voltage_v: Option<f64>,
    /// Standard deviation of the pulse time of detachment, relative.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub detachment_relative: Option<f64>,
}

//! How the torch, the joint and the machine were set up: what a reader of a line must know to weld it again.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Polarity of the electrode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Polarity {
    /// The wire is the positive pole.
    ElectrodePositive,
    /// The wire is the negative pole.
    ElectrodeNegative,
    /// Nobody said.
    #[default]
    Unknown,
}

impl Polarity {
    /// All, in the order in which they are listed.
    pub const ALL: [Self; 3] = [Self::ElectrodePositive, Self::ElectrodeNegative, Self::Unknown];

    /// The word in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::ElectrodePositive => "electrode-positive",
            Self::ElectrodeNegative => "electrode-negative",
            Self::Unknown => "unknown",
        }
    }
}

macro_rules! setup {
    ($($(#[$doc:meta])* $name:ident;)+) => {
        /// The setup as the study states it; free text but for the polarity.
        #[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
        pub struct Setup {
            /// Polarity of the electrode.
            #[serde(default)]
            pub polarity: Polarity,
            $($(#[$doc])* #[serde(skip_serializing_if = "Option::is_none", default)] pub $name: Option<String>,)+
        }

        impl Setup {
            /// Names of the free texts, in the order of the contract.
            pub const TEXTS: &'static [&'static str] = &[$(stringify!($name)),+];

            /// The free texts by name, those that are stated.
            pub fn texts(&self) -> impl Iterator<Item = (&'static str, &str)> {
                [$((stringify!($name), self.$name.as_deref())),+].into_iter().filter_map(|(name, text)| Some((name, text?)))
            }

            /// From the polarity and whatever says the text of a name.
            pub fn read(polarity: Polarity, mut text: impl FnMut(&'static str) -> Option<String>) -> Self {
                Self { polarity, $($name: text(stringify!($name)),)+ }
            }
        }
    };
}

setup! {
    /// Joint.
    joint;
    /// Welding position by ISO 6947.
    position;
    /// Thickness of the plate, mm; text, as it may name two plates.
    thickness_mm;
    /// Surface of the plate.
    surface;
    /// Angle of the torch.
    torch_angle;
    /// Gas nozzle.
    nozzle;
    /// Contact tip.
    tip;
    /// Wire liner.
    liner;
    /// Batch of the wire.
    batch;
    /// Preheat.
    preheat;
}

/// Margins within which confirmation welds agree with a line, settled before they are welded.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConfirmRule {
    /// Bias of the melt balance, as a fraction of the feed.
    pub wire_feed_relative: f64,
    /// Bias of the mean voltage.
    pub voltage_v: f64,
    /// Bias of the mean number of drops per pulse.
    pub drops_per_pulse: f64,
    /// Chance, at most, that a line off by the margin is called confirmed.
    pub false_accept: f64,
}

impl Default for ConfirmRule {
    fn default() -> Self {
        Self { wire_feed_relative: 0.02, voltage_v: 0.5, drops_per_pulse: 0.1, false_accept: 0.05 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_stated_is_not_written_and_reads_back() {
        let setup = Setup::read(Polarity::default(), |name| (name == "position").then(|| "PA".to_owned()));
        let text = serde_json::to_string(&setup).unwrap_or_default();
        assert_eq!(text, r#"{"polarity":"unknown","position":"PA"}"#);
        assert_eq!(serde_json::from_str::<Setup>(&text).ok(), Some(setup.clone()));
        assert_eq!(setup.texts().collect::<Vec<_>>(), [("position", "PA")]);
    }
}

//! A composed setting, before anything is worked out from it.

use meltlaw_line::{Limit, Waveform};

/// A composed setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Composed {
    /// The waveform, background in exact melt balance.
    pub wave: Waveform,
    /// Drop diameter.
    pub drop_diameter_mm: f64,
    /// Limits that bind.
    pub limits: Vec<Limit>,
    /// What each binding limit would save, moved by 1 %, in units of cost; empty where the rule has no cost.
    pub prices: Vec<(Limit, f64)>,
    /// Position in the one-drop window minus the one that the rule prefers, in units of s.
    pub off_preferred: f64,
}

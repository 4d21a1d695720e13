//! Laws for what nobody welded: another diameter, another batch, more carbon dioxide, beyond the measured feeds.

mod record;

pub use record::*;

use crate::record::{LawsRecord, LawsWithOrigin};

/// Standard deviation between diameters that is taken where two studies cannot tell it.
pub const USUAL_HETEROGENEITY_RELATIVE: f64 = 0.02;

/// What laws are to be extended to, and what is stated about it.
#[derive(Debug, Clone, PartialEq)]
pub struct ExtensionRequest {
    /// To what.
    pub target: Target,
    /// Stated relative heterogeneity between the studies; else [`USUAL_HETEROGENEITY_RELATIVE`] where two studies
    /// cannot tell it and for naming the odd one out.
    pub heterogeneity_relative: Option<f64>,
    /// Stated power of the diameter by which the pulse time for detachment grows; else estimated.
    pub detachment_power: Option<f64>,
    /// Seed of the draws.
    pub seed: u64,
    /// Number of draws.
    pub draws: usize,
}

/// Laws for the target from the laws of the studies.
///
/// # Errors
/// [`ExtensionError::Lacking`] where the studies do not carry so far, with what is missing.
pub fn extend(bases: &[LawsWithOrigin<'_>], request: &ExtensionRequest) -> Result<LawsRecord, ExtensionError> {
    let _ = (bases, request);
    Err(ExtensionError::Lacking { found: String::new(), needed: String::new(), remedy: String::new() })
}

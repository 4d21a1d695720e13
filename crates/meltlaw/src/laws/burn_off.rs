//! How fast the wire melts.

use super::{CoefficientName, Law};
use crate::study::BurnOffForm;

/// The burn-off law.
///
/// ```text
/// w = α·Ī + β·L·I_rms²            (form proportional)
/// w = α·Ī + β·L·I_rms² + offset   (form offset)
/// ```
///
/// w wire feed speed in mm/s, Ī mean and I_rms RMS current in A, L electrode extension in mm. The first
/// term is the heat of the arc at the wire tip, the second the resistive heat of the extension.
///
/// # Source
/// Form: usual in the literature of pulsed arc welding (common practice; energy balance at the wire
/// tip, α = φ/(A·ρ·H), β = ρ_e/(A²·ρ·H)).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BurnOff(pub BurnOffForm);

const NAMES: [CoefficientName; 3] = [
    CoefficientName { name: "alpha_mm_per_a_s", unit: "mm/(A s)" },
    CoefficientName { name: "beta_per_a2_s", unit: "1/(A² s)" },
    CoefficientName { name: "offset_mm_per_s", unit: "mm/s" },
];

impl BurnOff {
    /// The equation in words.
    pub const fn equation(self) -> &'static str {
        match self.0 {
            BurnOffForm::Proportional => "w = alpha*I + beta*L*I_rms^2",
            BurnOffForm::Offset => "w = alpha*I + beta*L*I_rms^2 + offset",
        }
    }
}

impl Law for BurnOff {
    fn coefficients(&self) -> &'static [CoefficientName] {
        match self.0 {
            BurnOffForm::Proportional => &NAMES[..2],
            BurnOffForm::Offset => &NAMES,
        }
    }

    /// Ī (A), I_rms (A), L (mm).
    fn quantities(&self) -> usize {
        3
    }

    fn predict(&self, b: &[f64], row: &[f64]) -> f64 {
        let offset = b.get(2).copied().unwrap_or(0.0);
        b[0] * row[0] + b[1] * row[2] * row[1] * row[1] + offset
    }

    fn gradient(&self, b: &[f64], row: &[f64], out: &mut [f64]) {
        out[0] = row[0];
        out[1] = row[2] * row[1] * row[1];
        if b.len() > 2 {
            out[2] = 1.0;
        }
    }

    fn gradient_by_row(&self, b: &[f64], row: &[f64], out: &mut [f64]) {
        out[0] = b[0];
        out[1] = 2.0 * b[1] * row[2] * row[1];
        out[2] = b[1] * row[1] * row[1];
    }
}

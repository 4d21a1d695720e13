//! The voltage between contact tip and work.

use super::{CoefficientName, Law};
use crate::study::ArcVoltageForm;

/// The arc voltage law.
///
/// ```text
/// Ū = U0 + R·Ī + E·a + r·L·Ī
/// ```
///
/// Ū mean voltage in V, Ī mean current in A, a arc length in mm, L electrode extension in mm. Forms
/// `current` and `current_arc` leave out the last terms.
///
/// # Source
/// Form: usual in the literature of arc physics (common practice).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ArcVoltage(pub ArcVoltageForm);

const NAMES: [CoefficientName; 4] = [
    CoefficientName { name: "intercept_v", unit: "V" },
    CoefficientName { name: "slope_ohm", unit: "ohm" },
    CoefficientName { name: "gradient_v_per_mm", unit: "V/mm" },
    CoefficientName { name: "extension_ohm_per_mm", unit: "ohm/mm" },
];

impl ArcVoltage {
    /// The equation in words.
    pub const fn equation(self) -> &'static str {
        match self.0 {
            ArcVoltageForm::Current => "U = U0 + R*I",
            ArcVoltageForm::CurrentArc => "U = U0 + R*I + E*a",
            ArcVoltageForm::CurrentArcExtension => "U = U0 + R*I + E*a + r*L*I",
        }
    }

    /// The form with so many coefficients.
    pub const fn with_coefficients(count: usize) -> Self {
        Self(match count {
            2 => ArcVoltageForm::Current,
            3 => ArcVoltageForm::CurrentArc,
            _ => ArcVoltageForm::CurrentArcExtension,
        })
    }
}

impl Law for ArcVoltage {
    fn coefficients(&self) -> &'static [CoefficientName] {
        match self.0 {
            ArcVoltageForm::Current => &NAMES[..2],
            ArcVoltageForm::CurrentArc => &NAMES[..3],
            ArcVoltageForm::CurrentArcExtension => &NAMES,
        }
    }

    /// Ī (A), a (mm), L (mm).
    fn quantities(&self) -> usize {
        3
    }

    fn predict(&self, b: &[f64], row: &[f64]) -> f64 {
        let mut out = [0.0; 4];
        self.gradient(b, row, &mut out);
        b.iter().zip(&out).map(|(b, g)| b * g).sum()
    }

    fn gradient(&self, b: &[f64], row: &[f64], out: &mut [f64]) {
        let all = [1.0, row[0], row[1], row[2] * row[0]];
        out[..b.len()].copy_from_slice(&all[..b.len()]);
    }

    fn gradient_by_row(&self, b: &[f64], row: &[f64], out: &mut [f64]) {
        let gradient = b.get(2).copied().unwrap_or(0.0);
        let extension = b.get(3).copied().unwrap_or(0.0);
        out[0] = b[1] + extension * row[2];
        out[1] = gradient;
        out[2] = extension * row[0];
    }
}

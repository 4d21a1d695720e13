//! The laws that the invented process follows.

use crate::laws::Detachment;
use crate::materials::Material;
use crate::study::Wire;

/// Coefficients of the three laws, in the units and with the names of `laws.json`, and the feeds that the
/// process can be welded at.
///
/// ```text
/// w = α·Ī + β·L·I_rms²
/// s = n·ln(I_p/I₀) + ln(t_p/1 ms) + τ·z,  P(≥1) = σ(k(s − s1)),  P(≥2) = σ(k(s − s2))
/// Ū = U0 + R·Ī + E·a + r·L·Ī
/// ```
///
/// The numbers are invented within the bands of the trade (common practice); no wire of anybody melts so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// α.
    pub alpha_mm_per_a_s: f64,
    /// β.
    pub beta_per_a2_s: f64,
    /// n.
    pub exponent: f64,
    /// k.
    pub steepness: f64,
    /// e^{s1}.
    pub one_drop_from_ms: f64,
    /// e^{s2}.
    pub more_drops_from_ms: f64,
    /// τ.
    pub trial_scatter: f64,
    /// U0.
    pub intercept_v: f64,
    /// R.
    pub slope_ohm: f64,
    /// E.
    pub gradient_v_per_mm: f64,
    /// r.
    pub extension_ohm_per_mm: f64,
    /// Slowest and fastest feed at which the process is welded.
    pub wire_feed_m_min: [f64; 2],
}

impl Truth {
    /// Unalloyed steel, 1.2 mm.
    pub const STEEL: Self = Self {
        alpha_mm_per_a_s: 0.305,
        beta_per_a2_s: 5.5e-5,
        exponent: 1.9,
        steepness: 8.0,
        one_drop_from_ms: 1.75,
        more_drops_from_ms: 4.0,
        trial_scatter: 0.03,
        intercept_v: 16.2,
        slope_ohm: 0.026,
        gradient_v_per_mm: 0.85,
        extension_ohm_per_mm: 5e-4,
        wire_feed_m_min: [3.2, 8.4],
    };

    /// The process of a wire: known for 1.2 mm, carried to other diameters by α ∝ d⁻², β ∝ d⁻⁴, pulse times
    /// ∝ d² and feeds ∝ d⁻².
    pub fn of_wire(wire: &Wire) -> Self {
        let d = wire.diameter_mm / 1.2;
        let base = match wire.material {
            Material::StainlessSteel => Self {
                alpha_mm_per_a_s: 0.31,
                beta_per_a2_s: 7e-5,
                one_drop_from_ms: 1.6,
                more_drops_from_ms: 3.8,
                ..Self::STEEL
            },
            Material::Aluminium => Self {
                alpha_mm_per_a_s: 0.80,
                beta_per_a2_s: 1e-5,
                exponent: 2.1,
                one_drop_from_ms: 1.0,
                more_drops_from_ms: 2.5,
                intercept_v: 14.5,
                slope_ohm: 0.03,
                gradient_v_per_mm: 0.7,
                extension_ohm_per_mm: 2e-4,
                wire_feed_m_min: [4.5, 9.5],
                ..Self::STEEL
            },
            _ if wire.metal_section_mm2.is_some() => {
                Self { alpha_mm_per_a_s: 0.38, beta_per_a2_s: 7.5e-5, ..Self::STEEL }
            }
            _ => Self::STEEL,
        };
        Self {
            alpha_mm_per_a_s: base.alpha_mm_per_a_s / (d * d),
            beta_per_a2_s: base.beta_per_a2_s / d.powi(4),
            one_drop_from_ms: base.one_drop_from_ms * d * d,
            more_drops_from_ms: base.more_drops_from_ms * d * d,
            wire_feed_m_min: base.wire_feed_m_min.map(|f| f / (d * d)),
            ..base
        }
    }

    /// α, β.
    pub const fn burn_off(&self) -> [f64; 2] {
        [self.alpha_mm_per_a_s, self.beta_per_a2_s]
    }

    /// U0, R, E, r.
    pub const fn arc_voltage(&self) -> [f64; 4] {
        [self.intercept_v, self.slope_ohm, self.gradient_v_per_mm, self.extension_ohm_per_mm]
    }

    /// The detachment law.
    pub fn detachment(&self) -> Detachment {
        Detachment {
            exponent: self.exponent,
            steepness: self.steepness,
            one_drop_s: self.one_drop_from_ms.ln(),
            more_drops_s: self.more_drops_from_ms.ln(),
            trial_scatter: self.trial_scatter,
        }
    }

    /// n, k, e^{s1}, e^{s2}, τ.
    pub const fn detachment_coefficients(&self) -> [f64; 5] {
        [self.exponent, self.steepness, self.one_drop_from_ms, self.more_drops_from_ms, self.trial_scatter]
    }

    /// Ī of constant current at which the wire melts as fast as it is fed: the positive root of
    /// β·L·I² + α·I − w = 0.
    pub fn constant_current_a(&self, extension_mm: f64, wire_feed_mm_s: f64) -> f64 {
        let bend = self.beta_per_a2_s * extension_mm;
        let root = (self.alpha_mm_per_a_s * self.alpha_mm_per_a_s + 4.0 * bend * wire_feed_mm_s).sqrt();
        // This way round no digits are lost where β nearly vanishes.
        2.0 * wire_feed_mm_s / (self.alpha_mm_per_a_s + root)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constant_current_melts_what_is_fed() {
        // 0.305·200 + 5.5e-5·14·200² = 61 + 30.8 = 91.8 mm/s.
        assert!((Truth::STEEL.constant_current_a(14.0, 91.8) - 200.0).abs() < 1e-10);
    }
}

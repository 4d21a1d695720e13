//! The drop that one pulse takes off.

/// Diameter of the drop that one pulse must take off.
///
/// ```text
/// f · (π/6) · D³ = A · w
/// ```
///
/// # Units
/// mm² and mm/s and Hz in, mm out.
/// # Source
/// Conservation of volume.
pub fn drop_diameter_mm(metal_section_mm2: f64, wire_feed_mm_s: f64, pulse_frequency_hz: f64) -> f64 {
    libm::cbrt(6.0 * metal_section_mm2 * wire_feed_mm_s / (core::f64::consts::PI * pulse_frequency_hz))
}

/// Pulse frequency at which drops of diameter `drop_diameter_mm` carry away the wire fed; the inverse
/// of [`drop_diameter_mm`].
pub fn drop_frequency_hz(metal_section_mm2: f64, wire_feed_mm_s: f64, drop_diameter_mm: f64) -> f64 {
    let d = drop_diameter_mm;
    6.0 * metal_section_mm2 * wire_feed_mm_s / (core::f64::consts::PI * d * d * d)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drop_and_frequency_are_inverse() {
        // 1.2 mm wire at 80 mm/s, ratio 1.1: 75.131480 Hz (datasets/check_values)
        let section = core::f64::consts::PI * 1.44 / 4.0;
        let f = drop_frequency_hz(section, 80.0, 1.32);
        assert!((f - 75.131_480).abs() < 5e-7);
        assert!((drop_diameter_mm(section, 80.0, f) - 1.32).abs() < 1e-14);
    }
}

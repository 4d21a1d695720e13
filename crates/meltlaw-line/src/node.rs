//! Settings of a line and what lies between two nodes.

use crate::{Status, Waveform};

/// One setting at one wire feed speed: what a machine is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Wire feed speed.
    pub wire_feed_m_min: f64,
    /// Pulse waveform.
    pub waveform: Waveform,
}

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

/// The place of a wire feed speed between two ascending nodes: index of the lower node and the
/// weight of the upper one. At the last node the index is that of the node before it.
///
/// # Errors
/// [`Status::NotANumber`], [`Status::BelowRange`] or [`Status::AboveRange`] (also where there is no
/// node).
pub fn interpolate(feeds_m_min: &[f64], wire_feed_m_min: f64) -> Result<(usize, f64), Status> {
    if wire_feed_m_min.is_nan() {
        return Err(Status::NotANumber);
    }
    let (Some(&first), Some(&last)) = (feeds_m_min.first(), feeds_m_min.last()) else {
        return Err(Status::BelowRange);
    };
    if wire_feed_m_min < first {
        return Err(Status::BelowRange);
    }
    if wire_feed_m_min > last {
        return Err(Status::AboveRange);
    }
    let upper = feeds_m_min.partition_point(|&f| f <= wire_feed_m_min);
    if upper == feeds_m_min.len() {
        return Ok(if upper >= 2 { (upper - 2, 1.0) } else { (0, 0.0) });
    }
    let (low, high) = (feeds_m_min[upper - 1], feeds_m_min[upper]);
    Ok((upper - 1, (wire_feed_m_min - low) / (high - low)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_belong_to_the_line_and_nothing_beyond_them() {
        let feeds = [3.0, 4.0, 6.0];
        assert_eq!(interpolate(&feeds, 3.0), Ok((0, 0.0)));
        assert_eq!(interpolate(&feeds, 5.0), Ok((1, 0.5)));
        assert_eq!(interpolate(&feeds, 6.0), Ok((1, 1.0)));
        assert_eq!(interpolate(&feeds, 2.999), Err(Status::BelowRange));
        assert_eq!(interpolate(&feeds, 6.001), Err(Status::AboveRange));
        assert_eq!(interpolate(&feeds, f64::NAN), Err(Status::NotANumber));
        assert_eq!(interpolate(&[], 5.0), Err(Status::BelowRange));
    }

    #[test]
    fn drop_and_frequency_are_inverse() {
        // 1.2 mm wire at 80 mm/s, ratio 1.1: 75.131480 Hz (datasets/check_values)
        let section = core::f64::consts::PI * 1.44 / 4.0;
        let f = drop_frequency_hz(section, 80.0, 1.32);
        assert!((f - 75.131_480).abs() < 5e-7);
        assert!((drop_diameter_mm(section, 80.0, f) - 1.32).abs() < 1e-14);
    }
}

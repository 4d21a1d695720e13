//! The next weld on a node, as it truly comes out and is read.

use meltlaw_line::Waveform;

use crate::compose::{balancing_background_a, power_w, voltage_v};
use crate::line::Node;
use crate::study::Bench;

/// Standard normal errors of one weld.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ErrorsOfOneWeld {
    /// Of the wire feed.
    pub wire_feed: f64,
    /// Of the arc length.
    pub arc_length: f64,
    /// Of the probe's gain.
    pub gain: f64,
    /// Of the voltage reading.
    pub voltage: f64,
}

/// Mean current (A), mean voltage (V) and power (W) that are read in one new weld at a node's setting.
///
/// ```text
/// w' = w·(1 + e_feed),  a' = a + e_a,  L' = CTWD − a'
/// I_b' : α·Ī' + β·L'·I_rms'² = w'
/// read Ī'·(1 + e_gain),  Ū(Ī', a', L') + e_V,  (P(Ī', a', L') + e_V·Ī')·(1 + e_gain)
/// ```
///
/// The contract's rule of the next weld: feed, arc length and gain vary by the bench's errors, the background
/// is trimmed until the melt balance holds, then all is read by the same instruments.
pub fn new_weld(burn_off: &[f64], arc_voltage: &[f64], bench: &Bench, node: &Node, z: &ErrorsOfOneWeld) -> [f64; 3] {
    let wave = node.waveform();
    let feed = node.wire_feed_m_min / 0.06 * (1.0 + bench.wire_feed_relative_se * z.wire_feed);
    let arc = bench.arc_length_mm + bench.arc_length_se_mm * z.arc_length;
    let extension = bench.ctwd_mm - arc;
    let gain = 1.0 + bench.current_relative_se * z.gain;
    let off = bench.voltage_se_v * z.voltage;
    let background = balancing_background_a(burn_off, extension, feed, &wave);
    let m = Waveform { background_current_a: background, ..wave }.moments();
    let voltage = voltage_v(arc_voltage, arc, extension, m.mean_a) + off;
    let power = power_w(arc_voltage, arc, extension, m.mean_a, m.mean_square_a2, None);
    [m.mean_a * gain, voltage, gain * (power + off * m.mean_a)]
}

//! The current of one setting over time, to scale: the same scale at every wire feed, so that settings compare.

use meltlaw::line::Node;
use serde::Serialize;

use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number};
use crate::figure::Figure;
use crate::marks::{Frame, Panel};
use crate::numbers::fixed;
use crate::words;

const SIZE: (f64, f64) = (480.0, 250.0);
const FRAME: Frame = Frame { left: 46.0, top: 34.0, right: 468.0, bottom: 206.0 };
/// Background before the first pulse, so that its rise is seen.
const LEAD_MS: f64 = 1.0;

/// Where times and currents lie on the canvas, for whoever draws another setting on it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(crate) struct Scale {
    /// Time at the right edge.
    time_ms: f64,
    /// Current at the upper edge.
    current_a: f64,
    /// Background before the first pulse.
    lead_ms: f64,
    /// Left, top, right and bottom edge in units of the drawing.
    edges: [f64; 4],
}

/// A drawing that another setting can be put into.
#[derive(Debug)]
pub(crate) struct WaveformDrawing {
    /// The empty drawing with its axes.
    pub(crate) svg: String,
    /// Its scale.
    pub(crate) scale: Scale,
    /// `points` of the current.
    pub(crate) current: String,
    /// `points` of the mean current.
    pub(crate) mean: String,
    /// Corners of the current as CSV.
    pub(crate) csv: String,
    /// What this waveform shows.
    pub(crate) seen: String,
}

/// The waveform of `node` on a scale that holds every node.
pub(crate) fn draw(nodes: &[Node], node: &Node) -> WaveformDrawing {
    let largest = |of: fn(&Node) -> f64| nodes.iter().map(of).fold(0.0, f64::max);
    let time_ms = (largest(|n| 1000.0 / n.pulse_frequency_hz) + 2.0 * LEAD_MS).ceil();
    let current_a = 1.08 * largest(|n| n.pulse_current_a);
    let mut figure = Figure::new(SIZE.0, SIZE.1);
    let panel: Panel =
        figure.panel(FRAME, Axis::between("time (ms)", 0.0, time_ms), Axis::between("current (A)", 0.0, current_a));
    figure.text((FRAME.right, 19.0), "dashed: mean current", crate::marks::Align::End, Colour::Soft, 11.5);
    let seen = seen(node);
    let svg =
        figure.svg("waveform", "Current over time at the wire feed above", &format!("{}.", words::capital(&seen)));
    let corners = corners(node, time_ms);
    let place = |&(t, i): &(f64, f64)| {
        let (x, y) = panel.place(t, i);
        format!("{},{}", (10.0 * x).round(), (10.0 * y).round())
    };
    let points = |of: &[(f64, f64)]| of.iter().map(place).collect::<Vec<_>>().join(" ");
    let edges = [FRAME.left, FRAME.top, FRAME.right, FRAME.bottom].map(|edge| 10.0 * edge);
    WaveformDrawing {
        svg,
        scale: Scale { time_ms, current_a, lead_ms: LEAD_MS, edges },
        current: points(&corners),
        mean: points(&[(0.0, node.current_mean_a), (time_ms, node.current_mean_a)]),
        csv: csv(&["time_ms", "current_a"], corners.iter().map(|&(t, i)| vec![number(t), number(i)])),
        seen,
    }
}

/// What a waveform shows, in a sentence.
fn seen(n: &Node) -> String {
    let delta = n.pulse_current_a - n.background_current_a;
    let ramps = delta / n.rise_a_per_ms + delta / n.fall_a_per_ms;
    format!(
        "{} A on top for {} ms and ramps of {} ms together, {} times a second; the pulse takes {} % of the time",
        fixed(n.pulse_current_a, 0),
        fixed(n.pulse_time_ms - ramps / 2.0, 2),
        fixed(ramps, 2),
        fixed(n.pulse_frequency_hz, 0),
        fixed(0.1 * n.pulse_time_ms * n.pulse_frequency_hz, 0),
    )
}

/// Corners of the current (ms, A) from background up to the time at the right edge.
fn corners(n: &Node, until_ms: f64) -> Vec<(f64, f64)> {
    let delta = n.pulse_current_a - n.background_current_a;
    let (rise, fall) = (delta / n.rise_a_per_ms, delta / n.fall_a_per_ms);
    let top = n.pulse_time_ms - (rise + fall) / 2.0;
    let mut corners = vec![(0.0, n.background_current_a)];
    let mut start = LEAD_MS;
    while start < until_ms {
        for (after, current) in [
            (0.0, n.background_current_a),
            (rise, n.pulse_current_a),
            (rise + top, n.pulse_current_a),
            (rise + top + fall, n.background_current_a),
        ] {
            corners.push((start + after, current));
        }
        start += 1000.0 / n.pulse_frequency_hz;
    }
    corners.push((start, n.background_current_a));
    cut(&corners, until_ms)
}

/// What lies before a time, and the current at it.
fn cut(corners: &[(f64, f64)], until_ms: f64) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = corners.iter().copied().take_while(|c| c.0 < until_ms).collect();
    if let (Some(&(t0, i0)), Some(&(t1, i1))) = (kept.last(), corners.get(kept.len())) {
        kept.push((until_ms, i0 + (i1 - i0) * (until_ms - t0) / (t1 - t0)));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cut_lies_on_the_line_between_its_neighbours() {
        let corners = [(0.0, 50.0), (1.0, 50.0), (2.0, 450.0), (3.0, 450.0)];
        assert_eq!(cut(&corners, 1.25), [(0.0, 50.0), (1.0, 50.0), (1.25, 150.0)]);
        assert_eq!(cut(&corners, 9.0).len(), 4);
    }
}

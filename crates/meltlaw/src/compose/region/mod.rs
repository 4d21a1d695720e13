//! The admissible region at a feed: all settings that would do, not only the one chosen.
//!
//! With the melt balance kept, a setting at a feed has three degrees of freedom. Two projections are drawn:
//! (pulse current, pulse time), where some frequency and background keep all fences (`pulses`), and (frequency,
//! background), where some pulse does (`backgrounds`). `fences` holds the fences as plain numbers, `windows` the
//! pulses that detach one drop, `shrink` the room that fences leave, `runs` stretches of one variable.

mod backgrounds;
mod fences;
mod pulses;
mod runs;
mod shrink;
mod windows;

use super::Composer;
use crate::line::{Admissible, Node, Span};
use fences::Fences;
use meltlaw_line::Limit;
use pulses::Piece;
use rayon::prelude::*;
use windows::Windows;

/// A number that ends a range, and what it is.
type End = (f64, Limit);

/// Lower and upper end.
type Range = [End; 2];

/// What all feeds share and what one feed adds.
struct Region<'a> {
    fences: Fences,
    windows: &'a Windows<'a>,
    reference_a: f64,
    /// ln(I_p/I₀) of source and data.
    currents: Range,
    /// The chosen setting: a place that is known to do.
    chosen: Chosen,
}

/// The chosen setting in the variables of the region.
#[derive(Debug, Clone, Copy)]
struct Chosen {
    log_current: f64,
    log_time: f64,
    per_ms: f64,
}

impl Composer<'_> {
    /// The regions at the lowest, the middle and the highest node and at each pinned one. A region knows nothing of
    /// pins: it shows what a pin gives away.
    pub(super) fn admissible(&self, nodes: &[Node]) -> Vec<Admissible> {
        let last = nodes.len().saturating_sub(1);
        let shown: Vec<&Node> = nodes
            .iter()
            .enumerate()
            .filter(|(i, node)| [0, last / 2, last].contains(i) || !node.pinned.is_empty())
            .map(|(_, node)| node)
            .collect();
        if shown.is_empty() {
            return Vec::new();
        }
        let windows = Windows::new(&self.ground);
        shown.par_iter().map(|node| self.admissible_at(&windows, node)).collect()
    }

    fn region<'w>(&self, windows: &'w Windows<'w>, node: &Node) -> Option<Region<'w>> {
        let reference_a = self.ground.reference_a();
        Some(Region {
            fences: Fences::new(&self.ground, node.wire_feed_m_min / 0.06)?,
            windows,
            reference_a,
            currents: windows.currents,
            chosen: Chosen {
                log_current: (node.pulse_current_a / reference_a).ln(),
                log_time: node.pulse_time_ms.ln(),
                per_ms: node.pulse_frequency_hz * 1e-3,
            },
        })
    }

    fn admissible_at(&self, windows: &Windows<'_>, node: &Node) -> Admissible {
        let Some(region) = self.region(windows, node) else {
            return Admissible {
                wire_feed_m_min: node.wire_feed_m_min,
                pulse_time_ms_by_pulse_current_a: Vec::new(),
                background_current_a_by_pulse_frequency_hz: Vec::new(),
            };
        };
        let (by_current, log_currents) = region.times_by_current();
        let by_frequency = region.backgrounds_by_frequency(&log_currents);
        let spans = |pieces: Vec<(f64, Piece)>, scale: f64| {
            pieces.into_iter().map(|(at, piece)| piece.span(scale * at)).collect()
        };
        Admissible {
            wire_feed_m_min: node.wire_feed_m_min,
            pulse_time_ms_by_pulse_current_a: spans(by_current, 1.0),
            background_current_a_by_pulse_frequency_hz: spans(by_frequency, 1e3),
        }
    }
}

impl Piece {
    fn span(self, at: f64) -> Span {
        let [low_limits, high_limits] = self.limits.map(|mut limits| {
            limits.sort();
            limits.dedup();
            limits.into_iter().map(|l| l.word().to_owned()).collect()
        });
        Span { at, low: self.low, high: self.high, low_limits, high_limits }
    }
}

#[cfg(test)]
mod tests;

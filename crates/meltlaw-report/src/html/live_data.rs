//! What the page's script needs to read the line at any wire feed: the nodes in full, the gaps, the way
//! quantities are printed.

use std::collections::BTreeMap;

use meltlaw::line::{Node, StandingRange};
use meltlaw::node_notes::{NOTABLY_OFF, NotesBetween, OFF_BEST_PULSE, notes_between};
use meltlaw::record::LineRecord;
use serde::Serialize;

use super::live::support_words;
use crate::columns::columns;
use crate::composing::PINNED;
use crate::figures::feed_view::FeedScale;
use crate::figures::waveform::Scale;
use crate::numbers::confidence;
use crate::setting::{QUANTITIES, Quantity};
use crate::words;

/// The line as the script reads it.
#[derive(Debug, Serialize)]
struct LiveLine<'a> {
    /// Numbers of all nodes by name, those that some node has.
    columns: BTreeMap<&'static str, Vec<Option<f64>>>,
    support: Vec<&'a str>,
    /// Settings that the study fixes, by node.
    pinned: Vec<&'a [String]>,
    /// Limits that bind, in words, by node.
    limits: Vec<Vec<String>>,
    /// Notes at nodes.
    notes: Vec<&'a [String]>,
    /// Notes between each node and the next.
    notes_between: Vec<Between>,
    best_pulse: Option<BestPulse>,
    gaps: Vec<Gap<'a>>,
    /// Withdrawn ranges before contradicted ones.
    refused: Vec<Refused>,
    wire: Wire,
    support_words: BTreeMap<&'static str, &'static str>,
    confidence: String,
    pin_mark: char,
    quantities: &'static [Quantity],
    waveform: Scale,
    feed_figures: FeedScale,
}

#[derive(Debug, Serialize)]
struct Gap<'a> {
    from: f64,
    to: f64,
    reason: &'a str,
}

/// A range that must not be used.
#[derive(Debug, Serialize)]
struct Refused {
    from: f64,
    to: f64,
    status: &'static str,
    reason: String,
}

/// What is noted between two nodes.
#[derive(Debug, Serialize)]
struct Between {
    off_best_pulse: bool,
    others: Vec<String>,
}

/// From what the script works out how far a pulse lies off the best one, and how it says so.
#[derive(Debug, Serialize)]
struct BestPulse {
    exponent: f64,
    pulse_current_a: f64,
    pulse_time_ms: f64,
    notably: f64,
    words: [&'static str; 2],
}

fn best_pulse(record: &LineRecord) -> Option<BestPulse> {
    let best = &record.line.composing.as_ref()?.best_pulse;
    Some(BestPulse {
        exponent: record.laws.detachment.coefficients.get("exponent")?.value?,
        pulse_current_a: best.pulse_current_a,
        pulse_time_ms: best.pulse_time_ms,
        notably: NOTABLY_OFF,
        words: OFF_BEST_PULSE,
    })
}

fn between(record: &LineRecord, pair: &[Node]) -> Between {
    let NotesBetween { off_best_pulse, others } = notes_between(record, &pair[0], &pair[1]);
    Between { off_best_pulse, others }
}

/// What drop and melting rate are computed from.
#[derive(Debug, Serialize)]
struct Wire {
    diameter_mm: f64,
    section_mm2: f64,
    density_kg_m3: f64,
    linear_mass_g_m: Option<f64>,
}

fn refused(record: &LineRecord) -> Vec<Refused> {
    let mut ranges: Vec<&StandingRange> = record.line.refused().collect();
    ranges.sort_by_key(|range| std::cmp::Reverse(range.standing().caution()));
    let refused = |range: &StandingRange| {
        let ([from, to], status) = (range.wire_feed_m_min, range.standing().refuses()?);
        Some(Refused { from, to, status: status.word(), reason: range.refusal_words() })
    };
    ranges.into_iter().filter_map(refused).collect()
}

/// As JSON that may stand in an element of a page: no `<` in it.
pub(crate) fn live_data(record: &LineRecord, waveform: Scale, feed_figures: FeedScale) -> String {
    let nodes = &record.line.nodes;
    let columns = columns()
        .map(|(name, of)| (*name, nodes.iter().map(of).collect::<Vec<_>>()))
        .filter(|(_, values)| values.iter().any(Option::is_some))
        .collect();
    let line = LiveLine {
        columns,
        support: nodes.iter().map(|n| n.support.as_str()).collect(),
        pinned: nodes.iter().map(|n| n.pinned.as_slice()).collect(),
        limits: nodes.iter().map(|n| n.limits.iter().map(|l| words::limit_in_short(l)).collect()).collect(),
        notes: nodes.iter().map(|n| n.notes.as_slice()).collect(),
        notes_between: nodes.windows(2).map(|pair| between(record, pair)).collect(),
        best_pulse: best_pulse(record),
        gaps: record
            .line
            .unsupported
            .iter()
            .map(|u| Gap { from: u.wire_feed_m_min[0], to: u.wire_feed_m_min[1], reason: &u.reason })
            .collect(),
        refused: refused(record),
        wire: Wire {
            diameter_mm: record.wire.diameter_mm,
            section_mm2: record.wire.section_mm2(),
            density_kg_m3: record.wire.density_kg_m3,
            linear_mass_g_m: record.wire.linear_mass_g_m,
        },
        support_words: ["covered", "extended", "carried"].into_iter().map(|s| (s, support_words(s))).collect(),
        confidence: confidence(record.confidence),
        pin_mark: PINNED,
        quantities: &QUANTITIES,
        waveform,
        feed_figures,
    };
    let text = serde_json::to_string(&line).expect("our records are plain data");
    text.replace('<', "\\u003c")
}

//! Every feed that gives what is wanted, with interval and support, or how near the line comes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::curve::{Found, Piece, SAME_FEED_M_MIN, found, pieces};
use super::interval::interval;
use super::words;
use crate::line_at::at;
use crate::record::LineRecord;
use crate::support_words::support_words;

/// What a feed is asked for by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wanted {
    /// Mean current, A.
    CurrentMeanA(f64),
    /// Melting rate, kg/h.
    MeltingRateKgH(f64),
    /// Heat input, kJ/mm.
    HeatInputKjMm(f64),
}

impl Wanted {
    /// The number.
    pub fn value(self) -> f64 {
        match self {
            Self::CurrentMeanA(v) | Self::MeltingRateKgH(v) | Self::HeatInputKjMm(v) => v,
        }
    }
}

/// What the line says to a wanted value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Backwards {
    /// None, one or several, ascending in wire feed.
    pub answers: Vec<Answer>,
    /// Gaps of the line over which the quantity passes the wanted value: there may be a feed, but no setting.
    pub in_gaps_wire_feed_m_min: Vec<[f64; 2]>,
    /// How near the line comes, where there is no answer.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub nearest: Option<Nearest>,
    /// All this in words.
    pub reason: String,
}

/// A feed at which the line gives the wanted value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Answer {
    /// The feed; the middle of the stretch where the value is constant.
    pub wire_feed_m_min: f64,
    /// Where the line gives the value over a stretch: its ends.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub constant_over_m_min: Option<[f64; 2]>,
    /// Interval at the record's confidence; a null end is open.
    pub wire_feed_m_min_interval: [Option<f64>; 2],
    /// Why an end is open.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub wire_feed_m_min_interval_reason: Option<String>,
    /// What the interval means.
    pub interval_meaning: String,
    /// `covered`, `extended` or `carried`.
    pub support: String,
    /// Why.
    pub support_reason: String,
}

/// The line's nearest value where it does not give the wanted one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Nearest {
    /// In the unit of what was wanted.
    pub value: f64,
    /// Where the line gives it.
    pub wire_feed_m_min: f64,
}

/// The feeds at which the line gives what is wanted, with interval and support.
///
/// - Mean current: between nodes a cubic in feed, so every root is found between its turns. The interval
///   holds the feeds whose `balancing_current_mean_a_interval` holds the wanted current: with the background
///   trimmed until the arc length is kept, any of them may carry it.
/// - Melting rate: the interval is the wire that the settings at the answer's feed truly melt,
///   w·(1 ± t·`melting_rate_relative_se`).
/// - Heat input: the interval holds the feeds at which the interval of the mean power, over travel speed and
///   times the thermal efficiency, holds the wanted heat.
///
/// Ends of an interval that the line does not reach are open and say why. A value that the line keeps over a
/// stretch is one answer with its range.
pub fn feeds_for(record: &LineRecord, wanted: Wanted) -> Backwards {
    if !wanted.value().is_finite() {
        return nothing("what was asked for is not a number".to_owned());
    }
    let pieces = pieces(record);
    if pieces.is_empty() {
        return nothing("the line has no setting at any wire feed".to_owned());
    }
    if pieces.iter().any(|p| p.value(record, wanted, p.from).is_none()) {
        return nothing(words::NO_HEAT.to_owned());
    }
    let answers: Vec<Answer> = stretches(record, &pieces, wanted)
        .into_iter()
        .filter_map(|stretch| answer(record, &pieces, wanted, stretch))
        .collect();
    let in_gaps_wire_feed_m_min = passed_in_gaps(record, &pieces, wanted);
    let nearest = if answers.is_empty() { nearest(record, &pieces, wanted) } else { None };
    let reason = match nearest {
        None => words::found(&answers, &in_gaps_wire_feed_m_min),
        Some(nearest) => {
            let line = [&pieces[0], &pieces[pieces.len() - 1]].map(|p| [p.from, p.to]);
            words::missed(wanted, nearest, &in_gaps_wire_feed_m_min, [line[0][0], line[1][1]], record)
        }
    };
    Backwards { answers, in_gaps_wire_feed_m_min, nearest, reason }
}

fn nothing(reason: String) -> Backwards {
    Backwards { answers: Vec::new(), in_gaps_wire_feed_m_min: Vec::new(), nearest: None, reason }
}

/// Feeds that give the wanted value, ascending, each as [feed, feed], or both ends of where it is constant.
fn stretches(record: &LineRecord, pieces: &[Piece<'_>], wanted: Wanted) -> Vec<[f64; 2]> {
    let mut all: Vec<[f64; 2]> = Vec::new();
    for piece in pieces {
        let more = match found(record, piece, wanted) {
            Found::Everywhere => vec![[piece.from, piece.to]],
            Found::Feeds(feeds) => feeds.into_iter().map(|f| [f, f]).collect(),
        };
        for stretch in more {
            match all.last_mut() {
                // Neighbouring pieces both find their common node.
                Some(last) if stretch[0] - last[1] < SAME_FEED_M_MIN => last[1] = last[1].max(stretch[1]),
                _ => all.push(stretch),
            }
        }
    }
    for stretch in &mut all {
        if stretch[1] - stretch[0] < SAME_FEED_M_MIN {
            stretch[1] = stretch[0];
        }
    }
    all
}

fn answer(record: &LineRecord, pieces: &[Piece<'_>], wanted: Wanted, stretch: [f64; 2]) -> Option<Answer> {
    let constant = stretch[1] > stretch[0];
    let feed = if constant { f64::midpoint(stretch[0], stretch[1]) } else { stretch[0] };
    let setting = at(record, feed).ok()?;
    let interval = interval(record, pieces, wanted, stretch, &setting);
    Some(Answer {
        wire_feed_m_min: feed,
        constant_over_m_min: constant.then_some(stretch),
        wire_feed_m_min_interval: interval.ends,
        wire_feed_m_min_interval_reason: interval.reason,
        interval_meaning: words::meaning(wanted).to_owned(),
        support_reason: support_words(record, &setting, record.conditions.arc_length_mm),
        support: setting.support,
    })
}

/// Gaps at whose two edges the quantity lies on different sides of the wanted value.
fn passed_in_gaps(record: &LineRecord, pieces: &[Piece<'_>], wanted: Wanted) -> Vec<[f64; 2]> {
    let miss = |p: &Piece<'_>, feed: f64| p.value(record, wanted, feed).map_or(0.0, |v| v - wanted.value());
    pieces
        .windows(2)
        .filter(|pair| pair[0].to != pair[1].from)
        .filter(|pair| miss(&pair[0], pair[0].to) * miss(&pair[1], pair[1].from) < 0.0)
        .map(|pair| [pair[0].to, pair[1].from])
        .collect()
}

/// The line's value nearest to the wanted one: at a turn or an end of a piece.
fn nearest(record: &LineRecord, pieces: &[Piece<'_>], wanted: Wanted) -> Option<Nearest> {
    let off = |n: &Nearest| (n.value - wanted.value()).abs();
    pieces
        .iter()
        .flat_map(|p| p.turns(wanted).into_iter().map(move |feed| (p, feed)))
        .filter_map(|(p, wire_feed_m_min)| {
            Some(Nearest { value: p.value(record, wanted, wire_feed_m_min)?, wire_feed_m_min })
        })
        .min_by(|a, b| off(a).total_cmp(&off(b)))
}

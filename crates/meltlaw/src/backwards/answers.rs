//! Every feed that gives what is wanted, with interval and support, or how near the line comes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::curve::{Curve, Found, Piece, SAME_FEED_M_MIN, found, pieces};
use super::interval::{carried_along, interval};
use super::words;
use crate::compose::{Shift, ShiftError, Shifted, along_shifted, shifted};
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

/// What a line's shifted settings say to a wanted value.
#[derive(Debug, Clone, PartialEq)]
pub struct ShiftedBackwards {
    /// Answers, interval and support of the shifted settings; gaps and the nearest value likewise.
    pub found: Backwards,
    /// The shifted setting of each answer, in the order of `found.answers`.
    pub settings: Vec<Shifted>,
    /// Feeds whose shifted setting would give the value but cannot be set.
    pub refused: Vec<RefusedAnswer>,
}

/// A feed whose shifted setting would give the wanted value and why it cannot be set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RefusedAnswer {
    /// The feed.
    pub wire_feed_m_min: f64,
    /// Limits that stand in the way.
    pub limits: Vec<String>,
    /// Why, and what to do.
    pub reason: String,
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
    let pieces = pieces(record);
    let curve = Curve { record, wanted, shifted: None };
    if let Some(reason) = unanswerable(&curve, &pieces) {
        return nothing(reason);
    }
    let answers: Vec<Answer> =
        stretches(&curve, &pieces).into_iter().filter_map(|stretch| answer(&curve, &pieces, stretch)).collect();
    together(&curve, &pieces, answers)
}

/// The feeds at which the line's settings give what is wanted once they are shifted.
///
/// Each answer is a feed whose shifted setting ([`shifted`]) has the wanted value; where limits or trials refuse that
/// setting, the feed is told with the reason and is no answer. Intervals of mean current and heat input hold the
/// feeds whose shifted value lies within the interval of the answer's own shifted setting, moved along: first order in
/// how that interval changes with feed.
///
/// # Errors
/// [`ShiftError`]: nothing or something impossible asked, a line file that lacks what composing needs.
pub fn feeds_for_shifted(record: &LineRecord, wanted: Wanted, asked: Shift) -> Result<ShiftedBackwards, ShiftError> {
    along_shifted(record, asked, |by_shift| {
        let pieces = pieces(record);
        let curve = Curve { record, wanted, shifted: Some(by_shift) };
        if let Some(reason) = unanswerable(&curve, &pieces) {
            return ShiftedBackwards { found: nothing(reason), settings: Vec::new(), refused: Vec::new() };
        }
        let (mut answers, mut settings, mut refused) = (Vec::new(), Vec::new(), Vec::new());
        for stretch in stretches(&curve, &pieces) {
            let feed = middle(stretch);
            match shifted(record, feed, asked) {
                Ok(setting) => {
                    answers.push(answer_shifted(&curve, &pieces, stretch, &setting));
                    settings.push(setting);
                }
                Err(error) => refused.push(refused_answer(feed, &error)),
            }
        }
        let mut found = if answers.is_empty() && !refused.is_empty() {
            nothing(words::refused(&refused))
        } else {
            together(&curve, &pieces, answers)
        };
        if let Some(nearest) = &found.nearest
            && let Err(error) = shifted(record, nearest.wire_feed_m_min, asked)
        {
            found.reason.push_str(&format!(", and even there it cannot be set: {error}"));
        }
        ShiftedBackwards { found, settings, refused }
    })
}

fn nothing(reason: String) -> Backwards {
    Backwards { answers: Vec::new(), in_gaps_wire_feed_m_min: Vec::new(), nearest: None, reason }
}

/// Why nothing can be said at all.
fn unanswerable(curve: &Curve<'_>, pieces: &[Piece<'_>]) -> Option<String> {
    if !curve.wanted.value().is_finite() {
        return Some("what was asked for is not a number".to_owned());
    }
    if pieces.is_empty() {
        return Some("the line has no setting at any wire feed".to_owned());
    }
    pieces.iter().any(|p| curve.value(p, p.from).is_none()).then(|| words::NO_HEAT.to_owned())
}

/// The answers with gaps, the nearest value where there is none, and all of it in words.
fn together(curve: &Curve<'_>, pieces: &[Piece<'_>], answers: Vec<Answer>) -> Backwards {
    let in_gaps_wire_feed_m_min = passed_in_gaps(curve, pieces);
    let nearest = if answers.is_empty() { nearest(curve, pieces) } else { None };
    let reason = match nearest {
        None => words::found(&answers, &in_gaps_wire_feed_m_min),
        Some(nearest) => {
            let line = [&pieces[0], &pieces[pieces.len() - 1]].map(|p| [p.from, p.to]);
            words::missed(curve, nearest, &in_gaps_wire_feed_m_min, [line[0][0], line[1][1]])
        }
    };
    Backwards { answers, in_gaps_wire_feed_m_min, nearest, reason }
}

/// Feeds that give the wanted value, ascending, each as [feed, feed], or both ends of where it is constant.
fn stretches(curve: &Curve<'_>, pieces: &[Piece<'_>]) -> Vec<[f64; 2]> {
    let mut all: Vec<[f64; 2]> = Vec::new();
    for piece in pieces {
        let more = match found(curve, piece) {
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

/// The feed that stands for a stretch: its middle where it has a length.
fn middle([low, high]: [f64; 2]) -> f64 {
    if high > low { f64::midpoint(low, high) } else { low }
}

fn answer(curve: &Curve<'_>, pieces: &[Piece<'_>], stretch: [f64; 2]) -> Option<Answer> {
    let Curve { record, wanted, .. } = *curve;
    let feed = middle(stretch);
    let setting = at(record, feed).ok()?;
    let interval = interval(record, pieces, wanted, stretch, &setting);
    Some(Answer {
        wire_feed_m_min: feed,
        constant_over_m_min: (stretch[1] > stretch[0]).then_some(stretch),
        wire_feed_m_min_interval: interval.ends,
        wire_feed_m_min_interval_reason: interval.reason,
        interval_meaning: words::meaning(wanted).to_owned(),
        support_reason: support_words(record, &setting, record.conditions.arc_length_mm),
        support: setting.support,
    })
}

fn answer_shifted(curve: &Curve<'_>, pieces: &[Piece<'_>], stretch: [f64; 2], shifted: &Shifted) -> Answer {
    let interval = carried_along(curve, pieces, stretch, &shifted.setting);
    Answer {
        wire_feed_m_min: middle(stretch),
        constant_over_m_min: (stretch[1] > stretch[0]).then_some(stretch),
        wire_feed_m_min_interval: interval.ends,
        wire_feed_m_min_interval_reason: interval.reason,
        interval_meaning: words::meaning(curve.wanted).to_owned(),
        support: shifted.setting.support.clone(),
        support_reason: shifted.support_reason.clone(),
    }
}

fn refused_answer(wire_feed_m_min: f64, error: &ShiftError) -> RefusedAnswer {
    let limits = match error {
        ShiftError::Refused { limits, .. } => limits.iter().map(|l| l.word().to_owned()).collect(),
        _ => Vec::new(),
    };
    RefusedAnswer { wire_feed_m_min, limits, reason: error.to_string() }
}

/// Gaps at whose two edges the quantity lies on different sides of the wanted value.
fn passed_in_gaps(curve: &Curve<'_>, pieces: &[Piece<'_>]) -> Vec<[f64; 2]> {
    let miss = |p: &Piece<'_>, feed: f64| curve.miss(p, feed, curve.wanted.value());
    pieces
        .windows(2)
        .filter(|pair| pair[0].to != pair[1].from)
        .filter(|pair| miss(&pair[0], pair[0].to) * miss(&pair[1], pair[1].from) < 0.0)
        .map(|pair| [pair[0].to, pair[1].from])
        .collect()
}

/// The line's value nearest to the wanted one: at a turn or an end of a piece.
fn nearest(curve: &Curve<'_>, pieces: &[Piece<'_>]) -> Option<Nearest> {
    let off = |n: &Nearest| (n.value - curve.wanted.value()).abs();
    pieces
        .iter()
        .flat_map(|p| curve.turns(p).into_iter().map(move |feed| (p, feed)))
        .filter_map(|(p, wire_feed_m_min)| Some(Nearest { value: curve.value(p, wire_feed_m_min)?, wire_feed_m_min }))
        .filter(|nearest| nearest.value.is_finite())
        .min_by(|a, b| off(a).total_cmp(&off(b)))
}

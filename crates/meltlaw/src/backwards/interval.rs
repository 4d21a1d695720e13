//! How far an answer may be off: the feeds around it that the line's own intervals do not exclude.

use super::answers::Wanted;
use super::curve::{Curve, Piece, crossing};
use crate::line::Node;
use crate::record::LineRecord;
use crate::statistics::student_t_quantile;
use crate::study::CovarianceFrom;

/// An interval of feeds; an open end has its reason.
pub(super) struct Interval {
    pub(super) ends: [Option<f64>; 2],
    pub(super) reason: Option<String>,
}

impl Interval {
    fn none(reason: &str) -> Self {
        Self { ends: [None, None], reason: Some(reason.to_owned()) }
    }
}

/// The interval of an answer, which stands at one feed or over a stretch.
pub(super) fn interval(
    record: &LineRecord,
    pieces: &[Piece<'_>],
    wanted: Wanted,
    stretch: [f64; 2],
    setting: &Node,
) -> Interval {
    match wanted {
        Wanted::MeltingRateKgH(_) => melted(record, setting),
        _ => not_excluded(record, pieces, wanted, stretch),
    }
}

/// Wire that the settings at a feed truly melt.
///
/// ```text
/// w·(1 ± t·u), u the relative standard error of the melting rate; t at Welch and Satterthwaite's degrees,
/// ν/share² with the trials' share of the variance, the stated errors counting as known exactly
/// ```
fn melted(record: &LineRecord, setting: &Node) -> Interval {
    let law = &record.laws.burn_off;
    let degrees = match (&law.between_blocks, law.covariance_from) {
        (Some(blocks), _) => blocks.degrees_of_freedom,
        (None, CovarianceFrom::StatedErrors) => f64::INFINITY,
        _ => law.degrees_of_freedom as f64,
    };
    let share: f64 =
        ["trials", "studies", "between_blocks"].iter().filter_map(|name| setting.budget.melting_rate.get(*name)).sum();
    let t = student_t_quantile(0.5 + record.confidence / 2.0, degrees / (share * share));
    let half = t * setting.melting_rate_relative_se;
    if !half.is_finite() {
        return Interval::none("the burn-off law has no degree of freedom left: weld more trials");
    }
    Interval { ends: [-half, half].map(|h| Some(setting.wire_feed_m_min * (1.0 + h))), reason: None }
}

/// The stretch around an answer on which the quantity's interval holds the wanted value.
fn not_excluded(record: &LineRecord, pieces: &[Piece<'_>], wanted: Wanted, stretch: [f64; 2]) -> Interval {
    let Some(first) = pieces.iter().position(|p| p.to >= stretch[0]) else {
        return Interval::none("the answer lies outside the line");
    };
    let last = pieces.iter().rposition(|p| p.from <= stretch[1]).unwrap_or(first);
    let known = |i: usize| bounds(wanted, pieces[i].lower).is_some() && bounds(wanted, pieces[i].upper).is_some();
    if !(known(first) && known(last)) {
        return Interval::none(
            "the line's nodes carry no interval of this quantity (an earlier version or another program wrote them): compose the line again",
        );
    }
    let held = |i: usize| holding(&pieces[i], wanted);
    let around = |i: usize, feed: f64| held(i).filter(|[a, b]| *a <= feed && feed <= *b);
    let (Some(mut low), Some(mut high)) = (around(first, stretch[0]), around(last, stretch[1])) else {
        return Interval::none(
            "between these nodes the quantity bends out of its own interval, which is narrower than the interpolation is exact: compose with a smaller interpolation_tolerance",
        );
    };
    let (mut below, mut above) = (first, last);
    let mut reasons = Vec::new();
    let lower_end = loop {
        if low[0] > pieces[below].from {
            break Some(low[0]);
        }
        if below == 0 || pieces[below - 1].to != pieces[below].from || !known(below - 1) {
            reasons.push(ending(record, pieces[below].from, "below"));
            break None;
        }
        match held(below - 1).filter(|h| h[1] >= pieces[below - 1].to) {
            Some(next) => (low, below) = (next, below - 1),
            None => break Some(low[0]),
        }
    };
    let upper_end = loop {
        if high[1] < pieces[above].to {
            break Some(high[1]);
        }
        if above + 1 == pieces.len() || pieces[above + 1].from != pieces[above].to || !known(above + 1) {
            reasons.push(ending(record, pieces[above].to, "above"));
            break None;
        }
        match held(above + 1).filter(|h| h[0] <= pieces[above + 1].from) {
            Some(next) => (high, above) = (next, above + 1),
            None => break Some(high[1]),
        }
    };
    Interval { ends: [lower_end, upper_end], reason: (!reasons.is_empty()).then(|| reasons.join("; ")) }
}

/// The stretch around an answer of shifted settings on which the wanted value lies within the interval of the answer's
/// own setting, moved along with the value.
///
/// ```text
/// v(feed) + (low − v₀) ≤ wanted ≤ v(feed) + (high − v₀), [low, high] the interval of the value v₀ at the answer
/// ```
pub(super) fn carried_along(curve: &Curve<'_>, pieces: &[Piece<'_>], stretch: [f64; 2], setting: &Node) -> Interval {
    let wanted = curve.wanted;
    if matches!(wanted, Wanted::MeltingRateKgH(_)) {
        return melted(curve.record, setting);
    }
    let place = |feed: f64| pieces.iter().position(|p| p.from <= feed && feed <= p.to);
    let (Some([low, high]), Some(first), Some(last)) = (bounds(wanted, setting), place(stretch[0]), place(stretch[1]))
    else {
        return Interval::none("the shifted setting carries no interval of this quantity");
    };
    // The value at the answer is the wanted one.
    let values = [2.0 * wanted.value() - high, 2.0 * wanted.value() - low];
    let mut reasons = Vec::new();
    let mut end = |from: f64, place: usize, up: bool| match leaves(curve, pieces, place, from, values, up) {
        Ok(feed) => Some(feed),
        Err(last_feed) => {
            reasons.push(ending(curve.record, last_feed, if up { "above" } else { "below" }));
            None
        }
    };
    let ends = [end(stretch[0], first, false), end(stretch[1], last, true)];
    Interval { ends, reason: (!reasons.is_empty()).then(|| reasons.join("; ")) }
}

/// The first feed from an answer upwards or downwards at which the quantity leaves a range of values; where the line
/// ends before, its last feed there.
fn leaves(
    curve: &Curve<'_>,
    pieces: &[Piece<'_>],
    mut place: usize,
    from: f64,
    [low, high]: [f64; 2],
    up: bool,
) -> Result<f64, f64> {
    let mut feed = from;
    loop {
        let piece = &pieces[place];
        let mut cuts = curve.turns(piece);
        if !up {
            cuts.reverse();
        }
        for cut in cuts.into_iter().filter(|cut| if up { *cut > from } else { *cut < from }) {
            let value = curve.miss(piece, cut, 0.0);
            let bound = if value < low {
                low
            } else if value > high {
                high
            } else if value.is_nan() {
                return Err(feed);
            } else {
                feed = cut;
                continue;
            };
            let miss = |f: f64| curve.miss(piece, f, bound);
            let [a, b] = if up { [feed, cut] } else { [cut, feed] };
            return Ok(crossing(miss, a, b, miss(a)));
        }
        let next = if up { place + 1 } else { place.wrapping_sub(1) };
        let joined = pieces.get(next).filter(|n| if up { n.from == piece.to } else { n.to == piece.from });
        if joined.is_none() {
            return Err(if up { piece.to } else { piece.from });
        }
        place = next;
    }
}

/// Interval of the quantity at a node, where it has one.
fn bounds(wanted: Wanted, node: &Node) -> Option<[f64; 2]> {
    match wanted {
        Wanted::CurrentMeanA(_) => node.balancing_current_mean_a_interval,
        Wanted::HeatInputKjMm(_) => {
            // Heat input over power: thermal efficiency and travel speed, which no draw touches.
            let per_watt = node.heat_input_kj_mm? / node.power_mean_w;
            node.power_mean_w_interval.map(|ends| ends.map(|w| w * per_watt))
        }
        Wanted::MeltingRateKgH(_) => None,
    }
}

/// The part of a piece on which the interval, linear in feed, holds the wanted value.
fn holding(piece: &Piece<'_>, wanted: Wanted) -> Option<[f64; 2]> {
    let (lower, upper) = (bounds(wanted, piece.lower)?, bounds(wanted, piece.upper)?);
    let value = wanted.value();
    let mut part = [piece.from, piece.to];
    // Both lie at or below zero where the interval holds the value.
    for (at_lower, at_upper) in [(lower[0] - value, upper[0] - value), (value - lower[1], value - upper[1])] {
        let [from, to] = part;
        let (a, b) = (piece.mixed(at_lower, at_upper, from), piece.mixed(at_lower, at_upper, to));
        let zero = || from + (to - from) * (a / (a - b)).clamp(0.0, 1.0);
        match (a <= 0.0, b <= 0.0) {
            (true, true) => {}
            (true, false) => part[1] = zero(),
            (false, true) => part[0] = zero(),
            (false, false) => return None,
        }
    }
    Some(part)
}

/// Why the line goes no further than a feed.
fn ending(record: &LineRecord, feed: f64, side: &str) -> String {
    let line = &record.line;
    let refused = line.refused().find(|range| {
        let [low, high] = range.wire_feed_m_min;
        feed >= low - 1e-9 && feed <= high + 1e-9
    });
    if let Some(range) = refused {
        return format!("open {side}: {}", range.refusal_words());
    }
    let is_end = line.nodes.first().is_some_and(|n| n.wire_feed_m_min >= feed)
        || line.nodes.last().is_some_and(|n| n.wire_feed_m_min <= feed);
    if is_end {
        format!("open {side}: the line ends at {feed} m/min before the interval does")
    } else {
        format!("open {side}: the line has no setting, or no interval, beyond {feed} m/min")
    }
}

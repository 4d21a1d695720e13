//! A quantity along the usable parts of a line, and every feed that gives a value of it.

use meltlaw_line::Waveform;

use super::answers::Wanted;
use crate::compose::ShiftedCurve;
use crate::line::Node;
use crate::record::LineRecord;

/// A value within this part of the wanted one counts as it: 1e-9 is what answers promise.
const SAME: f64 = 1e-9;

/// Feeds closer than this are one answer.
pub(super) const SAME_FEED_M_MIN: f64 = 1e-9;

/// A usable part of a line between two neighbouring nodes, or a node that stands alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece<'a> {
    pub(super) lower: &'a Node,
    pub(super) upper: &'a Node,
    /// First feed, m/min: the lower node, or where a refused range ends.
    pub(super) from: f64,
    /// Last feed, m/min.
    pub(super) to: f64,
}

/// The usable parts of a line, ascending: what no gap and no refused range takes out.
pub(super) fn pieces(record: &LineRecord) -> Vec<Piece<'_>> {
    let line = &record.line;
    let nodes = &line.nodes;
    let joined = |i: usize| {
        let (a, b) = (nodes[i].wire_feed_m_min, nodes[i + 1].wire_feed_m_min);
        !line.unsupported.iter().any(|u| u.lies_between(a, b))
    };
    let mut all = Vec::new();
    for (i, node) in nodes.iter().enumerate() {
        let above = i + 1 < nodes.len() && joined(i);
        let below = i > 0 && joined(i - 1);
        let piece = |upper: &'_ Node| (node.wire_feed_m_min, upper.wire_feed_m_min);
        if above {
            let upper = &nodes[i + 1];
            let (from, to) = piece(upper);
            all.push(Piece { lower: node, upper, from, to });
        } else if !below {
            let (from, to) = piece(node);
            all.push(Piece { lower: node, upper: node, from, to });
        }
    }
    for refused in line.refused() {
        let [low, high] = refused.wire_feed_m_min;
        all = all
            .into_iter()
            .flat_map(|p| {
                if high < p.from || low > p.to {
                    return [Some(p), None];
                }
                // The ends of a refused range are refused too.
                let before = (p.from < low).then(|| Piece { to: low.next_down(), ..p });
                let after = (p.to > high).then(|| Piece { from: high.next_up(), ..p });
                [before, after]
            })
            .flatten()
            .collect();
    }
    all
}

impl Piece<'_> {
    /// Weight of the upper node at a feed.
    fn weight(&self, feed: f64) -> f64 {
        let (a, b) = (self.lower.wire_feed_m_min, self.upper.wire_feed_m_min);
        if b > a { (feed - a) / (b - a) } else { 0.0 }
    }

    /// Linear between the two nodes.
    pub(super) fn mixed(&self, low: f64, high: f64, feed: f64) -> f64 {
        low + self.weight(feed) * (high - low)
    }

    /// Both ends and the feeds between at which the mean current turns.
    ///
    /// ```text
    /// Ī = I_b + (I_p − I_b)·t_p·f, each linear in feed: a cubic, whose slope is zero at two feeds at most
    /// ```
    fn turns_of_mean_current(&self) -> Vec<f64> {
        let mut feeds = vec![self.from];
        let (a, b) = (self.lower, self.upper);
        // Value at the lower node and rise to the upper one.
        let line = |of: fn(&Node) -> f64| (of(a), of(b) - of(a));
        let (_, background) = line(|n| n.background_current_a);
        let (height, height_rise) = line(|n| n.pulse_current_a - n.background_current_a);
        let (time, time_rise) = line(|n| n.pulse_time_ms / 1000.0);
        let (frequency, frequency_rise) = line(|n| n.pulse_frequency_hz);
        let cubic = height_rise * time_rise * frequency_rise;
        let square = height_rise * time_rise * frequency
            + height_rise * time * frequency_rise
            + height * time_rise * frequency_rise;
        let linear = background
            + height_rise * time * frequency
            + height * time_rise * frequency
            + height * time * frequency_rise;
        let (a_m_min, b_m_min) = (a.wire_feed_m_min, b.wire_feed_m_min);
        let mut turns: Vec<f64> = zeros_of_quadratic(3.0 * cubic, 2.0 * square, linear)
            .into_iter()
            .map(|t| a_m_min + t * (b_m_min - a_m_min))
            .filter(|f| *f > self.from && *f < self.to)
            .collect();
        turns.sort_by(f64::total_cmp);
        feeds.extend(turns);
        feeds.push(self.to);
        feeds
    }
}

/// A quantity along the line: of its own settings, or of all of them shifted.
#[derive(Clone, Copy)]
pub(super) struct Curve<'a> {
    pub(super) record: &'a LineRecord,
    pub(super) wanted: Wanted,
    /// What a shift makes of the line's settings, where one was asked for.
    pub(super) shifted: Option<&'a ShiftedCurve<'a>>,
}

impl Curve<'_> {
    /// The quantity at a feed, as `at` or the shift gives it; `None` where the line does not hold it.
    pub(super) fn value(&self, piece: &Piece<'_>, feed: f64) -> Option<f64> {
        let wave = || Waveform::between(&piece.lower.waveform(), &piece.upper.waveform(), piece.weight(feed));
        match (self.wanted, self.shifted) {
            (Wanted::MeltingRateKgH(_), _) => Some(self.record.wire.melting_rate_kg_h(feed / 0.06)),
            (Wanted::CurrentMeanA(_), None) => Some(wave().moments().mean_a),
            (Wanted::CurrentMeanA(_), Some(shifted)) => Some(shifted(feed, wave()).current_mean_a),
            (Wanted::HeatInputKjMm(_), None) => {
                Some(piece.mixed(piece.lower.heat_input_kj_mm?, piece.upper.heat_input_kj_mm?, feed))
            }
            (Wanted::HeatInputKjMm(_), Some(shifted)) => shifted(feed, wave()).heat_input_kj_mm,
        }
    }

    /// By how much the quantity at a feed misses a value; not a number where the line does not hold it.
    pub(super) fn miss(&self, piece: &Piece<'_>, feed: f64, value: f64) -> f64 {
        self.value(piece, feed).map_or(f64::NAN, |v| v - value)
    }

    /// The feeds between which the quantity only rises or only falls: both ends of a piece and the turns between.
    ///
    /// The melting rate is linear in feed, and so is the heat input of the line's own settings; their mean current is
    /// a cubic. Shifted settings follow no such formula: they are looked at in equal parts of the piece.
    pub(super) fn turns(&self, piece: &Piece<'_>) -> Vec<f64> {
        match (self.wanted, self.shifted) {
            (Wanted::MeltingRateKgH(_), _) | (Wanted::HeatInputKjMm(_), None) => vec![piece.from, piece.to],
            (Wanted::CurrentMeanA(_), None) => piece.turns_of_mean_current(),
            (_, Some(_)) => looked_for(|feed| self.miss(piece, feed, 0.0), piece.from, piece.to),
        }
    }
}

/// Parts of a piece in which turns are looked for: settings are linear in feed within it, and what melts them bends
/// little.
const PARTS: usize = 32;

/// Both ends of a range and every turn that its equal parts show; besides where numbers begin or end.
fn looked_for(of: impl Fn(f64) -> f64, from: f64, to: f64) -> Vec<f64> {
    if to - from <= SAME_FEED_M_MIN {
        return vec![from, to];
    }
    let feeds: Vec<f64> = (0..=PARTS).map(|i| from + (to - from) * i as f64 / PARTS as f64).collect();
    let values: Vec<f64> = feeds.iter().map(|&feed| of(feed)).collect();
    let mut cuts = vec![from];
    for i in 1..PARTS {
        let (before, after) = (values[i] - values[i - 1], values[i + 1] - values[i]);
        if before * after < 0.0 {
            cuts.push(summit(|feed| of(feed) * before.signum(), feeds[i - 1], feeds[i + 1]));
        } else if before.is_nan() != after.is_nan() {
            cuts.push(feeds[i]);
        }
    }
    cuts.push(to);
    cuts
}

/// Where a quantity with one summit between two feeds has it, by the golden section.
fn summit(of: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_8;
    while high - low > SAME_FEED_M_MIN {
        let (left, right) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if of(left) > of(right) { high = right } else { low = left }
    }
    f64::midpoint(low, high)
}

/// Real zeros of a·t² + b·t + c, in the form that loses no digits to cancellation; some may not be finite.
fn zeros_of_quadratic(a: f64, b: f64, c: f64) -> [f64; 2] {
    let q = -0.5 * (b + (b * b - 4.0 * a * c).sqrt().copysign(b));
    [q / a, c / q]
}

/// What gives the wanted value on one piece: single feeds, or the whole piece where the value is constant.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Found {
    /// Feeds, ascending.
    Feeds(Vec<f64>),
    /// All of it.
    Everywhere,
}

/// Every feed on a piece at which the quantity has the wanted value.
pub(super) fn found(curve: &Curve<'_>, piece: &Piece<'_>) -> Found {
    let value = curve.wanted.value();
    let miss = |feed: f64| curve.miss(piece, feed, value);
    let cuts = curve.turns(piece);
    let misses: Vec<f64> = cuts.iter().map(|f| miss(*f)).collect();
    let same = |m: f64| m.abs() <= SAME * value.abs();
    if piece.to - piece.from > SAME_FEED_M_MIN && misses.iter().all(|m| same(*m)) {
        return Found::Everywhere;
    }
    let mut feeds = Vec::new();
    // An end or a turn counts where rounding alone keeps it off the value.
    let touches = |m: f64| m.abs() <= 1e-13 * value.abs() || (piece.from == piece.to && same(m));
    for (i, &m) in misses.iter().enumerate() {
        if touches(m) {
            feeds.push(cuts[i]);
        } else if let Some(&next) = misses.get(i + 1)
            && !touches(next)
            && m * next < 0.0
        {
            feeds.push(crossing(miss, cuts[i], cuts[i + 1], m));
        }
    }
    feeds.dedup_by(|a, b| (*a - *b).abs() < SAME_FEED_M_MIN);
    Found::Feeds(feeds)
}

/// The feed at which a quantity that only rises or only falls crosses: halved until no number lies between.
pub(super) fn crossing(miss: impl Fn(f64) -> f64, mut low: f64, mut high: f64, at_low: f64) -> f64 {
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return if miss(low).abs() <= miss(high).abs() { low } else { high };
        }
        if miss(middle) * at_low > 0.0 { low = middle } else { high = middle }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zeros_keep_their_digits() {
        // t² − 3t + 2 = (t − 1)(t − 2).
        let mut zeros = zeros_of_quadratic(1.0, -3.0, 2.0);
        zeros.sort_by(f64::total_cmp);
        assert_eq!(zeros, [1.0, 2.0]);
        // Linear: 2t − 1.
        assert!(zeros_of_quadratic(0.0, 2.0, -1.0).contains(&0.5));
        // 1e-12·t² − t + 1e-3: the small zero is 1e-3 to rounding.
        assert!(zeros_of_quadratic(1e-12, -1.0, 1e-3).iter().any(|t| (t - 1e-3).abs() < 1e-16));
        assert!(zeros_of_quadratic(1.0, 0.0, 1.0).iter().all(|t| t.is_nan()));
    }
}

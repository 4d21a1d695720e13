//! A line as a controller keeps it: a table of nodes in one precision, the ranges without a setting, and
//! the setting at any wire feed.

use crate::{Number, Standing, Status, Support, waveform};

/// One node of a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TableNode<T> {
    /// Wire feed speed.
    pub wire_feed_m_min: T,
    /// Pulse current.
    pub pulse_current_a: T,
    /// Pulse time at half height.
    pub pulse_time_ms: T,
    /// Pulse frequency.
    pub pulse_frequency_hz: T,
    /// Background current.
    pub background_current_a: T,
    /// Slope of the rising edge.
    pub rise_a_per_ms: T,
    /// Slope of the falling edge, positive.
    pub fall_a_per_ms: T,
    /// Mean voltage between contact tip and work.
    pub voltage_mean_v: T,
    /// How well the trials carry the node.
    pub support: Support,
}

/// A line as a table: borrowed, so that it may lie in read-only memory.
///
/// ```
/// # use meltlaw_line::{Refused, Standing, StandingSpan, Status, Support, Table, TableNode};
/// static NODES: [TableNode<f32>; 2] = [
///     TableNode { wire_feed_m_min: 4.0, pulse_current_a: 400.0, pulse_time_ms: 2.0, pulse_frequency_hz: 60.0,
///         background_current_a: 80.0, rise_a_per_ms: 600.0, fall_a_per_ms: 600.0, voltage_mean_v: 24.0,
///         support: Support::Covered },
///     TableNode { wire_feed_m_min: 6.0, pulse_current_a: 420.0, pulse_time_ms: 2.0, pulse_frequency_hz: 100.0,
///         background_current_a: 120.0, rise_a_per_ms: 600.0, fall_a_per_ms: 600.0, voltage_mean_v: 26.0,
///         support: Support::Extended },
/// ];
/// static STANDING: [StandingSpan<f32>; 1] =
///     [StandingSpan { wire_feed_m_min: [5.5, 5.8], standing: Standing::Contradicted }];
/// let table = Table { nodes: &NODES, gaps_m_min: &[], standing: &STANDING };
/// let half_way = table.evaluate(5.0)?;
/// assert_eq!((half_way.pulse_current_a, half_way.pulse_frequency_hz), (410.0, 80.0));
/// assert_eq!(half_way.background_time_ms, 10.5); // 1000/80 − 2
/// assert_eq!((half_way.support, half_way.standing), (Support::Extended, Standing::Proposed));
/// assert_eq!(table.evaluate(6.5).map_err(|refused| refused.status), Err(Status::AboveRange));
/// assert_eq!(table.evaluate(5.6).map_err(|refused| refused.status), Err(Status::Contradicted));
/// # Ok::<(), Refused>(())
/// ```
///
/// # Single precision
///
/// With u = 2⁻²⁴ ≈ 6·10⁻⁸, a table whose numbers were rounded to `f32` answers a feed x (itself an `f32`)
/// within these distances of what the `f64` table answers at the same x, to first order in u. For a setting or
/// the voltage y, between nodes a and b at the feeds x_a < x_b:
///
/// ```text
/// |error of y| ≤ u·E,   E = 2·max(|a|, |b|) + 5·|b − a| + S·x_b
/// ```
///
/// S the steepest |slope| of y by feed between these two nodes and between the next ones on either side. Of what
/// is computed from the settings, e being the largest u·E/min(|a|, |b|) among them:
///
/// ```text
/// |error of Ī|     ≤ (3·e + 5·u)·Ī
/// |error of I_rms| ≤ (2.75·e + 11·u)·I_rms
/// |error of background time| ≤ (e + u)·1000/f + e·t_p + u·background time
/// ```
///
/// Relative to the background time, the last one grows by what the subtraction cancels: (1000/f)/background time.
/// Where neighbours differ by no more than 25 % of the larger and S·x_b ≤ 4·max(|a|, |b|) (no setting follows the
/// feed more steeply than its fourth power), E ≤ 8·max(|a|, |b|): no setting is off by more than 8·u = 4.8·10⁻⁷ of its
/// larger neighbour. The status may differ only at feeds within u·x of a node or of an end of a range.
///
/// Derivation. Rounding moves the nodes: the rounded polygon at x is the exact one at a point φ(x) of the same
/// stretch, with |φ(x) − x| ≤ u·x_b (φ maps the rounded stretch onto the exact one and moves its ends by rounding
/// only), plus at most u·max(|a|, |b|) for the rounded values; going from φ(x) to x changes the polygon by at
/// most S·u·x_b. The weight (x − x_a)/(x_b − x_a) takes three roundings, the difference b − a and the product one
/// each: 5·u·|b − a|, as the weight is at most 1; the sum takes u·max(|a|, |b|).
///
/// Ī = (1 − D)·I_b + D·I_p with D = t_p·f: the currents move it by e at most, t_p and f by 2·e·Δ·D ≤ 2·e·Ī; its terms
/// are positive and take five roundings. I_rms² = T1 + T2 + T3 − T4 = I_b² + 2·I_b·Δ·D + Δ²·D − Δ²·(t_r + t_f)/6·f; where
/// the trapezoid exists, T4 ≤ T3/3. With the ramps held, the current at each instant is a mean of I_b and I_p, so
/// these move I_rms² by 2·e; their difference moves the ramps and so T4 by e·(I_p + I_b)/Δ of itself, 0.5·e of I_rms²; t_p
/// moves T2 + T3 ≤ 1.5·I_rms², f moves I_rms², the slopes T4 ≤ 0.5·I_rms²: 5.5·e together. The terms take 2, 8, 9
/// and 13 roundings, at most (9 + 13/3)/(1 − 1/3) = 20 of I_rms². Half of both for the root, and one rounding
/// more. Background time: 1000/f takes e and a rounding, t_p takes e, the difference a rounding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Table<'a, T> {
    /// Nodes, ascending in wire feed.
    pub nodes: &'a [TableNode<T>],
    /// Ranges \[low, high\] without a setting.
    pub gaps_m_min: &'a [[T; 2]],
    /// What confirmation welds said, by range. Where ranges meet or overlap, the most cautious standing holds.
    pub standing: &'a [StandingSpan<T>],
}

/// A range of wire feeds and what confirmation welds said of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandingSpan<T> {
    /// From which to which feed, ends included.
    pub wire_feed_m_min: [T; 2],
    /// Its standing.
    pub standing: Standing,
}

/// A wire feed without a setting: why, and what is still known of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refused {
    /// Any status but `Ok`.
    pub status: Status,
    /// Support of the nodes beside the feed; `None` (code 0) outside the line and in a gap.
    pub support: Option<Support>,
    /// The standing that refuses the feed; `None` (code 0) on a status that has nothing to do with standing.
    pub standing: Option<Standing>,
}

impl Refused {
    /// A feed of which nothing else is known.
    const fn unknown(status: Status) -> Self {
        Self { status, support: None, standing: None }
    }
}

/// The place of a wire feed that has a setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place<T> {
    /// The last node not above the feed.
    pub index: usize,
    /// Weight of the node after it; zero exactly at a node.
    pub upper_weight: T,
    /// The weaker support of the nodes that the setting comes from.
    pub support: Support,
    /// What confirmation welds said of the feed.
    pub standing: Standing,
}

/// What a machine is told at a wire feed, and what it does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evaluated<T> {
    /// Pulse current.
    pub pulse_current_a: T,
    /// Pulse time at half height.
    pub pulse_time_ms: T,
    /// Pulse frequency.
    pub pulse_frequency_hz: T,
    /// Background current.
    pub background_current_a: T,
    /// Slope of the rising edge.
    pub rise_a_per_ms: T,
    /// Slope of the falling edge.
    pub fall_a_per_ms: T,
    /// 1000/f − pulse time.
    pub background_time_ms: T,
    /// Mean current of the waveform.
    pub current_mean_a: T,
    /// RMS current of the waveform.
    pub current_rms_a: T,
    /// Mean voltage between contact tip and work.
    pub voltage_mean_v: T,
    /// The weaker support of both neighbours.
    pub support: Support,
    /// What confirmation welds said of the feed.
    pub standing: Standing,
}

/// Why a table is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableFault {
    /// It has no node.
    NoNode,
    /// The node of this index holds a number that is not finite.
    NotFinite(usize),
    /// The node of this index is not above the one before it.
    NotAscending(usize),
    /// The gap of this index does not go from low to high.
    GapNotAscending(usize),
    /// The range of standing of this index does not go from low to high.
    StandingNotAscending(usize),
}

/// The value between two nodes, `weight` being that of the upper one.
///
/// ```text
/// low + weight·(high − low)
/// ```
pub fn between<T: Number>(low: T, high: T, weight: T) -> T {
    low + weight * (high - low)
}

/// Whether a gap leaves no setting between two neighbouring nodes: some of it lies strictly between them.
pub fn gap_between<T: Number>(gap_m_min: [T; 2], lower_node_m_min: T, upper_node_m_min: T) -> bool {
    let [low, high] = gap_m_min;
    low < upper_node_m_min && high > lower_node_m_min
}

impl<T: Number> Table<'_, T> {
    /// Whether the table is one: nodes that ascend, numbers that are finite, ranges from low to high. To be
    /// asked once, where a table comes in; [`Table::evaluate`] does not panic on any other either.
    ///
    /// # Errors
    /// The first [`TableFault`].
    pub fn check(&self) -> Result<(), TableFault> {
        let mut last: Option<T> = None;
        for (index, n) in self.nodes.iter().enumerate() {
            let numbers = [
                n.wire_feed_m_min,
                n.pulse_current_a,
                n.pulse_time_ms,
                n.pulse_frequency_hz,
                n.background_current_a,
                n.rise_a_per_ms,
                n.fall_a_per_ms,
                n.voltage_mean_v,
            ];
            if !numbers.iter().all(|v| v.finite()) {
                return Err(TableFault::NotFinite(index));
            }
            if last.is_some_and(|last| !(last < n.wire_feed_m_min)) {
                return Err(TableFault::NotAscending(index));
            }
            last = Some(n.wire_feed_m_min);
        }
        let backwards = |[low, high]: &[T; 2]| !(low <= high);
        if let Some(index) = self.gaps_m_min.iter().position(backwards) {
            return Err(TableFault::GapNotAscending(index));
        }
        if let Some(index) = self.standing.iter().position(|span| backwards(&span.wire_feed_m_min)) {
            return Err(TableFault::StandingNotAscending(index));
        }
        if last.is_some() { Ok(()) } else { Err(TableFault::NoNode) }
    }

    /// The setting at a wire feed: currents, pulse time, frequency, slopes and voltage linear between the two
    /// neighbouring nodes, the rest computed from them; exactly at a node that node. Never panics.
    ///
    /// # Errors
    /// [`Refused`] with any [`Status`] but `Ok`, and then no setting.
    pub fn evaluate(&self, wire_feed_m_min: T) -> Result<Evaluated<T>, Refused> {
        let place = self.place(wire_feed_m_min)?;
        let (index, t) = (place.index, place.upper_weight);
        let low = self.nodes.get(index).ok_or(Refused::unknown(Status::NotANumber))?;
        if !(t > T::nearest(0.0)) {
            return Ok(evaluated(*low, place.standing));
        }
        let high = self.nodes.get(index + 1).ok_or(Refused::unknown(Status::AboveRange))?;
        let between_nodes = TableNode {
            wire_feed_m_min,
            pulse_current_a: between(low.pulse_current_a, high.pulse_current_a, t),
            pulse_time_ms: between(low.pulse_time_ms, high.pulse_time_ms, t),
            pulse_frequency_hz: between(low.pulse_frequency_hz, high.pulse_frequency_hz, t),
            background_current_a: between(low.background_current_a, high.background_current_a, t),
            rise_a_per_ms: between(low.rise_a_per_ms, high.rise_a_per_ms, t),
            fall_a_per_ms: between(low.fall_a_per_ms, high.fall_a_per_ms, t),
            voltage_mean_v: between(low.voltage_mean_v, high.voltage_mean_v, t),
            support: place.support,
        };
        Ok(evaluated(between_nodes, place.standing))
    }

    /// Where a wire feed lies, if it has a setting.
    ///
    /// # Errors
    /// As [`Table::evaluate`].
    pub fn place(&self, wire_feed_m_min: T) -> Result<Place<T>, Refused> {
        if wire_feed_m_min.not_a_number() {
            return Err(Refused::unknown(Status::NotANumber));
        }
        let (Some(first), Some(last)) = (self.nodes.first(), self.nodes.last()) else {
            return Err(Refused::unknown(Status::BelowRange));
        };
        if wire_feed_m_min < first.wire_feed_m_min {
            return Err(Refused::unknown(Status::BelowRange));
        }
        if wire_feed_m_min > last.wire_feed_m_min {
            return Err(Refused::unknown(Status::AboveRange));
        }
        let standing = self.standing_at(wire_feed_m_min);
        let found = self.among_nodes(wire_feed_m_min, standing);
        match standing.refuses() {
            Some(status) => {
                Err(Refused { status, support: found.ok().map(|place| place.support), standing: Some(standing) })
            }
            None => found.map_err(Refused::unknown),
        }
    }

    /// What confirmation welds said of a feed: the most cautious of the ranges that hold it, `Proposed` where none does.
    pub fn standing_at(&self, wire_feed_m_min: T) -> Standing {
        let mut said: Option<Standing> = None;
        for StandingSpan { wire_feed_m_min: [low, high], standing } in self.standing {
            let holds = *low <= wire_feed_m_min && wire_feed_m_min <= *high;
            if holds && said.is_none_or(|said| said.caution() < standing.caution()) {
                said = Some(*standing);
            }
        }
        said.unwrap_or(Standing::Proposed)
    }

    /// The place of a feed between first and last node, unless a gap takes it.
    fn among_nodes(&self, wire_feed_m_min: T, standing: Standing) -> Result<Place<T>, Status> {
        let index = self.last_not_above(wire_feed_m_min);
        let lower = self.nodes.get(index).ok_or(Status::NotANumber)?;
        let low = lower.wire_feed_m_min;
        if low == wire_feed_m_min {
            return Ok(Place { index, upper_weight: T::nearest(0.0), support: lower.support, standing });
        }
        let upper = self.nodes.get(index + 1).ok_or(Status::AboveRange)?;
        let high = upper.wire_feed_m_min;
        // Fails only where a node's feed is NaN.
        if !(low < wire_feed_m_min && wire_feed_m_min < high) {
            return Err(Status::NotANumber);
        }
        if self.gaps_m_min.iter().any(|gap| gap_between(*gap, low, high)) {
            return Err(Status::UnsupportedGap);
        }
        let upper_weight = (wire_feed_m_min - low) / (high - low);
        Ok(Place { index, upper_weight, support: lower.support.max(upper.support), standing })
    }

    /// Index of the last node not above the feed, by halving; 0 where there is none. In a table that does not
    /// ascend: of some node that is not above it and is followed by one that is.
    fn last_not_above(&self, wire_feed_m_min: T) -> usize {
        let (mut start, mut left) = (0, self.nodes.len());
        while left > 1 {
            let half = left / 2;
            let middle = start + half;
            let Some(node) = self.nodes.get(middle) else { break };
            let not_above = node.wire_feed_m_min <= wire_feed_m_min;
            // Feeds come in no order that a branch could be guessed from.
            start = core::hint::select_unpredictable(not_above, middle, start);
            left -= half;
        }
        start
    }
}

/// A node with what its settings do.
fn evaluated<T: Number>(n: TableNode<T>, standing: Standing) -> Evaluated<T> {
    let (mean, mean_square) = waveform::mean_and_mean_square(
        n.pulse_current_a,
        n.pulse_time_ms,
        n.background_current_a,
        n.pulse_frequency_hz,
        n.rise_a_per_ms,
        n.fall_a_per_ms,
    );
    Evaluated {
        pulse_current_a: n.pulse_current_a,
        pulse_time_ms: n.pulse_time_ms,
        pulse_frequency_hz: n.pulse_frequency_hz,
        background_current_a: n.background_current_a,
        rise_a_per_ms: n.rise_a_per_ms,
        fall_a_per_ms: n.fall_a_per_ms,
        background_time_ms: waveform::background_time_ms(n.pulse_frequency_hz, n.pulse_time_ms),
        current_mean_a: mean,
        current_rms_a: mean_square.square_root(),
        voltage_mean_v: n.voltage_mean_v,
        support: n.support,
        standing,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn node<T: Number>(feed: f64, background: f64, support: Support) -> TableNode<T> {
        let n = T::nearest;
        TableNode {
            wire_feed_m_min: n(feed),
            pulse_current_a: n(350.0),
            pulse_time_ms: n(2.0),
            pulse_frequency_hz: n(100.0),
            background_current_a: n(background),
            rise_a_per_ms: n(600.0),
            fall_a_per_ms: n(600.0),
            voltage_mean_v: n(20.0 + feed),
            support,
        }
    }

    fn status_or<T>(answer: Result<Evaluated<T>, Refused>) -> Result<Evaluated<T>, Status> {
        answer.map_err(|refused| refused.status)
    }

    fn said(standing: Standing, wire_feed_m_min: [f64; 2]) -> StandingSpan<f64> {
        StandingSpan { wire_feed_m_min, standing }
    }

    fn at<T: Number>(nodes: &[TableNode<T>], feed: f64) -> Result<Evaluated<T>, Status> {
        status_or(Table { nodes, gaps_m_min: &[], standing: &[] }.evaluate(T::nearest(feed)))
    }

    fn three<T: Number>() -> [TableNode<T>; 3] {
        [node(3.0, 80.0, Support::Covered), node(4.0, 90.0, Support::Covered), node(6.0, 110.0, Support::Extended)]
    }

    #[test]
    fn half_way_everything_is_half_way_and_the_means_are_those_of_the_waveform() {
        let e = at(&three::<f64>(), 5.0).expect("inside");
        assert_eq!((e.background_current_a, e.voltage_mean_v, e.background_time_ms), (100.0, 25.0, 8.0));
        // datasets/check_values: 350/100 A, 2 ms, 100 Hz, 600 A/ms: Ī 150, I_rms 177.853716 A.
        assert!((e.current_mean_a - 150.0).abs() < 1e-12 && (e.current_rms_a - 177.853_716).abs() < 5e-7);
        let single = at(&three::<f32>(), 5.0).expect("inside");
        assert!((single.current_rms_a - 177.853_71).abs() < 2e-5);
    }

    #[test]
    fn support_is_the_weaker_of_both_neighbours_and_the_nodes_own_at_a_node() {
        let nodes = three::<f64>();
        let support = |feed| at(&nodes, feed).expect("inside").support;
        assert_eq!(
            [3.5, 4.0, 4.5, 6.0].map(support),
            [Support::Covered, Support::Covered, Support::Extended, Support::Extended]
        );
    }

    #[test]
    fn the_ends_belong_to_the_line_and_nothing_beyond_them() {
        let nodes = three::<f64>();
        let status = |feed| at(&nodes, feed).err();
        assert_eq!((status(3.0), status(6.0)), (None, None));
        assert_eq!((status(2.999), status(f64::NEG_INFINITY)), (Some(Status::BelowRange), Some(Status::BelowRange)));
        assert_eq!((status(6.001), status(f64::INFINITY)), (Some(Status::AboveRange), Some(Status::AboveRange)));
        assert_eq!(status(f64::NAN), Some(Status::NotANumber));
        assert_eq!(at::<f64>(&[], 5.0), Err(Status::BelowRange));
        assert_eq!(at(&nodes[..1], 3.0).map(|e| e.background_current_a), Ok(80.0));
        assert_eq!(at(&nodes[..1], 3.5), Err(Status::AboveRange));
    }

    #[test]
    fn a_gap_takes_the_whole_stretch_between_its_neighbours_but_not_the_nodes() {
        let nodes = three::<f64>();
        for gap in [[4.5, 5.5], [5.0, 5.0], [4.0, 6.0], [3.9, 4.1]] {
            let table = Table { nodes: &nodes, gaps_m_min: &[gap], standing: &[said(Standing::Confirmed, [0.0, 9.0])] };
            let refused = Refused { status: Status::UnsupportedGap, support: None, standing: None };
            assert_eq!(table.evaluate(4.01), Err(refused), "{gap:?}");
            assert!(table.evaluate(4.0).is_ok() && table.evaluate(6.0).is_ok());
        }
        let beside = Table { nodes: &nodes, gaps_m_min: &[[6.0, 9.0], [0.0, 3.0]], standing: &[] };
        assert!(beside.evaluate(5.0).is_ok() && beside.evaluate(3.1).is_ok());
    }

    #[test]
    fn contradicted_and_withdrawn_ranges_have_no_setting_nodes_and_ends_included() {
        let nodes = three::<f64>();
        for (standing, status) in
            [(Standing::Withdrawn, Status::Withdrawn), (Standing::Contradicted, Status::Contradicted)]
        {
            let table = Table { nodes: &nodes, gaps_m_min: &[], standing: &[said(standing, [3.5, 4.0])] };
            assert_eq!([3.5, 3.7, 4.0].map(|f| status_or(table.evaluate(f)).err()), [Some(status); 3]);
            assert!(table.evaluate(3.49).is_ok() && table.evaluate(4.01).is_ok());
        }
    }

    #[test]
    fn a_refused_feed_still_tells_its_support_and_standing() {
        let nodes = three::<f64>();
        let standing = [
            said(Standing::Confirmed, [3.0, 6.0]),
            said(Standing::Contradicted, [3.2, 3.4]),
            said(Standing::Contradicted, [4.5, 5.0]),
            said(Standing::Withdrawn, [4.8, 9.0]),
        ];
        let table = Table { nodes: &nodes, gaps_m_min: &[[5.5, 5.6]], standing: &standing };
        let refused = |feed| table.evaluate(feed).expect_err("no setting");
        let with = |status, support, standing| Refused { status, support, standing };
        assert_eq!(table.evaluate(3.1).map(|e| e.standing), Ok(Standing::Confirmed));
        let contradicted = Some(Standing::Contradicted);
        assert_eq!(refused(3.3), with(Status::Contradicted, Some(Support::Covered), contradicted));
        // The gap leaves nothing between 4 and 6 m/min that trials could support.
        assert_eq!(refused(4.6), with(Status::Contradicted, None, contradicted));
        assert_eq!(refused(4.9), with(Status::Withdrawn, None, Some(Standing::Withdrawn)));
        assert_eq!(refused(6.0), with(Status::Withdrawn, Some(Support::Extended), Some(Standing::Withdrawn)));
        assert_eq!(refused(4.2), with(Status::UnsupportedGap, None, None));
        assert_eq!(refused(7.0), with(Status::AboveRange, None, None));
    }

    #[test]
    fn tables_that_are_none_are_named_and_do_not_panic() {
        let [a, b, c] = three::<f64>();
        let nan = TableNode { wire_feed_m_min: f64::NAN, ..b };
        let tables = [
            (vec![], TableFault::NoNode),
            (vec![a, c, b], TableFault::NotAscending(2)),
            (vec![a, a, b], TableFault::NotAscending(1)),
            (vec![a, nan, c], TableFault::NotFinite(1)),
            (vec![nan], TableFault::NotFinite(0)),
            (vec![TableNode { voltage_mean_v: f64::INFINITY, ..a }], TableFault::NotFinite(0)),
        ];
        for (nodes, fault) in &tables {
            let table =
                Table { nodes, gaps_m_min: &[[f64::NAN, 1.0]], standing: &[said(Standing::Withdrawn, [9.0, 2.0])] };
            assert_eq!(Table { gaps_m_min: &[], standing: &[], ..table }.check(), Err(*fault));
            for feed in [f64::NAN, f64::INFINITY, -1.0, 0.0, 3.0, 3.5, 4.0, 5.0, 6.0, 1e300] {
                let _ = table.evaluate(feed);
            }
        }
        let ranges = [said(Standing::Withdrawn, [1.0, 2.0]), said(Standing::Confirmed, [9.0, 2.0])];
        let swapped = Table { nodes: &[a, b], gaps_m_min: &[], standing: &ranges };
        assert_eq!(swapped.check(), Err(TableFault::StandingNotAscending(1)));
        assert_eq!(Table { standing: &[], ..swapped }.check(), Ok(()));
        let gap = Table { gaps_m_min: &[[9.0, 2.0]], standing: &[], ..swapped };
        assert_eq!(gap.check(), Err(TableFault::GapNotAscending(0)));
    }

    #[test]
    fn every_feed_of_a_long_table_finds_its_stretch() {
        for count in 1..40 {
            let nodes: Vec<TableNode<f64>> =
                (0..count).map(|i| node(f64::from(i), 80.0 + f64::from(i), Support::Covered)).collect();
            for quarter in 0..=4 * (count - 1) {
                let feed = f64::from(quarter) / 4.0;
                let found = at(&nodes, feed).expect("inside").background_current_a;
                // All numbers are quarters: exact.
                assert_eq!(found, 80.0 + feed, "{feed} of {count}");
            }
        }
    }
}

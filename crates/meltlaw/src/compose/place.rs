//! Where nodes stand and where the line has gaps: looked for every 0.01 m/min.

use meltlaw_line::{Limit, Support, Waveform};
use rayon::prelude::*;

use super::process::melting_mm_s;
use super::{Composer, Judged, Refused, steadiness};
use crate::line::{Node, Uncertain, Unsupported};

/// Grid on which ends and gaps are looked for.
const GRID_M_MIN: f64 = 0.01;

/// Nodes that one pair may receive in between to keep the interpolation within tolerance.
const MOST_REFINEMENTS: usize = 400;

/// Step below which nodes are no longer denser.
const FINEST_STEP_M_MIN: f64 = 0.001;

/// Change of k·s below which the one-drop probability of the last look stands: it moves the probability
/// by a quarter of this at most.
const SAME_PULSE: f64 = 0.03;

/// Distance of the probability from its floor below which every feed is looked at on its own.
const NEAR_THE_FLOOR: f64 = 0.01;

/// Nodes and gaps.
pub(super) struct Placed {
    pub(super) nodes: Vec<Node>,
    pub(super) unsupported: Vec<Unsupported>,
}

impl Composer<'_> {
    /// Places nodes: both ends of every usable stretch, a grid of `step_m_min`, pins, the last feed that is
    /// `measured`, and as many between as the interpolation tolerance asks for.
    pub(super) fn place(&self) -> Placed {
        let feeds = self.grid();
        let judged = self.judged(&feeds);
        let mut nodes = Vec::new();
        let mut unsupported = Vec::new();
        let mut start = 0;
        while start < feeds.len() {
            let same_kind = |i: usize| match (&judged[start], &judged[i]) {
                (Ok(_), Ok(_)) => true,
                (Err(a), Err(b)) => a.limits == b.limits && a.unsteady == b.unsteady,
                _ => false,
            };
            let end = (start..feeds.len()).take_while(|&i| same_kind(i)).last().unwrap_or(start);
            match &judged[start] {
                Ok(_) => nodes.extend(self.stretch(&feeds[start..=end], &judged[start..=end])),
                Err(refused) => {
                    let mut whole = refused.clone();
                    for other in judged[start..=end].iter().filter_map(|j| j.as_ref().err()) {
                        for &variable in &other.beyond {
                            if !whole.beyond.contains(&variable) {
                                whole.beyond.push(variable);
                            }
                        }
                    }
                    unsupported.push(self.unsupported([feeds[start], feeds[end]], &whole));
                }
            }
            start = end + 1;
        }
        Placed { nodes, unsupported }
    }

    /// What each feed comes to, in ascending order: the rule, the trials' support, the one-drop
    /// probability, and whether the settings go on steadily.
    pub(super) fn judged(&self, feeds: &[f64]) -> Vec<Result<Judged, Refused>> {
        let mut judged: Vec<Result<Judged, Refused>> =
            feeds.par_iter().with_min_len(16).map(|&f| self.judge(f)).collect();
        self.judge_probability(&mut judged);
        steadiness::refuse_turns_and_jumps(feeds, &mut judged);
        judged
    }

    /// The feeds that are looked at: every 0.01 m/min, every step, the ends and the pins.
    fn grid(&self) -> Vec<f64> {
        let [low, high] = self.study.line.wire_feed_m_min;
        if !(low <= high && low.is_finite() && high.is_finite()) {
            return Vec::new();
        }
        let every = |step: f64| {
            let count = ((high - low) / step + 1e-9).floor() as usize;
            // Rounded to the hundred-thousandth, so that 3 + 139 · 0.01 is 4.39 and prints as such.
            (0..=count).map(move |i| rounded(low + i as f64 * step))
        };
        let mut feeds: Vec<f64> =
            every(GRID_M_MIN).chain(every(self.step())).filter(|f| (low..=high).contains(f)).collect();
        feeds.push(low);
        feeds.push(high);
        feeds.extend(self.study.line.pins.iter().map(|p| p.wire_feed_m_min).filter(|f| (low..=high).contains(f)));
        feeds.sort_by(f64::total_cmp);
        feeds.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        for pin in &self.study.line.pins {
            if let Some(at) = feeds.iter_mut().find(|f| (**f - pin.wire_feed_m_min).abs() < 1e-9) {
                *at = pin.wire_feed_m_min;
            }
        }
        feeds
    }

    /// The step between nodes, no finer than a feeder can be set.
    fn step(&self) -> f64 {
        self.study.line.step_m_min.max(FINEST_STEP_M_MIN)
    }

    /// Refuses feeds whose one-drop probability misses its floor. Neighbouring feeds mostly share their
    /// pulse, so it is worked out only where the pulse has changed or the floor is near.
    fn judge_probability(&self, judged: &mut [Result<Judged, Refused>]) {
        let floor = self.study.line.one_drop_floor;
        let law = &self.laws.detachment.law;
        let mut last: Option<(Waveform, Uncertain)> = None;
        for feed in judged.iter_mut() {
            let Ok(j) = feed else { continue };
            let wave = j.composed.wave;
            let known = last.filter(|(at, p)| {
                let moved = law.steepness
                    * ((law.exponent.abs() + 1.0) * (at.pulse_current_a / wave.pulse_current_a).ln().abs()
                        + (at.pulse_time_ms / wave.pulse_time_ms).ln().abs());
                moved == 0.0 || (moved < SAME_PULSE && (p.interval[0] - floor).abs() > NEAR_THE_FLOOR)
            });
            let (at, one_drop) = known.unwrap_or_else(|| (wave, self.one_drop_probability(&wave)));
            last = Some((at, one_drop));
            let same = at.pulse_current_a == wave.pulse_current_a && at.pulse_time_ms == wave.pulse_time_ms;
            j.one_drop = same.then_some(one_drop);
            if !(one_drop.interval[0] >= floor) {
                *feed = Err(Refused { limits: vec![Limit::OneDropLow], ..Refused::default() });
            }
        }
    }

    /// Nodes of one usable stretch of the grid.
    fn stretch(&self, feeds: &[f64], judged: &[Result<Judged, Refused>]) -> Vec<Node> {
        let low = self.study.line.wire_feed_m_min[0];
        let step = self.step();
        let last = feeds.len() - 1;
        let support = |i: usize| judged[i].as_ref().map(|j| j.support).ok();
        let chosen: Vec<usize> = (0..feeds.len())
            .filter(|&i| {
                let steps = (feeds[i] - low) / step;
                let on_step = (steps - steps.round()).abs() * step < 1e-6;
                let pinned = self.study.line.pins.iter().any(|p| p.wire_feed_m_min == feeds[i]);
                let last_measured = support(i) == Some(Support::Measured)
                    && ((i < last && support(i + 1) != support(i)) || (i > 0 && support(i - 1) != support(i)));
                i == 0 || i == last || on_step || pinned || last_measured
            })
            .collect();
        let mut dense = self.densified(feeds, judged, chosen);
        dense.sort_unstable();
        dense
            .into_par_iter()
            .map(|i| {
                let j = judged[i].as_ref().unwrap_or_else(|_| unreachable!("stretches hold usable feeds only"));
                self.node(feeds[i], j)
            })
            .collect()
    }

    /// Adds grid feeds until no pair is further apart than the step and the melt balance between keeps
    /// its tolerance.
    fn densified(&self, feeds: &[f64], judged: &[Result<Judged, Refused>], chosen: Vec<usize>) -> Vec<usize> {
        let tolerance = self.study.line.interpolation_tolerance;
        let step = self.step();
        let setting = |i: usize| judged[i].as_ref().map(|j| (feeds[i], j.composed.wave)).ok();
        let mut done = Vec::new();
        let mut open: Vec<usize> = chosen;
        open.reverse();
        let mut added = 0;
        while let Some(a) = open.pop() {
            done.push(a);
            while let Some(&b) = open.last() {
                let too_far = feeds[b] - feeds[a] > step + 1e-9;
                let (Some(left), Some(right)) = (setting(a), setting(b)) else { break };
                if b - a < 2 || added >= MOST_REFINEMENTS || !(too_far || self.error_between(left, right) > tolerance) {
                    break;
                }
                added += 1;
                open.push(usize::midpoint(a, b));
            }
        }
        done
    }

    /// Largest relative melt balance error of linear interpolation between two settings.
    fn error_between(&self, (a, low): (f64, Waveform), (b, high): (f64, Waveform)) -> f64 {
        let steps = (((b - a) / GRID_M_MIN).round() as usize).clamp(2, 200);
        (1..steps)
            .map(|i| {
                let t = i as f64 / steps as f64;
                let feed = a + t * (b - a);
                let mix = |p: f64, q: f64| p + t * (q - p);
                let wave = Waveform {
                    pulse_current_a: mix(low.pulse_current_a, high.pulse_current_a),
                    pulse_time_ms: mix(low.pulse_time_ms, high.pulse_time_ms),
                    background_current_a: mix(low.background_current_a, high.background_current_a),
                    pulse_frequency_hz: mix(low.pulse_frequency_hz, high.pulse_frequency_hz),
                    rise_a_per_ms: mix(low.rise_a_per_ms, high.rise_a_per_ms),
                    fall_a_per_ms: mix(low.fall_a_per_ms, high.fall_a_per_ms),
                };
                let m = wave.moments();
                (melting_mm_s(&self.laws.burn_off.b, self.extension_mm(), m.mean_a, m.mean_square_a2) / (feed / 0.06)
                    - 1.0)
                    .abs()
            })
            .fold(0.0, f64::max)
    }

    pub(super) fn balance_error(&self, a: &Node, b: &Node) -> f64 {
        self.error_between((a.wire_feed_m_min, a.waveform()), (b.wire_feed_m_min, b.waveform()))
    }
}

/// To a hundred-thousandth of m/min.
fn rounded(feed: f64) -> f64 {
    (feed * 1e5).round() / 1e5
}

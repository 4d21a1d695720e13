//! Where nodes stand and where the line has gaps: ends are looked for every 0.01 m/min, nodes are as few as keep
//! what lies between them true.

use meltlaw_line::{Limit, Waveform, drop_diameter_mm};
use rayon::prelude::*;

use super::composed::Composed;
use super::process::melting_mm_s;
use super::{Composer, Judged, Refused};
use crate::line::{Node, Unsupported};

/// Grid on which ends and gaps are looked for.
pub(super) const GRID_M_MIN: f64 = 0.01;

/// Step below which nodes are no longer denser.
const FINEST_STEP_M_MIN: f64 = 0.001;

/// Feeds further apart than this are not left without a setting of their own.
const WIDEST_M_MIN: f64 = 0.25;

/// Feeds of the grid nearer than this are one.
const NEARLY_THE_SAME_M_MIN: f64 = 0.002;

/// What a feed off the steps costs against one more node: nothing but the choice among as few.
const OFF_STEP: f64 = 1e-3;

/// Nodes and gaps.
pub(super) struct Placed {
    pub(super) nodes: Vec<Node>,
    pub(super) unsupported: Vec<Unsupported>,
}

impl Placed {
    /// Neighbouring nodes between which the line has settings.
    pub(super) fn stretches(&self) -> impl Iterator<Item = [&Node; 2]> {
        self.nodes
            .windows(2)
            .map(|pair| [&pair[0], &pair[1]])
            .filter(|[a, b]| !self.unsupported.iter().any(|gap| gap.lies_between(a.wire_feed_m_min, b.wire_feed_m_min)))
    }
}

/// What a rule of composing says over the feeds asked for.
pub(super) trait Course: Sync {
    /// Feeds to begin with, ascending: both ends of everything usable or not among them.
    fn base(&self) -> &[f64];

    /// What any feed of the grid comes to.
    fn at(&self, feed: f64) -> Result<Judged, Refused>;

    /// Whether a feed was worked out in its own right.
    fn is_settled(&self, _feed: f64) -> bool {
        true
    }

    /// Asks the draws at every feed from now on; `false` where that was so.
    fn become_strict(&mut self) -> bool {
        false
    }

    /// Works out more feeds in their own right that `at` only had from their neighbours; `false` where that changes
    /// nothing.
    fn settle(&mut self, _more: &[f64]) -> bool {
        false
    }
}

/// Where between two settings all but the melt balance is looked at.
const QUARTERS: [f64; 3] = [0.25, 0.5, 0.75];

/// Rounds of settling feeds that the last round asked for.
const ROUNDS: usize = 3;

/// A feed and what it comes to.
struct Candidate {
    feed: f64,
    judged: Result<Judged, Refused>,
    /// Put in because what lies between its neighbours was out of tolerance.
    for_tolerance: bool,
}

impl Candidate {
    /// Whether the line changes its kind or support from one to the other.
    fn differs(&self, other: &Self) -> bool {
        match (&self.judged, &other.judged) {
            (Ok(a), Ok(b)) => a.support != b.support,
            (Err(_), Err(_)) => false,
            _ => true,
        }
    }
}

impl Composer<'_> {
    /// Places the nodes of a course: both ends of every usable stretch, pins, the last feed that is `covered`, and
    /// as few between as keep the tolerance and the step.
    pub(super) fn place(&self, course: &mut dyn Course) -> Placed {
        let mut candidates = self.candidates(course);
        for _ in 0..ROUNDS {
            let changes = |i: usize, j: Option<usize>| {
                j.and_then(|j| candidates.get(j)).is_some_and(|other| candidates[i].differs(other))
            };
            let more: Vec<f64> = (0..candidates.len())
                .filter(|&i| {
                    candidates[i].for_tolerance || changes(i, i.checked_sub(1)) || changes(i, i.checked_add(1))
                })
                .map(|i| candidates[i].feed)
                .collect();
            if !course.settle(&more) {
                break;
            }
            candidates = self.candidates(course);
        }
        for candidate in &mut candidates {
            if let (Ok(judged), false) = (&candidate.judged, course.is_settled(candidate.feed)) {
                // What no round settled is left to the gap beside it.
                let limits = judged.composed.limits.clone();
                let limits = if limits.is_empty() { vec![Limit::DropLarge] } else { limits };
                candidate.judged = Err(Refused { limits, unsteady: true, ..Refused::default() });
            }
        }
        let mut nodes = Vec::new();
        let mut unsupported = Vec::new();
        let mut start = 0;
        while start < candidates.len() {
            let same_kind = |i: usize| match (&candidates[start].judged, &candidates[i].judged) {
                (Ok(_), Ok(_)) => true,
                (Err(a), Err(b)) => a.limits == b.limits && a.unsteady == b.unsteady && a.pin == b.pin,
                _ => false,
            };
            let end = (start..candidates.len()).take_while(|&i| same_kind(i)).last().unwrap_or(start);
            let run = &candidates[start..=end];
            match &run[0].judged {
                Ok(_) => {
                    let settings: Vec<(f64, &Judged)> =
                        run.iter().filter_map(|c| Some((c.feed, c.judged.as_ref().ok()?))).collect();
                    let chosen = self.fewest(&settings);
                    nodes.par_extend(chosen.into_par_iter().map(|i| self.node(settings[i].0, settings[i].1)));
                }
                Err(refused) => {
                    let mut whole = refused.clone();
                    for other in run.iter().filter_map(|c| c.judged.as_ref().err()) {
                        for &variable in &other.beyond {
                            if !whole.beyond.contains(&variable) {
                                whole.beyond.push(variable);
                            }
                        }
                    }
                    // A gap reaches to the feeds beside it: to a node, or to where the next gap begins.
                    let before = start.checked_sub(1).and_then(|i| candidates[i].judged.as_ref().ok().map(|_| i));
                    let from = before.map_or(run[0].feed, |i| beside(candidates[i].feed, GRID_M_MIN).min(run[0].feed));
                    let last = run[run.len() - 1].feed;
                    let to = candidates.get(end + 1).map_or(last, |next| beside(next.feed, -GRID_M_MIN).max(last));
                    unsupported.push(self.unsupported([from, to], &whole));
                }
            }
            start = end + 1;
        }
        let floor = self.study.line.one_drop_floor;
        if nodes.iter().any(|n: &Node| n.one_drop_probability.interval[0] < floor) && course.become_strict() {
            return self.place(course);
        }
        Placed { nodes, unsupported }
    }

    /// The feeds at which settings are worked out, so dense that nothing is missed between neighbours.
    fn candidates(&self, course: &dyn Course) -> Vec<Candidate> {
        let candidate = |feed: &f64| Candidate { feed: *feed, judged: course.at(*feed), for_tolerance: false };
        let base: Vec<Candidate> = course.base().par_iter().map(candidate).collect();
        let between: Vec<Vec<Candidate>> = base
            .par_windows(2)
            .map(|pair| {
                let mut found = Vec::new();
                self.refine(course, &pair[0], &pair[1], &mut found);
                found
            })
            .collect();
        let mut between = between.into_iter();
        let mut all = Vec::with_capacity(2 * base.len());
        for candidate in base {
            all.push(candidate);
            all.extend(between.next().into_iter().flatten());
        }
        all
    }

    /// Halves the way between two feeds until nothing is missed: an end found to 0.01 m/min, a change of support,
    /// an interpolation out of tolerance.
    fn refine(&self, course: &dyn Course, a: &Candidate, b: &Candidate, found: &mut Vec<Candidate>) {
        let steps = ((b.feed - a.feed) / GRID_M_MIN).round();
        let for_tolerance = match (&a.judged, &b.judged) {
            (Ok(x), Ok(y)) => steps >= 2.0 && self.error_between((a.feed, x), (b.feed, y)) > 1.0,
            _ => false,
        };
        if steps < 2.0 || !(a.differs(b) || for_tolerance) {
            return;
        }
        let feed = rounded(a.feed + (steps / 2.0).floor() * GRID_M_MIN);
        let middle = Candidate { feed, judged: course.at(feed), for_tolerance };
        self.refine(course, a, &middle, found);
        let place = found.len();
        self.refine(course, &middle, b, found);
        found.insert(place, middle);
    }

    /// The feeds that are looked at: every 0.01 m/min, every part of a step, the ends and the pins.
    pub(super) fn grid(&self) -> Vec<f64> {
        let [low, high] = self.study.line.wire_feed_m_min;
        if !(low <= high && low.is_finite() && high.is_finite()) {
            return Vec::new();
        }
        let every = |step: f64| {
            let count = ((high - low) / step + 1e-9).floor() as usize;
            // Rounded to the hundred-thousandth, so that 3 + 139 · 0.01 is 4.39 and prints as such.
            (0..=count).map(move |i| rounded(low + i as f64 * step)).filter(move |f| (low..=high).contains(f))
        };
        let pins = self.study.line.pins.iter().map(|p| p.wire_feed_m_min).filter(|f| (low..=high).contains(f));
        // Where two nearly coincide the one that was asked for stands for both: pins, ends, steps, the rest.
        let mut ranked: Vec<(f64, u8)> = every(GRID_M_MIN).map(|f| (f, 0)).collect();
        ranked.extend(every(self.part_of_step()).map(|f| (f, 1)));
        ranked.extend([(low, 2), (high, 2)]);
        ranked.extend(pins.map(|f| (f, 3)));
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        let near = NEARLY_THE_SAME_M_MIN.min(0.4 * self.part_of_step());
        let mut kept: Vec<(f64, u8)> = Vec::with_capacity(ranked.len());
        for (feed, rank) in ranked {
            match kept.last_mut() {
                Some(last) if feed - last.0 < 1e-9 || (feed - last.0 < near && last.1.min(rank) == 0) => {
                    if rank > last.1 {
                        *last = (feed, rank);
                    }
                }
                _ => kept.push((feed, rank)),
            }
        }
        kept.into_iter().map(|(feed, _)| feed).collect()
    }

    /// Whether settings are worked out at a feed of the grid from the beginning: pins, and a part of every step.
    pub(super) fn is_base(&self, feed: f64) -> bool {
        let part = self.part_of_step();
        let from_low = feed - self.study.line.wire_feed_m_min[0];
        (from_low - (from_low / part).round() * part).abs() < 1e-5 || self.pin(feed).is_some()
    }

    /// The step between nodes, no finer than a feeder can be set.
    fn step(&self) -> f64 {
        let [low, step] = [self.study.line.wire_feed_m_min[0], self.study.line.step_m_min.max(FINEST_STEP_M_MIN)];
        // Feeds are rounded to the hundred-thousandth, and two of them must not lie further apart than the step.
        let even = |v: f64| (v - rounded(v)).abs() < 1e-12;
        if even(low) && even(step) { step } else { rounded(step - 1e-5) }
    }

    /// A part of the step, no longer than settings may be left without one worked out in its own right.
    fn part_of_step(&self) -> f64 {
        let step = self.step();
        step / (step / WIDEST_M_MIN - 1e-9).ceil().max(1.0)
    }

    /// The fewest of ascending settings that keep the tolerance and the step between each other; among as few those
    /// on whole steps.
    fn fewest(&self, settings: &[(f64, &Judged)]) -> Vec<usize> {
        let last = settings.len() - 1;
        let step = self.step();
        let must = |i: usize| {
            i == 0
                || i == last
                || settings[i].1.pin.is_some()
                || settings[i].1.support != settings[i - 1].1.support
                || settings[i].1.support != settings[i + 1].1.support
        };
        let price = |i: usize| {
            let steps = (settings[i].0 - self.study.line.wire_feed_m_min[0]) / step;
            if (steps - steps.round()).abs() * step < 1e-6 { 1.0 } else { 1.0 + OFF_STEP }
        };
        // Cheapest way to each setting, and where it comes from.
        let mut cheapest = vec![(0.0, 0_usize); settings.len()];
        for j in 1..=last {
            let mut best = (f64::INFINITY, j - 1);
            for i in (0..j).rev() {
                let apart = settings[j].0 - settings[i].0;
                if j - i > 1 && (apart > step + 1e-9 || self.error_between(settings[i], settings[j]) > 1.0) {
                    break;
                }
                let total = cheapest[i].0 + price(j);
                if total < best.0 {
                    best = (total, i);
                }
                if must(i) {
                    break;
                }
            }
            cheapest[j] = best;
        }
        let mut chosen = vec![last];
        let mut at = last;
        while at > 0 {
            at = cheapest[at].1;
            chosen.push(at);
        }
        chosen.reverse();
        chosen
    }

    /// How far linear interpolation between two settings misses, over what is tolerated: melt balance, one-drop
    /// probability, limits. At most 1 is kept.
    fn error_between(&self, (a, low): (f64, &Judged), (b, high): (f64, &Judged)) -> f64 {
        let tolerance = self.study.line.interpolation_tolerance;
        let [low, high] = [&low.composed, &high.composed];
        let balance = self.balance_error((a, low.wave), (b, high.wave));
        if balance > tolerance {
            return balance / tolerance;
        }
        let worst = balance.max(self.one_drop_error(&low.wave, &high.wave));
        for t in QUARTERS {
            let wave = Waveform::between(&low.wave, &high.wave, t);
            let w = (a + t * (b - a)) / 0.06;
            let section = self.study.wire.section_mm2();
            let drop_diameter_mm = drop_diameter_mm(section, w, wave.pulse_frequency_hz);
            let between =
                Composed { wave, drop_diameter_mm, limits: Vec::new(), prices: Vec::new(), off_preferred: 0.0 };
            if !super::broken::broken(self.study, &between, wave.moments().mean_a, tolerance).is_empty() {
                return f64::INFINITY;
            }
        }
        worst / tolerance
    }

    /// Largest error of the one-drop probability read linearly between two settings.
    pub(super) fn one_drop_error(&self, low: &Waveform, high: &Waveform) -> f64 {
        let ends = [low, high].map(|wave| self.chance_of_one_drop(wave));
        QUARTERS
            .map(|t| {
                (self.chance_of_one_drop(&Waveform::between(low, high, t)) - ends[0] - t * (ends[1] - ends[0])).abs()
            })
            .into_iter()
            .fold(0.0, f64::max)
    }

    /// Largest relative melt balance error of linear interpolation between two settings.
    pub(super) fn balance_error(&self, (a, low): (f64, Waveform), (b, high): (f64, Waveform)) -> f64 {
        let steps = (((b - a) / GRID_M_MIN).round() as usize).clamp(2, 200);
        (1..steps)
            .map(|i| {
                let t = i as f64 / steps as f64;
                let m = Waveform::between(&low, &high, t).moments();
                let melted = melting_mm_s(&self.laws.burn_off.b, self.extension_mm(), m.mean_a, m.mean_square_a2);
                (melted / ((a + t * (b - a)) / 0.06) - 1.0).abs()
            })
            .fold(0.0, f64::max)
    }
}

/// To a hundred-thousandth of m/min.
pub(super) fn rounded(feed: f64) -> f64 {
    (feed * 1e5).round() / 1e5
}

/// The feed of the grid beside another, no further away than asked.
fn beside(feed: f64, away: f64) -> f64 {
    let next = feed + away;
    let even = rounded(next);
    if (even - feed).abs() <= away.abs() + 1e-9 { even } else { next }
}

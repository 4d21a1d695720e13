//! The optimum along all knots, and what to give up where they cannot all have a setting together.

use meltlaw_line::Limit;

use super::chain::{BINDS, Chain, Knot};
use super::ground::{Ground, Process};
use super::newton::{self, Stage};
use crate::compose::composed::Composed;
use crate::study::Pin;

/// Walls between which the cost decides. At the last a setting leans against its fence to a hundred-millionth, and
/// only a cost of a thousand for each part in a thousand beyond would push it through.
const DECIDING: [Stage; 9] = {
    let mut stages = [Stage { wall: 1.0, parabola: 0.02 }; 9];
    let mut i = 1;
    while i < 9 {
        let wall = stages[i - 1].wall * 0.1;
        stages[i] = Stage { wall, parabola: wall * if i < 4 { 1e-2 } else { 1e-3 } };
        i += 1;
    }
    stages
};

/// For starts that are nearly there.
const NEARLY: &[Stage] = DECIDING.split_at(2).1;

/// A fence missed by less than this is kept: rounding.
const KEPT_IN_THE_END: f64 = 1e-9;

/// Distance below which a setting leans on its limit.
const LEANS: f64 = 1e-7;

impl Ground<'_> {
    /// The optimum along ascending feeds (feed, stretch that it belongs to, where to begin), each of which has a
    /// setting of its own. A feed that cannot have one together with the others, mostly the squeezed end of a
    /// stretch, is given up, the worst first; what stands in its way is told. Starts that are `nearly` there skip the
    /// first stages.
    pub(super) fn optimum(
        &self,
        starts: &[(f64, usize, [f64; 3])],
        pins: &[Pin],
        nearly: bool,
    ) -> Vec<Result<Composed, Vec<Limit>>> {
        let pin = |feed: f64| pins.iter().find(|p| p.wire_feed_m_min == feed).copied();
        let mut found: Vec<Result<Composed, Vec<Limit>>> = vec![Err(Vec::new()); starts.len()];
        let mut left: Vec<usize> = (0..starts.len()).collect();
        let mut free: Vec<[f64; 3]> = starts.iter().map(|s| s.2).collect();
        let mut stages: &[Stage] = if nearly { NEARLY } else { &DECIDING };
        while !left.is_empty() {
            let knots: Vec<Knot> = left
                .iter()
                .map(|&i| Knot { feed_m_min: starts[i].0, stretch: starts[i].1, pin: pin(starts[i].0) })
                .collect();
            let chain = Chain::new(self, &knots, true);
            let solved = newton::minimise(&chain, left.iter().flat_map(|&i| free[i]).collect(), stages);
            let solved: Vec<[f64; 3]> = solved.chunks_exact(3).map(|u| [u[0], u[1], u[2]]).collect();
            let settled = self.leaning_on_limits(&knots, &solved);
            let Some((worst, limits)) = self.worst_conflict(&knots, &settled) else {
                // The walls tell what a limit costs, where they were leant on.
                let leaning: Vec<Option<Process>> =
                    knots.iter().zip(&solved).map(|(knot, free)| self.process(knot.w(), *free)).collect();
                let prices = chain.prices(DECIDING[DECIDING.len() - 1], &leaning);
                for (((&i, knot), process), prices) in left.iter().zip(&knots).zip(&settled).zip(prices) {
                    if let Some(process) = process {
                        found[i] = Ok(self.composed(knot, process, prices));
                    }
                }
                break;
            };
            for (&i, u) in left.iter().zip(&solved) {
                free[i] = *u;
            }
            found[left[worst]] = Err(limits);
            left.remove(worst);
            stages = NEARLY;
        }
        found
    }

    /// Settings that lean on a limit of their own put there exactly, and frequencies and backgrounds that are level up
    /// to rounding put level.
    fn leaning_on_limits(&self, knots: &[Knot], solved: &[[f64; 3]]) -> Vec<Option<Process>> {
        let mut last: Option<[f64; 3]> = None;
        knots
            .iter()
            .zip(solved)
            .map(|(knot, free)| {
                let mut on = *free;
                for (value, [low, high]) in on.iter_mut().zip(self.own_limits(knot.w())) {
                    if *value < low + LEANS {
                        *value = low;
                    } else if *value > high - LEANS {
                        *value = high;
                    }
                }
                if knot.pin.is_none() {
                    if let Some(last) = last {
                        for setting in [1, 2] {
                            if on[setting] < last[setting] && on[setting] > last[setting] - LEANS {
                                on[setting] = last[setting];
                            }
                        }
                    }
                    last = Some(on);
                }
                self.process(knot.w(), on)
            })
            .collect()
    }

    /// The knot that misses a fence by most, or falls by most below the one before it, with what stands in its way.
    fn worst_conflict(&self, knots: &[Knot], settled: &[Option<Process>]) -> Option<(usize, Vec<Limit>)> {
        let mut worst = (KEPT_IN_THE_END, None);
        let mut last: Option<usize> = None;
        for (i, (knot, process)) in knots.iter().zip(settled).enumerate() {
            if knot.pin.is_some() {
                continue;
            }
            let Some(process) = process else { return Some((i, vec![Limit::BackgroundLow])) };
            self.fences(knot.w(), process, |_, c| {
                if !(-c.value <= worst.0) {
                    worst = (-c.value, Some(i));
                }
            });
            if let Some((j, before)) = last.and_then(|j| Some((j, settled[j].as_ref()?))) {
                let fall = |setting: usize| before.free[setting].value - process.free[setting].value;
                let fall = fall(1).max(fall(2));
                if fall > worst.0 {
                    // Of the two the one nearer to the end of its stretch: it has the least choice.
                    worst = (fall, Some(if from_end(knots, j) <= from_end(knots, i) { j } else { i }));
                }
            }
            last = Some(i);
        }
        let at = worst.1?;
        let mut limits = Vec::new();
        if let Some(process) = &settled[at] {
            self.fences(knots[at].w(), process, |limit, c| {
                if c.value < BINDS {
                    limits.push(limit);
                }
            });
        }
        if limits.is_empty() {
            limits.push(Limit::DropLarge);
        }
        limits.sort();
        limits.dedup();
        Some((at, limits))
    }
}

/// Knots between this one and the nearer end of its stretch.
fn from_end(knots: &[Knot], at: usize) -> usize {
    let same = |k: &&Knot| k.stretch == knots[at].stretch;
    let before = knots[..at].iter().rev().take_while(same).count();
    before.min(knots[at + 1..].iter().take_while(same).count())
}

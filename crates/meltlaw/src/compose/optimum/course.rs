//! The optimum over the feeds asked for: which feeds have a setting, and the optimum along each stretch of them.

use meltlaw_line::Limit;
use rayon::prelude::*;

use super::super::broken::ROUNDING;
use super::super::composed::Composed;
use super::super::place::{Course, GRID_M_MIN, rounded};
use super::super::{Composer, Judged, Refused};
use crate::study::Pin;

/// Every so many feeds of the grid one is looked at; where two differ, all between are.
const STRIDE: usize = 10;

/// Distance of the first-order bound from the floor beyond which the draws are not asked before a node is made.
const FAR_FROM_THE_FLOOR: f64 = 0.05;

/// Halvings of the way to a feed that was given up: of a quarter of a m/min to a hundredth.
const HALVINGS: usize = 5;

/// Rounding of feeds that are the same.
const SAME_FEED: f64 = 1e-9;

/// Distance from all fences, in their logarithms, that the end of a stretch keeps. At the last feed that has a setting
/// at all there is a single one, mostly at the floor of the one-drop probability, and the way there would spoil the
/// feeds before it: 0.3 % is 0.03 m/min at 10 m/min.
const ROOM_AT_ENDS: f64 = 3e-3;

/// Feeds of the grid that an end may be moved for it.
const MOVED_AT_ENDS: usize = 6;

/// A feed whose setting was worked out with all others.
struct Settled {
    feed: f64,
    /// The stretch of usable feeds that it belongs to.
    stretch: usize,
    /// What stands in the way where its neighbours leave none.
    setting: Result<Composed, Vec<Limit>>,
}

/// A range without a setting.
struct Gap {
    range: [f64; 2],
    refused: Refused,
}

/// What the optimum says over the feeds asked for.
pub(in crate::compose) struct OptimumCourse<'a> {
    composer: &'a Composer<'a>,
    /// Stretches of feeds that all have a setting.
    stretches: Vec<[f64; 2]>,
    settled: Vec<Settled>,
    gaps: Vec<Gap>,
    /// Pins that no setting can keep.
    contradicted: Vec<(Pin, Refused)>,
    base: Vec<f64>,
    /// Whether every feed's one-drop probability is worked out by the draws, near the floor or not.
    strict: bool,
}

impl Course for OptimumCourse<'_> {
    fn base(&self) -> &[f64] {
        &self.base
    }

    fn at(&self, feed: f64) -> Result<Judged, Refused> {
        if let Some((_, refused)) = self.contradicted.iter().find(|(pin, _)| pin.wire_feed_m_min == feed) {
            return Err(refused.clone());
        }
        if let Some(stretch) = self.stretch_of(feed) {
            return self.on_stretch(stretch, feed);
        }
        let gap = self.gaps.iter().find(|g| (g.range[0]..=g.range[1]).contains(&feed));
        Err(gap.map_or_else(|| refused_for(Limit::DataLow), |g| g.refused.clone()))
    }

    fn become_strict(&mut self) -> bool {
        !std::mem::replace(&mut self.strict, true)
    }

    fn is_settled(&self, feed: f64) -> bool {
        self.settled.iter().any(|s| s.setting.is_ok() && (s.feed - feed).abs() < SAME_FEED)
    }

    fn settle(&mut self, more: &[f64]) -> bool {
        let blocked = |feed: f64| self.contradicted.iter().any(|(pin, _)| pin.wire_feed_m_min == feed);
        let tried = |feed: f64| self.settled.iter().any(|s| (s.feed - feed).abs() < SAME_FEED);
        let new: Vec<(f64, usize)> = more
            .iter()
            .filter(|f| !tried(**f) && !blocked(**f))
            .filter_map(|&f| Some((f, self.stretch_of(f)?)))
            .collect();
        if new.is_empty() {
            return false;
        }
        let mut places: Vec<(f64, usize)> = self.settled.iter().map(|s| (s.feed, s.stretch)).collect();
        places.extend(&new);
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let starts: Vec<(f64, usize, [f64; 3])> =
            places.into_iter().filter_map(|(f, stretch)| Some((f, stretch, self.start(f, stretch)?))).collect();
        self.settled = self.composer.settled(&starts, &self.contradicted, true);
        self.base.extend(new.iter().map(|(f, _)| f));
        self.base.sort_by(f64::total_cmp);
        true
    }
}

fn refused_for(limit: Limit) -> Refused {
    Refused { limits: vec![limit], ..Refused::default() }
}

impl OptimumCourse<'_> {
    fn stretch_of(&self, feed: f64) -> Option<usize> {
        self.stretches.iter().position(|range| (range[0]..=range[1]).contains(&feed))
    }

    /// The settled feeds of a stretch on either side of a feed; the upper one may be the feed itself.
    fn beside(&self, stretch: usize, feed: f64) -> [Option<(f64, &Composed)>; 2] {
        let known = |s: &Settled| s.stretch == stretch && s.setting.is_ok();
        let before = |s: &Settled| s.feed < feed - SAME_FEED;
        let below = self.settled.iter().rev().find(|s| known(s) && before(s));
        let above = self.settled.iter().find(|s| known(s) && !before(s));
        [below, above].map(|s| s.and_then(|s| Some((s.feed, s.setting.as_ref().ok()?))))
    }

    /// The optimum at a feed: settled, or on the straight way between two that are, its pulse time from the melt
    /// balance.
    fn on_stretch(&self, stretch: usize, feed: f64) -> Result<Judged, Refused> {
        let composer = self.composer;
        let judge = |composed: Composed, pin: Option<&Pin>, relative: f64| {
            let mut judged = composer.judge(feed, composed, pin, relative)?;
            let floor = composer.study.line.one_drop_floor;
            if !self.strict && composer.first_order_bound(&judged.composed.wave) > floor + FAR_FROM_THE_FLOOR {
                return Ok(judged);
            }
            let one_drop = composer.one_drop_probability(&judged.composed.wave);
            judged.one_drop = Some(one_drop);
            if one_drop.interval[0] >= floor {
                Ok(judged)
            } else {
                Err(Refused { pin: judged.pin, ..refused_for(Limit::OneDropLow) })
            }
        };
        let given_up = self.settled.iter().find(|s| (s.feed - feed).abs() < SAME_FEED);
        if let Some(limits) = given_up.and_then(|s| s.setting.as_ref().err()) {
            return Err(Refused { limits: limits.clone(), unsteady: true, ..Refused::default() });
        }
        match self.beside(stretch, feed) {
            [_, Some((at, composed))] if (at - feed).abs() < SAME_FEED => {
                judge(composed.clone(), composer.pin(feed), ROUNDING)
            }
            [Some(low), Some(high)] => {
                let between = composer.ground.between(low, high, feed);
                let between = between.ok_or_else(|| refused_for(Limit::BackgroundLow))?;
                // What lies between settled feeds keeps limits as nearly as what lies between nodes; a node there
                // is settled in its own right.
                judge(between, None, composer.study.line.interpolation_tolerance)
            }
            [low, high] => Err(self.beyond_settled(stretch, low.or(high).map_or(feed, |s| s.0), feed)),
        }
    }

    /// Why there is no setting beyond the last settled feed of a stretch: what the next feed was given up for.
    fn beyond_settled(&self, stretch: usize, settled: f64, feed: f64) -> Refused {
        let away = |s: &Settled| (s.feed - settled) * (feed - settled) > 0.0 && s.stretch == stretch;
        let given_up =
            self.settled.iter().filter(|s| away(s)).filter_map(|s| Some((s.feed, s.setting.as_ref().err()?)));
        let nearest = given_up.min_by(|a, b| (a.0 - settled).abs().total_cmp(&(b.0 - settled).abs()));
        let limits = nearest.map_or_else(|| vec![Limit::DropLarge], |(_, limits)| limits.clone());
        Refused { limits, unsteady: true, ..Refused::default() }
    }

    /// Halves the way from the last settled feed of a stretch to the one beyond it that was given up, until the end is
    /// found to 0.01 m/min.
    fn regain_ends(&mut self) {
        for _ in 0..HALVINGS {
            let mut halves = Vec::new();
            for pair in self.settled.windows(2).filter(|pair| pair[0].stretch == pair[1].stretch) {
                let apart = pair[1].feed - pair[0].feed;
                if pair[0].setting.is_ok() != pair[1].setting.is_ok() && apart > 1.5 * GRID_M_MIN {
                    let steps = (apart / GRID_M_MIN / 2.0).round().max(1.0);
                    halves.push(rounded(pair[0].feed + steps * GRID_M_MIN));
                }
            }
            if halves.is_empty() || !self.settle(&halves) {
                break;
            }
        }
    }

    /// Where the search for a feed begins: what is known there or beside it.
    fn start(&self, feed: f64, stretch: usize) -> Option<[f64; 3]> {
        let near = match self.beside(stretch, feed) {
            [_, Some((at, composed))] if (at - feed).abs() < SAME_FEED => Some(composed.clone()),
            [Some(low), Some(high)] => self.composer.ground.between(low, high, feed),
            _ => None,
        };
        let ground = &self.composer.ground;
        near.map(|c| ground.free(&c.wave)).or_else(|| ground.look(feed, self.composer.pin(feed)).map(|p| p.free))
    }
}

impl Composer<'_> {
    /// What the optimum says over the feeds of the grid.
    pub(in crate::compose) fn by_optimum(&self, grid: &[f64]) -> OptimumCourse<'_> {
        let contradicted = self.contradicted_pins(grid);
        let (stretches, gaps) = self.stretches(grid);
        let blocked = |feed: f64| contradicted.iter().any(|(pin, _)| pin.wire_feed_m_min == feed);
        let ends: Vec<f64> = stretches.iter().flatten().copied().collect();
        let beside_blocked = contradicted.iter().flat_map(|(pin, _)| {
            let place = grid.partition_point(|g| *g < pin.wire_feed_m_min);
            grid[place.saturating_sub(1)..(place + 2).min(grid.len())].iter().copied()
        });
        let mut base: Vec<f64> = grid.iter().copied().filter(|f| self.is_base(*f)).collect();
        base.extend(ends.iter().copied().chain(gaps.iter().flat_map(|g| g.range)).chain(beside_blocked));
        base.sort_by(f64::total_cmp);
        base.dedup();
        let places: Vec<(f64, usize)> = base
            .iter()
            .filter(|f| !blocked(**f))
            .filter_map(|&f| Some((f, stretches.iter().position(|r| (r[0]..=r[1]).contains(&f))?)))
            .collect();
        let starts: Vec<Option<[f64; 3]>> =
            places.par_iter().map(|&(f, _)| self.ground.look(f, self.pin(f)).map(|p| p.free)).collect();
        let starts: Vec<(f64, usize, [f64; 3])> =
            places.iter().zip(starts).filter_map(|(&(f, stretch), free)| Some((f, stretch, free?))).collect();
        let settled = self.settled(&starts, &contradicted, false);
        let mut course = OptimumCourse { composer: self, stretches, settled, gaps, contradicted, base, strict: false };
        course.regain_ends();
        course
    }

    /// Works out all feeds together, each begun where stated.
    fn settled(
        &self,
        starts: &[(f64, usize, [f64; 3])],
        contradicted: &[(Pin, Refused)],
        nearly: bool,
    ) -> Vec<Settled> {
        let blocked = |pin: &&Pin| !contradicted.iter().any(|(other, _)| other == *pin);
        let pins: Vec<Pin> = self.study.line.pins.iter().filter(blocked).copied().collect();
        let settings = self.ground.optimum(starts, &pins, nearly);
        starts.iter().zip(settings).map(|(&(feed, stretch, _), setting)| Settled { feed, stretch, setting }).collect()
    }

    /// Pins that no setting can keep, and what stands in the way.
    fn contradicted_pins(&self, grid: &[f64]) -> Vec<(Pin, Refused)> {
        let pins = &self.study.line.pins;
        let inside = |p: &&Pin| grid.contains(&p.wire_feed_m_min);
        pins.iter()
            .filter(inside)
            .filter_map(|pin| {
                let feed = pin.wire_feed_m_min;
                let refused = match self.ground.look(feed, Some(pin)) {
                    Some(place) => {
                        let composed = self.ground.settled(feed, Some(pin), &place)?;
                        let mut refused = self.judge(feed, composed, Some(pin), ROUNDING).err()?;
                        refused.limits.extend(self.ground.missed(feed, &place));
                        refused.limits.sort();
                        refused.limits.dedup();
                        refused
                    }
                    None => Refused { limits: vec![Limit::BackgroundLow], ..Refused::default() },
                };
                Some((*pin, Refused { pin: Some(*pin), ..refused }))
            })
            .collect()
    }

    /// Stretches and gaps, looked for every tenth feed of the grid, their ends at every one.
    fn stretches(&self, grid: &[f64]) -> (Vec<[f64; 2]>, Vec<Gap>) {
        let last = grid.len().saturating_sub(1);
        let looked: Vec<usize> = (0..grid.len()).filter(|i| i % STRIDE == 0 || *i == last).collect();
        let look = |i: usize| self.refused_at(grid[i]);
        let found: Vec<Option<Refused>> = looked.par_iter().map(|&i| look(i)).collect();
        // Runs of the same kind, [first, last] on the grid, ends by halving.
        let mut runs: Vec<([usize; 2], Option<Refused>)> = Vec::new();
        for (&i, refused) in looked.iter().zip(found) {
            let same = runs.last().is_some_and(|(_, r)| match (r, &refused) {
                (None, None) => true,
                (Some(a), Some(b)) => a.limits == b.limits,
                _ => false,
            });
            let Some((range, kind)) = runs.last_mut() else {
                runs.push(([0, i], refused));
                continue;
            };
            if same {
                range[1] = i;
                continue;
            }
            let usable = kind.is_none();
            if usable != refused.is_none() {
                let (mut before, mut after) = (range[1], i);
                while after - before > 1 {
                    let middle = usize::midpoint(before, after);
                    if look(middle).is_none() == usable { before = middle } else { after = middle }
                }
                range[1] = before;
            }
            let first = range[1] + 1;
            runs.push(([first, i], refused));
        }
        self.leave_room_at_ends(grid, &mut runs);
        let mut stretches = Vec::new();
        let mut gaps = Vec::new();
        for ([first, last], refused) in runs {
            let range = [grid[first], grid[last]];
            match refused {
                Some(refused) => gaps.push(Gap { range, refused }),
                None => stretches.push(range),
            }
        }
        (stretches, gaps)
    }

    /// Moves ends between a stretch and a gap a few feeds into the stretch, where there is more room.
    fn leave_room_at_ends(&self, grid: &[f64], runs: &mut [([usize; 2], Option<Refused>)]) {
        let room = |i: usize| self.ground.look(grid[i], None).map_or(f64::NEG_INFINITY, |p| p.least);
        for i in 1..runs.len() {
            for _ in 0..MOVED_AT_ENDS {
                let [before, after] = [runs[i - 1].0, runs[i].0];
                if runs[i - 1].1.is_none() == runs[i].1.is_none() {
                    break;
                }
                let (end, inside, long) = if runs[i].1.is_some() {
                    (before[1], before[1].saturating_sub(1), before[1] > before[0])
                } else {
                    (after[0], after[0] + 1, after[1] > after[0])
                };
                let here = room(end);
                if !long || here >= ROOM_AT_ENDS || room(inside) <= here {
                    break;
                }
                if runs[i].1.is_some() {
                    runs[i - 1].0[1] = inside;
                    runs[i].0[0] = end;
                } else {
                    runs[i - 1].0[1] = end;
                    runs[i].0[0] = inside;
                }
            }
        }
    }

    /// Why a feed has no setting on its own, pins apart.
    fn refused_at(&self, feed: f64) -> Option<Refused> {
        let Some(place) = self.ground.look(feed, None) else {
            return Some(Refused { limits: vec![Limit::BackgroundLow], ..Refused::default() });
        };
        if place.keeps_all() {
            return None;
        }
        let limits = self.ground.missed(feed, &place);
        let beyond = self
            .ground
            .settled(feed, None, &place)
            .and_then(|composed| self.judge(feed, composed, None, ROUNDING).err())
            .map_or_else(Vec::new, |r| r.beyond);
        Some(Refused { limits, beyond, ..Refused::default() })
    }
}

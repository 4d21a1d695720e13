//! The optimum over the feeds asked for: which feeds have a setting, and the optimum along each stretch of them.

use meltlaw_line::Limit;
use rayon::prelude::*;

use super::super::broken::ROUNDING;
use super::super::composed::Composed;
use super::super::place::Course;
use super::super::{Composer, Judged, Refused};
use super::Place;
use crate::study::Pin;

/// Every so many feeds of the grid one is looked at; where two differ, all between are.
const STRIDE: usize = 10;

/// Rounding of feeds that are the same.
const SAME_FEED: f64 = 1e-9;

/// Distance from all fences, in their logarithms, that the end of a stretch keeps: at the last feed that has a
/// setting at all there is a single one, and nothing to choose.
const ROOM_AT_ENDS: f64 = 5e-4;

/// A stretch of feeds that all have a setting, with the optimum at its knots.
struct Stretch {
    range: [f64; 2],
    feeds: Vec<f64>,
    /// At each feed; nothing where its neighbours leave none.
    settings: Vec<Option<Composed>>,
}

/// A range without a setting.
struct Gap {
    range: [f64; 2],
    refused: Refused,
}

/// What the optimum says over the feeds asked for.
pub(in crate::compose) struct OptimumCourse<'a> {
    composer: &'a Composer<'a>,
    stretches: Vec<Stretch>,
    gaps: Vec<Gap>,
    /// Pins that no setting can keep.
    contradicted: Vec<(Pin, Refused)>,
    base: Vec<f64>,
}

impl Course for OptimumCourse<'_> {
    fn base(&self) -> &[f64] {
        &self.base
    }

    fn at(&self, feed: f64) -> Result<Judged, Refused> {
        if let Some((_, refused)) = self.contradicted.iter().find(|(pin, _)| pin.wire_feed_m_min == feed) {
            return Err(refused.clone());
        }
        let holds = |range: [f64; 2]| (range[0]..=range[1]).contains(&feed);
        match self.stretches.iter().find(|s| holds(s.range)) {
            Some(stretch) => self.composer.on_stretch(stretch, feed),
            None => Err(self
                .gaps
                .iter()
                .find(|g| holds(g.range))
                .map_or_else(|| Refused { limits: vec![Limit::DataLow], ..Refused::default() }, |g| g.refused.clone())),
        }
    }

    fn is_settled(&self, feed: f64) -> bool {
        self.stretches.iter().any(|s| s.feeds.iter().any(|f| (f - feed).abs() < SAME_FEED))
    }

    fn settle(&mut self, more: &[f64]) -> bool {
        let mut changed = false;
        for stretch in &mut self.stretches {
            let known = |feed: &f64| stretch.feeds.iter().any(|f| (f - feed).abs() < SAME_FEED);
            let blocked = |feed: &f64| self.contradicted.iter().any(|(pin, _)| pin.wire_feed_m_min == *feed);
            let new: Vec<f64> = more
                .iter()
                .filter(|f| (stretch.range[0]..=stretch.range[1]).contains(*f) && !known(f) && !blocked(f))
                .copied()
                .collect();
            if !new.is_empty() {
                *stretch = self.composer.with_more(stretch, &new);
                self.base.extend(new);
                changed = true;
            }
        }
        self.base.sort_by(f64::total_cmp);
        changed
    }
}

impl Composer<'_> {
    /// What the optimum says over the feeds of the grid.
    pub(in crate::compose) fn by_optimum(&self, grid: &[f64]) -> OptimumCourse<'_> {
        if grid.is_empty() {
            return OptimumCourse {
                composer: self,
                stretches: Vec::new(),
                gaps: Vec::new(),
                contradicted: Vec::new(),
                base: Vec::new(),
            };
        }
        let contradicted = self.contradicted_pins(grid);
        let (stretches, gaps) = self.stretches(grid, &contradicted);
        let mut base: Vec<f64> = grid.iter().copied().filter(|f| self.is_base(*f)).collect();
        base.extend(stretches.iter().flat_map(|s| s.range).chain(gaps.iter().flat_map(|g| g.range)));
        for (pin, _) in &contradicted {
            let place = grid.partition_point(|g| *g < pin.wire_feed_m_min);
            base.extend(&grid[place.saturating_sub(1)..(place + 2).min(grid.len())]);
        }
        base.sort_by(f64::total_cmp);
        base.dedup();
        OptimumCourse { composer: self, stretches, gaps, contradicted, base }
    }

    /// The optimum at a feed: at a knot, or on the straight way between two, its pulse time from the melt balance.
    fn on_stretch(&self, stretch: &Stretch, feed: f64) -> Result<Judged, Refused> {
        let knots: Vec<(f64, &Composed)> =
            stretch.feeds.iter().zip(&stretch.settings).filter_map(|(f, c)| Some((*f, c.as_ref()?))).collect();
        let nothing = Refused { limits: vec![Limit::BackgroundLow], ..Refused::default() };
        let upper = knots.partition_point(|k| k.0 < feed - SAME_FEED);
        let judge = |composed: Composed, pin: Option<&Pin>, relative: f64| {
            let mut judged = self.judge(feed, composed, pin, relative)?;
            let one_drop = self.one_drop_probability(&judged.composed.wave);
            judged.one_drop = Some(one_drop);
            if one_drop.interval[0] >= self.study.line.one_drop_floor {
                Ok(judged)
            } else {
                Err(Refused { limits: vec![Limit::OneDropLow], pin: judged.pin, ..Refused::default() })
            }
        };
        match (upper.checked_sub(1).and_then(|i| knots.get(i)), knots.get(upper)) {
            (_, Some(&(at, composed))) if (at - feed).abs() < SAME_FEED => {
                judge(composed.clone(), self.pin(feed), ROUNDING)
            }
            (Some(&low), Some(&high)) => {
                let between = self.ground.between(low, high, feed).ok_or(nothing)?;
                // What lies between knots keeps limits as nearly as what lies between nodes; a node there is settled
                // in its own right.
                judge(between, None, self.study.line.interpolation_tolerance)
            }
            _ => Err(nothing),
        }
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
    fn stretches(&self, grid: &[f64], contradicted: &[(Pin, Refused)]) -> (Vec<Stretch>, Vec<Gap>) {
        let last = grid.len() - 1;
        let looked: Vec<usize> = (0..=last).filter(|i| i % STRIDE == 0 || *i == last).collect();
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
                None => stretches.push(self.stretch(&grid[first..=last], contradicted)),
            }
        }
        (stretches, gaps)
    }

    /// Moves ends between a stretch and a gap by up to three feeds into the stretch, where there is more room.
    fn leave_room_at_ends(&self, grid: &[f64], runs: &mut [([usize; 2], Option<Refused>)]) {
        let room = |i: usize| self.ground.look(grid[i], None).map_or(f64::NEG_INFINITY, |p| p.least);
        for i in 1..runs.len() {
            for _ in 0..3 {
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

    /// The optimum along feeds that all have a setting.
    fn stretch(&self, feeds: &[f64], contradicted: &[(Pin, Refused)]) -> Stretch {
        let last = feeds.len() - 1;
        let blocked = |feed: f64| contradicted.iter().any(|(pin, _)| pin.wire_feed_m_min == feed);
        let knots: Vec<f64> = feeds
            .iter()
            .enumerate()
            .filter(|&(i, &f)| (i == 0 || i == last || self.is_base(f)) && (!blocked(f) || i == 0 || i == last))
            .map(|(_, f)| *f)
            .collect();
        let pins: Vec<Pin> = self.study.line.pins.iter().filter(|p| !blocked(p.wire_feed_m_min)).copied().collect();
        let pin = |feed: f64| pins.iter().find(|p| p.wire_feed_m_min == feed);
        let places: Vec<Option<Place>> = knots.par_iter().map(|&f| self.ground.look(f, pin(f))).collect();
        let (feeds_at, starts): (Vec<f64>, Vec<[f64; 3]>) =
            knots.iter().zip(places).filter_map(|(f, p)| Some((*f, p?.free))).unzip();
        let settings = self.ground.optimum(&feeds_at, &pins, &starts, false);
        Stretch { range: [feeds[0], feeds[last]], feeds: feeds_at, settings }
    }

    /// The optimum with more knots, begun from what is known.
    fn with_more(&self, stretch: &Stretch, new: &[f64]) -> Stretch {
        let mut feeds = stretch.feeds.clone();
        feeds.extend(new);
        feeds.sort_by(f64::total_cmp);
        let known: Vec<(f64, &Composed)> =
            stretch.feeds.iter().zip(&stretch.settings).filter_map(|(f, c)| Some((*f, c.as_ref()?))).collect();
        let start = |feed: f64| -> Option<[f64; 3]> {
            let upper = known.partition_point(|k| k.0 < feed - SAME_FEED);
            let near = match (upper.checked_sub(1).and_then(|i| known.get(i)), known.get(upper)) {
                (_, Some(&(at, composed))) if (at - feed).abs() < SAME_FEED => Some(composed.clone()),
                (Some(&low), Some(&high)) => self.ground.between(low, high, feed),
                _ => None,
            };
            near.map(|c| self.ground.free(&c.wave)).or_else(|| self.ground.look(feed, None).map(|p| p.free))
        };
        let (feeds, starts): (Vec<f64>, Vec<[f64; 3]>) = feeds.iter().filter_map(|&f| Some((f, start(f)?))).unzip();
        let settings = self.ground.optimum(&feeds, &self.study.line.pins, &starts, true);
        Stretch { range: stretch.range, feeds, settings }
    }
}

//! The midpoint rule over the whole grid.

use meltlaw_line::{Limit, Waveform};
use rayon::prelude::*;

use super::super::broken::ROUNDING;
use super::super::place::Course;
use super::super::{Composer, Judged, Refused};
use super::refuse_turns_and_jumps;
use crate::line::Uncertain;

/// Change of k·s below which the one-drop probability of the last look stands: it moves the probability
/// by a quarter of this at most.
const SAME_PULSE: f64 = 0.03;

/// Distance of the probability from its floor below which every feed is looked at on its own.
const NEAR_THE_FLOOR: f64 = 0.01;

/// What the rule says at every feed of the grid.
pub(in crate::compose) struct MidpointCourse<'a> {
    composer: &'a Composer<'a>,
    grid: Vec<f64>,
    judged: Vec<Result<Judged, Refused>>,
    base: Vec<f64>,
}

impl Course for MidpointCourse<'_> {
    fn base(&self) -> &[f64] {
        &self.base
    }

    fn at(&self, feed: f64) -> Result<Judged, Refused> {
        let place = self.grid.partition_point(|g| *g < feed - 1e-9);
        match self.grid.get(place).filter(|g| (**g - feed).abs() < 1e-9) {
            Some(_) => self.judged[place].clone(),
            None => self.composer.judged_by_midpoint(&[feed]).swap_remove(0),
        }
    }
}

impl Composer<'_> {
    /// What the midpoint rule says at the feeds of the grid.
    pub(in crate::compose) fn by_midpoint(&self, grid: Vec<f64>) -> MidpointCourse<'_> {
        let judged = self.judged_by_midpoint(&grid);
        let kind = |i: usize| match &judged[i] {
            Ok(j) => (true, Some(j.support), None),
            Err(r) => (false, None, Some((&r.limits, r.unsteady))),
        };
        let last = grid.len().saturating_sub(1);
        let base = (0..grid.len())
            .filter(|&i| {
                let edge = i == 0 || i == last || kind(i) != kind(i - 1) || kind(i) != kind(i + 1);
                edge || self.is_base(grid[i])
            })
            .map(|i| grid[i])
            .collect();
        MidpointCourse { composer: self, grid, judged, base }
    }

    /// What each of ascending feeds comes to: the rule, the trials' support, the one-drop probability, and whether
    /// the settings go on steadily.
    pub(in crate::compose) fn judged_by_midpoint(&self, feeds: &[f64]) -> Vec<Result<Judged, Refused>> {
        let mut judged: Vec<Result<Judged, Refused>> = feeds
            .par_iter()
            .with_min_len(16)
            .map(|&feed| {
                let pin = self.pin(feed);
                match self.midpoint.compose(feed, pin) {
                    Ok(composed) => self.judge(feed, composed, pin, ROUNDING),
                    Err(limits) => Err(Refused { limits, ..Refused::default() }),
                }
            })
            .collect();
        self.judge_probability(&mut judged);
        refuse_turns_and_jumps(feeds, &mut judged);
        judged
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
                *feed = Err(Refused { limits: vec![Limit::OneDropLow], pin: j.pin, ..Refused::default() });
            }
        }
    }
}

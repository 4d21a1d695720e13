//! What the choice of settings gained and cost: per node, and over the line beside the midpoint rule.

use super::composed::Composed;
use super::pins::but_where_it_falls;
use super::place::Placed;
use super::{Composer, Judged, Refused};
use crate::line::{BestPulse, Composing, Cost, MidpointLine};
use crate::study::ComposingRule;

/// Feeds at which the midpoint rule is asked for comparison, about.
const COMPARED: usize = 40;

impl Composer<'_> {
    /// What a setting gave up against the surest pulse and the target drop.
    pub(super) fn cost(&self, composed: &Composed) -> Cost {
        let [x, s] = self.ground.best();
        let wave = &composed.wave;
        let target = self.study.line.drop_to_wire_ratio * self.study.wire.diameter_mm;
        Cost {
            one_drop_bound: self.ground.bound_at(x, s) - self.first_order_bound(wave),
            drop_relative: composed.drop_diameter_mm / target - 1.0,
            pulse_current_a: wave.pulse_current_a - self.ground.preferred_current_a(),
            by_limit: composed.prices.iter().map(|(limit, price)| (limit.word().to_owned(), *price)).collect(),
        }
    }

    /// The first-order lower bound at a pulse.
    pub(super) fn first_order_bound(&self, wave: &meltlaw_line::Waveform) -> f64 {
        let x = (wave.pulse_current_a / self.laws.detachment.reference_current_a).ln();
        self.ground.bound_at(x, self.laws.detachment.law.s(x, wave.pulse_time_ms.ln()))
    }

    /// How the line was composed, and what the midpoint rule would have given.
    pub(super) fn summary(&self, rule: ComposingRule, placed: &Placed) -> Composing {
        let [x, s] = self.ground.best();
        let law = &self.laws.detachment;
        let meaning = match rule {
            ComposingRule::Optimised => format!(
                "along the whole line the settings cost least: the chance of not one drop, drop size off its target, pulse current off what the trials know, bends; frequency and background never fall{}, all limits are kept",
                but_where_it_falls(&placed.nodes)
            ),
            ComposingRule::Midpoint => {
                "mean pulse current of the trials, middle of the one-drop window, target drop; at limits the drop size gives way first, then the pulse current, then the place in the window".to_owned()
            }
        };
        Composing {
            rule: rule.word().to_owned(),
            meaning,
            weights: (rule == ComposingRule::Optimised).then_some(self.study.line.weights),
            best_pulse: BestPulse {
                pulse_current_a: law.reference_current_a * x.exp(),
                pulse_time_ms: law.law.log_pulse_time(s, x).exp(),
                one_drop_bound: self.ground.bound_at(x, s),
            },
            smallest_one_drop_bound: placed
                .nodes
                .iter()
                .map(|n| n.one_drop_probability.interval[0])
                .min_by(f64::total_cmp),
            usable_m_min: placed.stretches().map(|[a, b]| b.wire_feed_m_min - a.wire_feed_m_min).sum(),
            midpoint: (rule == ComposingRule::Optimised).then(|| self.beside_midpoint(placed)),
        }
    }

    fn beside_midpoint(&self, placed: &Placed) -> MidpointLine {
        let own: Vec<f64> = placed.nodes.iter().map(|n| n.wire_feed_m_min).collect();
        let one_drop_bound_beside = placed
            .nodes
            .iter()
            .zip(self.judged_by_midpoint(&own))
            .filter(|(_, judged)| judged.is_ok())
            .map(|(node, _)| self.first_order_bound(&node.waveform()))
            .min_by(f64::total_cmp);
        let grid = self.grid();
        let step = (grid.len() / COMPARED).max(1);
        let mut places: Vec<usize> = (0..grid.len()).step_by(step).collect();
        if places.last().is_some_and(|&last| last + 1 < grid.len()) {
            places.push(grid.len() - 1);
        }
        let feeds: Vec<f64> = places.iter().map(|&i| grid[i]).collect();
        let judged: Vec<Result<Judged, Refused>> = self.judged_by_midpoint(&feeds);
        let usable: f64 = places
            .windows(2)
            .zip(judged.windows(2))
            .map(|(places, pair)| match (pair[0].is_ok(), pair[1].is_ok()) {
                (true, true) => grid[places[1]] - grid[places[0]],
                (false, false) => 0.0,
                // An end of a stretch lies between: every feed of the grid is asked.
                _ => {
                    let feeds = &grid[places[0]..=places[1]];
                    usable_m_min(feeds, &self.judged_by_midpoint(feeds))
                }
            })
            .sum();
        MidpointLine {
            smallest_one_drop_bound: judged
                .iter()
                .filter_map(|j| Some(self.first_order_bound(&j.as_ref().ok()?.composed.wave)))
                .min_by(f64::total_cmp),
            one_drop_bound_beside,
            usable_m_min: usable,
        }
    }
}

/// Between neighbouring feeds that both have a setting.
fn usable_m_min(feeds: &[f64], judged: &[Result<Judged, Refused>]) -> f64 {
    feeds
        .windows(2)
        .zip(judged.windows(2))
        .filter(|(_, pair)| pair.iter().all(Result::is_ok))
        .map(|(feeds, _)| feeds[1] - feeds[0])
        .sum()
}

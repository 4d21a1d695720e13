//! What ends the usable feeds, and which trial would move an end by how much. To first order: laws and settings
//! are held, and the settings are carried on in a straight line beyond the last node.

use meltlaw_line::Limit;

use super::Composer;
use super::reasons::{together, variable};
use super::support::{Beyond, Edge, Knowledge, Place};
use crate::line::{FurtherTrial, Node, RangeEnd, Unsupported};

/// Step in which an end is looked for.
const STEP_M_MIN: f64 = 0.01;

/// How far beyond the last node the data are looked at for what ends the feeds: settings that bend there may
/// reach the limit a little earlier than a straight line.
const LOOK_M_MIN: f64 = 0.2;

/// Distance of the two nodes that a straight line is laid through.
const BASE_M_MIN: f64 = 0.2;

/// Nodes of one usable stretch as places, in ascending feed.
struct Path(Vec<(f64, Place)>);

impl Path {
    /// Linear between nodes, and beyond them through the last one and the first that lies `BASE_M_MIN` inward.
    fn at(&self, feed: f64) -> Option<Place> {
        let nodes = &self.0;
        let (first, last) = (nodes.first()?, nodes.last()?);
        let (a, b) = if feed <= first.0 {
            (first, nodes.iter().find(|n| n.0 - first.0 >= BASE_M_MIN).unwrap_or(last))
        } else if feed >= last.0 {
            (nodes.iter().rfind(|n| last.0 - n.0 >= BASE_M_MIN).unwrap_or(first), last)
        } else {
            let above = nodes.partition_point(|n| n.0 <= feed);
            (&nodes[above - 1], &nodes[above])
        };
        let t = if b.0 > a.0 { (feed - a.0) / (b.0 - a.0) } else { 0.0 };
        let mix = |p: f64, q: f64| p + t * (q - p);
        Some(Place {
            wire_feed_mm_s: feed / 0.06,
            current_mean_a: mix(a.1.current_mean_a, b.1.current_mean_a),
            mean_square_a2: mix(a.1.mean_square_a2, b.1.mean_square_a2),
            detachment_s: mix(a.1.detachment_s, b.1.detachment_s),
            log_pulse_current: mix(a.1.log_pulse_current, b.1.log_pulse_current),
        })
    }

    /// The first feed from `from` towards `to` that the data do not carry, and where they end.
    fn first_refused(&self, knowledge: &Knowledge<'_>, from: f64, to: f64) -> Option<(f64, Vec<Beyond>)> {
        let steps = ((to - from).abs() / STEP_M_MIN).round() as usize;
        let sign = (to - from).signum();
        (1..=steps).map(|i| from + sign * i as f64 * STEP_M_MIN).find_map(|feed| {
            let beyond = knowledge.judge(&self.at(feed)?).err()?;
            Some((feed, beyond))
        })
    }

    /// The last feed from `from` towards `to` that the data carry without a break.
    fn reach(&self, knowledge: &Knowledge<'_>, from: f64, to: f64) -> f64 {
        let refused = self.first_refused(knowledge, from, to).map(|(feed, _)| feed);
        refused.map_or(to, |feed| feed - (to - from).signum() * STEP_M_MIN)
    }
}

impl Composer<'_> {
    /// The ends of every usable stretch of feeds, ascending.
    pub(super) fn range_ends(&self, nodes: &[Node], gaps: &[Unsupported]) -> Vec<RangeEnd> {
        let mut ends = Vec::new();
        let mut start = 0;
        while start < nodes.len() {
            let parted = |pair: &[Node]| {
                gaps.iter().any(|gap| gap.lies_between(pair[0].wire_feed_m_min, pair[1].wire_feed_m_min))
            };
            let end = nodes[start..].windows(2).position(parted).map_or(nodes.len() - 1, |i| start + i);
            let path = Path(nodes[start..=end].iter().map(|n| (n.wire_feed_m_min, self.place_of(n))).collect());
            ends.push(self.range_end(&path, gaps, false));
            ends.push(self.range_end(&path, gaps, true));
            start = end + 1;
        }
        ends.into_iter().flatten().collect()
    }

    fn place_of(&self, node: &Node) -> Place {
        let law = &self.laws.detachment;
        let x = (node.pulse_current_a / law.reference_current_a).ln();
        Place {
            wire_feed_mm_s: node.wire_feed_m_min / 0.06,
            current_mean_a: node.current_mean_a,
            mean_square_a2: node.current_rms_a.powi(2),
            detachment_s: law.law.s(x, node.pulse_time_ms.ln()),
            log_pulse_current: x,
        }
    }

    fn range_end(&self, path: &Path, gaps: &[Unsupported], high: bool) -> Option<RangeEnd> {
        let end = if high { path.0.last()?.0 } else { path.0.first()?.0 };
        let inner = if high { path.0.first()?.0 } else { path.0.last()?.0 };
        let sign = if high { 1.0 } else { -1.0 };
        let asked = self.study.line.wire_feed_m_min[usize::from(high)];
        let gap = gaps
            .iter()
            .filter(|g| sign * (g.wire_feed_m_min[usize::from(!high)] - end) > 0.0)
            .min_by(|a, b| (a.wire_feed_m_min[0] - end).abs().total_cmp(&(b.wire_feed_m_min[0] - end).abs()));
        let mut found = RangeEnd {
            wire_feed_m_min: end,
            side: if high { "high" } else { "low" }.to_owned(),
            limits: gap.map(|g| g.limits.clone()).unwrap_or_default(),
            variable: None,
            together: None,
            limit_value: None,
            trial: None,
            further_trial: None,
            without_trial_m_min: None,
            reason: gap.map_or_else(|| "no feed beyond this was asked for".to_owned(), |g| g.reason.clone()),
        };
        let by_data = |limit: &String| [Limit::DataLow, Limit::DataHigh].iter().any(|l| l.word() == limit);
        if !found.limits.iter().any(by_data) {
            return Some(found);
        }
        let Some((_, beyond)) = path.first_refused(&self.knowledge, end, end + sign * LOOK_M_MIN) else {
            return Some(found);
        };
        let &(edge, side) = beyond.first()?;
        found.trial = self.knowledge.trial_at((edge, side)).map(str::to_owned);
        let name = match edge {
            Edge::Range(name) => {
                let extended = self.knowledge.validity().get(name)?.extended;
                found.limit_value = Some(extended[usize::from(side == Limit::DataHigh)]);
                name
            }
            Edge::Together(law, name) => {
                found.together = Some(law.to_owned());
                name
            }
        };
        found.variable = Some(name.to_owned());
        let feed = rounded(end + sign * self.study.line.step_m_min);
        let welded = path.at(feed)?;
        let reach = path.reach(&self.knowledge.with_trial_at(&welded), end, asked);
        let value = self.knowledge.value(name, &welded);
        found.further_trial = Some(FurtherTrial { wire_feed_m_min: feed, value, end_m_min: rounded(reach) });
        if let Some(trial) = &found.trial {
            let less = self.knowledge.without_trial(trial);
            // From the end inwards: the first feed that is still carried.
            let steps = ((end - inner).abs() / STEP_M_MIN).round() as usize;
            let carried = (0..=steps)
                .map(|i| end - sign * i as f64 * STEP_M_MIN)
                .find(|f| path.at(*f).is_some_and(|place| less.judge(&place).is_ok()));
            found.without_trial_m_min = carried.map(rounded);
        }
        found.reason = self.end_in_words(&found, edge, name);
        Some(found)
    }

    fn end_in_words(&self, end: &RangeEnd, edge: Edge, name: &str) -> String {
        let what = variable(name);
        let mut words = match edge {
            Edge::Range(_) => {
                let limit = end.limit_value.map(|v| self.in_unit(name, v)).unwrap_or_default();
                let by = 100.0 * self.study.line.extended_by;
                let set = end.trial.as_ref().map(|t| format!(", set by trial {t}")).unwrap_or_default();
                format!("the {what} reaches {limit}, {by:.0} % of the trials' range beyond it{set}")
            }
            Edge::Together(law, _) => {
                let set = end.trial.as_ref().map(|t| format!("; trial {t} goes farthest")).unwrap_or_default();
                format!(
                    "{} each lie within their ranges, but no trial has that {what} with the others{set}",
                    together(law)
                )
            }
        };
        if let Some(t) = &end.further_trial {
            let (value, feed) = (self.in_unit(name, t.value), t.wire_feed_m_min);
            words.push_str(&format!(
                "; a trial with {value} of {what}, welded as the line goes on at {feed} m/min, would move the end from {} to {} m/min as far as data count",
                end.wire_feed_m_min, t.end_m_min
            ));
        }
        if let (Some(trial), Some(feed)) = (&end.trial, end.without_trial_m_min) {
            words.push_str(&format!("; without trial {trial} the feeds would end at {feed} m/min"));
        }
        words
    }
}

/// To a hundred-thousandth of m/min.
fn rounded(feed: f64) -> f64 {
    (feed * 1e5).round() / 1e5
}

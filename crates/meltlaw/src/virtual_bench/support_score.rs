//! What `covered` and `extended` are worth: the nodes of a line asked for beyond the trials, held against the truth
//! by their support, where the laws hold everywhere and where they end with the trials.

use super::kinds::Lab;
use super::line_score::{melting_rate, one_drop, voltage};
use crate::compose::compose;
use crate::fit::fit_laws;
use crate::laws::{JointRegion, TrialCloud};
use crate::line::{Line, Node};
use crate::study::Study;

/// Feeds asked for on either side of the trials' own, over their range.
const BEYOND: f64 = 0.4;

/// Steps of the line over the trials' range.
const STEPS: f64 = 8.0;

/// The default of `[line].extended_by`.
const EXTENDED_BY: f64 = 0.15;

/// `[line].extended_by` of the line whose nodes stand in for those that support refuses.
const FAR: f64 = 1.0;

/// What an invented process departs from the laws by, at twice the distance of the farthest trial: share of the
/// melting rate, and volts.
const DEPARTURE: (f64, f64) = (0.12, 1.0);

/// How far the trials carry a node.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reach {
    /// `covered`.
    Covered,
    /// `extended`.
    Extended,
    /// No node for want of data: scored as though support carried it all the same.
    Refused,
}

impl Reach {
    /// All, nearest first.
    pub const ALL: [Self; 3] = [Self::Covered, Self::Extended, Self::Refused];

    /// Name in tables.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Covered => "covered",
            Self::Extended => "extended",
            Self::Refused => "refused",
        }
    }
}

/// Numbers of a node that are held against the truth.
pub const SUPPORTED: [&str; 3] = ["melting_rate", "one_drop_probability", "voltage_mean"];

/// One node's number held against the truth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SupportScored {
    /// How far the trials carry the node.
    pub reach: Reach,
    /// Place in [`SUPPORTED`].
    pub quantity: usize,
    /// Whether the node is the lowest and whether it is the highest of its reach.
    pub at_end: [bool; 2],
    /// Whether the stated interval holds the truth where the laws hold everywhere.
    pub held: bool,
    /// The same where the process departs from the laws beyond the trials.
    pub held_departing: bool,
}

/// Fits a laboratory's trials, composes a line well beyond them, and holds melting rate, one-drop probability and
/// voltage of every node against the truth.
///
/// As in the recovery study neither the one-drop floor nor the melting rate's error ends the line: a node that
/// exists only where its own interval came out narrow would be judged by its luck. The process that departs keeps
/// the laws as far out as the farthest true trial and leaves them with the square of the distance beyond.
pub fn examine_support(lab: &Lab) -> Vec<SupportScored> {
    let mut study = lab.study.clone();
    study.numerics.seed = lab.seed.wrapping_add(lab.number);
    let [slow, fast] = lab.truth.wire_feed_m_min;
    let (span, hundredths) = (fast - slow, |v: f64| (v * 100.0).round() / 100.0);
    study.line.wire_feed_m_min = [hundredths((slow - BEYOND * span).max(0.5)), hundredths(fast + BEYOND * span)];
    study.line.step_m_min = hundredths(span / STEPS);
    study.line.extended_by = EXTENDED_BY;
    let fitted = fit_laws(&study, &lab.trials);
    let line = compose(&study, &fitted.laws, &fitted.calibration);
    let mut far = study.clone();
    far.line.extended_by = FAR;
    let far_line = compose(&far, &fitted.laws, &fitted.calibration);
    let departure = Departure::new(lab);
    let mut scored = Vec::new();
    for reach in Reach::ALL {
        let nodes: Vec<&Node> = match reach {
            Reach::Refused => far_line.nodes.iter().filter(|node| refused_for_data(&line, node)).collect(),
            _ => line.nodes.iter().filter(|node| node.support == reach.name()).collect(),
        };
        let last = nodes.len().saturating_sub(1);
        for (i, node) in nodes.into_iter().enumerate() {
            let numbers = [melting_rate(&study, lab, &fitted.laws, node), one_drop(lab, node), voltage(lab, node)];
            let off = departure.of(&study, node);
            let departs = [-DEPARTURE.0 * off * numbers[0].0, 0.0, DEPARTURE.1 * off];
            for (quantity, (truth, _, _, [low, high])) in numbers.into_iter().enumerate() {
                let holds = |truth: f64| low <= truth && truth <= high;
                scored.push(SupportScored {
                    reach,
                    quantity,
                    at_end: [i == 0, i == last],
                    held: holds(truth),
                    held_departing: holds(truth + departs[quantity]),
                });
            }
        }
    }
    scored
}

fn refused_for_data(line: &Line, node: &Node) -> bool {
    line.unsupported.iter().any(|gap| {
        let [low, high] = gap.wire_feed_m_min;
        let of_data = gap.limits.iter().any(|l| l.starts_with("data_"));
        of_data && (low..=high).contains(&node.wire_feed_m_min)
    })
}

/// How far a node lies beyond the true trials.
struct Departure {
    region: Option<JointRegion>,
    farthest: f64,
}

impl Departure {
    fn new(lab: &Lab) -> Self {
        let names: Vec<String> = (0..lab.welds.len()).map(|row| format!("T{row}")).collect();
        let current = lab.welds.iter().map(|w| w.current_mean_a).collect();
        let heated = lab.welds.iter().map(|w| w.extension_mm * w.mean_square_a2).collect();
        let cloud =
            TrialCloud::new(&names, &[("current_mean_a", current), ("extension_rms_squared_mm_a2", heated)], &[]);
        Self { region: JointRegion::new(&cloud), farthest: cloud.farthest.map_or(f64::INFINITY, |f| f.value) }
    }

    /// (d/d of the farthest trial − 1)², zero within.
    fn of(&self, study: &Study, node: &Node) -> f64 {
        let extension = study.bench.ctwd_mm - study.bench.arc_length_mm;
        let place = [node.current_mean_a, extension * node.current_rms_a.powi(2)];
        let d = self.region.as_ref().map_or(0.0, |region| region.distance(&place));
        (d / self.farthest - 1.0).max(0.0).powi(2)
    }
}

/// Many laboratories' nodes by their support.
#[derive(Debug, Clone, Default)]
pub struct SupportTally(Vec<Vec<SupportScored>>);

impl SupportTally {
    /// From laboratories in any order.
    pub fn new(labs: Vec<Vec<SupportScored>>) -> Self {
        Self(labs)
    }

    /// Share of nodes whose interval misses the truth, where the laws hold everywhere and where the process
    /// departs from them, and the number of nodes.
    pub fn missed(&self, reach: Reach, quantity: usize) -> ([f64; 2], usize) {
        let all: Vec<&SupportScored> =
            self.0.iter().flatten().filter(|s| s.reach == reach && s.quantity == quantity).collect();
        let share =
            |held: fn(&SupportScored) -> bool| all.iter().filter(|s| !held(s)).count() as f64 / all.len() as f64;
        ([share(|s| s.held), share(|s| s.held_departing)], all.len())
    }

    /// How many laboratories' lowest (0) or highest (1) node of a reach miss the truth, and of how many: one node
    /// of each laboratory, so that they are independent.
    pub fn missed_at_end(&self, reach: Reach, quantity: usize, end: usize) -> (u64, u64) {
        let of = |lab: &Vec<SupportScored>| {
            lab.iter().find(|s| s.reach == reach && s.quantity == quantity && s.at_end[end]).map(|s| s.held)
        };
        let all: Vec<bool> = self.0.iter().filter_map(of).collect();
        (all.iter().filter(|held| !**held).count() as u64, all.len() as u64)
    }
}

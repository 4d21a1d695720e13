//! From laws to a line. `settings` is the composing rule at one feed, `room` what the limits leave it,
//! `support` judges how far the trials carry it, `steadiness` keeps settings from turning back or jumping,
//! `node` works out all that is known about one, `place` decides where nodes stand and where the line has
//! gaps.

mod broken;
mod draws;
mod influence;
mod laws_at_work;
mod node;
mod place;
mod process;
mod reasons;
mod room;
mod search;
mod settings;
mod steadiness;
mod support;
mod window;

pub use draws::{Draw, draw_all};
pub use laws_at_work::{CommonError, DetachmentAtWork, LawsAtWork, LeastSquaresAtWork};
pub use process::{balancing_background_a, balancing_frequency_hz, melting_mm_s, power_w, voltage_v};
pub use settings::Composed;

use meltlaw_line::{Limit, Support};

use crate::fit::detachment::QUADRATURE_POINTS;
use crate::laws::{CalibrationEffect, Laws};
use crate::line::{Interpolation, Line, Node, StandingRange, Uncertain, Unsupported};
use crate::statistics::GaussHermite;
use crate::study::Study;
use settings::Rule;
use support::{Beyond, Knowledge, Place};
use window::Window;

/// Everything that composing needs, made once per line.
struct Composer<'a> {
    study: &'a Study,
    laws: &'a LawsAtWork,
    rule: Rule<'a>,
    knowledge: Knowledge<'a>,
    draws: &'a [Draw],
    quadrature: GaussHermite,
}

/// What one feed comes to before its node is worked out.
struct Judged {
    composed: Composed,
    support: Support,
    pinned: bool,
    /// Where it was worked out for this very pulse.
    one_drop: Option<Uncertain>,
}

/// Why a feed has no setting.
#[derive(Debug, Clone, PartialEq, Default)]
struct Refused {
    limits: Vec<Limit>,
    /// Variables at which the data end.
    beyond: Vec<Beyond>,
    /// The settings would turn back or jump here.
    unsteady: bool,
}

/// The settings at single feeds, ascending, as the line composes them; the limits in the way where there
/// is none. Without usable laws the answer is `law_missing` for every feed.
///
/// For tests and drawings of how settings change with feed: a line asks at far fewer feeds.
pub fn settings_at(
    study: &Study,
    laws: &Laws,
    calibration: &[CalibrationEffect],
    feeds_m_min: &[f64],
) -> Vec<Result<Composed, Vec<Limit>>> {
    let found = with_composer(study, laws, calibration, |composer| {
        composer.judged(feeds_m_min).into_iter().map(|j| j.map(|j| j.composed).map_err(|r| r.limits)).collect()
    });
    found.unwrap_or_else(|| vec![Err(vec![Limit::LawMissing]); feeds_m_min.len()])
}

/// Composes the line that the study asks for from the laws.
///
/// A line without a node is an answer too: `unsupported` then says why.
pub fn compose(study: &Study, laws: &Laws, calibration: &[CalibrationEffect]) -> Line {
    with_composer(study, laws, calibration, |composer| composer.line(laws)).unwrap_or_else(|| nothing(study, laws))
}

/// Makes what composing needs and uses it; `None` where a law is missing or its record incomplete.
fn with_composer<T>(
    study: &Study,
    laws: &Laws,
    calibration: &[CalibrationEffect],
    compose: impl FnOnce(&Composer<'_>) -> T,
) -> Option<T> {
    let at_work = LawsAtWork::new(laws, calibration, study.numerics.confidence)?;
    let measured = *laws.detachment.range.get("log_pulse_current")?;
    let draws = draw_all(&at_work, study.numerics.seed, study.numerics.draws);
    let quadrature = GaussHermite::new(QUADRATURE_POINTS);
    let log_current = preferred_log_current(laws, measured);
    let window = Window::new(&at_work, log_current, study.line.one_drop_floor, study.numerics.confidence, &quadrature);
    let composer = Composer {
        study,
        laws: &at_work,
        rule: Rule::new(study, &at_work, log_current, measured, window),
        knowledge: Knowledge::new(study, laws, &at_work),
        draws: &draws,
        quadrature,
    };
    Some(compose(&composer))
}

/// Mean of ln(I_p/I₀) over the trials used for detachment, kept in the law's record; the middle of the
/// range for records of other programs that lack it.
fn preferred_log_current(laws: &Laws, measured: [f64; 2]) -> f64 {
    laws.detachment.mean_log_pulse_current.unwrap_or(f64::midpoint(measured[0], measured[1]))
}

impl Composer<'_> {
    fn extension_mm(&self) -> f64 {
        self.study.bench.ctwd_mm - self.study.bench.arc_length_mm
    }

    /// The setting at a feed and how far the trials carry it, without the one-drop probability.
    fn judge(&self, feed: f64) -> Result<Judged, Refused> {
        let pin = self.study.line.pins.iter().find(|p| p.wire_feed_m_min == feed);
        let composed = self.rule.compose(feed, pin).map_err(|limits| Refused { limits, ..Refused::default() })?;
        let m = composed.wave.moments();
        let w = feed / 0.06;
        let mut refused = Refused { limits: broken::broken(self.study, &composed, m.mean_a), ..Refused::default() };
        let x = (composed.wave.pulse_current_a / self.laws.detachment.reference_current_a).ln();
        let place = Place {
            wire_feed_mm_s: w,
            current_mean_a: m.mean_a,
            mean_square_a2: m.mean_square_a2,
            detachment_s: self.laws.detachment.law.s(x, composed.wave.pulse_time_ms.ln()),
            log_pulse_current: x,
        };
        let support = match self.knowledge.judge(&place) {
            Ok(support) => support,
            Err(beyond) => {
                refused.limits.extend(beyond.iter().map(|(_, side)| *side));
                refused.beyond = beyond;
                Support::Extended
            }
        };
        if !(self.melting_rate_relative_se(m.mean_a, m.mean_square_a2, w)
            <= self.study.line.extended_melting_rate_relative_se)
        {
            refused.limits.push(Limit::MeltingRateUncertain);
        }
        refused.limits.sort();
        refused.limits.dedup();
        if refused.limits.is_empty() {
            Ok(Judged { composed, support, pinned: pin.is_some(), one_drop: None })
        } else {
            Err(refused)
        }
    }

    fn line(&self, record: &Laws) -> Line {
        let placed = self.place();
        let interpolation = self.interpolation(&placed.nodes, &placed.unsupported);
        let standing = match (placed.nodes.first(), placed.nodes.last()) {
            (Some(first), Some(last)) => vec![StandingRange {
                state: "proposed".to_owned(),
                wire_feed_m_min: [first.wire_feed_m_min, last.wire_feed_m_min],
                rule: None,
                evidence: None,
                date: None,
                by: None,
            }],
            _ => Vec::new(),
        };
        Line {
            standing,
            interpolation,
            validity: self.knowledge.validity(),
            unsupported: placed.unsupported,
            influence: self.influence(record, &placed.nodes),
            nodes: placed.nodes,
            composing: None,
            admissible: Vec::new(),
        }
    }

    /// The largest relative melt balance error of linear interpolation, on a grid of 0.01 m/min.
    fn interpolation(&self, nodes: &[Node], gaps: &[Unsupported]) -> Interpolation {
        let largest = nodes
            .windows(2)
            .filter(|pair| !gaps.iter().any(|g| g.lies_between(pair[0].wire_feed_m_min, pair[1].wire_feed_m_min)))
            .map(|pair| self.balance_error(&pair[0], &pair[1]))
            .fold(0.0, f64::max);
        let none = nodes.is_empty();
        Interpolation {
            rule: "linear in wire feed between nodes".to_owned(),
            largest_relative_melt_balance_error: (!none).then_some(largest),
            reason: none.then(|| "the line has no node".to_owned()),
        }
    }
}

/// A line without nodes because a law is missing.
fn nothing(study: &Study, laws: &Laws) -> Line {
    let missing = laws.missing();
    let why: Vec<String> = laws
        .by_name()
        .into_iter()
        .filter(|(_, law)| !law.ended.usable)
        .map(|(name, law)| format!("{}: {}", name.replace('_', " "), law.ended.reason))
        .collect();
    let reason = if missing.is_empty() {
        "the record of a law is incomplete: fit the study again".to_owned()
    } else {
        format!("the line needs all three laws. {}", why.join("; "))
    };
    Line {
        standing: Vec::new(),
        interpolation: Interpolation {
            rule: "linear in wire feed between nodes".to_owned(),
            largest_relative_melt_balance_error: None,
            reason: Some("the line has no node".to_owned()),
        },
        validity: std::collections::BTreeMap::new(),
        unsupported: vec![Unsupported {
            wire_feed_m_min: study.line.wire_feed_m_min,
            limits: vec![Limit::LawMissing.word().to_owned()],
            reason,
        }],
        nodes: Vec::new(),
        influence: Vec::new(),
        composing: None,
        admissible: Vec::new(),
    }
}

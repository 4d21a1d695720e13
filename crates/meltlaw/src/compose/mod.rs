//! From laws to a line. Two rules choose settings: `optimum` along the whole line, `midpoint` feed by feed;
//! `support` judges how far the trials carry a setting, `place` decides where nodes stand and where the line has
//! gaps, `node` works out all that is known about one. `shift` recomposes a setting of a finished line for another arc
//! length or drop size.

mod broken;
mod composed;
pub(crate) mod draws;
mod drift;
mod influence;
pub(crate) mod laws_at_work;
mod midpoint;
mod node;
mod optimum;
mod pins;
mod place;
pub(crate) mod process;
mod range_ends;
mod reasons;
mod region;
mod shift;
mod shift_setting;
mod shift_words;
mod summary;
mod support;

pub use composed::Composed;
pub use draws::{Draw, draw_all};
pub use laws_at_work::{CommonError, DetachmentAtWork, LawsAtWork, LeastSquaresAtWork};
pub use process::{balancing_background_a, balancing_frequency_hz, melting_mm_s, power_w, voltage_v};
pub use shift::{Change, Changes, Shift, ShiftError, Shifted, shifted};
pub(crate) use shift::{ShiftedCurve, along_shifted};

use meltlaw_line::{Limit, Support};

use crate::fit::detachment::QUADRATURE_POINTS;
use crate::laws::{CalibrationEffect, Laws};
use crate::line::{Interpolation, Line, StandingRange, Uncertain, Unsupported};
use crate::statistics::GaussHermite;
use crate::study::{ComposingRule, Pin, Study};
use broken::broken;
use midpoint::{Rule, Window};
use optimum::{Bound, Ground};
use place::{Course, Placed};
use support::{Beyond, Knowledge, Place};

/// Everything that composing needs, made once per line.
struct Composer<'a> {
    study: &'a Study,
    laws: &'a LawsAtWork,
    midpoint: Rule<'a>,
    ground: Ground<'a>,
    knowledge: Knowledge<'a>,
    draws: &'a [Draw],
    quadrature: GaussHermite,
}

/// What one feed comes to before its node is worked out.
#[derive(Debug, Clone)]
struct Judged {
    composed: Composed,
    support: Support,
    /// Settings that the study fixes here.
    pin: Option<Pin>,
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
    /// The pin that nothing can keep.
    pin: Option<Pin>,
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
        let judged = match study.line.composing {
            ComposingRule::Midpoint => composer.judged_by_midpoint(feeds_m_min),
            ComposingRule::Optimised => {
                let course = composer.by_optimum(&composer.grid());
                feeds_m_min.iter().map(|&feed| course.at(feed)).collect()
            }
        };
        judged.into_iter().map(|j| j.map(|j| j.composed).map_err(|r| r.limits)).collect()
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
    let confidence = study.numerics.confidence;
    let knowledge = Knowledge::new(study, laws, &at_work);
    let currents = log_currents(study, &at_work, measured);
    let window = Window::new(&at_work, log_current, study.line.one_drop_floor, confidence, &quadrature);
    let bound = Bound::new(&at_work, confidence, currents.map(|c| c.0), log_current, &quadrature);
    let composer = Composer {
        study,
        laws: &at_work,
        midpoint: Rule::new(study, &at_work, log_current, currents, window),
        ground: Ground::new(study, &at_work, &knowledge, bound, log_current, currents),
        knowledge,
        draws: &draws,
        quadrature,
    };
    Some(compose(&composer))
}

/// ln(I_p/I₀) that source and data allow, with the limit at either end.
fn log_currents(study: &Study, laws: &LawsAtWork, measured: [f64; 2]) -> [(f64, Limit); 2] {
    let widened = study.line.extended_by * (measured[1] - measured[0]);
    let reference = laws.detachment.reference_current_a;
    let source = study.source.current_a.unwrap_or([0.0, f64::INFINITY]).map(|a| (a / reference).ln());
    let low = if source[0] > measured[0] - widened {
        (source[0], Limit::CurrentLow)
    } else {
        (measured[0] - widened, Limit::DataLow)
    };
    let high = if source[1] < measured[1] + widened {
        (source[1], Limit::CurrentHigh)
    } else {
        (measured[1] + widened, Limit::DataHigh)
    };
    [low, high]
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

    fn pin(&self, feed: f64) -> Option<&Pin> {
        self.study.line.pins.iter().find(|p| p.wire_feed_m_min == feed)
    }

    /// Whether a composed setting keeps all limits up to `relative` and how far the trials carry it, without the
    /// one-drop probability.
    fn judge(&self, feed: f64, composed: Composed, pin: Option<&Pin>, relative: f64) -> Result<Judged, Refused> {
        let m = composed.wave.moments();
        let w = feed / 0.06;
        let mut refused = Refused {
            limits: broken(self.study, &composed, m.mean_a, relative),
            pin: pin.copied(),
            ..Refused::default()
        };
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
        // The optimum leans on this limit as on the others, from inside.
        let most = self.study.line.extended_melting_rate_relative_se * (1.0 + relative);
        if !(self.melting_rate_relative_se(m.mean_a, m.mean_square_a2, w) <= most) {
            refused.limits.push(Limit::MeltingRateUncertain);
        }
        refused.limits.sort();
        refused.limits.dedup();
        if refused.limits.is_empty() {
            Ok(Judged { composed, support, pin: pin.copied(), one_drop: None })
        } else {
            Err(refused)
        }
    }

    fn line(&self, record: &Laws) -> Line {
        let rule = self.study.line.composing;
        let grid = self.grid();
        let mut placed = match (self.knowledge.too_far(), rule) {
            (Some(beyond), _) => self.nowhere(beyond),
            (None, ComposingRule::Optimised) => self.place(&mut self.by_optimum(&grid)),
            (None, ComposingRule::Midpoint) => self.place(&mut self.by_midpoint(grid)),
        };
        let interpolation = self.interpolation(&placed);
        pins::tell_falls(&mut placed.nodes);
        let composing = self.summary(rule, &placed);
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
            range_ends: self.range_ends(&placed.nodes, &placed.unsupported),
            unsupported: placed.unsupported,
            influence: self.influence(record, &placed.nodes),
            composing: Some(composing),
            admissible: self.admissible(&placed.nodes),
            nodes: placed.nodes,
        }
    }

    /// No setting at any feed that was asked for, for one reason.
    fn nowhere(&self, beyond: Beyond) -> Placed {
        let refused = Refused { limits: vec![beyond.1], beyond: vec![beyond], ..Refused::default() };
        let gap = self.unsupported(self.study.line.wire_feed_m_min, &refused);
        Placed { nodes: Vec::new(), unsupported: vec![gap] }
    }

    /// The largest errors of linear interpolation: melt balance on a grid of 0.01 m/min, one-drop probability at the
    /// quarters of each stretch.
    fn interpolation(&self, placed: &Placed) -> Interpolation {
        let [balance, one_drop] = placed
            .stretches()
            .map(|pair| {
                let [a, b] = pair.map(|n| (n.wire_feed_m_min, n.waveform()));
                [self.balance_error(a, b), self.one_drop_error(&a.1, &b.1)]
            })
            .fold([0.0, 0.0], |[a, b], [c, d]| [f64::max(a, c), f64::max(b, d)]);
        let none = placed.nodes.is_empty();
        Interpolation {
            rule: "linear in wire feed between nodes".to_owned(),
            largest_relative_melt_balance_error: (!none).then_some(balance),
            largest_one_drop_probability_error: (!none).then_some(one_drop),
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
            largest_one_drop_probability_error: None,
            reason: Some("the line has no node".to_owned()),
        },
        validity: std::collections::BTreeMap::new(),
        range_ends: Vec::new(),
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

//! A setting of a line at another arc length or drop size, recomposed by the laws: physical quantities
//! shift, and what the laws ask for follows.

use meltlaw_line::{Limit, Waveform};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Composer, shift_words, with_composer};
use crate::line::Node;
use crate::line_at::{NoSetting, at};
use crate::line_study::LineStudyError;
use crate::record::LineRecord;
use crate::short_number::short_number;
use crate::study::{Conditions, Study};
use crate::support_words::support_words;

/// What a setting of the line is asked to be shifted to.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Shift {
    /// Arc length; the contact-tip-to-work distance is held, so the extension takes up the difference.
    pub arc_length_mm: Option<f64>,
    /// Drop diameter over wire diameter.
    pub drop_to_wire_ratio: Option<f64>,
}

/// A shifted setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Shifted {
    /// What was asked for.
    pub asked: Shift,
    /// Conditions under which the shifted setting holds.
    pub conditions: Conditions,
    /// The setting with all that is known about it; limits and support are its own.
    pub setting: Node,
    /// Why it is `covered` or weaker.
    pub support_reason: String,
    /// Against the line's setting at this feed.
    pub changes: Changes,
}

/// A quantity before and after the shift.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Change {
    /// As the line sets it.
    pub from: f64,
    /// Shifted.
    pub to: f64,
}

impl Change {
    /// After minus before.
    pub fn difference(&self) -> f64 {
        self.to - self.from
    }
}

/// What a shift changes. Pulse current, pulse time and slopes never change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Changes {
    /// Arc length.
    pub arc_length_mm: Change,
    /// Electrode extension.
    pub extension_mm: Change,
    /// Drop diameter.
    pub drop_diameter_mm: Change,
    /// Pulse frequency.
    pub pulse_frequency_hz: Change,
    /// Background current.
    pub background_current_a: Change,
    /// Mean current.
    pub current_mean_a: Change,
    /// Mean voltage.
    pub voltage_mean_v: Change,
    /// Mean power.
    pub power_mean_w: Change,
}

/// Why there is no shifted setting.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ShiftError {
    /// Neither an arc length nor a drop size was asked for.
    #[error("no shift was asked for: state an arc length or a drop-to-wire ratio")]
    NothingAsked,
    /// A number that no weld can have.
    #[error("{quantity} {} cannot be welded: it must lie above 0{below}", short_number(*.value), below = .below.map_or(String::new(), |b| format!(" and below {b}")))]
    Impossible {
        /// Which quantity, with its unit.
        quantity: &'static str,
        /// What was asked for.
        value: f64,
        /// The upper end, where there is one.
        below: Option<f64>,
    },
    /// The line file does not suffice.
    #[error(transparent)]
    LineStudy(#[from] LineStudyError),
    /// The line has no setting at this feed to shift.
    #[error("{}", .0.reason)]
    NoSetting(NoSetting),
    /// Limits or missing knowledge stand in the way.
    #[error("{reason}")]
    Refused {
        /// What stands in the way.
        limits: Vec<Limit>,
        /// What was asked, what stands in the way, what to do.
        reason: String,
    },
}

/// The line's setting at a feed, recomposed for another arc length, another drop size or both.
///
/// Pulse current, pulse time and slopes are held. The frequency follows the drop volume where a drop size is
/// asked for and is held else; the background balances the melt exactly at the new extension; voltage and
/// power follow the voltage law at the new arc length. Limits and support are judged as in composing.
///
/// ```text
/// L = CTWD − a,  f = A·w / ((π/6)·drop³),  α·Ī(I_b) + β·L·I_rms²(I_b) + offset = w
/// ```
///
/// Between nodes the line's own setting balances the melt within the interpolation's tolerance, the shifted
/// one exactly: the background's change then holds that difference too.
///
/// # Units
/// m/min and mm in.
/// # Errors
/// [`ShiftError`]: nothing or something impossible asked, a line file that lacks what composing needs, no
/// setting at this feed, or limits and support that a shift would leave.
pub fn shifted(record: &LineRecord, wire_feed_m_min: f64, asked: Shift) -> Result<Shifted, ShiftError> {
    let own = record.study()?;
    asked.is_possible(own.bench.ctwd_mm)?;
    let line = at(record, wire_feed_m_min).map_err(ShiftError::NoSetting)?;
    let study = at_arc_length(&own, asked.arc_length_mm.unwrap_or(own.bench.arc_length_mm));
    let no_gradient = gradient_is_missing(record, asked, own.bench.arc_length_mm);
    let done = with_shifted(&study, record, |composer| composer.shifted(&line, asked, no_gradient));
    let Some(done) = done else { return Err(law_missing()) };
    let mut setting = done.map_err(|(limits, obstacles)| {
        let way = farthest(&own, record, &line, asked);
        ShiftError::Refused { limits, reason: shift_words::refused(wire_feed_m_min, asked, &obstacles, way) }
    })?;
    setting.notes.extend(shift_words::notes(record, wire_feed_m_min, asked));
    if no_gradient {
        setting.notes.push(shift_words::NO_GRADIENT.to_owned());
    }
    setting.pinned = line.pinned.clone();
    if asked.drop_to_wire_ratio.is_some() {
        setting.pinned.retain(|p| p != "pulse_frequency_hz");
    }
    let support_reason = if no_gradient {
        shift_words::NO_GRADIENT.to_owned()
    } else {
        support_words(record, &setting, study.bench.arc_length_mm)
    };
    let change = |of: fn(&Node) -> f64| Change { from: of(&line), to: of(&setting) };
    let conditions = study.conditions();
    let changes = Changes {
        arc_length_mm: Change { from: own.bench.arc_length_mm, to: conditions.arc_length_mm },
        extension_mm: Change { from: own.conditions().extension_mm, to: conditions.extension_mm },
        drop_diameter_mm: change(|n| n.drop_diameter_mm),
        pulse_frequency_hz: change(|n| n.pulse_frequency_hz),
        background_current_a: change(|n| n.background_current_a),
        current_mean_a: change(|n| n.current_mean_a),
        voltage_mean_v: change(|n| n.voltage_mean_v),
        power_mean_w: change(|n| n.power_mean_w),
    };
    Ok(Shifted { asked, conditions, setting, support_reason, changes })
}

fn law_missing() -> ShiftError {
    let reason = "the record of a law is incomplete: fit the study and compose the line again".to_owned();
    ShiftError::Refused { limits: vec![Limit::LawMissing], reason }
}

/// What a shifted setting does, whatever limits and trials say to it; not a number where no background balances it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Unjudged {
    /// Mean current.
    pub(crate) current_mean_a: f64,
    /// Heat input; none without a travel speed.
    pub(crate) heat_input_kj_mm: Option<f64>,
}

/// What a shift makes of the line's own waveform at a feed (m/min).
pub(crate) type ShiftedCurve<'a> = dyn Fn(f64, Waveform) -> Unjudged + 'a;

/// Lets `walk` ask at many feeds what shifted settings do: cheap, since nothing is drawn and nothing is judged.
///
/// # Errors
/// [`ShiftError`] as [`shifted`], but for what concerns a single feed.
pub(crate) fn along_shifted<T>(
    record: &LineRecord,
    asked: Shift,
    walk: impl FnOnce(&ShiftedCurve<'_>) -> T,
) -> Result<T, ShiftError> {
    let own = record.study()?;
    asked.is_possible(own.bench.ctwd_mm)?;
    let mut study = at_arc_length(&own, asked.arc_length_mm.unwrap_or(own.bench.arc_length_mm));
    study.numerics.draws = 0;
    with_shifted(&study, record, |composer| walk(&|feed, wave| composer.unjudged(feed, wave, asked)))
        .ok_or_else(law_missing)
}

impl Shift {
    /// Whether any weld at this contact-tip-to-work distance could have it.
    ///
    /// # Errors
    /// [`ShiftError::NothingAsked`] and [`ShiftError::Impossible`].
    pub fn is_possible(&self, ctwd_mm: f64) -> Result<(), ShiftError> {
        if self.arc_length_mm.is_none() && self.drop_to_wire_ratio.is_none() {
            return Err(ShiftError::NothingAsked);
        }
        if let Some(value) = self.arc_length_mm.filter(|a| !(*a > 0.0 && *a < ctwd_mm)) {
            return Err(ShiftError::Impossible { quantity: "arc length (mm)", value, below: Some(ctwd_mm) });
        }
        if let Some(value) = self.drop_to_wire_ratio.filter(|r| !(*r > 0.0 && r.is_finite())) {
            return Err(ShiftError::Impossible { quantity: "drop-to-wire ratio", value, below: None });
        }
        Ok(())
    }
}

/// The voltage law has no term for the arc length that is to change.
fn gradient_is_missing(record: &LineRecord, asked: Shift, own_arc_length_mm: f64) -> bool {
    let moves = asked.arc_length_mm.is_some_and(|a| a != own_arc_length_mm);
    moves && !record.laws.arc_voltage.coefficient_order.iter().any(|name| name == "gradient_v_per_mm")
}

fn at_arc_length(own: &Study, arc_length_mm: f64) -> Study {
    let mut study = own.clone();
    study.bench.arc_length_mm = arc_length_mm;
    // Pins fix the line's own settings, not shifted ones.
    study.line.pins.clear();
    study
}

fn with_shifted<T>(study: &Study, record: &LineRecord, compose: impl FnOnce(&Composer<'_>) -> T) -> Option<T> {
    with_composer(study, &record.laws, record.calibration.as_deref().unwrap_or(&[]), compose)
}

/// How far towards the asked shift limits and support go along, as the last shift on the straight way there;
/// `None` where not even the line's own arc length and drop do.
fn farthest(own: &Study, record: &LineRecord, line: &Node, asked: Shift) -> Option<Shift> {
    /// Halvings of the way: to a millionth of it.
    const HALVINGS: usize = 20;
    let own_ratio = line.drop_diameter_mm / own.wire.diameter_mm;
    let way = |part: f64| {
        let between = |from: f64, to: f64| from + part * (to - from);
        Shift {
            arc_length_mm: asked.arc_length_mm.map(|a| between(own.bench.arc_length_mm, a)),
            drop_to_wire_ratio: asked.drop_to_wire_ratio.map(|r| between(own_ratio, r)),
        }
    };
    let does = |part: f64| {
        let shift = way(part);
        let mut study = at_arc_length(own, shift.arc_length_mm.unwrap_or(own.bench.arc_length_mm));
        // Limits and support need no draws.
        study.numerics.draws = 0;
        with_shifted(&study, record, |composer| composer.weighed_shift(line, shift).is_ok()).unwrap_or(false)
    };
    if !does(0.0) {
        return None;
    }
    let (mut inside, mut outside) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(inside, outside);
        if does(middle) { inside = middle } else { outside = middle }
    }
    let last = way(inside);
    Some(Shift {
        arc_length_mm: asked
            .arc_length_mm
            .zip(last.arc_length_mm)
            .map(|(a, v)| rounded_towards(own.bench.arc_length_mm, a, v)),
        drop_to_wire_ratio: asked
            .drop_to_wire_ratio
            .zip(last.drop_to_wire_ratio)
            .map(|(a, v)| rounded_towards(own_ratio, a, v)),
    })
}

/// To a thousandth, towards where a shift starts and not beyond it, so that what is told can be asked for.
fn rounded_towards(own: f64, asked: f64, value: f64) -> f64 {
    if asked >= own { ((value * 1e3).floor() / 1e3).max(own) } else { ((value * 1e3).ceil() / 1e3).min(own) }
}

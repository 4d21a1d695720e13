//! What stands in the way of a shift, what would do instead, and what a shifted setting cannot promise, in
//! words.

use meltlaw_line::Limit;

use super::composed::Composed;
use super::reasons::meaning;
use super::shift::Shift;
use super::{Composer, Refused};
use crate::record::LineRecord;
use crate::short_number::short_number;

/// The voltage law says nothing about the arc length.
pub(super) const NO_GRADIENT: &str = "the voltage law has no term for the arc length (the trials could not tell one), so voltage and power here are those of the line's own arc length: weld trials at two arc lengths or more";

/// What was asked, what stands in the way, what to do.
pub(super) fn refused(feed_m_min: f64, asked: Shift, obstacles: &[String], farthest: Option<Shift>) -> String {
    let cure = match farthest {
        Some(shift) => format!("the line's setting carries a shift as far as {}", shift.words(3)),
        None => {
            "the line's setting at this feed, balanced exactly, does not keep them either: ask at a node of the line"
                .to_owned()
        }
    };
    format!("{} at {feed_m_min} m/min: {}; {cure}", asked.words(6), obstacles.join("; "))
}

/// What a shifted setting cannot promise.
pub(super) fn notes(record: &LineRecord, feed_m_min: f64, asked: Shift) -> Vec<String> {
    let mut notes = Vec::new();
    if asked.drop_to_wire_ratio.is_some() {
        notes.push("the detachment law knows the pulse, not the size of the drop: the one-drop probability is that of the line, so watch a few pulses".to_owned());
    }
    let between = !record.line.nodes.iter().any(|n| n.wire_feed_m_min == feed_m_min);
    if let (true, Some(error)) = (between, record.line.interpolation.largest_relative_melt_balance_error) {
        notes.push(format!(
            "between its nodes the line balances the melt within {:.2} %, the shifted setting exactly: that difference is part of the background's change",
            100.0 * error
        ));
    }
    let judged = record
        .line
        .standing
        .iter()
        .find(|s| (s.wire_feed_m_min[0]..=s.wire_feed_m_min[1]).contains(&feed_m_min) && s.state != "proposed");
    if let Some(standing) = judged {
        notes.push(format!(
            "the line is {} here at its own arc length and drop size; the shifted setting is only proposed",
            standing.state
        ));
    }
    notes
}

impl Shift {
    /// `arc length 5 mm and drops of 1.2 times the wire`, with at most so many digits after the point.
    pub fn words(&self, digits: usize) -> String {
        let shown = |v: f64| {
            let power = 10f64.powi(digits as i32);
            let rounded = (v * power).round() / power;
            short_number(if rounded.is_finite() { rounded } else { v })
        };
        let arc = self.arc_length_mm.map(|a| format!("arc length {} mm", shown(a)));
        let drop = self.drop_to_wire_ratio.map(|r| format!("drops of {} times the wire", shown(r)));
        arc.into_iter().chain(drop).collect::<Vec<_>>().join(" and ")
    }
}

impl Composer<'_> {
    /// What stands in the way of a setting, with its numbers.
    pub(super) fn obstacles(&self, composed: &Composed, refused: &Refused) -> Vec<String> {
        let mut words: Vec<String> = refused.beyond.iter().map(|&(name, side)| self.beyond(name, side)).collect();
        let told = |l: &&Limit| !matches!(l, Limit::DataLow | Limit::DataHigh);
        words.extend(refused.limits.iter().filter(told).map(|limit| self.obstacle(composed, *limit)));
        words
    }

    fn obstacle(&self, composed: &Composed, limit: Limit) -> String {
        let (source, line, wave) = (&self.study.source, &self.study.line, &composed.wave);
        let against = |what: &str, value: f64, range: Option<[f64; 2]>, high: bool, unit: &str, digits: usize| {
            let end = range.map_or(0.0, |r| r[usize::from(high)]);
            let side = if high { "above" } else { "below" };
            format!("the {what} would be {value:.digits$}{unit}, {side} its limit of {end:.digits$}{unit}")
        };
        let background = source.background_current_a;
        match limit {
            Limit::BackgroundLow if !(wave.background_current_a >= 0.0) => {
                "the pulses alone would melt more than is fed, whatever the background".to_owned()
            }
            Limit::BackgroundLow => {
                against("background current", wave.background_current_a, background, false, " A", 1)
            }
            Limit::BackgroundHigh => {
                let most = background.map_or(f64::INFINITY, |b| b[1]).min(wave.pulse_current_a);
                against("background current", wave.background_current_a, Some([0.0, most]), true, " A", 1)
            }
            Limit::CurrentLow | Limit::CurrentHigh => {
                let high = limit == Limit::CurrentHigh;
                against("mean current", wave.moments().mean_a, source.current_a, high, " A", 1)
            }
            Limit::FrequencyLow | Limit::FrequencyHigh => {
                let high = limit == Limit::FrequencyHigh;
                against("pulse frequency", wave.pulse_frequency_hz, source.pulse_frequency_hz, high, " Hz", 1)
            }
            Limit::PulseTimeLow | Limit::PulseTimeHigh => {
                against("pulse time", wave.pulse_time_ms, source.pulse_time_ms, limit == Limit::PulseTimeHigh, " ms", 3)
            }
            Limit::PulseDutyLow | Limit::PulseDutyHigh => against(
                "pulse time times frequency",
                wave.duty(),
                source.pulse_duty,
                limit == Limit::PulseDutyHigh,
                "",
                3,
            ),
            Limit::DropSmall | Limit::DropLarge => {
                let ratio = composed.drop_diameter_mm / self.study.wire.diameter_mm;
                let high = limit == Limit::DropLarge;
                against("drop-to-wire ratio", ratio, Some(line.drop_to_wire_limits), high, "", 3)
            }
            Limit::Slopes => "the slopes would leave no room for the pulse in its period".to_owned(),
            Limit::OneDropLow => format!(
                "the lower bound of the one-drop probability would be below its floor of {}",
                line.one_drop_floor
            ),
            Limit::MeltingRateUncertain => format!(
                "the melting rate would not be known within {} % (standard error)",
                100.0 * line.extended_melting_rate_relative_se
            ),
            Limit::DataLow | Limit::DataHigh | Limit::LawMissing => format!("{} ends", meaning(limit)),
        }
    }
}

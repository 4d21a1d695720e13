//! The shifted setting itself: pulse held, frequency by the drop, background by the melt balance, judged as
//! any composed setting.

use meltlaw_line::{Limit, Support, Waveform, drop_diameter_mm, drop_frequency_hz};

use super::broken::{ROUNDING, broken};
use super::composed::Composed;
use super::process::{balanced, power_w};
use super::shift::{Shift, Unjudged};
use super::{Composer, Judged, Refused};
use crate::heat::heat_input_kj_mm;
use crate::line::Node;

impl Composer<'_> {
    /// The node of a shifted setting, or the limits and, in words, the obstacles.
    pub(super) fn shifted(
        &self,
        line: &Node,
        asked: Shift,
        at_best_extended: bool,
    ) -> Result<Node, (Vec<Limit>, Vec<String>)> {
        let obstacles = |refused: Refused| {
            let words = self.obstacles(&self.recomposed(line, asked), &refused);
            (refused.limits, words)
        };
        let mut judged = self.weighed_shift(line, asked).map_err(obstacles)?;
        if at_best_extended {
            judged.support = judged.support.max(Support::Extended);
        }
        let node = self.node(line.wire_feed_m_min, &judged);
        if node.one_drop_probability.interval[0] >= self.study.line.one_drop_floor {
            Ok(node)
        } else {
            Err(obstacles(Refused { limits: vec![Limit::OneDropLow], ..Refused::default() }))
        }
    }

    /// How far limits and trials carry a shifted setting, without the one-drop probability.
    pub(super) fn weighed_shift(&self, line: &Node, asked: Shift) -> Result<Judged, Refused> {
        let composed = self.recomposed(line, asked);
        if !(composed.wave.background_current_a >= 0.0) {
            // The pulses alone melt more than is fed: no background balances that.
            return Err(Refused { limits: vec![Limit::BackgroundLow], ..Refused::default() });
        }
        // Between nodes the line keeps its limits as nearly as its interpolation does.
        let here = Composed {
            wave: line.waveform(),
            drop_diameter_mm: line.drop_diameter_mm,
            limits: Vec::new(),
            prices: Vec::new(),
            off_preferred: 0.0,
        };
        let exact = broken(self.study, &here, line.current_mean_a, ROUNDING).is_empty();
        let relative = if exact { ROUNDING } else { self.study.line.interpolation_tolerance };
        self.judge(line.wire_feed_m_min, composed, None, relative)
    }

    /// The setting with pulse and slopes held, frequency by the drop asked for, background by the melt
    /// balance; no number as background where nothing balances it.
    fn recomposed(&self, line: &Node, asked: Shift) -> Composed {
        let wire = &self.study.wire;
        let w = line.wire_feed_m_min / 0.06;
        let wave = self.rewaved(line.wire_feed_m_min, line.waveform(), asked);
        let law = &self.laws.detachment.law;
        let x = (wave.pulse_current_a / self.laws.detachment.reference_current_a).ln();
        let off_preferred = law.s(x, wave.pulse_time_ms.ln()) - self.ground.best()[1];
        Composed {
            drop_diameter_mm: drop_diameter_mm(wire.section_mm2(), w, wave.pulse_frequency_hz),
            limits: self.binding(&wave, line, asked),
            wave,
            prices: Vec::new(),
            off_preferred,
        }
    }

    /// The waveform with pulse and slopes held, frequency by the drop asked for, background by the melt balance.
    pub(super) fn rewaved(&self, feed_m_min: f64, mut wave: Waveform, asked: Shift) -> Waveform {
        let wire = &self.study.wire;
        let w = feed_m_min / 0.06;
        if let Some(ratio) = asked.drop_to_wire_ratio {
            wave.pulse_frequency_hz = drop_frequency_hz(wire.section_mm2(), w, ratio * wire.diameter_mm);
        }
        balanced(&self.laws.burn_off.b, self.extension_mm(), w, wave)
    }

    /// Mean current and, where the travel speed is known, heat input of a shifted setting.
    pub(super) fn unjudged(&self, feed_m_min: f64, wave: Waveform, asked: Shift) -> Unjudged {
        let wave = self.rewaved(feed_m_min, wave, asked);
        let m = wave.moments();
        let (volt, instant) = (&self.laws.arc_voltage.b, self.laws.instant_resistance.map(|r| r.0));
        let arc_length_mm = self.study.bench.arc_length_mm;
        let power = power_w(volt, arc_length_mm, self.extension_mm(), m.mean_a, m.mean_square_a2, instant);
        Unjudged {
            current_mean_a: m.mean_a,
            heat_input_kj_mm: self.study.line.travel_speed_mm_s.map(|speed| heat_input_kj_mm(power, speed)),
        }
    }

    /// Limits that the shifted setting lies on; those of the pulse are the line's, since the pulse is held.
    fn binding(&self, wave: &Waveform, line: &Node, asked: Shift) -> Vec<Limit> {
        /// As near to a limit counts as on it.
        const ON: f64 = 1e-9;
        let held = [Limit::PulseTimeLow, Limit::PulseTimeHigh, Limit::OneDropLow];
        let of_drop = [Limit::DropSmall, Limit::DropLarge, Limit::FrequencyLow, Limit::FrequencyHigh];
        let mut limits: Vec<Limit> = line
            .limits
            .iter()
            .filter_map(|word| Limit::from_word(word))
            .filter(|l| held.contains(l) || (asked.drop_to_wire_ratio.is_none() && of_drop.contains(l)))
            .collect();
        let source = &self.study.source;
        let background = source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
        for (value, range, low, high) in [
            (wave.background_current_a, Some(background), Limit::BackgroundLow, Limit::BackgroundHigh),
            (wave.pulse_current_a, source.current_a, Limit::CurrentLow, Limit::CurrentHigh),
            (wave.pulse_frequency_hz, source.pulse_frequency_hz, Limit::FrequencyLow, Limit::FrequencyHigh),
            (wave.duty(), source.pulse_duty, Limit::PulseDutyLow, Limit::PulseDutyHigh),
        ] {
            let Some([least, most]) = range else { continue };
            limits.extend(((value - least).abs() <= ON * least.abs()).then_some(low));
            limits.extend(((value - most).abs() <= ON * most.abs()).then_some(high));
        }
        limits.extend((wave.slope_slack_ms().abs() <= ON).then_some(Limit::Slopes));
        limits.sort();
        limits.dedup();
        limits
    }
}

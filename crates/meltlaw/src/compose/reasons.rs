//! Why a range of feeds has no setting, and what would cure it, in words.

use meltlaw_line::Limit;

use super::support::Edge;
use super::{Composer, Refused};
use crate::line::Unsupported;

impl Composer<'_> {
    pub(super) fn unsupported(&self, range: [f64; 2], refused: &Refused) -> Unsupported {
        let mut parts: Vec<String> = refused.beyond.iter().map(|&(edge, side)| self.beyond(edge, side)).collect();
        let others: Vec<&Limit> =
            refused.limits.iter().filter(|l| !matches!(l, Limit::DataLow | Limit::DataHigh)).collect();
        if refused.unsteady {
            let held: Vec<&str> = others.iter().map(|l| meaning(**l)).collect();
            let by = if held.is_empty() { String::new() } else { format!(" (held by {})", held.join(", ")) };
            parts.push(format!("the settings would turn back or change faster than a weld can follow with rising wire feed{by}: widen one of these limits in [source] or [line], if the equipment allows"));
        } else if let [Limit::OneDropLow] = others[..] {
            parts.push(format!(
                "the lower bound of the one-drop probability is below {}: count more pulses near both thresholds, or accept a lower one_drop_floor",
                self.study.line.one_drop_floor
            ));
        } else if !others.is_empty() {
            if others.contains(&&Limit::MeltingRateUncertain) {
                parts.push(format!(
                    "the melting rate is not known within {} % (standard error): {}, or accept more with extended_melting_rate_relative_se in [line]",
                    100.0 * self.study.line.extended_melting_rate_relative_se,
                    if self.laws.burn_off.of_studies {
                        "studies scatter by more; weld the confirming welds and fit those, or another study"
                    } else {
                        "weld trials near this feed"
                    }
                ));
            }
            let held: Vec<&str> =
                others.iter().filter(|l| ***l != Limit::MeltingRateUncertain).map(|l| meaning(**l)).collect();
            if !held.is_empty() {
                parts.push(format!("no setting keeps {} at once: widen one of these limits in [source] or [line], if the equipment allows", held.join(", ")));
            }
        }
        if parts.is_empty() {
            parts.push("beyond the ranges of the trials by more than extended_by: weld trials there".to_owned());
        }
        if let Some(pin) = &refused.pin {
            parts.insert(
                0,
                format!(
                    "the pin at {} m/min ({}) cannot be kept: change it, or what stands in its way",
                    pin.wire_feed_m_min,
                    pin.values().join(", ")
                ),
            );
        }
        Unsupported {
            wire_feed_m_min: range,
            limits: refused.limits.iter().map(|l| l.word().to_owned()).collect(),
            reason: parts.join("; "),
        }
    }

    pub(super) fn beyond(&self, edge: Edge, side: Limit) -> String {
        let percent = 100.0 * self.study.line.extended_by;
        let high = side == Limit::DataHigh;
        match edge {
            Edge::Range("ctwd_mm") if self.carried_ctwd_mm().is_some() => format!(
                "the laws were carried to a contact-tip-to-work distance of {0} mm and hold there alone, the line is for {1} mm: carry them to {1} mm, or state {0} mm in [bench]",
                self.carried_ctwd_mm().unwrap_or_default(),
                self.study.bench.ctwd_mm
            ),
            Edge::Range(name) => {
                let validity = self.knowledge.validity();
                let Some(v) = validity.get(name) else { return String::new() };
                let place = usize::from(high);
                let side = if high { "above" } else { "below" };
                let trials = if self.knowledge.carried.is_some() {
                    "the trials, mapped here, reach"
                } else {
                    "the trials reach"
                };
                if matches!(name, "ctwd_mm" | "extension_mm") {
                    return format!(
                        "the {} of {} lies {side} the {} that the trials ({} to {}) support: weld trials there, or extend the laws to this distance first",
                        variable(name),
                        self.in_unit(name, self.knowledge.distance(name)),
                        self.in_unit(name, v.extended[place]),
                        self.in_unit(name, v.measured[0]),
                        self.in_unit(name, v.measured[1])
                    );
                }
                format!(
                    "the {} would lie {side} what {trials} ({}) by more than {percent:.0} % of their range: weld trials there",
                    variable(name),
                    self.in_unit(name, v.measured[place])
                )
            }
            Edge::Together(law, name) => format!(
                "{} each lie within their ranges, but no trial lies near this combination: the {} would be {} than goes with the others in the trials, by more than {percent:.0} % of its range: weld trials at this combination",
                together(law),
                variable(name),
                if high { "higher" } else { "lower" },
            ),
        }
    }

    /// The distance that the laws were carried to.
    fn carried_ctwd_mm(&self) -> Option<f64> {
        self.knowledge.carried?.ctwd_mm
    }

    /// A variable's value in the unit of the bench.
    pub(super) fn in_unit(&self, name: &str, value: f64) -> String {
        match name {
            "current_mean_a" => format!("{value:.0} A"),
            // L·I_rms² at the line's own extension: amperes are what a bench reads.
            "extension_rms_squared_mm_a2" => {
                let extension = self.extension_mm();
                format!("{:.0} A at {extension:.1} mm extension", (value / extension).sqrt())
            }
            "detachment_s" => format!("{:.2} ms", value.exp()),
            "log_pulse_current" => format!("{:.0} A", self.laws.detachment.reference_current_a * value.exp()),
            _ => format!("{value:.1} mm"),
        }
    }
}

/// A variable of the laws in the words of the bench.
pub(super) fn variable(name: &str) -> &'static str {
    match name {
        "current_mean_a" => "mean current",
        "extension_rms_squared_mm_a2" => "RMS current",
        "detachment_s" => "pulse time at the reference current",
        "log_pulse_current" => "pulse current",
        "extension_mm" => "extension",
        "ctwd_mm" => "contact-tip-to-work distance",
        _ => "arc length",
    }
}

/// The variables of a law that are judged together.
pub(super) fn together(law: &str) -> &'static str {
    match law {
        "burn_off" => "mean current and RMS current (at this extension)",
        "detachment" => "pulse current and pulse time",
        _ => "mean current, arc length and extension",
    }
}

/// A limit in the words of the bench.
pub(super) fn meaning(limit: Limit) -> &'static str {
    match limit {
        Limit::CurrentLow => "the lowest current",
        Limit::CurrentHigh => "the highest current",
        Limit::BackgroundLow => "the lowest background current",
        Limit::BackgroundHigh => "the highest background current",
        Limit::PulseTimeLow => "the shortest pulse",
        Limit::PulseTimeHigh => "the longest pulse",
        Limit::FrequencyLow => "the lowest frequency",
        Limit::FrequencyHigh => "the highest frequency",
        Limit::PulseDutyLow => "the smallest duty",
        Limit::PulseDutyHigh => "the largest duty",
        Limit::Slopes => "the slopes",
        Limit::DropSmall => "the smallest drop",
        Limit::DropLarge => "the largest drop",
        Limit::OneDropLow => "the one-drop floor",
        Limit::MeltingRateUncertain => "the melting rate's certainty",
        Limit::DataLow | Limit::DataHigh => "the range of the trials",
        Limit::LawMissing => "all three laws",
    }
}

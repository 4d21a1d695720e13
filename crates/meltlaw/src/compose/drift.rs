//! How far each setting of a node may move alone, all others held and nothing controlling the arc.
//!
//! The wire then melts at another rate than it is fed, and the arc length moves until the extension has restored the
//! balance:
//!
//! ```text
//! L' = L + (w − α·Ī − β·L·I_rms² − offset)/(β_low·I_rms²),   arc length = contact-tip-to-work distance − L'
//! ```
//!
//! With β_low = β this is the extension at which the law balances. What halts the arc is β alone, and where it is
//! small (aluminium) it may hardly be known; as with the one-drop probability the lower end of its interval counts. An
//! end at or below zero shows no arc that settles: then every drift runs away.

use meltlaw_line::{Limit, Waveform};

use super::Composer;
use super::optimum::SMALLEST_PULSE;
use super::process::melting_mm_s;
use crate::line::{Drift, DriftRange};
use crate::statistics::student_t_quantile;

/// First step away from the setting, and by how much each is longer than the last.
const FIRST_STEP: f64 = 1e-3;
const LONGER: f64 = 1.4;

/// Steps: the last is more than a hundredfold away.
const STEPS: usize = 36;

/// A setting on its limit may miss it by this.
const ON_LIMIT: f64 = 2e-6;

/// What may fail at a setting: distance, negative beyond, and its word.
type Margin = (f64, &'static str);

/// The arc that no control holds.
#[derive(Debug, Clone)]
struct FreeArc<'a> {
    burn_off: &'a [f64],
    /// Lower end of β.
    restoring: f64,
    extension_mm: f64,
    ctwd_mm: f64,
    /// Arc lengths that the trials know.
    known_mm: [f64; 2],
}

impl FreeArc<'_> {
    /// Where the arc settles; infinite where it does not.
    fn length_mm(&self, wave: &Waveform, w: f64) -> f64 {
        let m = wave.moments();
        let missing = w - melting_mm_s(self.burn_off, self.extension_mm, m.mean_a, m.mean_square_a2);
        self.ctwd_mm - self.extension_mm - missing / (self.restoring * m.mean_square_a2)
    }

    fn margins(&self, wave: &Waveform, w: f64) -> [Margin; 5] {
        let length = self.length_mm(wave, w);
        let [low, high] = self.known_mm;
        [
            (if self.restoring > 0.0 { 1.0 } else { f64::NEG_INFINITY }, "arc_unstable"),
            (length, "arc_short"),
            // An arc that is gone is gone before it is unknown.
            (if low > 0.0 { length - low } else { 1.0 }, "arc_unknown"),
            (high - length, "arc_unknown"),
            (self.ctwd_mm - length, "burn_back"),
        ]
    }
}

impl Composer<'_> {
    pub(super) fn drift(&self, wave: &Waveform, w: f64) -> Drift {
        let arc = self.free_arc();
        let range = |value: f64, unit: f64, moved: fn(&mut Waveform, &mut f64, f64)| {
            range(value, unit, |v| {
                let (mut wave, mut w) = (*wave, w);
                moved(&mut wave, &mut w, v);
                self.margins(&arc, &wave, w)
            })
        };
        let (pulse, time) = (wave.pulse_current_a, wave.pulse_time_ms);
        Drift {
            pulse_current_a: range(pulse, pulse, |wave, _, v| wave.pulse_current_a = v),
            pulse_time_ms: range(time, time, |wave, _, v| wave.pulse_time_ms = v),
            pulse_frequency_hz: range(wave.pulse_frequency_hz, wave.pulse_frequency_hz, |wave, _, v| {
                wave.pulse_frequency_hz = v;
            }),
            background_current_a: range(wave.background_current_a, pulse, |wave, _, v| wave.background_current_a = v),
            wire_feed_m_min: range(0.06 * w, 0.06 * w, |_, w, v| *w = v / 0.06),
        }
    }

    fn free_arc(&self) -> FreeArc<'_> {
        let confidence = self.study.numerics.confidence;
        let quantile = student_t_quantile(0.5 + confidence / 2.0, self.laws.burn_off.degrees_of_freedom);
        let burn_off = self.ground.burn_off();
        let known = self.knowledge.validity().get("arc_length_mm").map(|v| v.extended);
        FreeArc {
            burn_off,
            restoring: burn_off[1] - quantile * self.ground.burn_off_covariance[(1, 1)].max(0.0).sqrt(),
            extension_mm: self.extension_mm(),
            ctwd_mm: self.study.bench.ctwd_mm,
            known_mm: known.unwrap_or([0.0, f64::INFINITY]),
        }
    }

    /// All that may fail.
    fn margins(&self, arc: &FreeArc<'_>, wave: &Waveform, w: f64) -> Vec<Margin> {
        let (source, line) = (&self.study.source, &self.study.line);
        let x = (wave.pulse_current_a / self.ground.reference_a()).ln();
        let s = self.ground.exponent() * x + wave.pulse_time_ms.ln();
        let mut margins =
            vec![(self.ground.bound.logit_and_slope(x, s)[0] - self.ground.floor, Limit::OneDropLow.word())];
        margins.extend(arc.margins(wave, w));
        let mut hold = |value: f64, range: Option<[f64; 2]>, low: Limit, high: Limit| {
            if let Some([least, most]) = range {
                let unit = if least.abs() > 0.0 { least.abs() } else { 1.0 };
                margins.push(((value - least) / unit, low.word()));
                if most.is_finite() {
                    margins.push((1.0 - value / most.max(1e-300), high.word()));
                }
            }
        };
        let drop = meltlaw_line::drop_diameter_mm(self.study.wire.section_mm2(), w, wave.pulse_frequency_hz);
        let ratio = drop / self.study.wire.diameter_mm;
        hold(ratio, Some(line.drop_to_wire_limits), Limit::DropSmall, Limit::DropLarge);
        hold(wave.pulse_current_a, source.current_a, Limit::CurrentLow, Limit::CurrentHigh);
        hold(wave.moments().mean_a, source.current_a, Limit::CurrentLow, Limit::CurrentHigh);
        hold(wave.pulse_time_ms, source.pulse_time_ms, Limit::PulseTimeLow, Limit::PulseTimeHigh);
        hold(wave.pulse_frequency_hz, source.pulse_frequency_hz, Limit::FrequencyLow, Limit::FrequencyHigh);
        hold(wave.duty(), source.pulse_duty, Limit::PulseDutyLow, Limit::PulseDutyHigh);
        let [least, most] = source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
        let most = most.min((1.0 - SMALLEST_PULSE) * wave.pulse_current_a);
        hold(wave.background_current_a, Some([least, most]), Limit::BackgroundLow, Limit::BackgroundHigh);
        margins.push((wave.slope_slack_ms() / wave.pulse_time_ms, Limit::Slopes.word()));
        margins
    }
}

/// How far a value may move either way before a margin falls below zero, or below what it is at the value where that
/// misses its limit by rounding.
fn range(value: f64, unit: f64, margins: impl Fn(f64) -> Vec<Margin>) -> DriftRange {
    let here = margins(value);
    // The interval of the node, by draws, keeps the floor; the bound to first order may lie a little below.
    let slack = |j: usize| here[j].0.min(0.0) - 1e-12;
    let tolerated = |j: usize| here[j].1 == Limit::OneDropLow.word() || here[j].0 >= -ON_LIMIT;
    if let Some(j) = (0..here.len()).find(|&j| !tolerated(j)) {
        let word = || here[j].1.to_owned();
        return DriftRange { low: value, fails_below: word(), high: value, fails_above: word() };
    }
    // The margin furthest below its own slack; not a number is failure.
    let failing = |v: f64| -> Option<&'static str> {
        let all = margins(v);
        let short = |j: usize| if all[j].0.is_nan() { f64::NEG_INFINITY } else { all[j].0 - slack(j) };
        let worst = (0..all.len()).min_by(|&a, &b| short(a).total_cmp(&short(b)))?;
        (short(worst) < 0.0).then_some(all[worst].1)
    };
    let end = |side: f64| -> (f64, String) {
        let (mut kept, mut step) = (value, FIRST_STEP * unit);
        for _ in 0..STEPS {
            let next = (kept + side * step).max(0.0);
            if let Some(mut word) = failing(next) {
                let mut failed = next;
                while (failed - kept).abs() > 1e-9 * unit {
                    let middle = f64::midpoint(kept, failed);
                    match failing(middle) {
                        Some(w) => (failed, word) = (middle, w),
                        None => kept = middle,
                    }
                }
                return (kept, word.to_owned());
            }
            if next == kept {
                break;
            }
            (kept, step) = (next, step * LONGER);
        }
        (kept, "nothing".to_owned())
    };
    let ((low, fails_below), (high, fails_above)) = (end(-1.0), end(1.0));
    DriftRange { low, fails_below, high, fails_above }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BURN: [f64; 2] = [0.30, 5e-5];

    fn node() -> Waveform {
        // datasets/check_values, composed nodes: 80 mm/s, 15 mm of extension.
        Waveform {
            pulse_current_a: 350.0,
            pulse_time_ms: 2.0,
            background_current_a: 128.189_478,
            pulse_frequency_hz: 100.0,
            rise_a_per_ms: 1e15,
            fall_a_per_ms: 1e15,
        }
    }

    fn arc(restoring: f64) -> FreeArc<'static> {
        FreeArc { burn_off: &BURN, restoring, extension_mm: 15.0, ctwd_mm: 18.0, known_mm: [-1.0, 30.0] }
    }

    fn background(arc: &FreeArc<'_>) -> DriftRange {
        range(128.189_478, 350.0, |background_current_a| {
            arc.margins(&Waveform { background_current_a, ..node() }, 80.0).to_vec()
        })
    }

    #[test]
    fn less_background_shortens_the_arc_until_it_is_gone() {
        // Of 18 mm all is extension: with duty 0.2, 0.3·(0.8·b + 70) + 9e-4·(0.8·b² + 24500) = 80, so
        // 7.2e-4·b² + 0.24·b − 36.95 = 0 and b = (−0.24 + √0.164016)/1.44e-3 = 114.5757 A: 13.6 A of drift for 3 mm.
        let drift = background(&arc(5e-5));
        let by_hand = (0.164_016_f64.sqrt() - 0.24) / 1.44e-3;
        assert!((drift.low / by_hand - 1.0).abs() < 1e-6, "{drift:?}");
        assert_eq!(drift.fails_below, "arc_short");
        // No extension at all: 0.3·(0.8·b + 70) = 80, b = 59/0.24 = 245.8333 A.
        assert!((drift.high / (59.0 / 0.24) - 1.0).abs() < 1e-6, "{drift:?}");
        assert_eq!(drift.fails_above, "burn_back");
    }

    #[test]
    fn an_arc_that_is_less_surely_halted_leaves_less_room_and_none_at_all_where_nothing_halts_it() {
        let (sure, unsure) = (background(&arc(5e-5)), background(&arc(2.5e-5)));
        // Half the restoring effect doubles the arc's way: nearly half the drift.
        let share = (128.189_478 - unsure.low) / (128.189_478 - sure.low);
        assert!((0.45..0.55).contains(&share), "{share}");
        for restoring in [0.0, -1e-6] {
            let none = background(&arc(restoring));
            assert_eq!((none.low, none.high), (128.189_478, 128.189_478));
            assert_eq!((none.fails_below.as_str(), none.fails_above.as_str()), ("arc_unstable", "arc_unstable"));
        }
    }

    #[test]
    fn known_arc_lengths_end_a_drift_before_the_arc_does() {
        // Down to 2 mm of arc: 0.3·(0.8·b + 70) + 8e-4·(0.8·b² + 24500) = 80, 6.4e-4·b² + 0.24·b − 39.4 = 0,
        // b = (−0.24 + √0.158464)/1.28e-3 = 123.4964 A.
        let drift = background(&FreeArc { known_mm: [2.0, 4.0], ..arc(5e-5) });
        let by_hand = (0.158_464_f64.sqrt() - 0.24) / 1.28e-3;
        assert!((drift.low / by_hand - 1.0).abs() < 1e-6, "{drift:?}");
        assert_eq!((drift.fails_below.as_str(), drift.fails_above.as_str()), ("arc_unknown", "arc_unknown"));
    }
}

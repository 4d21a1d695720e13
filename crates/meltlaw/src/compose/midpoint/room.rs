//! The room that all limits leave: with pulse current and pulse time held, every limit is a bound on the
//! frequency, since more pulses mean smaller drops, a lower background and a higher duty.

use meltlaw_line::{Limit, Waveform, drop_frequency_hz};

use super::super::process::balancing_frequency_hz;
use super::search::first_that_fits;
use super::settings::Rule;

/// An end of the range of frequencies with the limit that makes it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    /// Frequency.
    pub(super) hz: f64,
    /// What makes it.
    pub(super) limit: Limit,
}

/// The range of frequencies that all limits leave, possibly empty.
#[derive(Debug, Clone, Copy)]
pub(super) struct Room {
    pub(super) low: Bound,
    pub(super) high: Bound,
}

impl Room {
    /// ln(high/low): negative where nothing is left.
    pub(super) fn width(&self) -> f64 {
        (self.high.hz / self.low.hz).ln()
    }
}

impl Rule<'_> {
    /// Frequencies that all limits leave at pulse current I₀·eˣ and position `s`.
    pub(super) fn room(&self, w: f64, x: f64, s: f64) -> Room {
        let (study, section) = (self.study, self.study.wire.section_mm2());
        let d = study.wire.diameter_mm;
        let wave = self.wave(x, s);
        let [smallest, largest] = study.line.drop_to_wire_limits;
        let mut low = Bound { hz: drop_frequency_hz(section, w, largest * d), limit: Limit::DropLarge };
        let mut high = Bound { hz: drop_frequency_hz(section, w, smallest * d), limit: Limit::DropSmall };
        let mut raise = |hz: f64, limit: Limit| {
            if hz > low.hz {
                low = Bound { hz, limit };
            }
        };
        if let Some([slow, _]) = study.source.pulse_frequency_hz {
            raise(slow, Limit::FrequencyLow);
        }
        if let Some([small, _]) = study.source.pulse_duty {
            raise(1000.0 * small / wave.pulse_time_ms, Limit::PulseDutyLow);
        }
        let [least, most] = study.source.background_current_a.unwrap_or([0.0, f64::INFINITY]);
        let at_background = |background_current_a: f64| {
            balancing_frequency_hz(
                &self.laws.burn_off.b,
                self.extension_mm(),
                w,
                &Waveform { background_current_a, ..wave },
            )
        };
        let top = wave.pulse_current_a * (1.0 - 1e-9);
        raise(at_background(most.min(top)), Limit::BackgroundHigh);
        let mut lower = |hz: f64, limit: Limit| {
            if hz < high.hz {
                high = Bound { hz, limit };
            }
        };
        if let Some([_, fast]) = study.source.pulse_frequency_hz {
            lower(fast, Limit::FrequencyHigh);
        }
        if let Some([_, large]) = study.source.pulse_duty {
            lower(1000.0 * large / wave.pulse_time_ms, Limit::PulseDutyHigh);
        }
        lower(at_background(least), Limit::BackgroundLow);
        // The ramps bound the height of the pulse, hence the background from below: they must fit into
        // the pulse, tp ≥ Δ(1/rise + 1/fall)/2, and into the rest of the period, which shrinks as a
        // lower background asks for more pulses.
        let half_ramps = (1.0 / wave.rise_a_per_ms + 1.0 / wave.fall_a_per_ms) / 2.0;
        let into_pulse = wave.pulse_current_a - wave.pulse_time_ms / half_ramps;
        let fits_period = |background: f64| {
            at_background(background) * (wave.pulse_time_ms + (wave.pulse_current_a - background) * half_ramps)
                <= 1000.0
        };
        let floor = into_pulse.max(least);
        let floor = if fits_period(floor) { floor } else { first_that_fits(floor, top, 1, fits_period).unwrap_or(top) };
        if floor > least {
            lower(at_background(floor), Limit::Slopes);
        }
        if least >= top {
            // The pulse does not rise above the lowest background.
            high = Bound { hz: 0.0, limit: Limit::BackgroundLow };
        }
        high.hz = high.hz.max(1e-6);
        Room { low, high }
    }
}

//! The trapezoidal current pulse and its two means.

use core::fmt;

use crate::{Number, between};

/// One period of the welding current: a trapezoid on a background.
///
/// `pulse_time_ms` is the width at half height of the step from background to pulse current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waveform {
    /// Pulse current `I_p`.
    pub pulse_current_a: f64,
    /// Width at half height `t_p`.
    pub pulse_time_ms: f64,
    /// Background current `I_b`.
    pub background_current_a: f64,
    /// Pulse frequency `f`.
    pub pulse_frequency_hz: f64,
    /// Slope of the rising edge.
    pub rise_a_per_ms: f64,
    /// Slope of the falling edge, positive.
    pub fall_a_per_ms: f64,
}

/// Why a waveform has no mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WaveformError {
    /// The pulse does not fit into its period, or a number is not a number.
    PulseOutsidePeriod {
        /// Pulse time times frequency; must lie in 0 to 1.
        duty: f64,
    },
}

impl fmt::Display for WaveformError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::PulseOutsidePeriod { duty } => {
                write!(f, "pulse time times frequency is {duty}, it must be at least 0 and below 1")
            }
        }
    }
}

impl core::error::Error for WaveformError {}

impl Waveform {
    /// What a line gives between two settings: each value linear in wire feed, `weight` that of the upper one.
    pub fn between(low: &Self, high: &Self, weight: f64) -> Self {
        Self {
            pulse_current_a: between(low.pulse_current_a, high.pulse_current_a, weight),
            pulse_time_ms: between(low.pulse_time_ms, high.pulse_time_ms, weight),
            background_current_a: between(low.background_current_a, high.background_current_a, weight),
            pulse_frequency_hz: between(low.pulse_frequency_hz, high.pulse_frequency_hz, weight),
            rise_a_per_ms: between(low.rise_a_per_ms, high.rise_a_per_ms, weight),
            fall_a_per_ms: between(low.fall_a_per_ms, high.fall_a_per_ms, weight),
        }
    }

    /// Pulse time times frequency, dimensionless.
    pub fn duty(&self) -> f64 {
        self.pulse_time_ms * self.pulse_frequency_hz / 1000.0
    }

    /// Time at background between the half heights of two pulses, `1000/f − t_p`.
    pub fn background_time_ms(&self) -> f64 {
        background_time_ms(self.pulse_frequency_hz, self.pulse_time_ms)
    }

    /// Mean current over one period.
    ///
    /// ```text
    /// Ī = I_b + (I_p − I_b) · t_p · f
    /// ```
    ///
    /// The pulse time is the width at half height, so the area above the background is height times
    /// width whatever the slopes. The slopes matter only for the RMS.
    ///
    /// # Units
    /// A, ms and Hz in, as the field names say; A out. The 10⁻³ turns ms into s.
    /// # Errors
    /// [`WaveformError::PulseOutsidePeriod`] unless 0 ≤ t_p · f < 1 (NaN included).
    /// # Source
    /// Geometry only.
    /// # Example
    /// ```
    /// # use meltlaw_line::{Waveform, WaveformError};
    /// let w = Waveform { pulse_current_a: 450.0, pulse_time_ms: 2.0, background_current_a: 50.0, pulse_frequency_hz: 100.0, rise_a_per_ms: 600.0, fall_a_per_ms: 600.0 };
    /// assert!((w.current_mean_a()? - 130.0).abs() < 1e-9); // 50 + 400 · 0.2
    /// # Ok::<(), WaveformError>(())
    /// ```
    pub fn current_mean_a(&self) -> Result<f64, WaveformError> {
        let duty = self.duty();
        if !(0.0..1.0).contains(&duty) {
            return Err(WaveformError::PulseOutsidePeriod { duty });
        }
        Ok(self.moments().mean_a)
    }

    /// Root-mean-square current over one period.
    ///
    /// ```text
    /// I_rms² = I_b² + [2·I_b·Δ·t_p + Δ²·(t_p − (t_r + t_f)/6)]·f,  Δ = I_p − I_b,  t_r = Δ/rise,  t_f = Δ/fall
    /// ```
    ///
    /// # Units
    /// A out.
    /// # Errors
    /// [`WaveformError::PulseOutsidePeriod`] as for the mean.
    /// # Source
    /// Geometry only: a linear ramp from 0 to Δ has mean square Δ²/3 over its length.
    pub fn current_rms_a(&self) -> Result<f64, WaveformError> {
        let duty = self.duty();
        if !(0.0..1.0).contains(&duty) {
            return Err(WaveformError::PulseOutsidePeriod { duty });
        }
        Ok(libm::sqrt(self.moments().mean_square_a2))
    }

    /// Mean, mean square and their derivatives by the background current, without checks: the melt
    /// balance is solved on this.
    pub fn moments(&self) -> Moments {
        let Self { pulse_current_a, pulse_time_ms: tp, background_current_a: ib, .. } = *self;
        let f = self.pulse_frequency_hz / 1000.0;
        let delta = pulse_current_a - ib;
        let ramp = 1.0 / self.rise_a_per_ms + 1.0 / self.fall_a_per_ms;
        let (mean_a, mean_square_a2) = mean_and_mean_square(
            pulse_current_a,
            tp,
            ib,
            self.pulse_frequency_hz,
            self.rise_a_per_ms,
            self.fall_a_per_ms,
        );
        Moments {
            mean_a,
            mean_square_a2,
            mean_by_background: 1.0 - tp * f,
            mean_square_by_background: 2.0 * ib + (delta * delta * ramp / 2.0 - 2.0 * ib * tp) * f,
        }
    }

    /// How much longer the shorter half of the trapezoid is than its ramps need, ms. Negative: the
    /// trapezoid does not exist (limit `slopes`).
    pub fn slope_slack_ms(&self) -> f64 {
        let half_ramps = (self.pulse_current_a - self.background_current_a)
            * (1.0 / self.rise_a_per_ms + 1.0 / self.fall_a_per_ms)
            / 2.0;
        let shorter = self.pulse_time_ms.min(self.background_time_ms());
        shorter - half_ramps
    }
}

/// 1000/f − t_p, in either precision.
pub(crate) fn background_time_ms<T: Number>(pulse_frequency_hz: T, pulse_time_ms: T) -> T {
    T::nearest(1000.0) / pulse_frequency_hz - pulse_time_ms
}

/// Ī and I_rms² of a trapezoid, in either precision; the formulas stand at [`Waveform::current_mean_a`] and
/// [`Waveform::current_rms_a`].
pub(crate) fn mean_and_mean_square<T: Number>(
    pulse_current_a: T,
    pulse_time_ms: T,
    background_current_a: T,
    pulse_frequency_hz: T,
    rise_a_per_ms: T,
    fall_a_per_ms: T,
) -> (T, T) {
    let number = T::nearest;
    let (tp, ib) = (pulse_time_ms, background_current_a);
    let f = pulse_frequency_hz / number(1000.0);
    let delta = pulse_current_a - ib;
    let ramp = number(1.0) / rise_a_per_ms + number(1.0) / fall_a_per_ms;
    let mean = ib + delta * tp * f;
    let above = number(2.0) * ib * delta * tp + delta * delta * tp - delta * delta * delta * ramp / number(6.0);
    (mean, ib * ib + above * f)
}

/// The first two moments of the current over a period and their derivatives by `I_b`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moments {
    /// Ī, A.
    pub mean_a: f64,
    /// I_rms², A².
    pub mean_square_a2: f64,
    /// ∂Ī/∂I_b, dimensionless.
    pub mean_by_background: f64,
    /// ∂I_rms²/∂I_b, A.
    pub mean_square_by_background: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    const WAVE: Waveform = Waveform {
        pulse_current_a: 350.0,
        pulse_time_ms: 2.0,
        background_current_a: 100.0,
        pulse_frequency_hz: 100.0,
        rise_a_per_ms: 600.0,
        fall_a_per_ms: 600.0,
    };

    #[test]
    fn the_worked_trapezoid_has_its_mean_and_rms() {
        // 100 + 250·0.2 = 150; 177.853716 from a sum of two million points (datasets/check_values).
        assert!((WAVE.current_mean_a().expect("fits") - 150.0).abs() < 1e-12);
        assert!((WAVE.current_rms_a().expect("fits") - 177.853_716).abs() < 5e-7);
    }

    #[test]
    fn steep_slopes_give_the_rectangle() {
        let wave = Waveform { rise_a_per_ms: 1e12, fall_a_per_ms: 1e12, ..WAVE };
        // sqrt(0.2·350² + 0.8·100²) = sqrt(32500)
        assert!((wave.current_rms_a().expect("fits") - 32500.0_f64.sqrt()).abs() < 1e-6);
    }

    #[test]
    fn a_pulse_longer_than_its_period_is_refused() {
        let wave = Waveform { pulse_time_ms: 10.0, ..WAVE };
        assert!(wave.current_mean_a().is_err());
        assert!(Waveform { pulse_time_ms: f64::NAN, ..WAVE }.current_rms_a().is_err());
    }

    #[test]
    fn derivatives_by_the_background_agree_with_differences() {
        let h = 1e-4;
        let up = Waveform { background_current_a: 100.0 + h, ..WAVE }.moments();
        let down = Waveform { background_current_a: 100.0 - h, ..WAVE }.moments();
        let m = WAVE.moments();
        assert!(((up.mean_a - down.mean_a) / (2.0 * h) - m.mean_by_background).abs() < 1e-9);
        assert!(((up.mean_square_a2 - down.mean_square_a2) / (2.0 * h) - m.mean_square_by_background).abs() < 1e-6);
    }
}

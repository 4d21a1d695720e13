//! The process at one setting: melt balance, voltage and power by the laws. Every formula of the
//! contract's section 5 that needs coefficients stands here.

use meltlaw_line::Waveform;

/// α·Ī + β·L·I_rms² + offset, mm/s.
pub fn melting_mm_s(burn_off: &[f64], extension_mm: f64, mean_a: f64, mean_square_a2: f64) -> f64 {
    burn_off[0] * mean_a + burn_off[1] * extension_mm * mean_square_a2 + burn_off.get(2).copied().unwrap_or(0.0)
}

/// The background current at which the pulse melts what is fed, all else held.
///
/// ```text
/// α·Ī(I_b) + β·L·I_rms²(I_b) + offset = w
/// ```
/// Newton from `wave.background_current_a`; above zero the balance rises with the background and curves
/// upwards, so there is one root. Where the pulses alone melt more than is fed there may be none: the
/// steps then end left of zero where the balance stops rising, and that negative number is returned.
///
/// # Three nodes by hand
/// A steel wire of 1.2 mm melts by w = 0.30·Ī + 5·10⁻⁵·L·I_rms² (mm/s, A) at an extension L of 15 mm. Pulses of
/// 350 A and 2 ms each carry one drop as thick as the wire; edges are upright. What must be set to feed 60, 80 and
/// 100 mm/s, that is 3.6, 4.8 and 6.0 m/min?
///
/// *Frequency.* A drop holds π/6·1.2³ = 0.904779 mm³ and a millimetre of wire π/4·1.2² = 1.130973 mm³, so a drop is
/// 0.8 mm of wire. A pulse a drop: f = w/0.8 mm = 75, 100 and 125 Hz. Of each period the pulse takes δ = f·t_p =
/// 0.15, 0.20 and 0.25.
///
/// *Background.* With upright edges Ī = (1 − δ)·I_b + δ·I_p and I_rms² = (1 − δ)·I_b² + δ·I_p². Put into the law,
/// only I_b is unknown:
///
/// ```text
/// β·L·(1 − δ)·I_b² + α·(1 − δ)·I_b + [α·δ·I_p + β·L·δ·I_p² − w] = 0
/// ```
///
/// At 80 mm/s that is 0.0006·I_b² + 0.24·I_b + (21 + 18.375 − 80) = 0, of which the positive root is
/// I_b = (−0.24 + √(0.24² + 4·0.0006·40.625))/0.0012 = (−0.24 + 0.393827)/0.0012 = 128.19 A.
///
/// *What the meters show.* Ī = 0.8·128.19 + 0.2·350 = 172.55 A; I_rms = √(0.8·128.19² + 0.2·350²) = 194.03 A. And back:
/// 0.30·172.55 + 0.00075·194.03² = 51.77 + 28.23 = 80 mm/s.
///
/// The same for all three, held against this function:
///
/// ```
/// use meltlaw::compose::balancing_background_a;
/// use meltlaw_line::Waveform;
/// use std::f64::consts::PI;
///
/// let (alpha, beta, extension_mm) = (0.30, 5e-5, 15.0);
/// let (pulse_current_a, pulse_time_ms, wire_mm) = (350.0, 2.0, 1.2_f64);
/// let wire_per_drop_mm = PI / 6.0 * wire_mm.powi(3) / (PI / 4.0 * wire_mm.powi(2)); // 0.8
///
/// for (wire_feed_mm_s, hz, background_a, mean_a, rms_a) in [
///     (60.0, 75.0, 96.300722, 134.355613, 162.042447),
///     (80.0, 100.0, 128.189478, 172.551582, 194.025859),
///     (100.0, 125.0, 160.940130, 208.205098, 223.721466),
/// ] {
///     let frequency_hz = wire_feed_mm_s / wire_per_drop_mm;
///     let duty = frequency_hz * pulse_time_ms / 1000.0;
///
///     let a = beta * extension_mm * (1.0 - duty);
///     let b = alpha * (1.0 - duty);
///     let c = alpha * duty * pulse_current_a + beta * extension_mm * duty * pulse_current_a.powi(2) - wire_feed_mm_s;
///     let root_a = (-b + (b * b - 4.0 * a * c).sqrt()) / (2.0 * a);
///
///     let mean = (1.0 - duty) * root_a + duty * pulse_current_a;
///     let rms = ((1.0 - duty) * root_a.powi(2) + duty * pulse_current_a.powi(2)).sqrt();
///
///     // The table prints six decimals.
///     for (by_hand, printed) in [(frequency_hz, hz), (root_a, background_a), (mean, mean_a), (rms, rms_a)] {
///         assert!((by_hand - printed).abs() < 5.1e-7, "{by_hand} {printed}");
///     }
///
///     // The program's edges have slopes; 10¹⁵ A/ms is upright.
///     let wave = Waveform {
///         pulse_current_a,
///         pulse_time_ms,
///         background_current_a: 100.0,
///         pulse_frequency_hz: frequency_hz,
///         rise_a_per_ms: 1e15,
///         fall_a_per_ms: 1e15,
///     };
///     let ours = balancing_background_a(&[alpha, beta], extension_mm, wire_feed_mm_s, &wave);
///     assert!((ours - root_a).abs() < 1e-9, "{ours} {root_a}");
/// }
/// ```
///
/// The third needs 161 A of background: a source that ends at 150 A cannot do it, and there the line gives way or
/// ends, with `background_high` as the reason. (Numbers also in `datasets/check_values.md`, composed nodes.)
pub fn balancing_background_a(burn_off: &[f64], extension_mm: f64, wire_feed_mm_s: f64, wave: &Waveform) -> f64 {
    let mut wave = *wave;
    let mut last = f64::INFINITY;
    for _ in 0..60 {
        let m = wave.moments();
        let miss = melting_mm_s(burn_off, extension_mm, m.mean_a, m.mean_square_a2) - wire_feed_mm_s;
        let slope = burn_off[0] * m.mean_by_background + burn_off[1] * extension_mm * m.mean_square_by_background;
        if !(slope > 0.0) {
            break;
        }
        let step = miss / slope;
        wave.background_current_a -= step;
        // Steps shrink until rounding; the first that does not is the end.
        if step == 0.0 || (step.abs() >= last && step.abs() < 1e-9) {
            break;
        }
        last = step.abs();
    }
    wave.background_current_a
}

/// The wave with the background that balances the melt; not a number where none does.
pub(super) fn balanced(burn_off: &[f64], extension_mm: f64, wire_feed_mm_s: f64, wave: Waveform) -> Waveform {
    let background_current_a = balancing_background_a(burn_off, extension_mm, wire_feed_mm_s, &wave);
    let wave = Waveform { background_current_a, ..wave };
    let m = wave.moments();
    let melted = melting_mm_s(burn_off, extension_mm, m.mean_a, m.mean_square_a2);
    // What Newton could not bring into balance has no background.
    if (melted / wire_feed_mm_s - 1.0).abs() < 1e-9 {
        wave
    } else {
        Waveform { background_current_a: f64::NAN, ..wave }
    }
}

/// The frequency at which the pulse melts what is fed with the background given: the balance is linear
/// in it. `wave.pulse_frequency_hz` is not used.
pub fn balancing_frequency_hz(burn_off: &[f64], extension_mm: f64, wire_feed_mm_s: f64, wave: &Waveform) -> f64 {
    let rest = Waveform { pulse_frequency_hz: 0.0, ..*wave }.moments();
    let one = Waveform { pulse_frequency_hz: 1000.0, ..*wave }.moments();
    let from_background = melting_mm_s(burn_off, extension_mm, rest.mean_a, rest.mean_square_a2);
    let per_khz = melting_mm_s(burn_off, extension_mm, one.mean_a, one.mean_square_a2) - from_background;
    1000.0 * (wire_feed_mm_s - from_background) / per_khz
}

/// Ū = U0 + R·Ī + E·a + r·L·Ī, V.
pub fn voltage_v(arc_voltage: &[f64], arc_length_mm: f64, extension_mm: f64, mean_a: f64) -> f64 {
    let at = |i: usize| arc_voltage.get(i).copied().unwrap_or(0.0);
    at(0) + at(1) * mean_a + at(2) * arc_length_mm + at(3) * extension_mm * mean_a
}

/// P = Ū·Ī + (R + r·L)·(I_rms² − Ī²), W: the voltage law read at each instant; or with the measured
/// instant resistance in place of R + r·L.
pub fn power_w(
    arc_voltage: &[f64],
    arc_length_mm: f64,
    extension_mm: f64,
    mean_a: f64,
    mean_square_a2: f64,
    instant_resistance_ohm: Option<f64>,
) -> f64 {
    let resistance = instant_resistance_ohm
        .unwrap_or_else(|| arc_voltage[1] + arc_voltage.get(3).copied().unwrap_or(0.0) * extension_mm);
    voltage_v(arc_voltage, arc_length_mm, extension_mm, mean_a) * mean_a
        + resistance * (mean_square_a2 - mean_a * mean_a)
}

#[cfg(test)]
mod tests {
    use super::*;

    const BURN: [f64; 2] = [0.30, 5e-5];

    fn rectangle(frequency: f64, background: f64) -> Waveform {
        Waveform {
            pulse_current_a: 350.0,
            pulse_time_ms: 2.0,
            background_current_a: background,
            pulse_frequency_hz: frequency,
            rise_a_per_ms: 1e15,
            fall_a_per_ms: 1e15,
        }
    }

    #[test]
    fn composed_backgrounds_of_the_exact_examples() {
        // datasets/check_values: steel 1.2 mm, rectangular pulse, drop of wire diameter.
        for (w, f, expected) in [(60.0, 75.0, 96.300_722), (80.0, 100.0, 128.189_478), (100.0, 125.0, 160.940_130)] {
            let background = balancing_background_a(&BURN, 15.0, w, &rectangle(f, 100.0));
            assert!((background - expected).abs() < 5e-7, "{w}: {background}");
            let wave = rectangle(f, background);
            assert!((balancing_frequency_hz(&BURN, 15.0, w, &wave) / f - 1.0).abs() < 1e-13);
        }
        // Ratio 1.1 at 80 mm/s.
        assert!(
            (balancing_background_a(&BURN, 15.0, 80.0, &rectangle(75.131_479_7, 100.0)) - 145.123_068).abs() < 1e-5
        );
    }

    #[test]
    fn pulses_that_melt_too_much_leave_no_background_above_zero() {
        // 0.3·(350·0.8) + 5e-5·15·(350²·0.8) = 157.5 mm/s melted with no background at all, 40 fed.
        for start in [0.0, 25.0, 100.0, 340.0] {
            assert!(balancing_background_a(&BURN, 15.0, 40.0, &rectangle(400.0, start)) < 0.0, "from {start}");
        }
    }

    #[test]
    fn power_is_that_of_the_instants() {
        // U = 14 + 0.02·I at each instant; 350 A for 2 of 10 ms, 100 A else: mean of u·i by hand:
        // 0.2·350·21 + 0.8·100·16 = 2750 W.
        let m = rectangle(100.0, 100.0).moments();
        assert!((power_w(&[14.0, 0.02], 0.0, 0.0, m.mean_a, m.mean_square_a2, None) - 2750.0).abs() < 1e-6);
    }
}

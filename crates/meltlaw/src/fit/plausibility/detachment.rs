//! Exponent and pulse time of the detachment law, and what its trials say before any fit.

use super::band::{Judged, figures};
use super::pulse_width;
use crate::fit::detachment::{CountedSelection, DetachmentFit};
use crate::fit::ordered_logit::Count;
use crate::laws::Plausibility;
use crate::materials::Material;
use crate::study::Study;
use crate::trials::{Trial, Trials};

const EXPONENT: [f64; 2] = [1.5, 3.0];

/// Pulse time at I₀ from which a 1.2 mm wire detaches a drop, ms: published laws for steel give 1.25 to 3.1 at
/// 400 A, practice with aluminium 1.3 to 2.5 at 250 A; twice as wide on either side (from memory).
const ONE_DROP_FROM_MS: [f64; 2] = [0.6, 6.0];

/// Exponent and pulse time of a fit.
pub fn detachment(study: &Study, fit: &DetachmentFit) -> Vec<Plausibility> {
    let mut list = vec![Judged {
            name: "exponent",
            value: fit.q[0],
            standard_error: fit.covariance_q[(0, 0)].sqrt(),
            unit: "1",
            band: EXPONENT,
            expected: "exponent of the pulse current (from memory)",
            action: "check that the pulse time is the width at half height and the pulse current its top, that the counts belong to their rows, and that thresholds were crossed at each pulse current",
        }
        .plausibility()];
    // What a wire needs goes with its section; other reference currents than the material's are not judged.
    let usual =
        study.laws.reference_current_a.is_none() && !matches!(study.wire.material, Material::Nickel | Material::Copper);
    if usual {
        let size = study.wire.section_mm2() / 1.131;
        let one = fit.q[2].exp();
        list.push(
            Judged {
                name: "one_drop_from_ms",
                value: one,
                standard_error: one * fit.covariance_q[(2, 2)].sqrt(),
                unit: "ms",
                band: ONE_DROP_FROM_MS.map(|ms| ms * size),
                expected: "pulse time at the reference current that detaches a drop (from memory, wide)",
                action: &unit_slip(one, ONE_DROP_FROM_MS.map(|ms| ms * size)),
            }
            .plausibility(),
        );
    }
    list
}

fn unit_slip(one_ms: f64, [low, high]: [f64; 2]) -> String {
    for (factor, slip) in [
        (1e-3, "pulse times are in µs but read as ms (rename the column pulse_time_us)"),
        (1e3, "pulse times are in s but read as ms (rename the column pulse_time_s)"),
    ] {
        if (low..=high).contains(&(one_ms * factor)) {
            return format!("likely slip: {slip}; then {} ms", figures(one_ms * factor));
        }
    }
    "check that the pulse time is the width of the pulse at half height (not the period, not the background time), and the wire's diameter".to_owned()
}

/// What the counted trials say before any fit: drops rise with the pulse, and the pulse time makes the mean
/// current.
pub fn counts(study: &Study, trials: &Trials, selection: &CountedSelection) -> Vec<Plausibility> {
    let rows: Vec<&Trial> = selection.used.iter().map(|&i| &trials.rows[i]).collect();
    drops_against_pulse(selection).into_iter().chain(pulse_width::judged(study, &rows)).collect()
}

/// Correlation of drops per pulse with 2·ln I_p + ln t_p.
fn drops_against_pulse(selection: &CountedSelection) -> Option<Plausibility> {
    let s: Vec<f64> = selection.read.iter().map(|r| 2.0 * r.log_current + r.log_time).collect();
    if s.len() < 5 {
        return None;
    }
    let as_counted = correlation(&s, &selection.counts, |[_, one, more]| one + 2.0 * more)?;
    let exchanged = correlation(&s, &selection.counts, |[none, one, _]| one + 2.0 * none)?;
    let action = if exchanged > 0.0 && selection.counts.iter().any(|c| matches!(c, Count::Classes { .. })) {
        "likely slip: pulses_without_drop and pulses_with_more_drops are exchanged"
    } else {
        "check that counts, pulse current and pulse time belong to the same rows"
    };
    Some(
        Judged {
            name: "drops per pulse with stronger pulses",
            value: as_counted,
            // Fisher's z has the standard error 1/√(n − 3); near zero r moves as z does.
            standard_error: 1.0 / (s.len() as f64 - 3.0).sqrt() * (1.0 - as_counted * as_counted),
            unit: "1",
            band: [0.0, 1.0],
            expected: "longer and higher pulses detach more drops: correlation of drops per pulse with 2·ln Ip + ln tp",
            action,
        }
        .plausibility(),
    )
}

fn correlation(s: &[f64], counts: &[Count], drops: impl Fn([f64; 3]) -> f64) -> Option<f64> {
    let y: Vec<f64> = counts
        .iter()
        .map(|c| match *c {
            Count::Classes { none, one, more } => drops([none, one, more]) / (none + one + more),
            Count::Totals { drops, pulses } => drops / pulses,
        })
        .collect();
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let (ms, my) = (mean(s), mean(&y));
    let (mut ss, mut yy, mut sy) = (0.0, 0.0, 0.0);
    for (a, b) in s.iter().zip(&y) {
        ss += (a - ms) * (a - ms);
        yy += (b - my) * (b - my);
        sy += (a - ms) * (b - my);
    }
    Some(sy / (ss * yy).sqrt()).filter(|r| r.is_finite())
}

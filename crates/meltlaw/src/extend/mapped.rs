//! The trials of the studies as trials of the wire that laws are carried to: their ranges, and where they lie together.
//!
//! ```text
//! Ī' = Ī·A'/A        (L·I_rms²)' = L·I_rms²·(A'/A)²        s' = s + ln(t₁'/t₁)        ln(I_p/I₀)' = ln(I_p/I₀)
//! ```
//!
//! A the metal section, t₁ the pulse time from which one drop detaches; primes at the target. The heat balance at the tip
//! carries α with 1/A and β with 1/A², so these currents melt both wires at one speed with equal shares of arc and
//! extension: the current density and the extension stay. A pulse keeps its place in the one-drop window, whose times
//! grow with the power of the diameter; the law carries these times at equal pulse current, so the pulse current stays.
//! Arc length, extension and contact-tip-to-work distance stay: nothing of the wire's size acts on them. Where no size
//! changes, A' = A.

use std::collections::BTreeMap;

use super::bases::{Base, Place};
use super::law_of;
use crate::laws::{FittedLaw, TrialCloud};

/// Enters ranges and clouds of the studies' trials into a law at the target, whose coefficients are known.
pub(super) fn map_trials(name: &str, bases: &[Base<'_>], to: Place, law: &mut FittedLaw) {
    let one_drop = log_one_drop(law);
    let reference = bases[0].laws.record.wire.material.reference_current_a();
    let mut ranges: BTreeMap<String, [f64; 2]> = BTreeMap::new();
    for base in bases {
        let own = law_of(base.laws.record, name);
        let ratio = to.section_mm2 / base.at.section_mm2;
        // v' = scale·v + shift.
        let mapped = |variable: &str| match variable {
            "current_mean_a" => [ratio, 0.0],
            "extension_rms_squared_mm_a2" => [ratio * ratio, 0.0],
            "detachment_s" => [1.0, one_drop - log_one_drop(own)],
            "log_pulse_current" => [1.0, (own.reference_current_a.unwrap_or(reference) / reference).ln()],
            _ => [1.0, 0.0],
        };
        for (variable, &range) in own.range.iter().filter(|(_, [low, high])| low <= high) {
            let [scale, shift] = mapped(variable);
            let [low, high] = range.map(|v| scale * v + shift);
            let all = ranges.entry(variable.clone()).or_insert([low, high]);
            *all = [all[0].min(low), all[1].max(high)];
        }
        law.clouds.extend(own.cloud.as_ref().map(|cloud| named(cloud.mapped(mapped), base)));
    }
    law.range.extend(ranges);
}

/// A cloud whose trials say of which study they are.
fn named(mut cloud: TrialCloud, base: &Base<'_>) -> TrialCloud {
    for end in cloud.ends.values_mut().flatten().chain(cloud.farthest.as_mut()) {
        end.trial = format!("{} of {}", end.trial, base.laws.name);
    }
    cloud
}

/// ln of the pulse time from which one drop detaches at the reference current.
fn log_one_drop(law: &FittedLaw) -> f64 {
    law.coefficients.get("one_drop_from_ms").and_then(|c| c.value).map_or(0.0, f64::ln)
}

/// How ranges were mapped to another diameter, in words.
pub(super) fn words() -> BTreeMap<String, String> {
    let mapped = [
        (
            "current_mean_a",
            "ranges of the trials at the same current density: the same wire feed speed at the new section",
        ),
        (
            "extension_rms_squared_mm_a2",
            "ranges of the trials at the same current density and extension: the same wire feed speed at the new section",
        ),
        (
            "detachment_s",
            "ranges of the trials at the same place in the one-drop window, whose pulse times grow with a power of the diameter",
        ),
    ];
    mapped.into_iter().map(|(name, words)| (name.to_owned(), words.to_owned())).collect()
}

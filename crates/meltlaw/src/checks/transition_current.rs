//! *Finds* pulse currents clearly below, and background currents clearly above, the transition from drop
//! to spray transfer.
//!
//! *Why it matters*: a pulse below it throws no drop, a background above it lets drops go between pulses;
//! either way drops and pulses are not one to one.
//!
//! *What to do*: check units and wire diameter; otherwise look at the transfer on high-speed video.
//!
//! *Example*: steel 1.2 mm under argon with 5 % CO2 (240 A): pulse 180 A.
//!
//! The table and its source stand in [`crate::transition_current`]: common practice, from memory, and off by 20 % and
//! more from the one source that was seen, so only what lies beyond its band counts.

use super::magnitude::in_another_unit;
use super::rows::{cell, finding_if_any, number};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::transition_current::transition_current;
use crate::trials::{Column, Mode, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "transition_current",
    about: "Pulse currents clearly below or background currents clearly above the transition current (common practice, from memory, ± 20 %).",
    look,
};

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    if in_another_unit(study, trials, &[Column::PulseCurrent, Column::BackgroundCurrent]) {
        return Vec::new();
    }
    let wire = &study.wire;
    let Some(transition) = transition_current(wire, study.gas.as_ref()) else {
        return Vec::new();
    };
    let cells = |column, bad: &dyn Fn(f64) -> bool| -> Vec<RowReference> {
        let pulsed = trials.used().filter(|t| t.mode == Mode::Pulsed);
        pulsed.filter(|t| t.get(column).is_some_and(bad)).map(|t| cell(trials, t, column)).collect()
    };
    let [least, most] = transition.band_a;
    let table = format!(
        "transition current of {} {} mm, {}",
        wire.material.word(),
        number(wire.diameter_mm),
        transition.basis()
    );
    let action = "check the units of the currents and the wire's diameter and material; if they are right, look on high-speed video whether each drop belongs to a pulse";
    let low = cells(Column::PulseCurrent, &|a| a > 0.0 && a < least);
    let high = cells(Column::BackgroundCurrent, &|a| a > most);
    let mut findings = finding_if_any(CHECK.name, Severity::Warning, low, |concerned| {
        let expected = format!("pulse current above {} A ({table})", number(least));
        Reading::new(expected, format!("below {concerned}"), action)
    });
    findings.extend(finding_if_any(CHECK.name, Severity::Warning, high, |concerned| {
        let expected = format!("background current below {} A ({table})", number(most));
        Reading::new(expected, format!("above {concerned}"), action)
    }));
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, found, severities, steel_study, steel_trials};

    // Steel 1.2 mm, 8 % CO2: 240 A; 20 % below 192 A, above 288 A.
    #[test]
    fn a_pulse_clearly_below_and_a_background_clearly_above_are_flagged() {
        let trials = changed(steel_trials(), 0, Column::PulseCurrent, 185.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
        let trials = changed(steel_trials(), 0, Column::BackgroundCurrent, 295.0);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert!(findings[0].reading.expected.contains("common practice, from memory"));
    }

    #[test]
    fn inside_the_band_nothing_is_said() {
        let trials =
            changed(changed(steel_trials(), 0, Column::PulseCurrent, 200.0), 1, Column::BackgroundCurrent, 280.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! *Finds* mean voltages that look like millivolts or kilovolts.
//!
//! *Why it matters*: every coefficient of the voltage law and every power would be off by a thousand.
//!
//! *What to do*: convert the column to volts.
//!
//! *Example*: `voltage_mean_v` 24 660 for 24.66 V.
//!
//! Usual: 10 to 50 V; the sanity line of IEC 60974-1 for MIG/MAG, 14 V + 0.05 Ω·I, gives 19 V at 100 A
//! and 39 V at 500 A.

use super::magnitude::{Slip, Usual, judge};
use super::{Check, Finding};
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check =
    Check { name: "voltage_magnitude", about: "Mean voltages that look like millivolts or kilovolts.", look };

const VOLTAGE: Usual<'_> = Usual {
    column: Column::VoltageMean,
    window: [10.0, 50.0],
    slips: &[
        Slip { factor: 1e-3, unit: "mV", mend: "divide the column by 1000" },
        Slip { factor: 1000.0, unit: "kV", mend: "multiply the column by 1000" },
    ],
    single_rows: true,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    judge(CHECK.name, trials, &VOLTAGE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::Severity;
    use crate::checks::testing::{mapped, severities, steel_study, steel_trials};

    #[test]
    fn millivolts_stop() {
        let trials = mapped(steel_trials(), Column::VoltageMean, |v| v * 1000.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Stop]);
    }

    #[test]
    fn a_voltage_outside_the_window_that_no_unit_explains_is_a_warning() {
        let trials = mapped(steel_trials(), Column::VoltageMean, |v| v * 3.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn a_high_voltage_does_not() {
        let trials = mapped(steel_trials(), Column::VoltageMean, |v| v + 15.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

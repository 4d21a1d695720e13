//! *Finds* pulse and background times that look like seconds or microseconds, and frequencies that
//! look like kilohertz or pulses per minute.
//!
//! *Why it matters*: a pulse time off by a thousand shifts both thresholds by a thousand.
//!
//! *What to do*: give the column the suffix of its unit, `_s` or `_us`, or convert the frequency.
//!
//! *Example*: `pulse_time_ms` 0.0024 for 2.4 ms.
//!
//! Usual: pulse time 0.3 to 15 ms, background time 0.3 to 150 ms, frequency 10 to 800 Hz (common
//! practice).

use super::magnitude::{Slip, Usual, judge};
use super::{Check, Finding};
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "time_magnitude",
    about: "Pulse or background times that look like seconds or microseconds; frequencies that look like kilohertz or pulses per minute.",
    look,
};

const PULSE_TIME: Usual<'_> = Usual {
    column: Column::PulseTime,
    window: [0.3, 15.0],
    slips: &[
        Slip { factor: 1000.0, unit: "seconds", mend: "rename the column pulse_time_s" },
        Slip { factor: 1e-3, unit: "microseconds", mend: "rename the column pulse_time_us" },
    ],
    single_rows: true,
};

const BACKGROUND_TIME: Usual<'_> = Usual {
    column: Column::BackgroundTime,
    window: [0.3, 150.0],
    slips: &[
        Slip { factor: 1000.0, unit: "seconds", mend: "rename the column background_time_s" },
        Slip { factor: 1e-3, unit: "microseconds", mend: "rename the column background_time_us" },
    ],
    single_rows: true,
};

const PULSE_FREQUENCY: Usual<'_> = Usual {
    column: Column::PulseFrequency,
    window: [10.0, 800.0],
    slips: &[
        Slip { factor: 1000.0, unit: "kHz", mend: "multiply the column by 1000" },
        Slip { factor: 1.0 / 60.0, unit: "pulses per minute", mend: "divide the column by 60" },
        Slip { factor: 1e-3, unit: "mHz", mend: "divide the column by 1000" },
    ],
    single_rows: true,
};

fn look(_: &Study, trials: &Trials) -> Vec<Finding> {
    [PULSE_TIME, BACKGROUND_TIME, PULSE_FREQUENCY].iter().flat_map(|usual| judge(CHECK.name, trials, usual)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::Severity;
    use crate::checks::testing::{changed, found, mapped, named, severities, steel_study, steel_trials};

    #[test]
    fn seconds_and_microseconds_stop() {
        for (factor, rename) in [(1e-3, "rename the column pulse_time_s"), (1e3, "rename the column pulse_time_us")] {
            let trials = mapped(steel_trials(), Column::PulseTime, |v| v * factor);
            let findings = found(&CHECK, &steel_study(), &trials);
            assert_eq!(findings[0].severity, Severity::Stop);
            assert_eq!(findings[0].reading.action, rename);
        }
    }

    #[test]
    fn kilohertz_and_pulses_per_minute_stop() {
        for (factor, unit) in [(1e-3, "kHz"), (60.0, "pulses per minute")] {
            let trials = mapped(steel_trials(), Column::PulseFrequency, |v| v * factor);
            assert!(found(&CHECK, &steel_study(), &trials)[0].reading.seen.contains(unit));
        }
    }

    #[test]
    fn one_row_in_microseconds_is_named() {
        let trials = changed(steel_trials(), 7, Column::PulseTime, 2400.0);
        assert_eq!(named(&CHECK, &steel_study(), &trials), ["T08"]);
    }

    #[test]
    fn a_short_pulse_does_not() {
        let trials = changed(steel_trials(), 7, Column::PulseTime, 0.31);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

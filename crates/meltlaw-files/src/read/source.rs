//! `[source]` of the study file: limits of the power source and feeder, and which machine it is.

use meltlaw::ranges::{
    CURRENT_A, FREQUENCY_HZ, PULSE_CURRENT_A, PULSE_FREQUENCY_HZ, PULSE_TIME_MS, SHARE, SLOPE_A_PER_MS, TIME_MS,
};
use meltlaw::study::{PulseTimeIs, SettingSteps, SourceLimits};

use super::section::Section;

pub(crate) fn read_source(section: Section<'_>) -> SourceLimits {
    let study = section.study;
    let slope = |key: &'static str| {
        let stated = section.number(key, &SLOPE_A_PER_MS);
        if section.find(key).is_none() {
            let usual = SourceLimits::USUAL_SLOPE_A_PER_MS.to_string();
            study.assume(section.key(key), usual, "default of the study file");
        }
        stated.unwrap_or(SourceLimits::USUAL_SLOPE_A_PER_MS)
    };
    let (rise_a_per_ms, fall_a_per_ms) = (slope("rise_a_per_ms"), slope("fall_a_per_ms"));
    let meant = section.word("pulse_time_is", &PulseTimeIs::ALL.map(PulseTimeIs::word));
    let limits = SourceLimits {
        current_a: section.range("current_a", &CURRENT_A),
        background_current_a: section.range("background_current_a", &CURRENT_A),
        pulse_time_ms: section.range("pulse_time_ms", &TIME_MS),
        pulse_frequency_hz: section.range("pulse_frequency_hz", &FREQUENCY_HZ),
        rise_a_per_ms,
        fall_a_per_ms,
        pulse_duty: section.range("pulse_duty", &SHARE),
        setting_steps: read_steps(section.section("setting_steps")),
        pulse_time_is: PulseTimeIs::ALL.into_iter().find(|is| Some(is.word()) == meant).unwrap_or_default(),
        torch_rms_a: section.number("torch_rms_a", &PULSE_CURRENT_A),
        name: section.text("name"),
        serial: section.text("serial"),
        cable: section.text("cable"),
    };
    if limits.setting_steps.is_some() {
        study.note("[source].setting_steps is kept but does not round settings yet");
    }
    if limits.pulse_time_is != PulseTimeIs::default() {
        study.note(format!(
            "[source].pulse_time_is = \"{}\" is kept, but pulse times of the line and the limits pulse_time_ms are still at half height",
            limits.pulse_time_is.word()
        ));
    }
    if limits.torch_rms_a.is_some() {
        study.note("[source].torch_rms_a is kept but the RMS current of the line is not held against it yet");
    }
    section.finish();
    limits
}

fn read_steps(section: Section<'_>) -> Option<SettingSteps> {
    let stated = section.is_stated();
    let steps = SettingSteps {
        pulse_current_a: section.number("pulse_current_a", &PULSE_CURRENT_A),
        pulse_time_ms: section.number("pulse_time_ms", &PULSE_TIME_MS),
        pulse_frequency_hz: section.number("pulse_frequency_hz", &PULSE_FREQUENCY_HZ),
        background_current_a: section.number("background_current_a", &PULSE_CURRENT_A),
    };
    section.finish();
    stated.then_some(steps)
}

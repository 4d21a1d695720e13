//! Calls the evaluator from a library without std.
#![no_std]

use core::panic::PanicInfo;

#[panic_handler]
fn stop(_: &PanicInfo<'_>) -> ! {
    loop {}
}

/// Mean current of a pulse, or −1.
#[unsafe(no_mangle)]
pub extern "C" fn current_mean_a(pulse_current_a: f64, pulse_time_ms: f64, background_current_a: f64, pulse_frequency_hz: f64) -> f64 {
    let wave = meltlaw_line::Waveform {
        pulse_current_a,
        pulse_time_ms,
        background_current_a,
        pulse_frequency_hz,
        rise_a_per_ms: 600.0,
        fall_a_per_ms: 600.0,
    };
    let feeds = [3.0, 6.0];
    match (wave.current_mean_a(), meltlaw_line::interpolate(&feeds, 4.0)) {
        (Ok(mean), Ok(_)) => mean,
        _ => -1.0,
    }
}

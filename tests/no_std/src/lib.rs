//! Calls the evaluator from a library without std, in both precisions, and panics nowhere: the panic handler
//! calls a function that does not exist, so that a program can be linked only if no panic can be reached.
#![no_std]

use core::panic::PanicInfo;

use meltlaw_line::{Number, StandingSpan, Table, TableNode, Waveform};

unsafe extern "C" {
    fn a_panic_can_be_reached() -> !;
}

#[panic_handler]
fn stop(_: &PanicInfo<'_>) -> ! {
    unsafe { a_panic_can_be_reached() }
}

/// A table as a caller hands it over: addresses and counts, nothing known about the numbers.
#[repr(C)]
pub struct Handed<T> {
    nodes: *const TableNode<T>,
    node_count: usize,
    gaps: *const [T; 2],
    gap_count: usize,
    standing: *const StandingSpan<T>,
    standing_count: usize,
}

/// Codes of status, support and standing, from the lowest byte on; settings are written on status 0 only.
fn evaluate<T: Number>(handed: &Handed<T>, wire_feed_m_min: T, settings: &mut [T; 10]) -> u32 {
    let table = unsafe {
        Table {
            nodes: core::slice::from_raw_parts(handed.nodes, handed.node_count),
            gaps_m_min: core::slice::from_raw_parts(handed.gaps, handed.gap_count),
            standing: core::slice::from_raw_parts(handed.standing, handed.standing_count),
        }
    };
    if table.check().is_err() {
        return 255;
    }
    let codes = match table.evaluate(wire_feed_m_min) {
        Ok(e) => {
            *settings = [
                e.pulse_current_a,
                e.pulse_time_ms,
                e.pulse_frequency_hz,
                e.background_current_a,
                e.rise_a_per_ms,
                e.fall_a_per_ms,
                e.background_time_ms,
                e.current_mean_a,
                e.current_rms_a,
                e.voltage_mean_v,
            ];
            [meltlaw_line::Status::Ok.code(), e.support.code(), e.standing.code(), 0]
        }
        Err(refused) => [
            refused.status.code(),
            refused.support.map_or(0, |s| s.code()),
            refused.standing.map_or(0, |s| s.code()),
            0,
        ],
    };
    u32::from_le_bytes(codes)
}

/// In double precision.
#[unsafe(no_mangle)]
pub extern "C" fn evaluate_f64(table: &Handed<f64>, wire_feed_m_min: f64, settings: &mut [f64; 10]) -> u32 {
    evaluate(table, wire_feed_m_min, settings)
}

/// In single precision.
#[unsafe(no_mangle)]
pub extern "C" fn evaluate_f32(table: &Handed<f32>, wire_feed_m_min: f32, settings: &mut [f32; 10]) -> u32 {
    evaluate(table, wire_feed_m_min, settings)
}

/// Mean current of a pulse, or −1.
#[unsafe(no_mangle)]
pub extern "C" fn current_mean_a(
    pulse_current_a: f64,
    pulse_time_ms: f64,
    background_current_a: f64,
    pulse_frequency_hz: f64,
) -> f64 {
    let wave = Waveform {
        pulse_current_a,
        pulse_time_ms,
        background_current_a,
        pulse_frequency_hz,
        rise_a_per_ms: 600.0,
        fall_a_per_ms: 600.0,
    };
    wave.current_mean_a().unwrap_or(-1.0)
}

/// What the proof must notice: indexing without a check.
#[cfg(feature = "indexes_blindly")]
#[unsafe(no_mangle)]
pub extern "C" fn blind(feeds: &Handed<f64>, index: usize) -> f64 {
    let gaps = unsafe { core::slice::from_raw_parts(feeds.gaps, feeds.gap_count) };
    gaps[index][0]
}

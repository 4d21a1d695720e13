//! Reduced logs for the terminal.

use std::path::Path;
use std::time::Duration;

use meltlaw::reduce::{Measured, Reduced};
use meltlaw::trials::Column;
use meltlaw_files::{Progress, spelt_out};
use meltlaw_report::numbers::{fixed, rounded};

use crate::told::{Told, Tone};

/// Letters before what is told.
const START: usize = 22;

/// A log on a few lines: what it is, its row, what to look at.
pub(crate) fn log_lines(log: &Path, r: &Reduced) -> Vec<Told> {
    let with = |m: Measured, unit: &str| match m.standard_error {
        Some(se) if se > 0.0 => format!("{} {unit}", rounded(m.value, se)),
        _ => format!("{} {unit}", fixed(m.value, 3)),
    };
    let told = |name: &str, text: String| Told::new(format!("  {name:<0$}", START - 2), text);
    let mut lines = vec![Told::heading(format!(
        "{}: {}, {} to {} s of {} s at {} kHz",
        spelt_out(&log.display().to_string()),
        r.mode.word().replace('_', " "),
        fixed(r.window_s[0], 2),
        fixed(r.window_s[1], 2),
        fixed(r.samples as f64 / r.sample_rate_hz, 2),
        fixed(r.sample_rate_hz / 1000.0, 1)
    ))];
    lines.push(told(
        "means",
        format!(
            "{}, RMS {}; {}; {}; {}",
            with(r.current_mean_a, "A"),
            with(r.current_rms_a, "A"),
            with(r.voltage_mean_v, "V"),
            with(r.power_mean_w, "W"),
            with(r.arc_energy().times(1e-3), "kJ")
        ),
    ));
    let steady: Vec<String> = r
        .steady
        .iter()
        .filter_map(|(name, mean)| {
            let column = Column::from_name(name)?;
            Some(format!("{} {}", column.quantity(), with(*mean, column.unit())))
        })
        .collect();
    if !steady.is_empty() {
        lines.push(told("beside them", steady.join(", ")));
    }
    if let Some(p) = &r.pulsed {
        lines.push(told(
            "pulses",
            format!(
                "{} of {} for {}, background {}, {}",
                p.pulses,
                with(p.pulse_current_a, "A"),
                with(p.pulse_time_ms, "ms"),
                with(p.background_current_a, "A"),
                with(p.pulse_frequency_hz, "Hz")
            ),
        ));
    }
    if let Some(signs) = r.pulsed.as_ref().and_then(|p| p.drop_signs.as_ref()) {
        let [none, one, more] = signs.pulses;
        let percent = 100.0 * signs.error_rate;
        let rises = format!("rises of {} V and more", fixed(signs.threshold_v, 2));
        lines.push(told(
            "drops by voltage",
            format!(
                "{none} pulses without, {one} with one, {more} with more ({rises}; {} % told wrongly)",
                fixed(percent, 1)
            ),
        ));
    }
    if r.short_circuits > 0 {
        lines.push(told("short circuits", r.short_circuits.to_string()));
    }
    for finding in &r.findings {
        // A name as long as the column still ends with a blank.
        let named = format!("{} ", finding.name.replace('_', " "));
        lines.push(
            Told::new(format!("! {named:<0$}", START - 2), format!("{}; {}", finding.seen, finding.action))
                .toned(Tone::Warning),
        );
    }
    lines
}

/// How far reading is and how long it may take.
pub(crate) fn progress_words(p: &Progress, since: Duration) -> String {
    let megabytes = |bytes: u64| bytes as f64 / 1e6;
    let share = if p.of_bytes > 0 { (p.bytes as f64 / p.of_bytes as f64).min(1.0) } else { 0.0 };
    let left = if share > 0.02 { since.as_secs_f64() * (1.0 - share) / share } else { f64::NAN };
    let left = if left.is_finite() { format!(", {left:.0} s left") } else { String::new() };
    format!(
        "{} of {} logs, {:.0} of {:.0} MB{left}",
        p.logs,
        p.of_logs,
        megabytes(p.bytes.min(p.of_bytes)),
        megabytes(p.of_bytes)
    )
}

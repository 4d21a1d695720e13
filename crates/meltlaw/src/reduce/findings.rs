//! What to say of a log: what was noticed, how large it is, what to do.

use serde::{Deserialize, Serialize};

use super::batches::Batches;
use super::window::Weld;
use super::{ReduceSettings, Reduced};

/// Relative change over the window from which a quantity is not steady, where it stands out of its scatter.
const DRIFTS_FROM: f64 = 0.02;
const DRIFTS_STANDARD_ERRORS: f64 = 4.0;
/// Least share of samples at the end of a range that tells clipping, and how many times those at the other end.
const CLIPPED_SHARE: f64 = 1e-3;
const CLIPPED_AGAINST_OTHER: u64 = 20;
/// Fewer samples in a state tell its level badly.
const FEW_SAMPLES: usize = 8;
/// A mean voltage below this is no arc's.
const LEAST_VOLTAGE_V: f64 = 1.0;
/// Scatter of the period against its mean.
const IRREGULAR_FROM: f64 = 0.1;
/// Hum smaller than this share of the pulse current is not worth a word.
const HUM_FROM: f64 = 0.003;
/// Channels that differ by less than this many samples and microseconds agree.
const LAG_SAMPLES: f64 = 2.0;
const LAG_S: f64 = 30e-6;
/// Fewer pulses make a weak row.
const FEW_PULSES: u64 = 50;

/// Something to look at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// Its name in tables.
    pub name: String,
    /// What was noticed, with its size.
    pub seen: String,
    /// What to do.
    #[serde(rename = "do")]
    pub action: String,
}

/// Everything noticed.
pub(super) fn findings(
    reduced: &Reduced,
    weld: &Weld,
    settings: &ReduceSettings,
    missing: u64,
    bad: u64,
    out_s: f64,
) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut say = |name: &'static str, seen: String, action: &'static str| {
        found.push(Finding { name: name.to_owned(), seen, action: action.to_owned() })
    };
    let rate = settings.sample_rate_hz;
    if missing > 0 {
        let lost = missing as f64 / rate;
        say(
            "samples_missing",
            format!("{missing} samples are missing by the clock ({lost:.4} s)"),
            "record to a faster disk; sums leave them out, pulses that they cut are not taken",
        );
    }
    if bad > 0 {
        say(
            "not_a_number",
            format!("{bad} samples are no numbers and were left out"),
            "look at the recorder; every one of them is a hole in the log",
        );
    }
    clipping(weld, &mut say);
    lifeless(weld, &mut say);
    if reduced.voltage_mean_v.value > 60.0 && reduced.current_mean_a.value < 60.0 {
        let seen = format!(
            "mean current {:.1} A at mean voltage {:.1} V",
            reduced.current_mean_a.value, reduced.voltage_mean_v.value
        );
        say("channels_swapped", seen, "see which column is which: current and voltage look swapped");
    }
    if out_s > 2.0 * settings.block_s() {
        say(
            "arc_out",
            format!("the arc was out for {out_s:.2} s between its first and last moment"),
            "look at the weld; cut the log to the steady part if the arc went out",
        );
    }
    for (name, quantity, batches, unit) in [
        ("current_drifts", "the mean current", &weld.current, "A"),
        ("voltage_drifts", "the mean voltage", &weld.voltage, "V"),
        ("pulse_current_drifts", "the pulse current", &weld.pulse_current, "A"),
        ("pulse_time_drifts", "the pulse time", &weld.pulse_time, "ms"),
    ] {
        if let Some((change, mean)) = drift(batches) {
            let seen =
                format!("{quantity} changes by {change:+.2} {unit} over the window ({:+.1} %)", 100.0 * change / mean);
            say(name, seen, "weld until it is steady, or give a larger --cut-ends-s; a row is one steady state");
        }
    }
    if let Some(pulsed) = &reduced.pulsed {
        if pulsed.missed_pulses > 0 {
            let of = 100.0 * pulsed.missed_pulses as f64 / (pulsed.pulses + pulsed.missed_pulses) as f64;
            say(
                "pulses_missed",
                format!("{} pulses are missing between others ({of:.2} %)", pulsed.missed_pulses),
                "look at the source; a missed pulse leaves its drop on the wire",
            );
        }
        let period = 1000.0 / pulsed.pulse_frequency_hz.value;
        if pulsed.missed_pulses == 0 && pulsed.pulse_period_sd_ms.is_some_and(|sd| sd > IRREGULAR_FROM * period) {
            let sd = pulsed.pulse_period_sd_ms.unwrap_or(0.0);
            say(
                "period_irregular",
                format!("the period scatters by {sd:.2} ms about {period:.2} ms"),
                "see whether the source regulates the frequency; a law of pulses wants a steady one",
            );
        }
        if settings.drops && pulsed.drop_signs.is_none() {
            say(
                "drops_not_told",
                "no rise of the voltage stands out of its noise often enough to tell drops".to_owned(),
                "count them from high-speed video; a faster recorder, a probe at the contact tip and less filtering help",
            );
        }
        if weld.fewest_samples < FEW_SAMPLES {
            say(
                "few_samples_in_a_state",
                format!("a state holds only {} samples", weld.fewest_samples),
                "record faster: pulse and background need eight samples at least",
            );
        }
        if pulsed.pulses < FEW_PULSES {
            say(
                "few_pulses",
                format!("{} whole pulses lie in the window", pulsed.pulses),
                "weld longer, or give a smaller --cut-ends-s",
            );
        }
        let untold: Vec<&str> = [("rise", &pulsed.rise_a_per_ms), ("fall", &pulsed.fall_a_per_ms)]
            .into_iter()
            .filter(|(_, slope)| slope.is_none())
            .map(|(name, _)| name)
            .collect();
        if !untold.is_empty() {
            let seen = format!(
                "the {} {} less than a sample and a half ({:.0} µs)",
                untold.join(" and the "),
                if untold.len() == 1 { "lasts" } else { "last" },
                1.5e6 / rate
            );
            say("slopes_not_resolved", seen, "record faster, or state the slopes of the source");
        }
        if let (Some(lag), Some(se)) = (weld.voltage_lag.mean(), weld.voltage_lag.standard_error())
            && lag.abs() > (LAG_SAMPLES / rate).max(LAG_S)
            && lag.abs() > 4.0 * se
        {
            let word = if lag > 0.0 { "after" } else { "before" };
            say(
                "channels_apart",
                format!("the voltage steps {:.0} µs {word} the current", 1e6 * lag.abs()),
                "compare both channels on one step; --delay-us voltage=… corrects it. Before the current it may be the cable's inductance, which is real",
            );
        }
    } else if reduced.short_circuits > 0 && 2 * weld.shorts >= weld.period.count().max(1) && weld.period.count() > 0 {
        say(
            "peaks_are_short_circuits",
            format!("{} current peaks come with {} short circuits", weld.period.count(), weld.shorts),
            "nothing, if it was short-circuiting transfer; it is taken as not pulsed",
        );
    }
    // Mean currents of a millisecond are kept until pulses are known: of a pulsed weld they tell nothing.
    let current = match reduced.pulsed {
        Some(_) => ("current_hum", "the pulse current", &weld.hum_pulse, "A", reduced.current_mean_a.value),
        None => ("current_hum", "the current", &weld.hum_current, "A", reduced.current_mean_a.value),
    };
    let hums =
        [current, ("voltage_hum", "the voltage in the pulse", &weld.hum_voltage, "V", reduced.voltage_mean_v.value)];
    for (name, what, hum, unit, of) in hums {
        if let Some((hertz, amplitude)) = hum.found().filter(|(_, a)| *a > HUM_FROM * of) {
            say(
                name,
                format!("{what} swings by ± {amplitude:.2} {unit} at {hertz:.0} Hz"),
                "keep probe leads off mains cables and use isolated or differential probes; never earth the recorder through the welding circuit, whose current could return that way; sums over many periods hardly feel the hum",
            );
        }
    }
    found
}

fn drift(batches: &Batches) -> Option<(f64, f64)> {
    let (change, se) = batches.trend()?;
    let mean = batches.mean()?;
    (change.abs() > DRIFTS_FROM * mean.abs() && change.abs() > DRIFTS_STANDARD_ERRORS * se).then_some((change, mean))
}

/// A channel that shows nothing of the weld.
fn lifeless(weld: &Weld, say: &mut impl FnMut(&'static str, String, &'static str)) {
    let (sums, mean) = (&weld.sums, weld.sums.mean_voltage());
    let channels = [
        ("current_constant", "current", sums.current_range, "A"),
        ("voltage_constant", "voltage", sums.voltage_range, "V"),
    ];
    for (name, what, [least, most], unit) in channels {
        if least == most {
            let seen = format!("every sample of the {what} in the window reads {least} {unit}");
            say(name, seen, "see which column is which and whether the probe is connected: no arc holds so still");
        }
    }
    if mean.abs() < LEAST_VOLTAGE_V && sums.voltage_range[0] < sums.voltage_range[1] {
        let seen = format!("the mean voltage is {mean:.3} V while the arc burns");
        say("voltage_absent", seen, "see whether the probe is connected, and check the unit and scale of the voltage");
    }
}

fn clipping(weld: &Weld, say: &mut impl FnMut(&'static str, String, &'static str)) {
    let sums = &weld.sums;
    let ends = [
        ("current_clipped", "current", "A", sums.at_ends[1], sums.at_ends[0], sums.current_range[1]),
        ("voltage_clipped", "voltage", "V", sums.at_ends[3], sums.at_ends[2], sums.voltage_range[1]),
        ("voltage_clipped", "voltage", "V", sums.at_ends[2], sums.at_ends[3], sums.voltage_range[0]),
    ];
    for (name, what, unit, here, other, value) in ends {
        // Noise touches an end rarely and both ends alike; a flat top is the recorder's.
        if here as f64 > CLIPPED_SHARE * sums.count as f64 && here > CLIPPED_AGAINST_OTHER * other.max(1) {
            let share = 100.0 * here as f64 / sums.count as f64;
            say(
                name,
                format!("{share:.1} % of the samples read exactly {value} {unit}, the end of the {what} range"),
                "set the recorder to a larger range: what lies beyond is lost, so means and pulse current are too small",
            );
        }
    }
}

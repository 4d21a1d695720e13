//! Logs whose truth is known: every number of the row within its stated error, every fault named.
#![allow(missing_docs, clippy::unwrap_used, reason = "tests stop at the first surprise")]

use meltlaw::reduce::{Measured, ReduceSettings, Reduced, Reducer, ReductionError};
use meltlaw::trials::Mode;
use meltlaw::virtual_bench::{Log, LogTruth};

fn reduce(log: &Log, rate_hz: f64) -> Result<Reduced, ReductionError> {
    let mut reducer = Reducer::new(ReduceSettings::usual(rate_hz));
    for (i, u) in log.current.chunks(30_000).zip(log.voltage.chunks(30_000)) {
        reducer.push(i, u);
    }
    reducer.finish()
}

fn row(truth: &LogTruth, number: u64) -> Reduced {
    reduce(&truth.log(3, number), truth.sample_rate_hz).unwrap()
}

fn named(r: &Reduced) -> Vec<&str> {
    r.findings.iter().map(|f| f.name.as_str()).collect()
}

fn quiet() -> LogTruth {
    LogTruth { noise: [0.0, 0.0], jitter: 0.0, arc_s: 9.0, ..LogTruth::default() }
}

#[track_caller]
fn close(found: f64, truth: f64, within: f64) {
    assert!((found - truth).abs() <= within, "{found} instead of {truth}, more than {within} off");
}

#[test]
fn without_noise_the_closed_forms_are_met() {
    for truth in [
        quiet(),
        LogTruth { sample_rate_hz: 20_000.0, ..quiet() },
        LogTruth { slopes_a_per_ms: [300.0, 900.0], pulse_frequency_hz: 83.0, ..quiet() },
    ] {
        let r = row(&truth, 0);
        let p = r.pulsed.as_ref().unwrap();
        // f32 samples of 420 A are right to 3e-5 A.
        close(p.pulse_current_a.value, 420.0, 1e-4);
        close(p.background_current_a.value, 60.0, 1e-4);
        // A straight ramp is met by interpolation, but for the sample at its corner: of 1e-3 sample at most.
        close(p.pulse_time_ms.value, 2.0, 1e-3 * 1000.0 / truth.sample_rate_hz);
        close(p.pulse_frequency_hz.value, truth.pulse_frequency_hz, 1e-4);
        close(p.rise_a_per_ms.unwrap().value, truth.slopes_a_per_ms[0], 1.0);
        close(p.fall_a_per_ms.unwrap().value, truth.slopes_a_per_ms[1], 5.0);
        // The window holds whole periods but for one, whose charge is 0.72 A s over 8 s.
        close(r.current_mean_a.value, truth.current_mean_a(), 0.1);
        close(r.current_rms_a.value.powi(2), truth.mean_square_a2(), 40.0);
        let volts = truth.voltage[0] + truth.voltage[1] * truth.current_mean_a();
        close(r.voltage_mean_v.value, volts, 0.004);
        let watts = truth.voltage[0] * truth.current_mean_a() + truth.voltage[1] * truth.mean_square_a2();
        close(r.power_mean_w.value, watts, 3.0);
        close(r.arc_energy_j, r.power_mean_w.value * 8.0, 0.02 * r.power_mean_w.value);
        assert_eq!(r.mode, Mode::Pulsed);
        assert_eq!(named(&r), Vec::<&str>::new(), "{:?}", r.findings);
        close(r.arc_s[0], 0.3, 0.0101);
        close(r.window_s[1] - r.window_s[0], 8.0, 0.0201);
    }
}

#[test]
fn errors_lie_within_their_stated_standard_errors() {
    let truth = LogTruth { sample_rate_hz: 50_000.0, ..LogTruth::default() };
    let logs: Vec<Reduced> = (0..40).map(|n| row(&truth, n)).collect();
    type Of = fn(&Reduced) -> Measured;
    let checks: [(&str, f64, Of); 8] = [
        ("pulse current", 420.0, |r| r.pulsed.as_ref().unwrap().pulse_current_a),
        ("background current", 60.0, |r| r.pulsed.as_ref().unwrap().background_current_a),
        ("pulse time", 2.0, |r| r.pulsed.as_ref().unwrap().pulse_time_ms),
        ("frequency", 120.0, |r| r.pulsed.as_ref().unwrap().pulse_frequency_hz),
        ("rise", 400.0, |r| r.pulsed.as_ref().unwrap().rise_a_per_ms.unwrap()),
        ("mean current", truth.current_mean_a(), |r| r.current_mean_a),
        ("rms current", truth.mean_square_a2().sqrt(), |r| r.current_rms_a),
        ("mean voltage", 15.0 + 0.04 * truth.current_mean_a(), |r| r.voltage_mean_v),
    ];
    for (name, true_value, of) in checks {
        let mut inside = 0;
        let mut bias = 0.0;
        let mut spread = 0.0;
        for r in &logs {
            let m = of(r);
            let se = m.standard_error.unwrap();
            // Mean and RMS: the true mean of this log itself differs by its own jittered number of pulses, which is in se.
            let z = (m.value - true_value) / se;
            inside += usize::from(z.abs() < 2.0);
            bias += z / logs.len() as f64;
            spread += z * z / logs.len() as f64;
        }
        // Of 40 with 95 % inside two standard errors, no more than 7 miss but in one case of 1000.
        assert!(inside >= 33, "{name}: {inside} of 40 inside, bias {bias:.2}, spread {spread:.2}");
        assert!(bias.abs() < 0.6, "{name}: off by {bias:.2} standard errors on average");
    }
}

#[test]
fn hum_ringing_and_steps_of_the_recorder_move_little_and_hum_is_named() {
    let hum = row(&LogTruth { hum: [6.0, 50.0], jitter: 0.03, ..LogTruth::default() }, 1);
    let found = hum.findings.iter().find(|f| f.name == "current_hum").unwrap();
    // An earth at the recorder could carry the welding current.
    assert!(found.action.contains("isolated or differential probes"), "{found:?}");
    assert!(found.action.contains("never earth the recorder through the welding circuit"), "{found:?}");
    let p = hum.pulsed.as_ref().unwrap();
    close(p.pulse_current_a.value, 420.0, 4.0 * p.pulse_current_a.standard_error.unwrap() + 0.1);
    let rings = row(&LogTruth { ringing: [0.15, 4000.0, 0.2], ..LogTruth::default() }, 2);
    let p = rings.pulsed.as_ref().unwrap();
    // 15 % of overshoot that dies in a fifth of a millisecond leaves the central halves alone.
    close(p.pulse_current_a.value, 420.0, 0.5);
    close(p.background_current_a.value, 60.0, 0.5);
    close(p.pulse_time_ms.value, 2.0, 0.01);
    let coarse = row(&LogTruth { steps: [2.44, 0.05], ..LogTruth::default() }, 3);
    let p = coarse.pulsed.as_ref().unwrap();
    // Medians of readings in steps lie on steps, at worst half of one off where noise is larger than a step.
    close(p.pulse_current_a.value, 420.0, 0.5);
    close(p.pulse_time_ms.value, 2.0, 0.002);
    assert!(!named(&coarse).contains(&"current_clipped"), "{:?}", coarse.findings);
}

#[test]
fn a_recorder_that_clips_is_named_and_so_is_a_late_channel() {
    let clipped = row(&LogTruth { largest_a: 400.0, ..LogTruth::default() }, 4);
    assert!(named(&clipped).contains(&"current_clipped"), "{:?}", clipped.findings);
    let late = row(&LogTruth { voltage_late: 12, ..LogTruth::default() }, 5);
    let said = late.findings.iter().find(|f| f.name == "channels_apart").expect("120 µs late");
    assert!(said.seen.contains("after the current"), "{}", said.seen);
    let lag: f64 = said.seen.split(' ').find_map(|w| w.parse().ok()).unwrap();
    close(lag, 120.0, 12.0);
}

#[test]
fn missed_pulses_and_short_circuits_are_counted() {
    let truth = LogTruth { missed: 0.03, shorted: 0.02, arc_s: 20.0, ..LogTruth::default() };
    let log = truth.log(3, 6);
    let r = reduce(&log, truth.sample_rate_hz).unwrap();
    let p = r.pulsed.as_ref().unwrap();
    // The window holds 19 of 20 s, so about as much of both.
    let within = |found: u64, all: usize| (found as i64 - (all as f64 * 0.95).round() as i64).abs() <= 6;
    assert!(within(p.missed_pulses, log.missed), "{} of {}", p.missed_pulses, log.missed);
    assert!(within(r.short_circuits, log.shorts), "{} of {}", r.short_circuits, log.shorts);
    assert!(named(&r).contains(&"pulses_missed"));
}

#[test]
fn a_slow_ramp_keeps_the_width_at_half_height_and_is_said_not_to_be_steady() {
    // 20 A/s: both currents grow, the step stays.
    let truth = LogTruth { ramp_a_per_s: 20.0, arc_s: 9.0, ..quiet() };
    let r = row(&truth, 0);
    let p = r.pulsed.as_ref().unwrap();
    let middle = 0.5 * (r.window_s[0] + r.window_s[1]) - 0.3;
    close(p.pulse_current_a.value, 420.0 + 20.0 * middle, 0.3);
    close(p.background_current_a.value, 60.0 + 20.0 * middle, 0.3);
    // 0.17 A a period on a slope of 400 A/ms: 0.0004 ms.
    close(p.pulse_time_ms.value, 2.0, 0.0008);
    close(r.current_mean_a.value, truth.current_mean_a() + 20.0 * middle, 0.3);
    // The variance of a ramp of 160 A over the window: 160²/12.
    let length = r.window_s[1] - r.window_s[0];
    let square = truth.mean_square_a2()
        + 2.0 * truth.current_mean_a() * 20.0 * middle
        + (20.0 * middle).powi(2)
        + (20.0 * length).powi(2) / 12.0;
    close(r.current_rms_a.value, square.sqrt(), 0.3);
    assert!(named(&r).contains(&"current_drifts") && named(&r).contains(&"pulse_current_drifts"), "{:?}", r.findings);
}

#[test]
fn a_steady_current_is_no_pulse() {
    let truth = LogTruth { pulse_frequency_hz: 0.0, background_current_a: 180.0, ..LogTruth::default() };
    let r = row(&truth, 7);
    assert!(r.pulsed.is_none());
    // 4 A of noise in 550 000 samples: 0.0054 A.
    close(r.current_mean_a.value, 180.0, 5.0 * r.current_mean_a.standard_error.unwrap());
    assert!(r.current_mean_a.standard_error.unwrap() < 0.01);
    let hums = row(&LogTruth { hum: [3.0, 100.0], ..truth }, 8);
    assert!(hums.findings.iter().any(|f| f.name == "current_hum" && f.seen.contains("100 Hz")), "{:?}", hums.findings);
}

#[test]
fn samples_that_are_missing_or_no_numbers_leave_the_rest() {
    let truth = LogTruth { ..quiet() };
    let mut log = truth.log(3, 0);
    let mut reducer = Reducer::new(ReduceSettings::usual(1e5));
    for at in (100_000..700_000).step_by(10_007) {
        log.current[at] = f32::NAN;
    }
    reducer.push(&log.current[..400_000], &log.voltage[..400_000]);
    reducer.gap(12_345);
    reducer.push(&log.current[412_345..], &log.voltage[412_345..]);
    let r = reducer.finish().unwrap();
    let p = r.pulsed.as_ref().unwrap();
    close(p.pulse_current_a.value, 420.0, 1e-4);
    close(p.pulse_time_ms.value, 2.0, 1e-4);
    close(p.pulse_frequency_hz.value, 120.0, 1e-3);
    assert_eq!(r.samples, log.current.len() as u64);
    assert!(named(&r).contains(&"samples_missing") && named(&r).contains(&"not_a_number"), "{:?}", r.findings);
    assert!(p.missed_pulses == 0, "the gap is no missed pulse");
}

#[test]
fn a_log_without_a_weld_says_what_is_missing() {
    let none = Log { current: vec![0.5; 50_000], voltage: vec![0.1; 50_000], missed: 0, shorts: 0, drops: [0; 3] };
    let text = reduce(&none, 1e5).unwrap_err().to_string();
    assert!(text.contains("found no arc: the largest single sample is") && text.contains("0.5 A"), "{text}");
    let short = LogTruth { arc_s: 0.8, ..LogTruth::default() }.log(3, 9);
    assert!(matches!(reduce(&short, 1e5), Err(ReductionError::TooShort { .. })));
    let mut inverted = LogTruth { arc_s: 2.0, ..LogTruth::default() }.log(3, 9);
    inverted.current.iter_mut().for_each(|i| *i = -*i);
    assert!(reduce(&inverted, 1e5).unwrap_err().to_string().contains("--invert current"));
    assert!(matches!(
        reduce(&Log { current: vec![1.0], voltage: vec![1.0], missed: 0, shorts: 0, drops: [0; 3] }, 1e5),
        Err(ReductionError::NoSamples { samples: 1 })
    ));
    assert!(Reducer::new(ReduceSettings::usual(1e5)).finish().is_err());
}

#[test]
fn an_arc_that_goes_out_is_said_and_what_lies_beyond_the_last_moment_is_not_taken() {
    let one = LogTruth { after_s: 3.0, arc_s: 3.0, ..LogTruth::default() };
    let (first, second) = (one.log(3, 10), LogTruth { after_s: 30.0, ..one.clone() }.log(3, 11));
    let mut reducer = Reducer::new(ReduceSettings::usual(1e5));
    for log in [&first, &second] {
        reducer.push(&log.current, &log.voltage);
    }
    let r = reducer.finish().unwrap();
    assert!(named(&r).contains(&"arc_out"), "{:?}", r.findings);
    close(r.arc_s[1], 0.3 + 3.0 + 3.0 + 0.3 + 3.0, 0.02);
    close(r.window_s[1], r.arc_s[1] - 0.5, 0.02);
}

fn signs(truth: &LogTruth, number: u64) -> (Log, Reduced) {
    let log = truth.log(3, number);
    let mut reducer = Reducer::new(ReduceSettings { drops: true, ..ReduceSettings::usual(truth.sample_rate_hz) });
    reducer.push(&log.current, &log.voltage);
    (log, reducer.finish().unwrap())
}

#[test]
fn drops_are_counted_by_the_voltage_with_the_error_rate_that_is_stated() {
    // Drops of one pulse 1.2 ms apart, give or take 0.2: hardly ever within the half a millisecond that shows as one.
    let truth = LogTruth { drop_after_ms: [1.6, 0.14], arc_s: 21.0, ..LogTruth::default() };
    for (number, shares, height_v) in [
        (20, [0.0, 0.0], 1.5),
        (21, [0.3, 0.0], 1.5),
        (22, [0.1, 0.25], 1.5),
        (23, [0.2, 0.1], 0.8),
        (24, [0.9, 0.0], 2.5),
    ] {
        let (log, r) = signs(&LogTruth { drop_shares: shares, drop_sign: [height_v, 0.25], ..truth.clone() }, number);
        let p = r.pulsed.as_ref().unwrap();
        let told = p.drop_signs.as_ref().unwrap_or_else(|| panic!("{shares:?}: not told, {:?}", r.findings));
        // The window holds 20 of 21 s; which of them a share of 300 lies in scatters by its root.
        let pulses = told.pulses.iter().sum::<u64>() as f64;
        assert!((pulses / p.pulses as f64 - 1.0).abs() < 0.01, "{pulses} of {}", p.pulses);
        for (found, truly) in told.pulses.iter().zip(log.drops) {
            let wanted = truly as f64 / log.drops.iter().sum::<usize>() as f64;
            let within = 2.0 * told.error_rate + 0.004;
            assert!(
                (*found as f64 / pulses - wanted).abs() < within,
                "{shares:?}: {:?} of {:?}, error rate {}",
                told.pulses,
                log.drops,
                told.error_rate
            );
        }
        assert!(told.error_rate < 0.05, "{shares:?}: {}", told.error_rate);
    }
}

#[test]
fn where_the_voltage_tells_no_drops_that_is_said() {
    let truth = LogTruth { arc_s: 11.0, ..LogTruth::default() };
    for (number, truth) in [
        (30, truth.clone()),
        (31, LogTruth { drop_sign: [0.15, 0.25], drop_shares: [0.3, 0.0], ..truth.clone() }),
        (32, LogTruth { ringing: [0.15, 4000.0, 0.2], ..truth.clone() }),
        (33, LogTruth { voltage_late: 5, ..truth.clone() }),
        (34, LogTruth { sample_rate_hz: 10_000.0, drop_sign: [2.0, 0.25], ..truth.clone() }),
        (35, LogTruth { hum: [6.0, 50.0], steps: [2.44, 0.05], shorted: 0.02, ..truth }),
    ] {
        let (_, r) = signs(&truth, number);
        assert!(r.pulsed.as_ref().unwrap().drop_signs.is_none(), "{number}: {:?}", r.pulsed);
        assert!(named(&r).contains(&"drops_not_told"), "{number}: {:?}", r.findings);
    }
}

#[test]
fn pulses_of_any_shape_are_looked_through_for_drops() {
    // Edges that leave no pause, pulses of a few samples, noise as large as the step: an answer or none, no panic.
    for (number, slope) in [25.0, 60.0, 150.0, 400.0, 3000.0].into_iter().enumerate() {
        for (frequency_hz, time_ms, noise_a) in
            [(40.0, 6.0, 4.0), (120.0, 2.0, 30.0), (330.0, 1.2, 8.0), (900.0, 0.5, 2.0)]
        {
            let truth = LogTruth {
                sample_rate_hz: 20_000.0,
                arc_s: 2.2,
                slopes_a_per_ms: [slope, 1.7 * slope],
                pulse_frequency_hz: frequency_hz,
                pulse_time_ms: time_ms,
                noise: [noise_a, 0.4],
                jitter: 0.2,
                missed: 0.05,
                drop_sign: [1.5, 0.25],
                ..LogTruth::default()
            };
            let (log, r) = signs(&truth, 40 + number as u64);
            assert_eq!(r.samples, log.current.len() as u64);
        }
    }
}

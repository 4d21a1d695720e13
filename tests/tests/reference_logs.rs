//! A log reduced by numpy, sample by sample and without the program (`datasets/reference/log_reduction`).

use meltlaw::reduce::{ReduceSettings, Reducer};
use meltlaw_tests::reference::{json, number, top};

/// Both channels of a NumPy array of singles with two columns: ten bytes, the header that they count, then rows.
fn channels() -> (Vec<f32>, Vec<f32>) {
    let bytes = std::fs::read(top().join("datasets/reference/log_reduction/log.npy")).expect("the log");
    let header = 10 + usize::from(u16::from_le_bytes([bytes[8], bytes[9]]));
    let single = |b: &[u8]| f32::from_le_bytes([b[0], b[1], b[2], b[3]]);
    bytes[header..].chunks_exact(8).map(|row| (single(row), single(&row[4..]))).unzip()
}

#[test]
fn numpy_finds_the_same_in_a_log() {
    let expected = json("reference/log_reduction/expected.json");
    let at = |name: &str| number(&expected, &format!("/{name}"));
    let settings = ReduceSettings { cut_ends_s: at("cut_ends_s"), ..ReduceSettings::usual(at("sample_rate_hz")) };
    let (current, voltage) = channels();
    let mut reducer = Reducer::new(settings);
    reducer.push(&current, &voltage);
    let r = reducer.finish().expect("a whole log");
    let p = r.pulsed.as_ref().expect("pulses");
    // Sums of doubles in another order.
    for (found, name) in [
        (r.current_mean_a.value, "current_mean_a"),
        (r.current_rms_a.value, "current_rms_a"),
        (r.voltage_mean_v.value, "voltage_mean_v"),
        (r.power_mean_w.value, "power_mean_w"),
        (r.arc_energy_j, "arc_energy_j"),
    ] {
        assert!((found / at(name) - 1.0).abs() < 1e-9, "{name}: {found}");
    }
    assert_eq!(
        r.window_s,
        [expected["window_s"][0].as_f64(), expected["window_s"][1].as_f64()].map(|v| v.expect("a time"))
    );
    assert_eq!((p.pulses, r.short_circuits), (at("pulses") as u64, at("short_circuits") as u64));
    // Levels are followed pulse by pulse here and taken once there: where an edge's middle is moves by a sample now and
    // then, and with it the ends of what a median is taken of. Noise of 3 A on 20 samples: 0.8 A a median, a sample
    // exchanged in some of 151 of them 0.01 A of the mean.
    for (found, name, within) in [
        (p.pulse_current_a.value, "pulse_current_a", 0.01),
        (p.background_current_a.value, "background_current_a", 0.01),
        (p.pulse_time_ms.value, "pulse_time_ms", 1e-4),
        (p.pulse_frequency_hz.value, "pulse_frequency_hz", 1e-3),
        (p.pulse_period_sd_ms.expect("told"), "pulse_period_sd_ms", 1e-4),
        (p.rise_a_per_ms.expect("told").value, "rise_a_per_ms", 0.2),
        (p.fall_a_per_ms.expect("told").value, "fall_a_per_ms", 0.4),
    ] {
        assert!((found - at(name)).abs() < within, "{name}: {found} instead of {}", at(name));
    }
    // By batch means here, by autocorrelation over 20 lags there, and as if pulses were independent: estimates with 30
    // and fewer degrees, so within a factor of 1.5 of each other.
    let se = p.pulse_current_a.standard_error.expect("told");
    for name in ["pulse_current_a_se", "pulse_current_a_se_independent"] {
        assert!((0.67..1.5).contains(&(se / at(name))), "{name}: {se} instead of {}", at(name));
    }
}

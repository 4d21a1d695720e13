//! What a study file means: the contract's defaults, what counts as assumed and as not covered, and the
//! keys that are there and optional.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use std::fs;

use meltlaw::factors::Factor;
use meltlaw::materials::Material;
use meltlaw::setup::{ConfirmRule, Polarity};
use meltlaw::study::{ArcVoltageForm, BurnOffForm, CalibrationTerm, CovarianceFrom, PulseTimeIs, VoltagePlace};
use meltlaw_files::{ReadStudy, read_study};

const LEAST: &str = "[wire]\nmaterial = \"aluminium\"\ndiameter_mm = 1.2\n[bench]\nctwd_mm = 18\n\
    [line]\nwire_feed_m_min = [3, 9]\n[[trials]]\nfile = \"t.csv\"\n";

fn read(study: &str) -> ReadStudy {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("other.toml"), study).unwrap();
    fs::write(folder.path().join("t.csv"), "trial\na\n").unwrap();
    read_study(&folder.path().join("other.toml")).unwrap()
}

#[test]
fn prior_knowledge_is_off_unless_stated() {
    assert_eq!(read(LEAST).study.prior, []);
    let more = format!(
        "{LEAST}[prior.detachment.exponent]\nmean = 2.0\nstandard_deviation = 0.2\nsource = \"other wires\"\n\
         [prior.burn_off.beta_per_a2_s]\nmean = 5e-5\nstandard_deviation = 2e-6\nsource = \"last year\"\n"
    );
    let prior = read(&more).study.prior;
    let shown: Vec<_> =
        prior.iter().map(|p| (p.law, p.coefficient, p.mean, p.standard_deviation, p.source.as_str())).collect();
    assert_eq!(
        shown,
        [("burn_off", "beta_per_a2_s", 5e-5, 2e-6, "last year"), ("detachment", "exponent", 2.0, 0.2, "other wires")]
    );
}

#[test]
fn what_is_left_out_has_the_default_and_is_listed() {
    let read = read(LEAST);
    let study = read.study;
    assert_eq!(read.file, "other.toml");
    assert_eq!(study.wire.designation, "aluminium wire 1.2 mm");
    assert_eq!(study.gas, None);
    assert_eq!(study.bench.voltage_measured_at, VoltagePlace::ContactTip);
    assert_eq!(study.numerics.covariance_from, CovarianceFrom::Residuals);
    assert_eq!(study.source.pulse_duty, None);
    assert_eq!(study.line.travel_speed_mm_s, None);
    assert_eq!(study.not_covered, CalibrationTerm::ALL);
    assert_eq!(study.laws.arc_voltage, None);
    let assumed: Vec<String> = study.assumed.iter().map(|a| format!("{} = {}", a.key, a.value)).collect();
    // The values that the contract shows for [bench], [line], [compare], [confirm] and [numerics]; slopes 600 A/ms.
    assert_eq!(
        assumed,
        [
            "name = unnamed study",
            "wire.designation = aluminium wire 1.2 mm",
            "wire.density_kg_m3 = 2690",
            "bench.arc_length_mm = 4",
            "bench.voltage_measured_at = contact-tip",
            "bench.wire_feed_relative_se = 0.005",
            "bench.current_relative_se = 0.01",
            "bench.voltage_se_v = 0.2",
            "bench.ctwd_se_mm = 0.2",
            "bench.arc_length_se_mm = 0.3",
            "bench.extension_se_mm = 0.3",
            "bench.pulse_time_relative_se = 0.01",
            "source.rise_a_per_ms = 600",
            "source.fall_a_per_ms = 600",
            "line.step_m_min = 0.5",
            "line.drop_to_wire_ratio = 1.1",
            "line.drop_to_wire_limits = [0.8, 1.4]",
            "line.interpolation_tolerance = 0.002",
            "line.one_drop_floor = 0.8",
            "line.extended_by = 0.15",
            "line.extended_melting_rate_relative_se = 0.02",
            "line.composing = optimised",
            "line.weights.one_drop = 1",
            "line.weights.drop_size = 1",
            "line.weights.pulse_current = 1",
            "line.weights.smoothness = 1",
            "compare.wire_feed_relative = 0.02",
            "compare.detachment_relative = 0.05",
            "compare.voltage_v = 0.5",
            "confirm.wire_feed_relative = 0.02",
            "confirm.voltage_v = 0.5",
            "confirm.drops_per_pulse = 0.1",
            "confirm.false_accept = 0.05",
            "numerics.seed = 1",
            "numerics.draws = 2000",
            "numerics.confidence = 0.95",
            "numerics.covariance_from = residuals",
        ]
    );
    assert_eq!(study.assumed[2].source, Material::Aluminium.density().source);
    assert_eq!(study.assumed[3].source, "default of the study file");
}

#[test]
fn a_stated_zero_is_stated() {
    let study = read(&format!("{LEAST}[calibration]\nctwd_offset_mm = 0\nvoltage_gain_relative = 0.001\n")).study;
    assert_eq!(study.calibration_uncertainty(CalibrationTerm::CtwdOffsetMm), Some(0.0));
    assert_eq!(study.calibration_uncertainty(CalibrationTerm::VoltageGainRelative), Some(0.001));
    assert_eq!(study.not_covered.len(), 5);
    assert!(!study.not_covered.contains(&CalibrationTerm::CtwdOffsetMm));
}

#[test]
fn every_optional_key_is_understood() {
    let study = LEAST
        .replace("[line]\n", "[line]\npin = [{ wire_feed_m_min = 8, pulse_time_ms = 2.5 }, { wire_feed_m_min = 4, pulse_frequency_hz = 60 }]\n")
        .replace("ctwd_mm = 18\n", "ctwd_mm = 18\nvoltage_measured_at = \"source\"\nlead_resistance_ohm = 2e-3\n");
    let study = format!(
        "name = \"<b>1</b>\"\n{study}[laws]\nburn_off = \"offset\"\narc_voltage = \"current_arc\"\ndetachment = \"ordered_logit\"\n\
         reference_current_a = 300\n[source]\npulse_duty = [0.02, 0.75]\ncurrent_a = [20, 500]\n[gas]\nargon = 97\n\
         [numerics]\nseed = 0\ndraws = 100\ncovariance_from = \"stated_errors\"\n"
    );
    // As an editor on another system may save it.
    let study = read(&format!("\u{feff}{}", study.replace('\n', "\r\n"))).study;
    assert_eq!(study.name, "<b>1</b>");
    assert_eq!(study.line.pins.iter().map(|pin| pin.wire_feed_m_min).collect::<Vec<_>>(), [4.0, 8.0]);
    assert_eq!((study.bench.voltage_measured_at, study.bench.lead_resistance_ohm), (VoltagePlace::Source, 0.002));
    assert_eq!((study.laws.burn_off, study.laws.arc_voltage), (BurnOffForm::Offset, Some(ArcVoltageForm::CurrentArc)));
    assert_eq!(study.reference_current_a(), 300.0);
    assert_eq!(study.source.pulse_duty, Some([0.02, 0.75]));
    // A gas that sums to 97 is read: what to make of it is a check's business.
    assert_eq!(study.gas.map(|gas| gas.total()), Some(97.0));
    assert_eq!((study.numerics.seed, study.numerics.draws), (0, 100));
    assert_eq!(study.numerics.covariance_from, CovarianceFrom::StatedErrors);
}

/// Keys that go along with a line or that later commands ask for.
const KEPT: &str = "[source]\nsetting_steps = { pulse_current_a = 1.0, pulse_time_ms = 0.05 }\npulse_time_is = \"flat-top\"\n\
    torch_rms_a = 250.0\nname = \"own rig\"\nserial = \"7\"\ncable = \"5 m\"\n\
    [setup]\npolarity = \"electrode-positive\"\nthickness_mm = 12.5\nposition = \"PA\"\n\
    [confirm]\nvoltage_v = 0.4\n[compare]\nshared_form = true\n[laws]\ndiscrepancy = \"none\"\n\
    [factors.day]\nmelting_relative = 0.006\nvoltage_v = 0.1\n";

#[test]
fn what_goes_along_with_a_line_is_kept_and_what_does_not_act_yet_is_said() {
    let read = read(&format!("{LEAST}{KEPT}"));
    let study = read.study;
    assert_eq!(study.source.setting_steps.and_then(|s| s.pulse_time_ms), Some(0.05));
    assert_eq!((study.source.pulse_time_is, study.source.torch_rms_a), (PulseTimeIs::FlatTop, Some(250.0)));
    assert_eq!(study.source.name.as_deref(), Some("own rig"));
    assert_eq!(study.setup.polarity, Polarity::ElectrodePositive);
    assert_eq!(study.setup.texts().collect::<Vec<_>>(), [("position", "PA"), ("thickness_mm", "12.5")]);
    assert_eq!(study.confirm, ConfirmRule { voltage_v: 0.4, ..ConfirmRule::default() });
    assert!(study.compare.shared_form);
    assert_eq!(study.factors[&Factor::Day].melting_relative, Some(0.006));
    assert_eq!(
        read.trials.reading_notes,
        [
            "[source].setting_steps is kept but does not round settings yet",
            "[source].pulse_time_is = \"flat-top\" is kept, but pulse times of the line and the limits pulse_time_ms are still at half height",
            "[source].torch_rms_a is kept but the RMS current of the line is not held against it yet",
            "[compare].shared_form is kept but does not change any verdict yet",
            "[confirm] is kept in line.json; no command holds welds against it yet",
            "[setup] is kept in line.json and printed in the report; no command compares it yet",
            "[factors.day] is kept but does not enter any interval yet",
        ]
    );
    // What a study does not state is not spoken of.
    assert_eq!(self::read(LEAST).trials.reading_notes, Vec::<String>::new());
    assert_eq!(self::read(LEAST).study.setup.polarity, Polarity::Unknown);
}

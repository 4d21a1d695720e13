//! Shifted settings against the laws by hand and against the worked example, whose line an independent
//! script composed (datasets/worked_example).
#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use meltlaw::backwards::{Wanted, feeds_for, feeds_for_shifted};
use meltlaw::compose::{Shift, ShiftError, Shifted, shifted};
use meltlaw::line::Node;
use meltlaw::line_at::at;
use meltlaw::line_study::LineStudyError;
use meltlaw::record::{LawsRecord, LineRecord};
use meltlaw_line::Limit;
use serde_json::{Value, json};

/// The example's line with what a line of this program carries besides: request, bench and numerics as in
/// its study.toml, calibration as in its laws.json.
fn record() -> LineRecord {
    let mut line: Value = serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap();
    let laws: LawsRecord = serde_json::from_str(include_str!("../../../datasets/worked_example/laws.json")).unwrap();
    line["request"] = json!({
        "wire_feed_m_min": [3.0, 9.5], "step_m_min": 0.5, "drop_to_wire_ratio": 1.1,
        "drop_to_wire_limits": [0.8, 1.4], "interpolation_tolerance": 0.002, "one_drop_floor": 0.8,
        "extended_by": 0.15, "extended_melting_rate_relative_se": 0.02, "travel_speed_mm_s": 7.0,
    });
    line["bench"] = json!({
        "ctwd_mm": 18.0, "arc_length_mm": 4.0, "voltage_measured_at": "contact-tip", "lead_resistance_ohm": 0.0,
        "wire_feed_relative_se": 0.004, "current_relative_se": 0.008, "voltage_se_v": 0.15, "ctwd_se_mm": 0.0,
        "arc_length_se_mm": 0.15, "extension_se_mm": 0.3, "pulse_time_relative_se": 0.01,
    });
    line["numerics"] = json!({ "seed": 1, "draws": 2000, "confidence": 0.95, "covariance_from": "residuals" });
    line["calibration"] = serde_json::to_value(laws.calibration).unwrap();
    serde_json::from_value(line).unwrap()
}

fn arc(arc_length_mm: f64) -> Shift {
    Shift { arc_length_mm: Some(arc_length_mm), drop_to_wire_ratio: None }
}

fn drops(ratio: f64) -> Shift {
    Shift { arc_length_mm: None, drop_to_wire_ratio: Some(ratio) }
}

fn close(a: f64, b: f64, relative: f64) {
    assert!((a / b - 1.0).abs() <= relative, "{a} {b}");
}

/// Contract §5 at the shifted setting, to 1e-12.
fn identities_hold(record: &LineRecord, shifted: &Shifted) {
    let of = |law: &meltlaw::laws::FittedLaw, name: &str| law.coefficients[name].value.unwrap();
    let n = &shifted.setting;
    let w = n.wire_feed_m_min / 0.06;
    let extension = record.conditions.ctwd_mm - shifted.conditions.arc_length_mm;
    assert_eq!(extension, shifted.conditions.extension_mm);
    let burn = &record.laws.burn_off;
    let melted = of(burn, "alpha_mm_per_a_s") * n.current_mean_a
        + of(burn, "beta_per_a2_s") * extension * n.current_rms_a.powi(2);
    close(melted, w, 1e-12);
    let volume = n.pulse_frequency_hz * std::f64::consts::PI / 6.0 * n.drop_diameter_mm.powi(3);
    close(volume, record.wire.section_mm2() * w, 1e-12);
    let (f, tp) = (n.pulse_frequency_hz / 1000.0, n.pulse_time_ms);
    let (ib, delta) = (n.background_current_a, n.pulse_current_a - n.background_current_a);
    close(ib + delta * tp * f, n.current_mean_a, 1e-12);
    let ramps = delta / n.rise_a_per_ms + delta / n.fall_a_per_ms;
    let square = ib * ib + (2.0 * ib * delta * tp + delta * delta * (tp - ramps / 6.0)) * f;
    close(square, n.current_rms_a.powi(2), 1e-12);
    let volt = &record.laws.arc_voltage;
    let voltage = of(volt, "intercept_v")
        + of(volt, "slope_ohm") * n.current_mean_a
        + of(volt, "gradient_v_per_mm") * shifted.conditions.arc_length_mm
        + of(volt, "extension_ohm_per_mm") * extension * n.current_mean_a;
    close(voltage, n.voltage_mean_v, 1e-12);
}

#[test]
fn a_shift_to_the_own_arc_length_and_drop_gives_the_node_back() {
    let record = record();
    for node in &record.line.nodes {
        let own = Shift {
            arc_length_mm: Some(4.0),
            drop_to_wire_ratio: Some(node.drop_diameter_mm / record.wire.diameter_mm),
        };
        let back = shifted(&record, node.wire_feed_m_min, own).unwrap();
        let settings = |n: &Node| {
            [
                n.pulse_current_a,
                n.pulse_time_ms,
                n.pulse_frequency_hz,
                n.background_current_a,
                n.background_time_ms,
                n.rise_a_per_ms,
                n.fall_a_per_ms,
                n.current_mean_a,
                n.current_rms_a,
                n.drop_diameter_mm,
                n.melting_rate_kg_h,
                n.voltage_mean_v,
                n.power_mean_w,
            ]
        };
        for (a, b) in settings(&back.setting).into_iter().zip(settings(node)) {
            close(a, b, 1e-9);
        }
        assert_eq!((&back.setting.support, &back.setting.limits), (&node.support, &node.limits));
        identities_hold(&record, &back);
    }
}

#[test]
fn a_longer_arc_takes_current_for_the_extension_it_shortens() {
    let record = record();
    let longer = shifted(&record, 6.0, arc(5.0)).unwrap();
    identities_hold(&record, &longer);
    let (n, line) = (&longer.setting, at(&record, 6.0).unwrap());
    assert_eq!((longer.conditions.arc_length_mm, longer.conditions.extension_mm), (5.0, 13.0));
    // Pulse and frequency held, so the drop too.
    assert_eq!((n.pulse_current_a, n.pulse_time_ms), (line.pulse_current_a, line.pulse_time_ms));
    assert_eq!(n.pulse_frequency_hz, line.pulse_frequency_hz);
    close(n.drop_diameter_mm, 1.32, 1e-12);
    // β·I_rms² = 5.3889e-5 · 51870 A² = 2.795 mm/s are lost per mm of extension; the background restores
    // 7.20 A per mm at the node (its sensitivity to CTWD), a little more on the way there.
    let change = longer.changes.background_current_a;
    assert!((7.2..7.5).contains(&change.difference()), "{change:?}");
    // The gradient adds 0.8651 V; the current adds R·ΔĪ and the extension takes r·Ī: a few hundredths.
    let volts = longer.changes.voltage_mean_v.difference();
    assert!((volts - 0.8651).abs() < 0.12, "{volts}");
    assert_eq!(n.support, "covered");
    let [low, high] = n.voltage_mean_v_interval;
    assert!(low < n.voltage_mean_v && n.voltage_mean_v < high);
}

#[test]
fn a_larger_drop_asks_for_fewer_pulses() {
    let record = record();
    let larger = shifted(&record, 4.0, drops(1.2)).unwrap();
    identities_hold(&record, &larger);
    // f = 6·A·w/(π·D³) = 1.5·d²·w/D³ = 1.5 · 1.44 · 66.6667/1.44³ = 100/2.0736 = 48.22531 Hz.
    assert!((larger.setting.pulse_frequency_hz - 100.0 / 2.0736).abs() < 1e-9);
    close(larger.setting.drop_diameter_mm, 1.44, 1e-12);
    assert!(larger.changes.background_current_a.difference() > 0.0);
    assert!(larger.setting.notes.iter().any(|n| n.contains("size of the drop")));
    let both = Shift { arc_length_mm: Some(3.0), drop_to_wire_ratio: Some(1.15) };
    identities_hold(&record, &shifted(&record, 5.0, both).unwrap());
}

#[test]
fn a_shift_a_little_beyond_the_trials_is_extended_and_says_why() {
    // The trials' arc lengths go from 2.6 to 5.8 mm.
    let extended = shifted(&record(), 6.0, arc(6.0)).unwrap();
    assert_eq!(extended.setting.support, "extended");
    assert_eq!(
        extended.support_reason,
        "the arc length 6.0 mm lies above the trials' 2.6 mm to 5.8 mm: weld trials there"
    );
}

fn refused(feed: f64, shift: Shift) -> (Vec<Limit>, String) {
    match shifted(&record(), feed, shift) {
        Err(ShiftError::Refused { limits, reason }) => (limits, reason),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_refused_shift_tells_what_was_asked_what_stands_in_the_way_and_what_would_do() {
    // 5.8 mm and 15 % of 3.2 mm: 6.28 mm, told rounded inwards so that it can be asked for.
    let (limits, reason) = refused(6.0, arc(7.0));
    assert!(limits.contains(&Limit::DataHigh), "{limits:?}");
    assert!(reason.starts_with("arc length 7 mm at 6 m/min: the arc length would lie above"), "{reason}");
    assert!(reason.ends_with("carries a shift as far as arc length 6.279 mm"), "{reason}");
    assert!(shifted(&record(), 6.0, arc(6.279)).is_ok());
    // At 8 m/min the background lies on its limit of 150 A already.
    let (limits, reason) = refused(8.0, arc(5.0));
    assert_eq!(limits, [Limit::BackgroundHigh]);
    assert!(reason.contains("above its limit of 150.0 A") && reason.ends_with("as far as arc length 4 mm"), "{reason}");
    let (limits, reason) = refused(4.0, drops(1.5));
    assert!(limits.contains(&Limit::DropLarge));
    assert!(reason.contains("drop-to-wire ratio would be 1.500, above its limit of 1.400"), "{reason}");
    // Ten times as many pulses melt more than is fed, whatever the background.
    let (limits, reason) = refused(4.0, drops(0.5));
    assert_eq!(limits, [Limit::BackgroundLow]);
    assert!(reason.contains("the pulses alone would melt more than is fed"), "{reason}");
}

#[test]
fn without_a_gradient_the_voltage_cannot_follow_the_arc() {
    let mut record = record();
    let law = &mut record.laws.arc_voltage;
    law.form = "current".to_owned();
    law.coefficient_order.truncate(2);
    law.covariance.truncate(2);
    law.covariance.iter_mut().for_each(|row| row.truncate(2));
    law.coefficients.retain(|name, _| name == "intercept_v" || name == "slope_ohm");
    let longer = shifted(&record, 6.0, arc(5.0)).unwrap();
    assert_eq!(longer.setting.support, "extended");
    assert!(longer.setting.notes.iter().any(|n| n.contains("no term for the arc length")));
    assert!(longer.support_reason.contains("no term for the arc length"));
    // The drop may still change at the arc length of the line.
    assert!(!shifted(&record, 6.0, drops(1.15)).unwrap().support_reason.contains("arc length"));
}

#[test]
fn what_cannot_be_asked_is_said() {
    let record = record();
    assert_eq!(shifted(&record, 6.0, Shift::default()), Err(ShiftError::NothingAsked));
    for wrong in [arc(0.0), arc(-1.0), arc(18.0), arc(f64::NAN), drops(0.0), drops(f64::INFINITY)] {
        assert!(matches!(shifted(&record, 6.0, wrong), Err(ShiftError::Impossible { .. })), "{wrong:?}");
    }
    let ShiftError::NoSetting(none) = shifted(&record, 9.0, arc(5.0)).unwrap_err() else { panic!() };
    assert_eq!(none.status, meltlaw_line::Status::AboveRange);
    let mut foreign = record.clone();
    foreign.bench = None;
    let lacks = shifted(&foreign, 6.0, arc(5.0)).unwrap_err();
    assert_eq!(lacks, ShiftError::LineStudy(LineStudyError::Lacks { members: vec!["bench"] }));
    let mut edited = record;
    edited.conditions.arc_length_mm = 5.0;
    assert!(shifted(&edited, 6.0, arc(5.0)).unwrap_err().to_string().contains("contradicts itself"));
}

#[test]
fn the_study_of_a_line_composes_as_the_one_it_came_from() {
    let record = record();
    let study = record.study().unwrap();
    assert_eq!(Some(&study.line), record.request.as_ref());
    assert_eq!((study.conditions(), study.source.clone()), (record.conditions.clone(), record.source.clone()));
    assert_eq!(study.calibration.len(), 4);
    assert_eq!(study.not_covered.len(), 3);
}

#[test]
fn backwards_a_shifted_line_is_asked_for_the_feed_whose_shifted_setting_gives_the_value() {
    let record = record();
    for shift in [arc(4.6), drops(1.05), Shift { arc_length_mm: Some(3.6), drop_to_wire_ratio: Some(1.1) }] {
        let there = shifted(&record, 6.3, shift).unwrap().setting;
        let heat = there.heat_input_kj_mm.unwrap();
        for (wanted, of) in [
            (Wanted::CurrentMeanA(there.current_mean_a), (|n: &Node| n.current_mean_a) as fn(&Node) -> f64),
            (Wanted::HeatInputKjMm(heat), |n| n.heat_input_kj_mm.unwrap()),
            (Wanted::MeltingRateKgH(there.melting_rate_kg_h), |n| n.melting_rate_kg_h),
        ] {
            let asked = feeds_for_shifted(&record, wanted, shift).unwrap();
            let [answer] = &asked.found.answers[..] else { panic!("{wanted:?} {asked:?}") };
            close(answer.wire_feed_m_min, 6.3, 1e-8);
            close(of(&asked.settings[0].setting), wanted.value(), 1e-9);
            assert_eq!(answer.support, asked.settings[0].setting.support);
            let [low, high] = answer.wire_feed_m_min_interval.map(Option::unwrap);
            assert!(low < 6.3 && 6.3 < high, "{answer:?}");
            // The line as it stands gives the value elsewhere, but for the melting rate, which is the feed itself.
            let own = feeds_for(&record, wanted).answers[0].wire_feed_m_min;
            assert_eq!((own - 6.3).abs() > 0.01, !matches!(wanted, Wanted::MeltingRateKgH(_)), "{wanted:?} at {own}");
        }
    }
}

#[test]
fn the_interval_of_a_shifted_answer_ends_where_the_moved_interval_no_longer_holds_the_value() {
    let record = record();
    let there = shifted(&record, 6.3, arc(4.6)).unwrap().setting;
    let wanted = Wanted::CurrentMeanA(there.current_mean_a);
    let answer = &feeds_for_shifted(&record, wanted, arc(4.6)).unwrap().found.answers[0];
    let [low, high] = answer.wire_feed_m_min_interval.map(Option::unwrap);
    let [least, most] = there.balancing_current_mean_a_interval.unwrap();
    let mean = |feed: f64| shifted(&record, feed, arc(4.6)).unwrap().setting.current_mean_a;
    close(mean(low), 2.0 * there.current_mean_a - most, 1e-9);
    close(mean(high), 2.0 * there.current_mean_a - least, 1e-9);
}

#[test]
fn backwards_a_feed_whose_shifted_setting_cannot_be_set_is_told_and_is_no_answer() {
    let record = record();
    let last = record.line.nodes.last().unwrap();
    // At the fast end the background lies on its limit already, and a longer arc needs more.
    let shift = arc(5.0);
    assert!(shifted(&record, last.wire_feed_m_min, shift).is_err());
    let mean = feeds_for_shifted(&record, Wanted::MeltingRateKgH(last.melting_rate_kg_h), shift).unwrap();
    assert!(mean.found.answers.is_empty(), "{mean:?}");
    assert!(mean.found.reason.contains("the shifted setting cannot be set there"), "{}", mean.found.reason);
    assert!(mean.refused.len() == 1 && !mean.refused[0].reason.is_empty(), "{mean:?}");
    let beyond = feeds_for_shifted(&record, Wanted::CurrentMeanA(1e308), arc(4.6)).unwrap().found;
    assert!(beyond.reason.contains("less than 1e308 A everywhere"), "{}", beyond.reason);
    assert!(matches!(
        feeds_for_shifted(&record, Wanted::CurrentMeanA(180.0), arc(40.0)),
        Err(ShiftError::Impossible { .. })
    ));
}

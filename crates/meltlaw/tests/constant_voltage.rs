//! Constant-voltage welds through the whole way: they count for burn-off and voltage, and the line stands
//! beside them. The laboratory is invented.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use meltlaw::constant_voltage::PowerFrom;
use meltlaw::develop;
use meltlaw::gas::Gas;
use meltlaw::heat::{THERMAL_EFFICIENCY, arc_energy_kj_mm};
use meltlaw::line_at::at;
use meltlaw::materials::Material;
use meltlaw::record::{LawsRecord, LineRecord};
use meltlaw::study::{ComposingRule, Study};
use meltlaw::trials::{Column, Mode, Trials};
use meltlaw::virtual_bench::{self, Plan, Size, Truth};

/// Every second burn-off trial without pulses, as a constant-voltage source would weld it: the RMS is the
/// mean but for the ripple, here none; one of them without a power reading.
fn lab() -> (Study, Trials) {
    let mut study = virtual_bench::study(virtual_bench::wire(Material::CarbonSteel, 1.2, None));
    study.gas = Some(Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() });
    study.line.wire_feed_m_min = [4.0, 7.0];
    study.line.travel_speed_mm_s = Some(7.0);
    study.line.composing = ComposingRule::Midpoint;
    study.numerics.draws = 300;
    let size = Size { burn_off: 24, detachment: 20, pulses: 150 };
    let plan = Plan { constant_current: true, ..Plan::default() };
    let mut trials = virtual_bench::weld_all(&study, &Truth::STEEL, size, &plan, 5, 0).trials;
    let mut first = true;
    for trial in trials.rows.iter_mut().filter(|t| t.mode == Mode::ConstantCurrent) {
        trial.mode = Mode::ConstantVoltage;
        trial.set(Column::CurrentRms, trial.get(Column::CurrentRms).or(trial.get(Column::CurrentMean)));
        if std::mem::take(&mut first) {
            trial.set(Column::PowerMean, None);
        }
    }
    (study, trials)
}

fn developed() -> (Study, LawsRecord, LineRecord) {
    let (study, trials) = lab();
    let laws = develop::laws(&study, &trials).unwrap();
    let line = develop::line(&study, &laws, "");
    (study, laws, line)
}

#[test]
fn constant_voltage_welds_count_for_burn_off_and_stand_beside_the_line() {
    let (_, laws, line) = developed();
    assert_eq!(laws.constant_voltage_welds.len(), 12);
    assert_eq!(laws.constant_voltage_welds[0].power_from, PowerFrom::ProductOfMeans);
    for weld in &laws.constant_voltage_welds {
        assert!(laws.laws.burn_off.trials_used.contains(&weld.trial), "{}", weld.trial);
        assert!(!laws.laws.detachment.trials_used.contains(&weld.trial), "{}", weld.trial);
    }
    let inside = laws.constant_voltage_welds.iter().filter(|w| at(&line, w.wire_feed_m_min.value).is_ok());
    assert_eq!(line.beside_constant_voltage.len(), inside.count());
    assert!(!line.beside_constant_voltage.is_empty());
    for beside in &line.beside_constant_voltage {
        for q in &beside.quantities {
            let [low, high] = q.interval.unwrap();
            assert!(low < q.difference && q.difference < high && q.standard_error.unwrap() > 0.0, "{q:?}");
        }
        // At like extension pulses heat it more for the same mean, so the same feed takes less mean current.
        let apart = beside.extension_difference_mm.unwrap().value;
        let current = &beside.quantities[0];
        if apart.abs() < 1.0 {
            assert!(current.difference < 0.0, "{current:?}");
        }
        assert_eq!(beside.notes.iter().any(|n| n.contains("extension is")), apart.abs() > 1.0);
    }
}

#[test]
fn the_records_come_back_from_json_as_they_went() {
    let (_, laws, line) = developed();
    let again: LawsRecord = serde_json::from_str(&serde_json::to_string(&laws).unwrap()).unwrap();
    assert_eq!(again.constant_voltage_welds, laws.constant_voltage_welds);
    let again: LineRecord = serde_json::from_str(&serde_json::to_string(&line).unwrap()).unwrap();
    assert_eq!(again.beside_constant_voltage, line.beside_constant_voltage);
    assert_eq!(again.transition_current, line.transition_current);
}

#[test]
fn without_such_welds_the_records_do_not_speak_of_them() {
    let (study, mut trials) = lab();
    trials.rows.retain(|t| t.mode == Mode::Pulsed);
    let laws = develop::laws(&study, &trials).unwrap();
    let line = develop::line(&study, &laws, "");
    assert!(!serde_json::to_string(&laws).unwrap().contains("constant_voltage_welds"));
    assert!(!serde_json::to_string(&line).unwrap().contains("beside_constant_voltage"));
}

#[test]
fn heat_and_its_interval_follow_the_power_at_and_between_nodes() {
    let (study, _, line) = developed();
    let speed = study.line.travel_speed_mm_s.unwrap();
    for feed in (0..=30).map(|i| 4.0 + 0.1 * f64::from(i)) {
        let Ok(node) = at(&line, feed) else { continue };
        let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-12, "{a} {b}");
        near(node.arc_energy_kj_mm.unwrap(), arc_energy_kj_mm(node.power_mean_w, speed));
        near(node.heat_input_kj_mm.unwrap(), THERMAL_EFFICIENCY * node.arc_energy_kj_mm.unwrap());
        for end in 0..2 {
            let power = node.power_mean_w_interval.unwrap()[end];
            near(node.arc_energy_kj_mm_interval.unwrap()[end], arc_energy_kj_mm(power, speed));
            near(node.heat_input_kj_mm_interval.unwrap()[end], 0.8 * arc_energy_kj_mm(power, speed));
        }
        let [low, high] = node.heat_input_kj_mm_interval.unwrap();
        assert!((low..=high).contains(&node.heat_input_kj_mm.unwrap()));
    }
}

#[test]
fn a_node_on_the_wrong_side_of_the_transition_band_is_remarked_on_and_kept() {
    let (study, laws, line) = developed();
    // Steel 1.2 mm, 92/8: 192 to 288 A; pulses near 400 A and backgrounds under 192 A say nothing.
    let band = line.transition_current.as_ref().unwrap();
    assert!(line.line.nodes.iter().all(|n| n.pulse_current_a > band.band_a[1]));
    let remarked = |record: &LineRecord| -> Vec<bool> {
        record.line.nodes.iter().map(|n| n.notes.iter().any(|t| t.contains("transition current"))).collect()
    };
    let high: Vec<bool> = line.line.nodes.iter().map(|n| n.background_current_a >= band.band_a[0]).collect();
    assert_eq!(remarked(&line), high);
    // The same laws called aluminium of 1.2 mm: 96 to 144 A, so backgrounds of 96 A and more are remarked on.
    let mut other = study.clone();
    other.wire.material = Material::Aluminium;
    other.gas = Some(Gas { argon: 100.0, ..Gas::default() });
    let thin = develop::line(&other, &laws, "");
    assert_eq!(thin.line.nodes.len(), line.line.nodes.len());
    let high: Vec<bool> = thin.line.nodes.iter().map(|n| n.background_current_a >= 96.0).collect();
    assert!(high.contains(&true));
    assert_eq!(remarked(&thin), high);
}

//! Days, spools, stations and blocks are one thing to the tests; an impossible power stops the law that uses it.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use meltlaw::compose::compose;
use meltlaw::develop;
use meltlaw::factors::Factor;
use meltlaw::fit::fit_laws;
use meltlaw::laws::Laws;
use meltlaw::setup::Polarity;
use meltlaw::study::VoltagePlace;
use meltlaw::trials::Column;
use meltlaw::virtual_bench::{Kind, Lab};

fn laws(lab: &Lab) -> Laws {
    fit_laws(&lab.study, &lab.trials).laws
}

/// The lab with coils apart, its coils named as levels of these factors instead.
fn with_coils_as(factors: &[Factor]) -> Lab {
    let mut lab = Kind::Blocks.lab(7, 1);
    for trial in &mut lab.trials.rows {
        let coil = trial.level(Factor::Block).map(str::to_owned);
        trial.set_level(Factor::Block, None);
        for &factor in factors {
            trial.set_level(factor, coil.clone());
        }
    }
    lab
}

#[test]
fn a_named_day_or_spool_widens_the_intervals_as_a_block_does() {
    let by_block = laws(&with_coils_as(&[Factor::Block])).burn_off;
    for factor in [Factor::Day, Factor::Spool, Factor::Station] {
        let found = laws(&with_coils_as(&[factor])).burn_off;
        let between = found.between_blocks.as_ref().unwrap();
        assert_eq!(between.factors, [factor.name()]);
        assert_eq!(between.covariance, by_block.between_blocks.as_ref().unwrap().covariance);
        assert_eq!(found.tests[factor.levels()].p_value, by_block.tests["blocks"].p_value);
        assert!(found.tests["blocks"].reason.as_ref().unwrap().contains("fewer than two blocks"));
    }
}

#[test]
fn factors_that_group_the_trials_alike_count_once() {
    let once = laws(&with_coils_as(&[Factor::Day])).burn_off;
    let twice = laws(&with_coils_as(&[Factor::Day, Factor::Spool])).burn_off;
    assert_eq!(twice.between_blocks, once.between_blocks);
    assert!(twice.tests["spools"].reason.as_ref().unwrap().contains("exactly as the days do"));
}

#[test]
fn the_scatter_of_two_factors_is_added_up() {
    let mut lab = with_coils_as(&[Factor::Day, Factor::Spool]);
    // One trial moved to another spool: no longer the same grouping, still the same scatter.
    let other =
        lab.trials.rows.iter().find_map(|t| t.level(Factor::Spool).filter(|s| *s != "coil 1")).unwrap().to_owned();
    let moved = lab.trials.rows.iter_mut().find(|t| t.level(Factor::Spool) == Some("coil 1")).unwrap();
    moved.set_level(Factor::Spool, Some(other));
    let between = laws(&lab).burn_off.between_blocks.unwrap();
    let alone = laws(&with_coils_as(&[Factor::Day])).burn_off.between_blocks.unwrap();
    assert_eq!(between.factors, ["day", "spool"]);
    assert!(between.covariance[0][0] > 1.2 * alone.covariance[0][0]);
    assert!(between.reading.seen.contains("days") && between.reading.seen.contains("spools"));
}

#[test]
fn powers_in_two_units_stop_the_arc_voltage_law_and_no_line_comes_out() {
    let mut lab = Kind::Steel.lab(7, 1);
    for trial in lab.trials.rows.iter_mut().step_by(3) {
        let power = trial.get(Column::PowerMean);
        trial.set(Column::PowerMean, power.map(|w| w / 1000.0));
    }
    let fitted = fit_laws(&lab.study, &lab.trials);
    let law = &fitted.laws.arc_voltage;
    assert!(!law.ended.usable);
    assert_eq!(law.ended.how, "impossible_power");
    assert!(law.ended.reason.contains("name the unit of the column (power_mean_kw, or scale in [[trials]])"));
    assert!(fitted.laws.burn_off.ended.usable);
    let line = compose(&lab.study, &fitted.laws, &fitted.calibration);
    assert!(line.nodes.is_empty());
    assert_eq!(line.unsupported[0].limits, ["law_missing"]);
}

#[test]
fn laws_and_line_carry_what_a_refit_and_a_confirmation_need() {
    let mut lab = Kind::Steel.lab(7, 1);
    lab.study.setup.polarity = Polarity::ElectrodePositive;
    lab.study.confirm.voltage_v = 0.4;
    lab.study.bench.voltage_measured_at = VoltagePlace::Source;
    lab.study.bench.lead_resistance_ohm = 1e-4;
    let laws = develop::laws(&lab.study, &lab.trials).unwrap();
    let written = serde_json::to_value(&laws).unwrap();
    assert_eq!(
        written["reading_errors"],
        serde_json::json!({
            "wire_feed_relative_se": 0.004, "current_relative_se": 0.008, "voltage_se_v": 0.15, "ctwd_se_mm": 0.0,
            "arc_length_se_mm": 0.15, "extension_se_mm": 0.3, "pulse_time_relative_se": 0.01,
        })
    );
    assert_eq!(written["conditions"]["lead_resistance_ohm"], 1e-4);
    let line = serde_json::to_value(develop::line(&lab.study, &laws, "")).unwrap();
    assert_eq!(line["setup"], serde_json::json!({ "polarity": "electrode-positive" }));
    assert_eq!(
        line["confirm"],
        serde_json::json!({ "wire_feed_relative": 0.02, "voltage_v": 0.4, "drops_per_pulse": 0.1, "false_accept": 0.05 })
    );
}

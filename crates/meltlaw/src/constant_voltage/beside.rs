//! What pulsing changes against a constant-voltage weld at the same wire feed and travel speed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::compared::{Both, CURRENT, Compared, POWER, VOLTAGE};
use super::weld::{ConstantVoltageWeld, Measured, PowerFrom};
use crate::heat;
use crate::record::LineRecord;

/// Lengths that differ by more than this change current or voltage by themselves.
const NOTABLE_MM: f64 = 1.0;

/// The line beside one constant-voltage weld.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BesideConstantVoltage {
    /// Identifier of the trial.
    pub trial: String,
    /// Its wire feed, at which the line is read.
    pub wire_feed_m_min: f64,
    /// Travel speed that both energies use: the line's, else the weld's.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub travel_speed_mm_s: Option<f64>,
    /// Where the weld's power comes from.
    pub power_from: PowerFrom,
    /// Extension of the line less that of the weld.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extension_difference_mm: Option<Measured>,
    /// Arc length of the line less that of the weld.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub arc_length_difference_mm: Option<Measured>,
    /// Current, voltage, power, energies.
    pub quantities: Vec<Compared>,
    /// What must be known when reading the numbers.
    pub notes: Vec<String>,
}

/// The line beside every weld whose wire feed it has a setting for.
///
/// The line's intervals hold the errors common to all trials; they are counted there and not again in the weld,
/// although on one bench they cancel in part: the error of a difference is rather too large than too small.
pub fn beside(record: &LineRecord, welds: &[ConstantVoltageWeld]) -> Vec<BesideConstantVoltage> {
    welds.iter().filter_map(|weld| one(record, weld)).collect()
}

fn one(record: &LineRecord, weld: &ConstantVoltageWeld) -> Option<BesideConstantVoltage> {
    let both = Both::at_the_weld(record, weld)?;
    let wire = &record.wire;
    let mut quantities = vec![
        both.compare("current_mean_a", "A", &CURRENT, &|_| 1.0),
        both.compare("voltage_mean_v", "V", &VOLTAGE, &|_| 1.0),
        both.compare("power_mean_w", "W", &POWER, &|_| 1.0),
        both.compare("energy_per_melted_mass_mj_kg", "MJ/kg", &POWER, &|feed| {
            heat::energy_per_melted_mass_mj_kg(1.0, wire.melting_rate_kg_h(feed / 0.06))
        }),
    ];
    let asked = record.request.as_ref().and_then(|r| r.travel_speed_mm_s);
    let travel_speed_mm_s = asked.or(weld.travel_speed_mm_s);
    if let Some(speed) = travel_speed_mm_s {
        quantities.push(both.compare("arc_energy_kj_mm", "kJ/mm", &POWER, &|_| heat::arc_energy_kj_mm(1.0, speed)));
        quantities.push(both.compare("heat_input_kj_mm", "kJ/mm", &POWER, &|_| heat::heat_input_kj_mm(1.0, speed)));
    }
    let conditions = &record.conditions;
    let apart = |line_mm: f64, weld: Option<Measured>| {
        weld.map(|w| Measured { value: line_mm - w.value, standard_error: w.standard_error })
    };
    let extension_difference_mm = apart(conditions.extension_mm, weld.extension_mm);
    let arc_length_difference_mm = apart(conditions.arc_length_mm, weld.arc_length_mm);
    Some(BesideConstantVoltage {
        trial: weld.trial.clone(),
        wire_feed_m_min: weld.wire_feed_m_min.value,
        travel_speed_mm_s,
        power_from: weld.power_from,
        extension_difference_mm,
        arc_length_difference_mm,
        quantities,
        notes: notes(weld, extension_difference_mm, arc_length_difference_mm),
    })
}

fn notes(weld: &ConstantVoltageWeld, extension: Option<Measured>, arc: Option<Measured>) -> Vec<String> {
    let mut notes = Vec::new();
    match extension {
        None => notes.push(
            "the weld's extension is not known: how much of the difference pulsing makes cannot be said".to_owned(),
        ),
        Some(apart) if apart.value.abs() > NOTABLE_MM => notes.push(format!(
            "the extension is {:.1} ± {:.1} mm {} in the line than in the weld, so not only pulsing differs: a longer extension melts the wire with less current",
            apart.value.abs(),
            apart.standard_error,
            if apart.value > 0.0 { "longer" } else { "shorter" },
        )),
        Some(_) => {}
    }
    if let Some(apart) = arc.filter(|a| a.value.abs() > NOTABLE_MM) {
        notes.push(format!(
            "the arc is {:.1} ± {:.1} mm {} in the line than in the weld, so not only pulsing differs: a longer arc has more voltage and power",
            apart.value.abs(),
            apart.standard_error,
            if apart.value > 0.0 { "longer" } else { "shorter" },
        ));
    }
    if weld.power_from == PowerFrom::ProductOfMeans {
        notes.push(
            "the weld's power is its mean voltage times its mean current, which misses their ripple; ISO/TR 18491 takes the mean of the instantaneous power: record it in the column power_mean_w"
                .to_owned(),
        );
    }
    notes
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
    use super::*;
    use crate::line_at::at;

    /// The invented worked example: nodes at 4, 6 and 8 m/min, 95 %, extension 14 mm, arc 4 mm.
    fn record() -> LineRecord {
        let text = include_str!("../../../../datasets/worked_example/line.json");
        let mut record: LineRecord = serde_json::from_str(text).unwrap();
        record.request = None;
        for node in &mut record.line.nodes {
            let (a, p) = (node.current_mean_a, node.power_mean_w);
            // Half widths of 1.959964 standard errors: 1.5 A and 60 W.
            node.balancing_current_mean_a_interval = Some([a - 2.939_946, a + 2.939_946]);
            node.power_mean_w_interval = Some([p - 117.597_84, p + 117.597_84]);
        }
        record
    }

    /// A weld that reads what the line says at a feed, without errors.
    fn like(record: &LineRecord, feed: f64) -> ConstantVoltageWeld {
        let node = at(record, feed).unwrap();
        let exact = |value: f64| Measured { value, standard_error: 0.0 };
        ConstantVoltageWeld {
            trial: "V1".to_owned(),
            wire_feed_m_min: exact(feed),
            current_mean_a: exact(node.current_mean_a),
            current_rms_a: None,
            voltage_mean_v: exact(node.voltage_mean_v),
            power_mean_w: exact(node.power_mean_w),
            power_from: PowerFrom::Measured,
            extension_mm: Some(exact(record.conditions.extension_mm)),
            arc_length_mm: Some(exact(record.conditions.arc_length_mm)),
            travel_speed_mm_s: Some(8.0),
        }
    }

    fn of<'a>(found: &'a BesideConstantVoltage, name: &str) -> &'a Compared {
        found.quantities.iter().find(|q| q.quantity == name).unwrap()
    }

    #[test]
    fn a_weld_that_equals_the_line_differs_by_nothing() {
        let record = record();
        for feed in [4.0, 4.7, 6.0, 7.33, 8.0] {
            let found = &beside(&record, &[like(&record, feed)])[0];
            assert_eq!(found.quantities.len(), 6);
            assert!(
                found.quantities.iter().all(|q| q.difference == 0.0 && q.constant_voltage == q.pulsed),
                "{found:?}"
            );
            assert!(found.notes.is_empty(), "{:?}", found.notes);
        }
    }

    #[test]
    fn differences_have_the_errors_of_both_sides() {
        let record = record();
        let node = &record.line.nodes[1];
        let mut weld = like(&record, node.wire_feed_m_min);
        weld.current_mean_a = Measured { value: node.current_mean_a + 20.0, standard_error: 2.0 };
        weld.power_mean_w = Measured { value: node.power_mean_w + 800.0, standard_error: 80.0 };
        let found = &beside(&record, &[weld])[0];
        let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a}, not {b}");
        // √(2² + 1.5²) = 2.5 A; −20 ± 1.959964 · 2.5.
        let current = of(found, "current_mean_a");
        near(current.difference, -20.0);
        near(current.standard_error.unwrap(), 2.5);
        near(current.interval.unwrap()[0], -24.899_91);
        // R + r·L = 0.027 207 43 + 14 · 0.000 406 254 = 0.032 894 98 Ω; one ampere of background moves the power by
        // U0 + E·a + 2 · 0.032 894 98 · 131.3630 = 19.609 74 + 8.642 37 = 28.252 11 W, 1.5 A by 42.378 W:
        // √(80² + 60² + 42.378²) = 108.609 W. At 8 mm/s 800 W are 0.1 kJ/mm, of which 80 % reach the plate.
        near(of(found, "power_mean_w").standard_error.unwrap(), 108.6090);
        near(of(found, "arc_energy_kj_mm").difference, -0.1);
        near(of(found, "arc_energy_kj_mm").standard_error.unwrap(), 0.01357612);
        near(of(found, "heat_input_kj_mm").difference, -0.08);
        // 800 W over ṁ: J/s over kg/h.
        let by_mass = of(found, "energy_per_melted_mass_mj_kg");
        near(by_mass.difference, -800.0 * 3600.0 / 1e6 / node.melting_rate_kg_h);
        near(by_mass.pulsed, node.power_mean_w * 0.0036 / node.melting_rate_kg_h);
    }

    #[test]
    fn an_error_of_the_feed_counts_with_the_slope_of_the_line() {
        let record = record();
        let [a, b] = [0, 1].map(|i| &record.line.nodes[i]);
        let slope = (b.power_mean_w - a.power_mean_w) / (b.wire_feed_m_min - a.wire_feed_m_min);
        let error = |feed_se: f64| {
            let mut weld = like(&record, 5.0);
            weld.wire_feed_m_min.standard_error = feed_se;
            of(&beside(&record, &[weld])[0], "power_mean_w").standard_error.unwrap()
        };
        let expected = error(0.0).hypot(0.02 * slope);
        assert!((error(0.02) / expected - 1.0).abs() < 1e-9);
    }

    #[test]
    fn the_line_s_travel_speed_comes_first_and_without_any_there_is_no_energy_per_length() {
        let mut record = record();
        let mut weld = like(&record, 6.0);
        assert_eq!(beside(&record, std::slice::from_ref(&weld))[0].travel_speed_mm_s, Some(8.0));
        weld.travel_speed_mm_s = None;
        assert_eq!(beside(&record, &[weld])[0].quantities.len(), 4);
        let mut study = crate::virtual_bench::study(record.wire.clone());
        study.line.travel_speed_mm_s = Some(7.0);
        record.request = Some(study.line);
        assert_eq!(beside(&record, &[like(&record, 6.0)])[0].travel_speed_mm_s, Some(7.0));
    }

    #[test]
    fn what_else_differs_is_said() {
        let record = record();
        let mut weld = like(&record, 6.0);
        weld.extension_mm = Some(Measured { value: record.conditions.extension_mm - 3.0, standard_error: 0.2 });
        weld.arc_length_mm = Some(Measured { value: record.conditions.arc_length_mm + 1.5, standard_error: 0.2 });
        weld.power_from = PowerFrom::ProductOfMeans;
        let found = &beside(&record, &[weld.clone()])[0];
        assert!(found.notes[0].contains("3.0 ± 0.2 mm longer"), "{:?}", found.notes);
        assert!(found.notes[1].contains("1.5 ± 0.2 mm shorter"));
        assert!(found.notes[2].contains("ISO/TR 18491"));
        weld.extension_mm = None;
        assert!(beside(&record, &[weld])[0].notes[0].contains("not known"));
    }

    #[test]
    fn a_feed_without_a_setting_gives_nothing_and_a_line_without_intervals_no_error() {
        let mut record = record();
        let mut weld = like(&record, 6.0);
        record.line.nodes.iter_mut().for_each(|n| n.power_mean_w_interval = None);
        let found = &beside(&record, std::slice::from_ref(&weld))[0];
        let power = of(found, "power_mean_w");
        assert_eq!((power.standard_error, power.interval), (None, None));
        assert!(power.reason.is_some() && of(found, "voltage_mean_v").standard_error.is_some());
        weld.wire_feed_m_min.value = 12.0;
        assert!(beside(&record, &[weld]).is_empty());
    }
}

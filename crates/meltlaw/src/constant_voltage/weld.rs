//! Constant-voltage welds as the laws record keeps them, so that composing needs no table.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::fit::selection::gain_se;
use crate::study::Study;
use crate::trials::{Column, Mode, Trial, Trials};

/// A reading with its standard error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Measured {
    /// The reading.
    pub value: f64,
    /// Standard error of one reading; errors common to all trials not counted.
    pub standard_error: f64,
}

/// Where a weld's power comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PowerFrom {
    /// Mean of the instantaneous power, from samples.
    Measured,
    /// Mean voltage times mean current: misses what their ripples do together.
    ProductOfMeans,
}

/// A weld at constant voltage, between contact tip and work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConstantVoltageWeld {
    /// Identifier of the trial.
    pub trial: String,
    /// Wire feed speed.
    pub wire_feed_m_min: Measured,
    /// Mean current.
    pub current_mean_a: Measured,
    /// RMS current, where measured.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub current_rms_a: Option<Measured>,
    /// Mean voltage.
    pub voltage_mean_v: Measured,
    /// Mean power.
    pub power_mean_w: Measured,
    /// Where the power comes from.
    pub power_from: PowerFrom,
    /// Electrode extension, where known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extension_mm: Option<Measured>,
    /// Arc length, where known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub arc_length_mm: Option<Measured>,
    /// Travel speed, where measured.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub travel_speed_mm_s: Option<f64>,
}

/// The constant-voltage welds among the trials in use that have wire feed, mean current and mean voltage.
pub fn welds(study: &Study, trials: &Trials) -> Vec<ConstantVoltageWeld> {
    let constant = trials.used().filter(|t| t.mode == Mode::ConstantVoltage);
    constant.filter_map(|trial| weld(study, trials, trial)).collect()
}

fn weld(study: &Study, trials: &Trials, trial: &Trial) -> Option<ConstantVoltageWeld> {
    let bench = &study.bench;
    // Bad readings are the checks' matter; here they only must not become numbers.
    let positive = |value: f64| (value > 0.0 && value.is_finite()).then_some(value);
    let read = |column: Column| positive(trial.get(column)?);
    let gain = gain_se(study, trial);
    let current = |column: Column| -> Option<Measured> {
        let value = read(column)?;
        let own = trial.stated_se(column).unwrap_or(0.0);
        Some(Measured { value, standard_error: (gain * value).hypot(own) })
    };
    let feed = read(Column::WireFeed)?;
    let feed_se = trial.stated_se(Column::WireFeed).unwrap_or(bench.wire_feed_relative_se * feed);
    let mean = current(Column::CurrentMean)?;
    let voltage = positive(Trials::contact_tip_voltage_v(trial, bench)?)?;
    let voltage_se = trial.stated_se(Column::VoltageMean).unwrap_or(bench.voltage_se_v);
    let measured = Trials::contact_tip_power_w(trial, bench).and_then(positive);
    let power = measured.unwrap_or(voltage * mean.value);
    // Power is read by the same probes: their relative errors add, unless it has an error of its own.
    let by_probes = power * (mean.standard_error / mean.value).hypot(voltage_se / voltage);
    let power_se = trial.stated_se(Column::PowerMean).filter(|_| measured.is_some()).unwrap_or(by_probes);
    let geometry = trials.geometry(trial, bench);
    let length = |value: f64, standard_error: f64| positive(value).map(|value| Measured { value, standard_error });
    Some(ConstantVoltageWeld {
        trial: trial.name.clone(),
        wire_feed_m_min: Measured { value: feed, standard_error: feed_se },
        current_mean_a: mean,
        current_rms_a: current(Column::CurrentRms),
        voltage_mean_v: Measured { value: voltage, standard_error: voltage_se },
        power_mean_w: Measured { value: power, standard_error: power_se },
        power_from: if measured.is_some() { PowerFrom::Measured } else { PowerFrom::ProductOfMeans },
        extension_mm: geometry.and_then(|g| length(g.extension_mm, g.extension_se_mm)),
        arc_length_mm: geometry.and_then(|g| length(g.arc_length_mm?, g.arc_length_se_mm)),
        travel_speed_mm_s: read(Column::TravelSpeed),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::Material;
    use crate::study::VoltagePlace;
    use crate::virtual_bench::{study, wire};

    fn table(rows: Vec<Trial>) -> Trials {
        Trials { rows, has_column: Column::ALL.to_vec(), ..Trials::default() }
    }

    fn spray() -> Trial {
        let mut trial = Trial::new("V1", 0, 2)
            .with(Column::WireFeed, 7.5)
            .with(Column::CurrentMean, 250.0)
            .with(Column::CurrentRms, 252.0)
            .with(Column::VoltageMean, 28.0)
            .with(Column::Ctwd, 18.0)
            .with(Column::ArcLength, 4.0)
            .with(Column::TravelSpeed, 7.0);
        trial.mode = Mode::ConstantVoltage;
        trial
    }

    fn bench() -> Study {
        let mut study = study(wire(Material::CarbonSteel, 1.2, None));
        study.bench.current_relative_se = 0.008;
        study.bench.voltage_se_v = 0.14;
        study.bench.wire_feed_relative_se = 0.004;
        study.bench.ctwd_se_mm = 0.3;
        study.bench.arc_length_se_mm = 0.4;
        study
    }

    #[test]
    fn a_weld_carries_its_readings_with_the_study_s_errors() {
        let found = welds(&bench(), &table(vec![spray()]));
        let weld = &found[0];
        // 0.4 % of 7.5; 0.8 % of 250; 28 V · 250 A = 7000 W with 0.8 % and 0.5 % together: 0.943398 %.
        assert!((weld.wire_feed_m_min.standard_error - 0.03).abs() < 1e-12);
        assert!((weld.current_mean_a.standard_error - 2.0).abs() < 1e-12);
        assert!((weld.power_mean_w.value - 7000.0).abs() < 1e-9);
        assert!((weld.power_mean_w.standard_error - 66.037_9).abs() < 1e-3);
        assert_eq!(weld.power_from, PowerFrom::ProductOfMeans);
        // 18 − 4 mm, errors 0.3 and 0.4 mm together.
        let extension = weld.extension_mm.map(|e| (e.value, (e.standard_error * 1e9).round() / 1e9));
        assert_eq!(extension, Some((14.0, 0.5)));
    }

    #[test]
    fn measured_power_and_stated_errors_come_first_and_the_cable_is_taken_off() {
        let mut study = bench();
        study.bench.voltage_measured_at = VoltagePlace::Source;
        study.bench.lead_resistance_ohm = 0.004;
        let mut trial = spray().with(Column::PowerMean, 7100.0);
        trial.set_se(Column::PowerMean, Some(50.0));
        trial.set_se(Column::WireFeed, Some(0.05));
        let weld = &welds(&study, &table(vec![trial]))[0];
        // 28 V − 4 mΩ · 250 A; 7100 W − 4 mΩ · (252 A)² = 7100 − 254.016.
        assert!((weld.voltage_mean_v.value - 27.0).abs() < 1e-12);
        assert!((weld.power_mean_w.value - 6845.984).abs() < 1e-9);
        assert_eq!((weld.power_mean_w.standard_error, weld.wire_feed_m_min.standard_error), (50.0, 0.05));
        assert_eq!(weld.power_from, PowerFrom::Measured);
    }

    #[test]
    fn other_modes_unused_rows_and_missing_readings_are_no_such_weld() {
        let mut pulsed = spray();
        pulsed.mode = Mode::Pulsed;
        let mut unused = spray();
        unused.use_it = false;
        let mut no_voltage = spray();
        no_voltage.set(Column::VoltageMean, None);
        let wild = spray().with(Column::CurrentMean, f64::INFINITY);
        assert!(welds(&bench(), &table(vec![pulsed, unused, no_voltage, wild])).is_empty());
    }
}

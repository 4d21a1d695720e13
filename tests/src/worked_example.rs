//! The worked example of `datasets/worked_example` built by hand from its study file, with both of its
//! tables.

use std::collections::BTreeMap;

use meltlaw::gas::Gas;
use meltlaw::materials::Material;
use meltlaw::setup::{ConfirmRule, Setup};
use meltlaw::study::{
    Bench, CalibrationTerm, CalibrationUncertainty, ComposingRule, CovarianceFrom, LawChoices, LineRequest, Margins,
    Numerics, ScatterFrom, SourceLimits, Study, VoltagePlace, Weights, Wire,
};
use meltlaw::trials::{Column, Trial, Trials};

use crate::csv::Table;
use crate::reference::text;

/// Metres in an inch, exact (NIST SP 811).
const METRES_PER_INCH: f64 = 0.0254;

/// What `study.toml` says, with the number of draws asked for.
pub fn study(draws: usize) -> Study {
    use CalibrationTerm as Term;
    let stated = [
        (Term::CurrentGainRelative, 0.003),
        (Term::WireFeedGainRelative, 0.002),
        (Term::VoltageOffsetV, 0.05),
        (Term::CtwdOffsetMm, 0.2),
    ];
    Study {
        name: "Worked example: solid wire 1.2 mm, invented".to_owned(),
        wire: Wire {
            designation: "invented solid wire, mild steel, 1.2 mm".to_owned(),
            material: Material::CarbonSteel,
            diameter_mm: 1.2,
            metal_section_mm2: None,
            density_kg_m3: 7850.0,
            linear_mass_g_m: None,
        },
        gas: Some(Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() }),
        bench: Bench {
            ctwd_mm: 18.0,
            arc_length_mm: 4.0,
            voltage_measured_at: VoltagePlace::ContactTip,
            lead_resistance_ohm: 0.0,
            wire_feed_relative_se: 0.004,
            current_relative_se: 0.008,
            voltage_se_v: 0.15,
            ctwd_se_mm: 0.0,
            arc_length_se_mm: 0.15,
            extension_se_mm: 0.3,
            pulse_time_relative_se: 0.01,
        },
        calibration: stated
            .map(|(term, standard_uncertainty)| CalibrationUncertainty { term, standard_uncertainty })
            .to_vec(),
        not_covered: vec![],
        source: SourceLimits {
            current_a: Some([20.0, 500.0]),
            background_current_a: Some([25.0, 150.0]),
            pulse_time_ms: Some([0.8, 5.0]),
            pulse_frequency_hz: Some([30.0, 300.0]),
            rise_a_per_ms: 600.0,
            fall_a_per_ms: 600.0,
            pulse_duty: Some([0.02, 0.75]),
            ..SourceLimits::default()
        },
        line: LineRequest {
            wire_feed_m_min: [3.0, 9.5],
            step_m_min: 0.5,
            drop_to_wire_ratio: 1.1,
            drop_to_wire_limits: [0.8, 1.4],
            interpolation_tolerance: 0.002,
            one_drop_floor: 0.8,
            extended_by: 0.15,
            extended_melting_rate_relative_se: 0.02,
            travel_speed_mm_s: Some(7.0),
            pins: vec![],
            composing: ComposingRule::Midpoint,
            weights: Weights::default(),
        },
        compare: Margins::default(),
        confirm: ConfirmRule::default(),
        setup: Setup::default(),
        factors: BTreeMap::new(),
        numerics: Numerics { seed: 1, draws, confidence: 0.95, covariance_from: CovarianceFrom::Residuals },
        // The example estimates the trial scatter by maximum likelihood.
        laws: LawChoices { trial_scatter: ScatterFrom::Likelihood, ..LawChoices::default() },
        prior: Vec::new(),
        assumed: vec![],
    }
}

/// `trials.csv`.
pub fn trials() -> Trials {
    let table = Table::read(&text("worked_example/trials.csv"), ',', '.', 1);
    let columns: Vec<(&str, &str)> = table.header.iter().map(|h| (h.as_str(), h.as_str())).collect();
    rows(&table, &columns)
}

/// `trials_foreign.csv`, by the columns that `study_foreign.toml` names.
pub fn foreign_trials() -> Trials {
    let table = Table::read(&text("worked_example/trials_foreign.csv"), ';', ',', 3);
    rows(
        &table,
        &[
            ("trial", "Versuch"),
            ("run_order", "Nr."),
            ("wire_feed_in_min", "WFS in/min"),
            ("current_mean_a", "I avg [A]"),
            ("current_rms_a", "I RMS [A]"),
            ("voltage_mean_v", "U avg [V]"),
            ("power_mean_w", "P [W]"),
            ("ctwd_mm", "Abstand [mm]"),
            ("arc_length_mm", "Bogen [mm]"),
            ("pulse_current_a", "Ip [A]"),
            ("pulse_time_ms", "tp [ms]"),
            ("background_current_a", "Ib [A]"),
            ("background_time_ms", "tb [ms]"),
            ("pulse_frequency_hz", "f [Hz]"),
            ("pulses_without_drop", "0 Tropfen"),
            ("pulses_with_one_drop", "1 Tropfen"),
            ("pulses_with_more_drops", ">1 Tropfen"),
            ("use", "ok"),
            ("note", "Bemerkung"),
        ],
    )
}

/// Trials from a table by (our name, its name).
fn rows(table: &Table, columns: &[(&str, &str)]) -> Trials {
    let mut trials = Trials::default();
    for (index, cells) in table.by_name().into_iter().enumerate() {
        let mut trial = Trial::new("", 0, index + 2);
        for (ours, theirs) in columns {
            let cell = cells[theirs];
            match *ours {
                "trial" => cell.clone_into(&mut trial.name),
                "note" => cell.clone_into(&mut trial.note),
                "use" => trial.use_it = !matches!(cell, "no" | "nein" | "n"),
                "wire_feed_in_min" => trial.set(Column::WireFeed, table.number(cell).map(|v| v * METRES_PER_INCH)),
                name => {
                    let column = Column::from_name(name).unwrap_or_else(|| panic!("{name} is no column"));
                    trial.set(column, table.number(cell));
                }
            }
        }
        trials.rows.push(trial);
    }
    trials.has_column = columns
        .iter()
        .filter_map(|(ours, _)| Column::from_name(if *ours == "wire_feed_in_min" { "wire_feed_m_min" } else { ours }))
        .collect();
    trials
}

//! The study of an invented laboratory.

use std::collections::BTreeMap;

use crate::gas::Gas;
use crate::materials::Material;
use crate::setup::{ConfirmRule, Setup};
use crate::study::{
    Bench, CalibrationTerm, ComposingRule, CovarianceFrom, LawChoices, LineRequest, Margins, Numerics, SourceLimits,
    Study, VoltagePlace, Weights, Wire,
};

/// An invented wire.
pub fn wire(material: Material, diameter_mm: f64, metal_section_mm2: Option<f64>) -> Wire {
    Wire {
        designation: "invented".to_owned(),
        material,
        diameter_mm,
        metal_section_mm2,
        density_kg_m3: material.density().kg_m3,
        linear_mass_g_m: None,
    }
}

/// The study of an invented laboratory: probe gain 0.8 %, arc length 0.15 mm, wire feed 0.4 %, voltage
/// 0.15 V, pulse time 1 %, CTWD exact, no limits of the source, no calibration.
pub fn study(wire: Wire) -> Study {
    let gas = match wire.material {
        Material::Aluminium => Gas { argon: 100.0, ..Gas::default() },
        Material::StainlessSteel => Gas { argon: 98.0, carbon_dioxide: 2.0, ..Gas::default() },
        _ => Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() },
    };
    Study {
        name: "invented lab".to_owned(),
        wire,
        gas: Some(gas),
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
        calibration: Vec::new(),
        not_covered: CalibrationTerm::ALL.to_vec(),
        source: SourceLimits::default(),
        line: LineRequest {
            wire_feed_m_min: [3.0, 9.0],
            step_m_min: 0.5,
            drop_to_wire_ratio: 1.1,
            drop_to_wire_limits: [0.8, 1.4],
            interpolation_tolerance: 0.002,
            one_drop_floor: 0.8,
            extended_by: 0.15,
            extended_melting_rate_relative_se: 0.02,
            travel_speed_mm_s: None,
            pins: Vec::new(),
            composing: ComposingRule::default(),
            weights: Weights::default(),
        },
        compare: Margins::default(),
        confirm: ConfirmRule::default(),
        setup: Setup::default(),
        factors: BTreeMap::new(),
        numerics: Numerics { seed: 1, draws: 400, confidence: 0.95, covariance_from: CovarianceFrom::Residuals },
        laws: LawChoices::default(),
        prior: Vec::new(),
        assumed: Vec::new(),
    }
}

//! Slope and gradient of the arc voltage.

use super::band::{Judged, figures, reaches};
use crate::fit::errors_in_variables::EivFit;
use crate::laws::Plausibility;
use crate::study::{Study, VoltagePlace};

/// R, ohm, and E, V/mm (from memory, wide).
const SLOPE_OHM: [f64; 2] = [0.0, 0.08];
const GRADIENT_V_PER_MM: [f64; 2] = [0.3, 2.5];

/// R of an arc with its extension, ohm, by which a cable's resistance is told (from memory).
const USUAL_SLOPE_OHM: [f64; 2] = [0.01, 0.04];

/// Resistance of welding leads and return path at most, ohm (common practice).
const MOST_LEAD_OHM: f64 = 0.15;

/// Slope and gradient against their bands; what lies outside names the slip that explains it.
pub fn arc_voltage(study: &Study, fit: &EivFit) -> Vec<Plausibility> {
    let scale = fit.chi_squared_per_degree().max(1.0);
    let error = |i: usize| (scale * fit.stated_covariance[(i, i)]).sqrt();
    let action = slope_slip(study, fit.b[1], error(1));
    let mut list = vec![
        Judged {
            name: "slope_ohm",
            value: fit.b[1],
            standard_error: error(1),
            unit: "ohm",
            band: SLOPE_OHM,
            expected: "voltage over current (from memory)",
            action: &action,
        }
        .plausibility(),
    ];
    if let Some(&gradient) = fit.b.get(2) {
        let action = gradient_slip(gradient, error(2));
        list.push(
            Judged {
                name: "gradient_v_per_mm",
                value: gradient,
                standard_error: error(2),
                unit: "V/mm",
                band: GRADIENT_V_PER_MM,
                expected: "voltage per mm of arc (from memory, wide)",
                action: &action,
            }
            .plausibility(),
        );
    }
    list
}

fn slope_slip(study: &Study, slope: f64, error: f64) -> String {
    let at_source = study.bench.voltage_measured_at == VoltagePlace::Source;
    let lead = [slope - USUAL_SLOPE_OHM[1], slope - USUAL_SLOPE_OHM[0]];
    if reaches(slope / 1000.0, error / 1000.0, USUAL_SLOPE_OHM) {
        return "likely slip: currents are in kA but read as A (rename the columns from _a to _ka)".to_owned();
    }
    if slope > 0.0 && lead[1] > 0.0 && lead[0] < MOST_LEAD_OHM {
        let between = format!("{} to {} ohm", figures(lead[0].max(0.0)), figures(lead[1]));
        return if at_source {
            format!("likely slip: lead_resistance_ohm is stated too small, by {between}; measure it")
        } else {
            format!(
                "likely slip: the voltage was read at the source, with {between} of leads in it; state voltage_measured_at = \"source\" with lead_resistance_ohm, or measure at the contact tip"
            )
        };
    }
    if slope < 0.0 && at_source {
        return "likely slip: lead_resistance_ohm is stated too large, or the voltage was measured at the contact tip"
            .to_owned();
    }
    "no usual slip (voltage at the source, currents in kA) explains it: check where the voltage was measured, and whether arc length and current were varied apart".to_owned()
}

fn gradient_slip(gradient: f64, error: f64) -> String {
    for (factor, slip) in [
        (25.4, "arc lengths are in inches but read as mm"),
        (10.0, "arc lengths are in cm but read as mm"),
        (1.0 / 25.4, "arc lengths are in mm but read as inches"),
    ] {
        if reaches(gradient / factor, error / factor, GRADIENT_V_PER_MM) {
            return format!("likely slip: {slip}; then {} V/mm", figures(gradient / factor));
        }
    }
    "no usual slip of units explains it: check how the arc length was measured, and whether it is the mean over whole pulses".to_owned()
}

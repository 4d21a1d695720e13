//! Coefficients against what physics expects. The bands are wide and partly from memory: they warn, they
//! never judge.

use crate::laws::{Plausibility, Reading};
use crate::materials::MeltingPhysics;
use crate::study::{BurnOffForm, Wire};

fn judged(name: &str, value: f64, unit: &str, [low, high]: [f64; 2], expected: &str, action: &str) -> Plausibility {
    let inside = (low..=high).contains(&value);
    Plausibility {
        name: name.to_owned(),
        value,
        unit: unit.to_owned(),
        low,
        high,
        inside,
        reading: Reading::new(
            format!("{expected}: {low:.3e} to {high:.3e} {unit}"),
            format!("{value:.3e} {unit}"),
            if inside { "nothing" } else { action },
        ),
    }
}

/// Burn-off coefficients by the energy balance of the wire tip.
///
/// ```text
/// β·A/α = ρ_e/φ (independent of the drop enthalpy),  α = φ/(A·ρ·H),  β = ρ_e/(A²·ρ·H)
/// ```
/// # Units
/// V/(mm² · kg/m³ · MJ/kg) · 10³ = mm/(A s); µΩ·m/(mm⁴ · kg/m³ · MJ/kg) = 1/(A² s).
/// # Source
/// Energy balance, derived; windows of φ, ρ_e and H from memory.
pub fn burn_off(wire: &Wire, form: BurnOffForm, alpha: f64, beta: f64) -> Vec<Plausibility> {
    let Some(MeltingPhysics { melting_voltage_v, hot_resistivity_uohm_m, drop_enthalpy_mj_kg, ratio_mm_per_a }) =
        wire.material.melting_physics()
    else {
        return Vec::new();
    };
    let section = wire.section_mm2();
    let density = wire.density_kg_m3;
    let slip = "check units (feed, current, extension) and the wire's diameter before anything else";
    let alpha_of = |phi: f64, h: f64| phi / (section * density * h) * 1e3;
    let beta_of = |rho: f64, h: f64| rho / (section * section * density * h);
    let mut list = vec![judged(
        "beta*A/alpha",
        beta * section / alpha,
        "mm/A",
        ratio_mm_per_a,
        "hot resistivity over melting voltage (windows from memory)",
        slip,
    )];
    if form == BurnOffForm::Proportional {
        list.push(judged(
            "alpha",
            alpha,
            "mm/(A s)",
            [
                alpha_of(melting_voltage_v[0], drop_enthalpy_mj_kg[1]),
                alpha_of(melting_voltage_v[1], drop_enthalpy_mj_kg[0]),
            ],
            "arc heat at the wire tip (windows from memory)",
            slip,
        ));
        list.push(judged(
            "beta",
            beta,
            "1/(A² s)",
            [
                beta_of(hot_resistivity_uohm_m[0], drop_enthalpy_mj_kg[1]),
                beta_of(hot_resistivity_uohm_m[1], drop_enthalpy_mj_kg[0]),
            ],
            "resistive heat of the extension (windows from memory)",
            slip,
        ));
    }
    list
}

/// The exponent of the detachment law.
pub fn detachment(exponent: f64) -> Vec<Plausibility> {
    vec![judged(
        "exponent",
        exponent,
        "1",
        [1.5, 3.0],
        "exponent of the pulse current (from memory)",
        "check that pulse current and pulse time were not swapped, and that the pulse time is the width at half height",
    )]
}

/// Slope and gradient of the arc voltage.
pub fn arc_voltage(coefficients: &[f64]) -> Vec<Plausibility> {
    let mut list = vec![judged(
        "slope_ohm",
        coefficients[1],
        "ohm",
        [0.0, 0.08],
        "voltage over current (from memory)",
        "check where the voltage was measured and the cable drop",
    )];
    if let Some(gradient) = coefficients.get(2) {
        list.push(judged(
            "gradient_v_per_mm",
            *gradient,
            "V/mm",
            [0.3, 2.5],
            "voltage per mm of arc (from memory, wide)",
            "check how the arc length was measured",
        ));
    }
    list
}

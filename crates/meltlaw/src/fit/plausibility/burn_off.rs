//! Burn-off coefficients by the energy balance of the wire tip.

use super::band::{Judged, TOLERATED, figures, reaches};
use super::burn_off_slips::likely_slips;
use super::ripple;
use crate::fit::errors_in_variables::EivFit;
use crate::fit::selection::Selection;
use crate::laws::Plausibility;
use crate::materials::MeltingPhysics;
use crate::study::{BurnOffForm, Study, Wire};
use crate::trials::Trials;

/// α and β with the covariance that judging them needs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Coefficients {
    pub(super) alpha: f64,
    pub(super) beta: f64,
    /// Variance of α, covariance, variance of β.
    pub(super) covariance: [f64; 3],
}

impl Coefficients {
    /// From a fit, its covariance scaled by the residuals where they are larger than stated.
    pub(super) fn of(fit: &EivFit) -> Self {
        let scale = fit.chi_squared_per_degree().max(1.0);
        let c = |i: usize, j: usize| scale * fit.stated_covariance[(i, j)];
        Self { alpha: fit.b[0], beta: fit.b[1], covariance: [c(0, 0), c(0, 1), c(1, 1)] }
    }

    /// The same where α and β are multiplied.
    pub(super) fn times(self, alpha: f64, beta: f64) -> Self {
        let [aa, ab, bb] = self.covariance;
        Self {
            alpha: self.alpha * alpha,
            beta: self.beta * beta,
            covariance: [aa * alpha * alpha, ab * alpha * beta, bb * beta * beta],
        }
    }
}

/// A physical quantity that the coefficients imply, with its standard error and its band.
#[derive(Debug, Clone, Copy)]
pub(super) struct Implied {
    pub(super) value: f64,
    pub(super) standard_error: f64,
    pub(super) band: [f64; 2],
}

impl Implied {
    fn inside(&self) -> bool {
        reaches(self.value, self.standard_error, self.band)
    }
}

/// Enthalpy-free ratio, melting voltage, hot resistivity; `None` where nothing is known of the material.
///
/// ```text
/// β·A/α = ρ_e/φ,  φ = α·A·ρ·H,  ρ_e = β·A²·ρ·H, H in the middle of its window
/// ```
///
/// The bands of φ and ρ_e are widened by the window of H: a coefficient lies outside only where no H inside
/// its window explains it.
///
/// # Units
/// mm/(A s) · mm² · kg/m³ · MJ/kg · 10⁻³ = V; mm⁴ · kg/m³ · MJ/kg/(A² s) = µΩ·m.
/// # Source
/// Energy balance, derived; windows of φ, ρ_e and H from memory.
pub(super) fn implied(wire: &Wire, c: &Coefficients) -> Option<[Implied; 3]> {
    let MeltingPhysics { melting_voltage_v, hot_resistivity_uohm_m, drop_enthalpy_mj_kg, ratio_mm_per_a } =
        wire.material.melting_physics()?;
    let (section, density) = (wire.section_mm2(), wire.density_kg_m3);
    let [low_h, high_h] = drop_enthalpy_mj_kg;
    let h = f64::midpoint(low_h, high_h);
    let widened = |[low, high]: [f64; 2]| [low * h / high_h, high * h / low_h];
    let [aa, ab, bb] = c.covariance;
    let (by_alpha, by_beta) = (-c.beta * section / (c.alpha * c.alpha), section / c.alpha);
    let ratio_variance = by_alpha * by_alpha * aa + 2.0 * by_alpha * by_beta * ab + by_beta * by_beta * bb;
    let (phi, rho) = (section * density * h * 1e-3, section * section * density * h);
    Some([
        Implied {
            value: c.beta * section / c.alpha,
            standard_error: ratio_variance.max(0.0).sqrt(),
            band: ratio_mm_per_a,
        },
        Implied { value: c.alpha * phi, standard_error: aa.sqrt() * phi, band: widened(melting_voltage_v) },
        Implied { value: c.beta * rho, standard_error: bb.sqrt() * rho, band: widened(hot_resistivity_uohm_m) },
    ])
}

/// How far three implied quantities lie from the middle of their bands, in half widths, or `None` where one
/// lies outside. Measured on the logarithm: slips are factors.
pub(super) fn distance(implied: &[Implied; 3]) -> Option<f64> {
    if !implied.iter().all(Implied::inside) {
        return None;
    }
    let off = |i: &Implied| {
        let [low, high] = i.band;
        ((i.value.max(low * 1e-6) / (low * high).sqrt()).ln() / (0.5 * (high / low).ln())).powi(2)
    };
    Some(implied.iter().map(off).sum::<f64>().sqrt())
}

/// Bands of α (mm/(A s)) and β (1/(A² s)) for a wire.
pub fn coefficient_bands(wire: &Wire) -> Option<[[f64; 2]; 2]> {
    let unit = Coefficients { alpha: 1.0, beta: 1.0, covariance: [0.0; 3] };
    let [_, phi, rho] = implied(wire, &unit)?;
    Some([phi, rho].map(|i| i.band.map(|end| end / i.value)))
}

/// Ratio, melting voltage and hot resistivity of exact coefficients.
///
/// With an offset the arc's share is no longer all in α: only the ratio is judged then.
pub fn burn_off(wire: &Wire, form: BurnOffForm, alpha: f64, beta: f64) -> Vec<Plausibility> {
    let exact = Coefficients { alpha, beta, covariance: [0.0; 3] };
    judged(wire, form, &exact, "check units (feed, current, extension) and the wire's diameter before anything else")
}

fn judged(wire: &Wire, form: BurnOffForm, c: &Coefficients, action: &str) -> Vec<Plausibility> {
    let (Some(implied), Some([alpha, beta])) = (implied(wire, c), coefficient_bands(wire)) else { return Vec::new() };
    let [low_h, high_h] = wire.material.melting_physics().map_or([0.0; 2], |p| p.drop_enthalpy_mj_kg);
    let window = format!("drop enthalpies of {low_h} to {high_h} MJ/kg allow");
    let of = |[low, high]: [f64; 2], unit: &str| format!("{} to {} {unit}", figures(low), figures(high));
    let texts = [
        (
            "beta*A/alpha",
            "mm/A",
            "hot resistivity over melting voltage, whatever the drop enthalpy (windows from memory)".to_owned(),
        ),
        (
            "melting voltage",
            "V",
            format!(
                "heat of the arc at the wire tip, alpha*A*density*enthalpy (windows from memory; {window} alpha {})",
                of(alpha, "mm/(A s)")
            ),
        ),
        (
            "hot resistivity",
            "µΩ m",
            format!(
                "resistive heat of the extension, beta*A^2*density*enthalpy (windows from memory; {window} beta {})",
                of(beta, "1/(A² s)")
            ),
        ),
    ];
    let shown = if form == BurnOffForm::Offset { 1 } else { 3 };
    let mut told = false;
    texts
        .iter()
        .zip(&implied)
        .take(shown)
        .map(|((name, unit, expected), i)| {
            // The advice is for all values together: once is enough.
            let action = if i.inside() || !told { action } else { "see the value above: one slip would explain both" };
            told |= !i.inside();
            Judged { name, value: i.value, standard_error: i.standard_error, unit, band: i.band, expected, action }
                .plausibility()
        })
        .collect()
}

/// Ratio, melting voltage and hot resistivity of a fit, the slips that would explain a value outside, and
/// whether the RMS current is one.
pub fn burn_off_of_trials(study: &Study, trials: &Trials, selection: &Selection, fit: &EivFit) -> Vec<Plausibility> {
    let form = study.laws.burn_off;
    let c = Coefficients::of(fit);
    let shown = if form == BurnOffForm::Offset { 1 } else { 3 };
    let outside = implied(&study.wire, &c).is_some_and(|i| i.iter().take(shown).any(|i| !i.inside()));
    let action = if outside { likely_slips(study, trials, selection, &c, form) } else { String::new() };
    let mut list = judged(&study.wire, form, &c, &action);
    list.extend(ripple::judged(study, trials, selection, &c, form));
    list
}

/// The tolerance in words, for readings.
pub(super) fn tolerance() -> String {
    format!("within {TOLERATED} standard errors")
}

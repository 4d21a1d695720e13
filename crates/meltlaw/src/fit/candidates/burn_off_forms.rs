//! Forms of the burn-off law: as used, with an offset, and with β as the material's physics has it.

use super::form_test::{CHOOSE, Extra, form_test, not_made};
use super::least_squares_form::candidate;
use super::over_the_line::{FittedForm, largest_change, typical_settings};
use super::{Forms, not_tried};
use crate::fit::burn_off;
use crate::fit::errors_in_variables::{EivFit, NoFit, Observation, fit as fit_eiv, linear_start};
use crate::fit::selection::Selection;
use crate::laws::{BurnOff, CoefficientName, FitTest, Law, LineEffect};
use crate::statistics::student_t_two_sided;
use crate::study::{BurnOffForm, CovarianceFrom, Study, Wire};

/// Burn-off with β held at the middle of what physics expects of the material; only α is fitted.
///
/// ```text
/// w = α·Ī + β·L·I_rms²,  β = ρ_e/(A²·ρ·H)
/// ```
///
/// ρ_e and H in the middle of their windows. A candidate only: it shows what the trials lose where they
/// tell β badly, and is not offered in `[laws]`, because those windows are from memory.
///
/// # Units
/// µΩ·m/(mm⁴ · kg/m³ · MJ/kg) = 1/(A² s).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhysicalBeta {
    /// β, 1/(A² s).
    pub beta_per_a2_s: f64,
}

impl PhysicalBeta {
    /// The word in `candidates`.
    pub const WORD: &'static str = "physical_beta";

    /// For a wire; `None` where nothing is known of the material.
    pub fn of(wire: &Wire) -> Option<Self> {
        let physics = wire.material.melting_physics()?;
        let middle = |[low, high]: [f64; 2]| f64::midpoint(low, high);
        let (resistivity, enthalpy) = (middle(physics.hot_resistivity_uohm_m), middle(physics.drop_enthalpy_mj_kg));
        let section = wire.section_mm2();
        Some(Self { beta_per_a2_s: resistivity / (section * section * wire.density_kg_m3 * enthalpy) })
    }
}

const ALPHA: [CoefficientName; 1] = [CoefficientName { name: "alpha_mm_per_a_s", unit: "mm/(A s)" }];

impl Law for PhysicalBeta {
    fn coefficients(&self) -> &'static [CoefficientName] {
        &ALPHA
    }

    fn quantities(&self) -> usize {
        3
    }

    fn predict(&self, b: &[f64], row: &[f64]) -> f64 {
        b[0] * row[0] + self.beta_per_a2_s * row[2] * row[1] * row[1]
    }

    fn gradient(&self, _: &[f64], row: &[f64], out: &mut [f64]) {
        out[0] = row[0];
    }

    fn gradient_by_row(&self, b: &[f64], row: &[f64], out: &mut [f64]) {
        out[0] = b[0];
        out[1] = 2.0 * self.beta_per_a2_s * row[2] * row[1];
        out[2] = self.beta_per_a2_s * row[1] * row[1];
    }
}

fn fit_physical(law: PhysicalBeta, observations: &[Observation]) -> Result<EivFit, NoFit> {
    let start = linear_start(&law, observations).ok_or(NoFit::Dependent)?;
    fit_eiv(&law, observations, &start)
}

/// The candidates of the burn-off law. The held-out range goes by wire feed; the effect on the line is in
/// m/min of feed at settings of equal current (see `over_the_line`).
pub fn burn_off_forms(study: &Study, selection: &Selection, used: &EivFit, footing: CovarianceFrom) -> Forms {
    let observations = &selection.observations;
    let law = BurnOff(study.laws.burn_off);
    let other = if law.0 == BurnOffForm::Proportional { BurnOffForm::Offset } else { BurnOffForm::Proportional };
    let physical = PhysicalBeta::of(&study.wire);
    let by_feed = |o: &Observation| o.y;
    let own = Ok(used.clone());
    let ((own_candidate, (other_fit, mut other_candidate)), physical) = rayon::join(
        || {
            rayon::join(
                || candidate(law.0.word(), &law, observations, &own, by_feed, footing),
                || {
                    let fitted = burn_off::fit(other, observations);
                    let c = candidate(other.word(), &BurnOff(other), observations, &fitted, by_feed, footing);
                    (fitted, c)
                },
            )
        },
        || {
            physical.map(|law| {
                let fitted = fit_physical(law, observations);
                let c = candidate(PhysicalBeta::WORD, &law, observations, &fitted, by_feed, footing);
                (law, fitted, c)
            })
        },
    );
    let extension = study.conditions().extension_mm;
    let rows: Vec<(f64, Vec<f64>)> = typical_settings(study, selection, &used.b)
        .into_iter()
        .map(|t| (t.feed_m_min, vec![t.mean_a, t.rms_a, extension]))
        .collect();
    let used_form = FittedForm { law: &law, fit: used };
    let unit = (0.06, "m/min");
    if let Ok(fit) = &other_fit {
        let form = FittedForm { law: &BurnOff(other), fit };
        other_candidate.line_effect = largest_change(&used_form, &form, &rows, unit, footing);
    }
    let test = match (&other_fit, &other_candidate.line_effect) {
        (Ok(fit), Some(effect)) => offset_test(study, law.0, used, fit, effect, footing),
        _ => not_made("m/min", "these trials do not determine the other form"),
    };
    let mut candidates = if law.0 == BurnOffForm::Proportional {
        vec![own_candidate, other_candidate]
    } else {
        vec![other_candidate, own_candidate]
    };
    candidates.push(match physical {
        Some((law, fitted, mut c)) => {
            if let Ok(fit) = &fitted {
                c.line_effect = largest_change(&used_form, &FittedForm { law: &law, fit }, &rows, unit, footing);
            }
            c
        }
        None => not_tried(
            PhysicalBeta::WORD,
            format!("no hot resistivity and drop enthalpy at hand for {}", study.wire.material.word()),
        ),
    });
    Forms { candidates, test }
}

fn offset_test(
    study: &Study,
    used_form: BurnOffForm,
    used: &EivFit,
    other: &EivFit,
    effect: &LineEffect,
    footing: CovarianceFrom,
) -> FitTest {
    let with = if used_form == BurnOffForm::Offset { used } else { other };
    if with.degrees_of_freedom() == 0 {
        return not_made("m/min", "too few trials");
    }
    let (chi, degrees) = (with.chi_squared_per_degree(), with.degrees_of_freedom() as f64);
    let (scale, degrees) =
        if footing == CovarianceFrom::StatedErrors { (chi.max(1.0), f64::INFINITY) } else { (chi, degrees) };
    let statistic = with.b[2] / (with.stated_covariance[(2, 2)] * scale).sqrt();
    let margin = study.compare.wire_feed_relative;
    // Where the offset is in use, taking it away is no improvement however sure it is.
    let exceeds = used_form == BurnOffForm::Proportional && effect.value.abs() > margin * effect.at_wire_feed_m_min;
    form_test(&Extra {
        form: if used_form == BurnOffForm::Proportional { "offset" } else { "proportional" },
        what: &format!("offset {:+.2} mm/s, {:.1} standard errors", with.b[2], statistic.abs()),
        statistic,
        p_value: student_t_two_sided(statistic, degrees),
        effect,
        exceeds,
        margin: format!("{:.1} % of the feed", 100.0 * margin),
        action: CHOOSE,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::Material;

    #[test]
    fn beta_of_steel_at_the_middle_of_its_windows() {
        let wire = Wire {
            designation: String::new(),
            material: Material::CarbonSteel,
            diameter_mm: 1.2,
            metal_section_mm2: None,
            density_kg_m3: 7850.0,
            linear_mass_g_m: None,
        };
        // ρe = 0.9 µΩ m, H = 1.9 MJ/kg, A = 1.130973 mm²: 0.9/(1.279101·7850·1.9) = 4.71755e-5.
        let beta = PhysicalBeta::of(&wire).expect("steel is known").beta_per_a2_s;
        assert!((beta - 4.717_55e-5).abs() < 5e-10, "{beta}");
        assert!(PhysicalBeta::of(&Wire { material: Material::Copper, ..wire }).is_none());
    }
}

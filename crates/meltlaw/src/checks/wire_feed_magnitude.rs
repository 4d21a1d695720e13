//! *Finds* wire feeds that look as if they were in another unit.
//!
//! *Why it matters*: the feed is what burn-off explains; in another unit α and β are off by its factor.
//!
//! *What to do*: give the column the suffix of its unit (`_mm_s`, `_in_min`) or convert it.
//!
//! *Example*: `wire_feed_m_min` 106 where 106 mm/s (6.4 m/min) was meant.
//!
//! Judged by the energy balance at the wire tip, α = φ/(A·ρ·H) and β = ρe/(A²·ρ·H), with wide ranges
//! of melting voltage φ, hot resistivity ρe and drop enthalpy H: each row's currents and extension give
//! the window in which its feed should lie. The ranges are from memory, so a feed outside them only
//! warns; it stops where it is off by three or more and one unit explains it.

use super::length_magnitude::wire_diameter_usual;
use super::magnitude::{Slip, in_another_unit, options, slips_that_mend};
use super::rows::{cell, finding, median, number};
use super::{Check, Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::materials::MeltingPhysics;
use crate::study::{Study, Wire};
use crate::trials::{Column, Mode, Trial, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "wire_feed_magnitude",
    about: "Wire feeds that look like another unit, judged by the energy that the currents bring to the wire tip.",
    look,
};

/// How far off the middle of the window the feeds must be, as a factor, before a unit is suspected.
const SUSPECT_FACTOR: f64 = 3.0;

const SLIPS: &[Slip] = &[
    Slip { factor: 0.06, unit: "mm/s", mend: "rename the column wire_feed_mm_s" },
    Slip { factor: 0.0254, unit: "in/min", mend: "rename the column wire_feed_in_min" },
    Slip { factor: 60.0, unit: "m/s", mend: "convert m/s to m/min (times 60)" },
    Slip { factor: 1.0 / 60.0, unit: "m/h", mend: "convert m/h to m/min (divide by 60)" },
    Slip { factor: 0.01, unit: "cm/min", mend: "convert cm/min to m/min (divide by 100)" },
    Slip { factor: 0.001, unit: "mm/min", mend: "convert mm/min to m/min (divide by 1000)" },
    Slip { factor: 1.0 / 0.06, unit: "m/min read as mm/s", mend: "rename the column wire_feed_m_min" },
    Slip { factor: 1.0 / 0.0254, unit: "m/min read as in/min", mend: "rename the column wire_feed_m_min" },
];

/// What the energy balance lets a trial feed, m/min.
fn window_m_min(wire: &Wire, physics: &MeltingPhysics, mean_a: f64, extension_rms2: f64) -> [f64; 2] {
    let section = wire.section_mm2();
    let [hot, cold] = physics.drop_enthalpy_mj_kg;
    let density = wire.density_kg_m3;
    let feed = |voltage: f64, resistivity: f64, enthalpy: f64| {
        // V/(mm²·kg/m³·MJ/kg) is m/(A·s); µΩ·m/(mm⁴·kg/m³·MJ/kg) is 1/(A²·s).
        let alpha_mm_per_a_s = 1000.0 * voltage / (section * density * enthalpy);
        let beta_per_a2_s = resistivity / (section * section * density * enthalpy);
        0.06 * (alpha_mm_per_a_s * mean_a + beta_per_a2_s * extension_rms2)
    };
    [
        feed(physics.melting_voltage_v[0], physics.hot_resistivity_uohm_m[0], cold),
        feed(physics.melting_voltage_v[1], physics.hot_resistivity_uohm_m[1], hot),
    ]
}

/// Feed over the middle of its window, and the window over its middle.
fn ratio(study: &Study, trials: &Trials, trial: &Trial, physics: &MeltingPhysics) -> Option<(f64, [f64; 2])> {
    let (feed, mean) = (trial.get(Column::WireFeed)?, trial.get(Column::CurrentMean)?);
    let rms = match trial.get(Column::CurrentRms) {
        None if trial.mode == Mode::ConstantCurrent => mean,
        rms => rms?,
    };
    let extension = trials.geometry(trial, &study.bench)?.extension_mm.clamp(0.0, 60.0);
    if feed <= 0.0 || mean <= 0.0 {
        return None;
    }
    let window = window_m_min(&study.wire, physics, mean, extension * rms * rms);
    let middle = (window[0] * window[1]).sqrt();
    Some((feed / middle, window.map(|end| end / middle)))
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let Some(physics) = study.wire.material.melting_physics() else { return Vec::new() };
    if !wire_diameter_usual(study) || in_another_unit(study, trials, &[Column::CurrentMean, Column::CurrentRms]) {
        return Vec::new();
    }
    let judged: Vec<(&Trial, f64, [f64; 2])> =
        trials.used().filter_map(|t| ratio(study, trials, t, &physics).map(|(r, window)| (t, r, window))).collect();
    let of = |pick: fn(&(&Trial, f64, [f64; 2])) -> f64| median(&judged.iter().map(pick).collect::<Vec<_>>());
    let (off, window) = (of(|j| j.1), [of(|j| j.2[0]), of(|j| j.2[1])]);
    if judged.is_empty() || (1.0 / SUSPECT_FACTOR < off && off < SUSPECT_FACTOR) {
        return Vec::new();
    }
    let rows: Vec<RowReference> = judged.iter().map(|(trial, ..)| cell(trials, trial, Column::WireFeed)).collect();
    let expected = "wire feeds that the currents can melt (energy balance at the wire tip, ranges from memory)";
    let seen = format!("feeds {} times what the currents melt", number(off));
    let mending = slips_that_mend(off, window, SLIPS);
    vec![if mending.is_empty() {
        let action = "check the units of wire feed, currents, extension and wire diameter, and the wire's material";
        finding(CHECK.name, Severity::Warning, rows, Reading::new(expected, seen, action))
    } else {
        let (units, mends) = options(&mending);
        finding(CHECK.name, Severity::Stop, rows, Reading::new(expected, format!("{seen}: looks like {units}"), mends))
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{ALUMINIUM, STAINLESS, STEEL, found, mapped, severities, steel_study, study_of, weld};

    #[test]
    fn the_window_is_the_published_energy_balance() {
        // Steel 1.2 mm: A = 1.13097 mm², α = 4/(A·7850·2.4) … 8/(A·7850·1.4) = 0.1877 … 0.6436 mm/(A s).
        let physics = crate::materials::Material::CarbonSteel.melting_physics();
        let window = physics.map(|p| window_m_min(&steel_study().wire, &p, 100.0, 0.0)).unwrap_or_default();
        assert!((window[0] - 0.06 * 18.77).abs() < 0.002 && (window[1] - 0.06 * 64.36).abs() < 0.003);
    }

    #[test]
    fn each_unit_stops_and_is_named_first_for_each_material() {
        for lab in [STEEL, STAINLESS, ALUMINIUM] {
            for (factor, unit) in [(1.0 / 0.06, "mm/s"), (1.0 / 0.0254, "in/min"), (1.0 / 60.0, "m/s")] {
                let trials = mapped(weld(&lab, 24, 3), Column::WireFeed, |v| v * factor);
                let findings = found(&CHECK, &study_of(&lab), &trials);
                assert_eq!(findings[0].severity, Severity::Stop);
                assert!(findings[0].reading.seen.contains(unit), "{}", findings[0].reading.seen);
            }
        }
    }

    #[test]
    fn steel_in_mm_per_s_names_the_column_to_use_first() {
        let trials = mapped(weld(&STEEL, 24, 3), Column::WireFeed, |v| v / 0.06);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert!(findings[0].reading.action.starts_with("rename the column wire_feed_mm_s"));
    }

    #[test]
    fn a_feed_that_no_unit_explains_is_a_warning() {
        let trials = mapped(weld(&STEEL, 24, 3), Column::WireFeed, |v| v * 5.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn twice_the_usual_feed_does_not() {
        let trials = mapped(weld(&STEEL, 24, 3), Column::WireFeed, |v| v * 2.0);
        assert!(severities(&CHECK, &steel_study(), &trials).is_empty());
    }
}

//! Slips of the pen and of units that put the burn-off coefficients outside physics: each is undone, and
//! named where that brings all values inside.

use super::band::figures;
use super::burn_off::{Coefficients, distance, implied, tolerance};
use super::ripple;
use crate::fit::burn_off;
use crate::fit::errors_in_variables::Observation;
use crate::fit::selection::Selection;
use crate::study::{BurnOffForm, Study, Wire};
use crate::trials::{ExtensionFrom, Trials};

/// Feed as it would be without the slip over feed as read, and the slip.
const FEED: [(f64, &str); 8] = [
    (0.06, "the wire feed is in mm/s but read as m/min (rename the column wire_feed_mm_s)"),
    (1.0 / 0.06, "the wire feed is in m/min but read as mm/s (rename the column wire_feed_m_min)"),
    (0.0254, "the wire feed is in in/min but read as m/min (rename the column wire_feed_in_min)"),
    (1.0 / 0.0254, "the wire feed is in m/min but read as in/min (rename the column wire_feed_m_min)"),
    (0.0254 / 0.06, "the wire feed is in in/min but read as mm/s (rename the column wire_feed_in_min)"),
    (0.06 / 0.0254, "the wire feed is in mm/s but read as in/min (rename the column wire_feed_mm_s)"),
    (60.0, "the wire feed is per second but read as per minute"),
    (1.0 / 60.0, "the wire feed is per minute but read as per second"),
];

const CURRENT: [(f64, &str); 2] = [
    (1000.0, "currents are in kA but read as A (rename the columns from _a to _ka)"),
    (1e-3, "currents are a thousand times too large (milliamperes)"),
];

const EXTENSION: [(f64, &str); 4] = [
    (25.4, "the extension is in inches but read as mm (rename the column to _in)"),
    (1.0 / 25.4, "the extension is in mm but read as inches (rename the column to _mm)"),
    (10.0, "the extension is in cm but read as mm"),
    (1000.0, "the extension is in m but read as mm (rename the column to _m)"),
];

/// Usual diameters of wire electrodes, mm (common practice).
const DIAMETERS_MM: [f64; 9] = [0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.6, 2.0, 2.4];

/// Metal section of cored wires as a share of the full circle (common practice).
const CORED_SHARE: [f64; 2] = [0.45, 0.92];

/// What feeds, current densities and extensions are without a slip (common practice, wide as in the checks of
/// the table): a slip that explains the coefficients but not these is none.
const FEED_M_MIN: [f64; 2] = [0.5, 40.0];
const DENSITY_A_MM2: [f64; 2] = [10.0, 1000.0];
const EXTENSION_MM: [f64; 2] = [2.0, 45.0];

/// Slips named at most.
const NAMED: usize = 3;

/// A slip undone.
struct Undone {
    slip: String,
    coefficients: Coefficients,
    wire: Wire,
}

/// What to do about values outside: the slips that bring all of them inside, likeliest first.
pub(super) fn likely_slips(
    study: &Study,
    trials: &Trials,
    selection: &Selection,
    c: &Coefficients,
    form: BurnOffForm,
) -> String {
    let mut found: Vec<(f64, Undone)> = every_slip(study, trials, selection, c, form)
        .into_iter()
        .filter_map(|u| Some((distance(&implied(&u.wire, &u.coefficients)?)?, u)))
        .collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.truncate(NAMED);
    if found.is_empty() {
        return format!(
            "none of the usual slips (units of feed, current and extension; RMS that is the mean; CTWD for extension; wire diameter; cored wire without metal section) brings all values inside {}: look at the trials that pull the law, and whether the stated material is the wire's",
            tolerance()
        );
    }
    let named: Vec<String> = found
        .iter()
        .map(|(_, u)| {
            let [_, phi, rho] = implied(&u.wire, &u.coefficients).expect("a distance was found above");
            format!("{} – then {} V and {} µΩ m", u.slip, figures(phi.value), figures(rho.value))
        })
        .collect();
    format!("check for a slip that would bring all values inside, likeliest first: {}", named.join("; or "))
}

fn every_slip(
    study: &Study,
    trials: &Trials,
    selection: &Selection,
    c: &Coefficients,
    form: BurnOffForm,
) -> Vec<Undone> {
    let wire = &study.wire;
    let scaled = |slip: &str, alpha: f64, beta: f64| Undone {
        slip: slip.to_owned(),
        coefficients: c.times(alpha, beta),
        wire: wire.clone(),
    };
    let typical = |of: &dyn Fn(&Observation) -> f64| {
        crate::statistics::median(&mut selection.observations.iter().map(of).collect::<Vec<f64>>())
    };
    let usual = |value: f64, [low, high]: [f64; 2]| (low..=high).contains(&value);
    let (feed, current, extension) = (typical(&|o| o.y * 0.06), typical(&|o| o.row[0]), typical(&|o| o.row[2]));
    let mut list = Vec::new();
    list.extend(FEED.iter().filter(|(f, _)| usual(f * feed, FEED_M_MIN)).map(|(f, slip)| scaled(slip, *f, *f)));
    let density = current / wire.section_mm2();
    list.extend(
        CURRENT
            .iter()
            .filter(|(f, _)| usual(f * density, DENSITY_A_MM2))
            .map(|(f, slip)| scaled(slip, 1.0 / f, 1.0 / (f * f))),
    );
    list.extend(
        EXTENSION
            .iter()
            .filter(|(f, _)| usual(f * extension, EXTENSION_MM))
            .map(|(f, slip)| scaled(slip, 1.0, 1.0 / f)),
    );
    list.extend(geometry_slips(study, trials, selection, form));
    if let Some(coefficients) = ripple::without_slip(study, trials, selection, form) {
        list.push(Undone {
            slip: "current_rms_a holds the mean current, not the RMS (take it from samples)".to_owned(),
            coefficients,
            wire: wire.clone(),
        });
    }
    list.extend(wire_slips(wire, c));
    list
}

/// Extension and CTWD taken for each other: refits from corrected extensions.
fn geometry_slips(study: &Study, trials: &Trials, selection: &Selection, form: BurnOffForm) -> Vec<Undone> {
    let measured =
        |i: usize| trials.geometry(&trials.rows[i], &study.bench).is_some_and(|g| g.from == ExtensionFrom::Measured);
    let all_measured = selection.used.iter().all(|&i| measured(i));
    let none_measured = selection.used.iter().all(|&i| !measured(i));
    let (sign, slip) = match (all_measured, none_measured) {
        (true, false) => (-1.0, "extension_mm holds the contact-tip-to-work distance (rename the column ctwd_mm)"),
        (false, true) => (1.0, "ctwd_mm holds the extension (rename the column extension_mm)"),
        _ => return Vec::new(),
    };
    let arc = |i: usize| {
        let read = trials.rows[i].get(crate::trials::Column::ArcLength);
        read.unwrap_or(study.bench.arc_length_mm)
    };
    let corrected: Vec<Observation> = selection
        .observations
        .iter()
        .zip(&selection.used)
        .map(|(o, &i)| {
            let mut o = o.clone();
            o.row[2] += sign * arc(i);
            o
        })
        .collect();
    if corrected.iter().any(|o| o.row[2] <= 0.0) {
        return Vec::new();
    }
    burn_off::fit(form, &corrected)
        .ok()
        .map(|fit| Undone { slip: slip.to_owned(), coefficients: Coefficients::of(&fit), wire: study.wire.clone() })
        .into_iter()
        .collect()
}

/// Another diameter, or a cored wire whose metal section is not stated.
fn wire_slips(wire: &Wire, c: &Coefficients) -> Vec<Undone> {
    if wire.metal_section_mm2.is_some() {
        return Vec::new();
    }
    let with = |slip: String, wire: Wire| Undone { slip, coefficients: *c, wire };
    let mut list: Vec<Undone> = DIAMETERS_MM
        .iter()
        .filter(|d| (**d / wire.diameter_mm - 1.0).abs() > 0.04)
        .map(|&d| {
            with(
                format!("the wire is {d} mm thick, not {} (correct diameter_mm)", wire.diameter_mm),
                Wire { diameter_mm: d, ..wire.clone() },
            )
        })
        .collect();
    let full = wire.section_mm2();
    let inside: Vec<(f64, f64)> = (0..=20)
        .map(|i| (CORED_SHARE[0] + (CORED_SHARE[1] - CORED_SHARE[0]) * f64::from(i) / 20.0) * full)
        .filter_map(|section| {
            let cored = Wire { metal_section_mm2: Some(section), ..wire.clone() };
            Some((section, distance(&implied(&cored, c)?)?))
        })
        .collect();
    if let (Some(first), Some(last)) = (inside.first(), inside.last()) {
        let best = inside.iter().min_by(|a, b| a.1.total_cmp(&b.1)).map_or(first.0, |b| b.0);
        list.push(with(
            format!(
                "the wire is cored and its metal section is {:.2} to {:.2} mm², not the full {full:.2} mm² (state metal_section_mm2)",
                first.0, last.0
            ),
            Wire { metal_section_mm2: Some(best), ..wire.clone() },
        ));
    }
    list
}

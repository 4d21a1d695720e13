//! The study file: from text to the study as meant, every fault of the file at once, every default
//! that was filled in listed.

use meltlaw::gas::Gas;
use meltlaw::materials::Material;
use meltlaw::ranges::{
    CONFIDENCE, DENSITY_KG_M3, DIAMETER_MM, LENGTH_MM, LENGTH_SE_MM, LINEAR_MASS_G_M, MARGIN_V, PER_CENT,
    REFERENCE_CURRENT_A, RELATIVE_MARGIN, RELATIVE_SE, RESISTANCE_OHM, SECTION_MM2, VOLTAGE_SE_V,
};
use meltlaw::study::{
    ArcVoltageForm, Bench, BurnOffForm, CalibrationTerm, CalibrationUncertainty, CovarianceFrom, Discrepancy,
    LawChoices, Margins, Numerics, ScatterFrom, Study, VoltagePlace, Wire,
};
use toml::de::DeTable;

use super::fault::{Fault, Place, ReadError};
use super::line_request::read_line;
use super::logs::{LogsRequest, read_logs_requests};
use super::prior::read_prior;
use super::request::{TableRequest, read_requests};
use super::section::Section;
use super::setup::{LeaveOut, read_confirm, read_factors, read_leave_out, read_setup};
use super::source::read_source;
use super::study_text::StudyText;

/// Whether a study must name trials: a line for what nobody welded has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tables {
    Needed,
    Optional,
}

/// What a study wants read besides itself.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Requests {
    pub(crate) tables: Vec<TableRequest>,
    pub(crate) logs: Vec<LogsRequest>,
    /// Trials that take no part.
    pub(crate) leave_out: Vec<LeaveOut>,
    /// Keys that are kept although nothing acts on them yet, a sentence each.
    pub(crate) notes: Vec<String>,
}

/// Reads the text of a study file.
pub(crate) fn read_study_text(file: &str, text: &str, tables: Tables) -> Result<(Study, Requests), ReadError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let study = StudyText::new(file, text);
    let (document, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        let line = study.line_at(error.span().map_or(0, |span| span.start));
        let found = format!("text that is not TOML ({})", error.message().replace('\n', ", "));
        let place = Place::Line { line, key: String::new() };
        study.push(Fault::at(file, place, found, "key = value", "correct the line"));
    }
    // A file that is no TOML has no keys worth talking about.
    let read = if study.is_sound() { read_root(&study, document.get_ref(), tables) } else { None };
    let (faults, assumed, notes) = study.into_parts();
    match read {
        Some((mut study, mut requests)) if faults.is_empty() => {
            study.assumed = assumed;
            requests.notes = notes;
            Ok((study, requests))
        }
        _ => Err(ReadError::BadStudy { faults }),
    }
}

fn read_root<'a>(text: &'a StudyText<'a>, table: &'a DeTable<'a>, tables: Tables) -> Option<(Study, Requests)> {
    let root = Section::root(text, table);
    let name = root.text("name");
    if root.find("name").is_none() {
        text.assume("name", UNNAMED, "the study file has no name");
    }
    let wire = read_wire(root.section("wire"));
    let gas = read_gas(root.section("gas"));
    let bench = read_bench(root.section("bench"));
    let calibration = read_calibration(root.section("calibration"));
    let requests = Requests {
        tables: read_requests(&root),
        logs: read_logs_requests(&root),
        leave_out: read_leave_out(&root),
        notes: Vec::new(),
    };
    let laws = read_laws(root.section("laws"));
    let prior = read_prior(root.section("prior"), &laws);
    let source = read_source(root.section("source"));
    let line = read_line(root.section("line"));
    let compare = read_compare(root.section("compare"));
    let confirm = read_confirm(root.section("confirm"));
    let setup = read_setup(root.section("setup"));
    let factors = read_factors(root.section("factors"));
    let numerics = read_numerics(root.section("numerics"));
    if tables == Tables::Needed && root.find("trials").is_none() && root.find("logs").is_none() {
        root.fault(
            "trials",
            1,
            "no such key",
            "at least one table of trials",
            "add [[trials]] with file = \"trials.csv\"",
        );
    }
    root.finish();
    let not_covered = CalibrationTerm::ALL.into_iter().filter(|t| !calibration.iter().any(|c| c.term == *t)).collect();
    let study = Study {
        name: name.unwrap_or_else(|| UNNAMED.to_owned()),
        wire: wire?,
        gas,
        bench: bench?,
        calibration,
        not_covered,
        source,
        line: line?,
        compare,
        confirm,
        setup,
        factors,
        numerics,
        laws,
        prior,
        assumed: Vec::new(),
    };
    Some((study, requests))
}

const UNNAMED: &str = "unnamed study";

fn read_wire(section: Section<'_>) -> Option<Wire> {
    let words = Material::ALL.map(Material::word);
    let material = section.required_word("material", &words).and_then(Material::from_word);
    let diameter_mm = section.required_number("diameter_mm", &DIAMETER_MM);
    let stated_designation = section.text("designation");
    let metal_section_mm2 = section.number("metal_section_mm2", &SECTION_MM2);
    let density_kg_m3 = section.number("density_kg_m3", &DENSITY_KG_M3);
    let linear_mass_g_m = section.number("linear_mass_g_m", &LINEAR_MASS_G_M);
    if let (Some(metal), Some(diameter)) = (metal_section_mm2, diameter_mm) {
        let solid = std::f64::consts::PI * diameter * diameter / 4.0;
        // A catalogue's rounding may lift the metal of a thin-walled wire a little, not by a hundredth.
        if metal > 1.01 * solid {
            let line = section.find("metal_section_mm2").map_or(section.line(), |f| f.line);
            section.fault(
                "metal_section_mm2",
                line,
                metal.to_string(),
                format!("at most the whole section π·d²/4 = {solid:.3} mm2"),
                "correct it or diameter_mm",
            );
        }
    }
    let no_designation = section.find("designation").is_none();
    let no_density = section.find("density_kg_m3").is_none();
    let study = section.study;
    section.finish();
    let (material, diameter_mm) = (material?, diameter_mm?);
    let designation = stated_designation.unwrap_or_else(|| format!("{} wire {diameter_mm} mm", material.word()));
    if no_designation {
        study.assume("wire.designation", designation.clone(), "material and diameter");
    }
    let usual = material.density();
    if no_density {
        study.assume("wire.density_kg_m3", usual.kg_m3.to_string(), usual.source);
    }
    Some(Wire {
        designation,
        material,
        diameter_mm,
        metal_section_mm2,
        density_kg_m3: density_kg_m3.unwrap_or(usual.kg_m3),
        linear_mass_g_m,
    })
}

/// Whether the parts sum to 100 is a check's business: it can tell a slip from a rounding.
fn read_gas(section: Section<'_>) -> Option<Gas> {
    let stated = section.is_stated();
    let part = |key| section.number(key, &PER_CENT).unwrap_or(0.0);
    let gas = Gas {
        argon: part("argon"),
        carbon_dioxide: part("carbon_dioxide"),
        helium: part("helium"),
        oxygen: part("oxygen"),
        hydrogen: part("hydrogen"),
        nitrogen: part("nitrogen"),
    };
    section.finish();
    stated.then_some(gas)
}

fn read_bench(section: Section<'_>) -> Option<Bench> {
    let ctwd_mm = section.required_number("ctwd_mm", &LENGTH_MM);
    let arc_length_mm = section.number_or("arc_length_mm", &LENGTH_MM, 4.0);
    let at_source = section.word_or_first("voltage_measured_at", &["contact-tip", "source"]) == "source";
    let lead_resistance_ohm = read_lead_resistance(&section, at_source);
    if let Some(ctwd) = ctwd_mm.filter(|ctwd| *ctwd <= arc_length_mm) {
        let line = section.find("ctwd_mm").map_or(section.line(), |f| f.line);
        let needed = format!("more than the arc length of {arc_length_mm} mm");
        section.fault("ctwd_mm", line, ctwd.to_string(), needed, "correct it or arc_length_mm");
    }
    let bench = Bench {
        ctwd_mm: ctwd_mm.unwrap_or(f64::NAN),
        arc_length_mm,
        voltage_measured_at: if at_source { VoltagePlace::Source } else { VoltagePlace::ContactTip },
        lead_resistance_ohm,
        wire_feed_relative_se: section.number_or("wire_feed_relative_se", &RELATIVE_SE, 0.005),
        current_relative_se: section.number_or("current_relative_se", &RELATIVE_SE, 0.01),
        voltage_se_v: section.number_or("voltage_se_v", &VOLTAGE_SE_V, 0.2),
        ctwd_se_mm: section.number_or("ctwd_se_mm", &LENGTH_SE_MM, 0.2),
        arc_length_se_mm: section.number_or("arc_length_se_mm", &LENGTH_SE_MM, 0.3),
        extension_se_mm: section.number_or("extension_se_mm", &LENGTH_SE_MM, 0.3),
        pulse_time_relative_se: section.number_or("pulse_time_relative_se", &RELATIVE_SE, 0.01),
    };
    section.finish();
    ctwd_mm.map(|_| bench)
}

fn read_lead_resistance(section: &Section<'_>, at_source: bool) -> f64 {
    const KEY: &str = "lead_resistance_ohm";
    let stated = section.number(KEY, &RESISTANCE_OHM);
    match (at_source, section.find(KEY)) {
        (true, None) => {
            let needed = "the resistance of the leads, as voltage_measured_at is \"source\"";
            section.fault(KEY, section.line(), "no such key", needed, "state it, 0 if the leads do not matter");
        }
        (false, Some(found)) => {
            let needed = "no lead resistance, as the voltage is measured at the contact tip";
            section.fault(KEY, found.line, "a value", needed, "remove it or state voltage_measured_at = \"source\"");
        }
        _ => {}
    }
    stated.unwrap_or(0.0)
}

/// A stated 0 is stated: the user vouches for the instrument. Only what is left out is not covered.
fn read_calibration(section: Section<'_>) -> Vec<CalibrationUncertainty> {
    let mut stated = Vec::new();
    for term in CalibrationTerm::ALL {
        if let Some(standard_uncertainty) = section.number(term.name(), term.range()) {
            stated.push(CalibrationUncertainty { term, standard_uncertainty });
        }
    }
    section.finish();
    stated
}

fn read_laws(section: Section<'_>) -> LawChoices {
    const BURN_OFF: [BurnOffForm; 2] = [BurnOffForm::Proportional, BurnOffForm::Offset];
    const ARC_VOLTAGE: [ArcVoltageForm; 3] =
        [ArcVoltageForm::Current, ArcVoltageForm::CurrentArc, ArcVoltageForm::CurrentArcExtension];
    let burn_off = section.word("burn_off", &BURN_OFF.map(BurnOffForm::word));
    let arc_voltage = section.word("arc_voltage", &ARC_VOLTAGE.map(ArcVoltageForm::word));
    // The only form there is; stating it is no mistake.
    let _ = section.word("detachment", &["ordered_logit"]);
    let reference_current_a = section.number("reference_current_a", &REFERENCE_CURRENT_A);
    const SCATTER: [ScatterFrom; 2] = [ScatterFrom::AdjustedLikelihood, ScatterFrom::Likelihood];
    let trial_scatter = section.word("trial_scatter", &SCATTER.map(ScatterFrom::word));
    let discrepancy = section.word("discrepancy", &Discrepancy::ALL.map(Discrepancy::word));
    section.finish();
    LawChoices {
        burn_off: BURN_OFF.into_iter().find(|f| Some(f.word()) == burn_off).unwrap_or_default(),
        arc_voltage: ARC_VOLTAGE.into_iter().find(|f| Some(f.word()) == arc_voltage),
        reference_current_a,
        trial_scatter: SCATTER.into_iter().find(|f| Some(f.word()) == trial_scatter).unwrap_or_default(),
        discrepancy: Discrepancy::ALL.into_iter().find(|d| Some(d.word()) == discrepancy).unwrap_or_default(),
    }
}

fn read_compare(section: Section<'_>) -> Margins {
    let usual = Margins::default();
    let margins = Margins {
        wire_feed_relative: section.number_or("wire_feed_relative", &RELATIVE_MARGIN, usual.wire_feed_relative),
        detachment_relative: section.number_or("detachment_relative", &RELATIVE_MARGIN, usual.detachment_relative),
        voltage_v: section.number_or("voltage_v", &MARGIN_V, usual.voltage_v),
        shared_form: section.flag("shared_form"),
    };
    if margins.shared_form {
        section.study.note("[compare].shared_form is kept but does not change any verdict yet");
    }
    section.finish();
    margins
}

fn read_numerics(section: Section<'_>) -> Numerics {
    let numerics = Numerics {
        // TOML promises whole numbers up to 2^63 - 1.
        seed: section.whole_or("seed", 0, i64::MAX.unsigned_abs(), 1),
        draws: usize::try_from(section.whole_or("draws", 100, 1_000_000, 2000)).expect("at most a million draws fit"),
        confidence: section.number_or("confidence", &CONFIDENCE, 0.95),
        covariance_from: match section.word_or_first("covariance_from", &["residuals", "stated_errors"]) {
            "stated_errors" => CovarianceFrom::StatedErrors,
            _ => CovarianceFrom::Residuals,
        },
    };
    section.finish();
    numerics
}

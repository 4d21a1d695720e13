//! Two invented wires of a known difference, each welded and fitted by itself, held against one another.

use super::bench::{study, wire};
use super::lab::{Plan, Size, weld_all};
use super::truth::Truth;
use crate::compare::laws::{Band, Terms, Verdict, WireLaws, compare_laws};
use crate::develop;
use crate::materials::Material;
use crate::record::{LawsRecord, LawsWithOrigin, Provenance, StudyReference};
use crate::statistics::{DrawStream, Purpose};
use crate::study::{CalibrationTerm, CalibrationUncertainty, Margins, Study};

/// Streams of instruments lie this far from those of trials.
const INSTRUMENTS: u64 = 4 << 40;

/// Quantities of a statement, in the order of the comparison.
pub const COMPARED: [&str; 4] = ["wire_feed_m_min", "one_drop_from_ms", "more_drops_from_ms", "voltage_mean_v"];

/// By how much the second wire truly differs from the first, everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Difference {
    /// Relative wire feed at equal current and extension.
    pub wire_feed_relative: f64,
    /// Relative pulse time at equal current, both thresholds.
    pub detachment_relative: f64,
    /// Voltage.
    pub voltage_v: f64,
}

impl Difference {
    /// So many times the margins.
    pub fn of_margins(margins: &Margins, times: f64) -> Self {
        Self {
            wire_feed_relative: times * margins.wire_feed_relative,
            detachment_relative: times * margins.detachment_relative,
            voltage_v: times * margins.voltage_v,
        }
    }

    fn second(&self, first: &Truth) -> Truth {
        let (feed, time) = (1.0 + self.wire_feed_relative, 1.0 + self.detachment_relative);
        Truth {
            alpha_mm_per_a_s: first.alpha_mm_per_a_s * feed,
            beta_per_a2_s: first.beta_per_a2_s * feed,
            one_drop_from_ms: first.one_drop_from_ms * time,
            more_drops_from_ms: first.more_drops_from_ms * time,
            intercept_v: first.intercept_v + self.voltage_v,
            ..*first
        }
    }

    /// Of a quantity, relative to the first wire's value except for voltage.
    fn of(&self, quantity: &str) -> f64 {
        match quantity {
            "wire_feed_m_min" => self.wire_feed_relative,
            "voltage_mean_v" => self.voltage_v,
            _ => self.detachment_relative,
        }
    }
}

/// How two wires are welded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setup {
    /// Trials of each.
    pub size: Size,
    /// Standard uncertainties of probe gain and wire feed gain, and voltage offset; 0 for exact instruments.
    pub instruments: [f64; 3],
    /// Whether both were read by the same instruments, and that is said.
    pub same: bool,
    /// Batches of each wire, and how they scatter about its specification.
    pub batches: usize,
    /// Scatter between batches.
    pub between: Scatter,
}

/// How batches scatter about their specification; α and β, and both thresholds, independently.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Scatter {
    /// Relative standard deviation of α, β and both thresholds.
    pub relative: f64,
    /// Standard deviation of the voltage.
    pub voltage_v: f64,
}

impl Scatter {
    fn of_batch(self, truth: &Truth, stream: &mut DrawStream) -> Truth {
        let mut off = || 1.0 + self.relative * stream.normal();
        let mut batch = *truth;
        batch.alpha_mm_per_a_s *= off();
        batch.beta_per_a2_s *= off();
        batch.one_drop_from_ms *= off();
        batch.more_drops_from_ms *= off();
        batch.intercept_v += self.voltage_v * stream.normal();
        batch
    }
}

/// What the comparison said of each of [`COMPARED`]; `None` where it said nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Said {
    /// Whether the band holds the true difference everywhere.
    pub holds: bool,
    /// The verdict.
    pub verdict: Verdict,
    /// Whether zero is left out somewhere.
    pub differs_from_zero: bool,
}

/// Welds, fits and compares a pair.
pub fn compared_pair(difference: &Difference, setup: &Setup, seed: u64, number: u64) -> [Option<Said>; 4] {
    let truth = Truth::of_wire(&wire(Material::CarbonSteel, 1.2, None));
    let mut stream = DrawStream::new(seed, Purpose::Simulation, number | INSTRUMENTS);
    let first = setup.instruments.map(|u| u * stream.normal());
    let second = if setup.same { first } else { setup.instruments.map(|u| u * stream.normal()) };
    let mut welded = |specification: &Truth, errors: [f64; 3], which: u64| -> Option<Vec<LawsRecord>> {
        (0..setup.batches as u64)
            .map(|batch| {
                let truth = setup.between.of_batch(specification, &mut stream);
                laws(&truth, setup, errors, seed, (2 * number + which) * setup.batches as u64 + batch)
            })
            .collect()
    };
    let one = welded(&truth, first, 0);
    let other = welded(&difference.second(&truth), second, 1);
    let (Some(one), Some(other)) = (one, other) else { return [None; 4] };
    let provenance = provenance(seed);
    let names: Vec<String> = (0..2 * setup.batches).map(|i| format!("laws {i}")).collect();
    let wires = [("first", &one, &names[..setup.batches]), ("second", &other, &names[setup.batches..])].map(
        |(name, records, names)| {
            let with = |(record, name)| LawsWithOrigin { name, record, provenance: &provenance, checksum: name };
            let batches = records.iter().zip(names.iter().map(String::as_str)).map(with).collect();
            WireLaws { name: name.to_owned(), batches }
        },
    );
    let terms = Terms {
        margins: Margins::default(),
        margins_from: "invented".to_owned(),
        same_instruments: if setup.same { CalibrationTerm::ALL.to_vec() } else { Vec::new() },
        seed: number,
    };
    let Ok(compared) = compare_laws(&wires, &terms) else { return [None; 4] };
    COMPARED.map(|quantity| {
        let statement = compared.comparisons.iter().find(|c| c.quantity == quantity)?;
        let band = compared.band_of(statement)?;
        Some(Said {
            holds: holds(band, difference.of(quantity)),
            verdict: statement.verdict,
            differs_from_zero: statement.differs_from_zero?,
        })
    })
}

/// Whether a band holds a true difference at every place.
fn holds(band: &Band, truth: f64) -> bool {
    band.places.iter().all(|p| {
        let truth = if band.unit == "V" { truth } else { truth * p.first };
        (p.interval[0]..=p.interval[1]).contains(&truth)
    })
}

fn laws(truth: &Truth, setup: &Setup, errors: [f64; 3], seed: u64, number: u64) -> Option<LawsRecord> {
    const TERMS: [CalibrationTerm; 3] =
        [CalibrationTerm::CurrentGainRelative, CalibrationTerm::WireFeedGainRelative, CalibrationTerm::VoltageOffsetV];
    let mut study: Study = study(wire(Material::CarbonSteel, 1.2, None));
    study.calibration = TERMS
        .iter()
        .zip(setup.instruments)
        .filter(|(_, u)| *u > 0.0)
        .map(|(&term, standard_uncertainty)| CalibrationUncertainty { term, standard_uncertainty })
        .collect();
    let mut trials = weld_all(&study, truth, setup.size, &Plan::default(), seed, number).trials;
    for (term, error) in TERMS.into_iter().zip(errors) {
        // What corrects an error of −e puts one of e in, up to e².
        let (with, bench) = trials.corrected(&study.bench, term, -error);
        (trials, study.bench) = (with, bench);
    }
    develop::laws(&study, &trials).ok()
}

fn provenance(seed: u64) -> Provenance {
    Provenance {
        tool: "virtual bench".to_owned(),
        study: StudyReference { file: String::new(), sha256: String::new() },
        inputs: Vec::new(),
        seed,
        draws: 0,
    }
}

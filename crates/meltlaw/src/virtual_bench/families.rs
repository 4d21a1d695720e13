//! Invented families of wires: one process carried to several diameters, every wire a little off the scaling.

use super::bench::{study, wire};
use super::lab::{Plan, Size, weld_all};
use super::truth::Truth;
use crate::compose::melting_mm_s;
use crate::develop;
use crate::extend::{ExtensionError, ExtensionRequest, Target, extend};
use crate::laws::Laws;
use crate::materials::Material;
use crate::record::{LawsRecord, LawsWithOrigin, Provenance, StudyReference};
use crate::statistics::{DrawStream, Purpose};

/// Streams of a family's scatter lie this far from those of trials.
const SCATTER: u64 = 5 << 40;

/// A family.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Diameters that are welded.
    pub welded_mm: Vec<f64>,
    /// The diameter that nobody welds.
    pub target_mm: f64,
    /// Relative standard deviation of α, β and both thresholds about the scaling, each by itself.
    pub heterogeneity_relative: f64,
    /// Standard deviation of the voltage.
    pub heterogeneity_v: f64,
    /// Trials of each study.
    pub size: Size,
    /// A study that does not belong: its place, and by what.
    pub breach: Option<(usize, Breach)>,
    /// Power of the diameter stated to the program.
    pub stated_power: Option<f64>,
}

/// What is wrong with a study.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Breach {
    /// Another heat content: α and β so many times as large.
    HeatContent(f64),
    /// Another diameter on the label than in the drive.
    Labelled(f64),
}

/// A claim of extended laws held against the truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Claimed {
    /// What is claimed.
    pub name: String,
    /// The truth.
    pub truth: f64,
    /// Estimate.
    pub value: f64,
    /// Its interval.
    pub interval: [f64; 2],
}

impl Claimed {
    /// Whether the interval holds the truth.
    pub fn holds(&self) -> bool {
        (self.interval[0]..=self.interval[1]).contains(&self.truth)
    }

    /// Half width relative to the truth.
    pub fn half_width(&self) -> f64 {
        (self.interval[1] - self.interval[0]) / 2.0 / self.truth.abs()
    }
}

/// What extended laws say of a family.
#[derive(Debug, Clone, PartialEq)]
pub struct FamilyScored {
    /// Every claim.
    pub claims: Vec<Claimed>,
    /// Names of the tests that warn.
    pub warnings: Vec<String>,
    /// Files that warnings name.
    pub named: Vec<String>,
    /// Of the left-out predictions how many hold what was found, and of how many.
    pub left_out: (usize, usize),
}

fn truth_of(diameter_mm: f64, family: &Family, stream: &mut DrawStream) -> Truth {
    let mut truth = Truth::of_wire(&wire(Material::CarbonSteel, diameter_mm, None));
    let mut off = || 1.0 + family.heterogeneity_relative * stream.normal();
    truth.alpha_mm_per_a_s *= off();
    truth.beta_per_a2_s *= off();
    truth.one_drop_from_ms *= off();
    truth.more_drops_from_ms *= off();
    truth.intercept_v += family.heterogeneity_v * stream.normal();
    truth
}

/// Welds, fits and extends a family.
///
/// # Errors
/// What the extension refuses.
///
/// # Panics
/// Where a study of the family cannot be fitted: an error of the invented truth.
pub fn extended_family(family: &Family, draws: usize, seed: u64, number: u64) -> Result<FamilyScored, ExtensionError> {
    let mut stream = DrawStream::new(seed, Purpose::Simulation, number | SCATTER);
    let target = truth_of(family.target_mm, family, &mut stream);
    let records: Vec<LawsRecord> = family
        .welded_mm
        .iter()
        .enumerate()
        .map(|(place, &labelled)| {
            let breach = family.breach.filter(|(p, _)| *p == place).map(|(_, b)| b);
            let diameter = if let Some(Breach::Labelled(d)) = breach { d } else { labelled };
            let mut truth = truth_of(diameter, family, &mut stream);
            if let Some(Breach::HeatContent(times)) = breach {
                truth.alpha_mm_per_a_s *= times;
                truth.beta_per_a2_s *= times;
            }
            // Welded as what it is, written down as what the label says.
            let mut study = study(wire(Material::CarbonSteel, diameter, None));
            // Short pulses of thin wires need steep edges.
            (study.source.rise_a_per_ms, study.source.fall_a_per_ms) = (2000.0, 2000.0);
            let trials =
                weld_all(&study, &truth, family.size, &Plan::default(), seed, number * 64 + place as u64).trials;
            let mut labelled_study = study;
            labelled_study.wire = wire(Material::CarbonSteel, labelled, None);
            let laws = develop::laws(&labelled_study, &trials);
            laws.unwrap_or_else(|e| panic!("the invented study of {diameter} mm: {e}"))
        })
        .collect();
    let provenance = Provenance {
        tool: "virtual bench".to_owned(),
        study: StudyReference { file: String::new(), sha256: String::new() },
        inputs: Vec::new(),
        seed,
        draws,
    };
    let names: Vec<String> = (0..records.len()).map(|i| format!("study {i}")).collect();
    let bases: Vec<LawsWithOrigin<'_>> = records
        .iter()
        .zip(&names)
        .map(|(record, name)| LawsWithOrigin { name, record, provenance: &provenance, checksum: name })
        .collect();
    let any_batch = family.welded_mm.iter().all(|d| *d == family.target_mm);
    let request = ExtensionRequest {
        target: Target { wire_diameter_mm: (!any_batch).then_some(family.target_mm), any_batch, ..Target::default() },
        heterogeneity_relative: None,
        detachment_power: family.stated_power,
        seed: number,
        draws,
    };
    let extended = extend(&bases, &request)?;
    let found = extended.extension.as_ref();
    let tests = found.map(|e| e.tests.iter().filter(|(_, t)| t.warns).collect::<Vec<_>>()).unwrap_or_default();
    let left_out =
        found.map(|e| (e.left_out.iter().filter(|l| l.inside).count(), e.left_out.len())).unwrap_or_default();
    Ok(FamilyScored {
        claims: claims(&extended, &target),
        warnings: tests.iter().map(|(name, _)| (*name).clone()).collect(),
        named: tests.iter().flat_map(|(_, t)| t.trials.clone()).collect(),
        left_out,
    })
}

fn claims(extended: &LawsRecord, truth: &Truth) -> Vec<Claimed> {
    let laws: &Laws = &extended.laws;
    let mut claims = Vec::new();
    let truths: [(&str, Vec<f64>); 3] = [
        ("burn_off", truth.burn_off().to_vec()),
        ("detachment", truth.detachment_coefficients().to_vec()),
        ("arc_voltage", truth.arc_voltage().to_vec()),
    ];
    for ((name, law), (_, truths)) in laws.by_name().into_iter().zip(truths) {
        if name == "arc_voltage" && law.coefficient_order.len() < 4 {
            continue;
        }
        for (coefficient, truth) in law.coefficient_order.iter().zip(truths) {
            let Some(c) = law.coefficients.get(coefficient) else { continue };
            let (Some(value), [Some(low), Some(high)]) = (c.value, c.interval) else { continue };
            claims.push(Claimed { name: format!("{name}.{coefficient}"), truth, value, interval: [low, high] });
        }
    }
    claims.extend(sums(laws, truth));
    claims
}

/// Melting and voltage at places within the carried ranges, with Student's interval from the covariance, as composing
/// draws it.
fn sums(laws: &Laws, truth: &Truth) -> Vec<Claimed> {
    let mut claims = Vec::new();
    let interval = |law: &crate::laws::FittedLaw, weights: &[f64]| -> Option<(f64, [f64; 2])> {
        let values: Option<Vec<f64>> = law.coefficient_order.iter().map(|n| law.coefficients.get(n)?.value).collect();
        let value: f64 = values?.iter().zip(weights).map(|(b, w)| b * w).sum();
        let variance: f64 = law
            .covariance
            .iter()
            .enumerate()
            .flat_map(|(i, row)| row.iter().enumerate().map(move |(j, c)| (i, j, *c)))
            .map(|(i, j, c)| weights[i] * weights[j] * c)
            .sum();
        let half =
            crate::statistics::student_t_quantile(0.975, law.degrees_of_freedom as f64) * variance.max(0.0).sqrt();
        Some((value, [value - half, value + half]))
    };
    let range = |law: &crate::laws::FittedLaw, name: &str, share: f64| {
        law.range.get(name).map(|[low, high]| low + share * (high - low))
    };
    for share in [0.25, 0.5, 0.75] {
        let burn = &laws.burn_off;
        let at = range(burn, "current_mean_a", share).zip(range(burn, "extension_rms_squared_mm_a2", share));
        if let Some((current, heated)) = at
            && let Some((value, interval)) = interval(burn, &[current, heated, 1.0])
        {
            let truth = melting_mm_s(&truth.burn_off(), heated / (current * current), current, current * current);
            claims.push(Claimed { name: format!("melting at {share}"), truth, value, interval });
        }
    }
    let volt = &laws.arc_voltage;
    let at = range(volt, "current_mean_a", 0.5).zip(range(volt, "arc_length_mm", 0.5)).zip(volt.mean_extension_mm);
    if let Some(((current, arc), extension)) = at
        && let Some((value, interval)) = interval(volt, &[1.0, current, arc, extension * current])
    {
        let [u0, r, e, rl] = truth.arc_voltage();
        let truth = u0 + r * current + e * arc + rl * extension * current;
        claims.push(Claimed { name: "voltage in the middle".to_owned(), truth, value, interval });
    }
    claims
}

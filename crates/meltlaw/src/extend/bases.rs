//! The studies that laws are extended from, and whether they carry so far.

use std::collections::BTreeSet;

use super::{ExtensionError, ExtensionRequest, RestsOn};
use crate::gas::Gas;
use crate::record::LawsWithOrigin;

/// Beyond the nearest diameter nobody's wire is carried farther than by this factor.
const FARTHEST_DIAMETER: f64 = 1.6;
/// Studies that carbon dioxide is carried along by, at so many contents.
const CARBON_DIOXIDE: (usize, usize) = (4, 3);
/// Beyond its range carbon dioxide is carried by at most this share of it.
const FARTHEST_SHARE: f64 = 0.5;

/// Where a law is carried to, in what it is carried along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Metal section.
    pub(super) section_mm2: f64,
    /// Diameter.
    pub(super) diameter_mm: f64,
    /// Carbon dioxide in the gas.
    pub(super) carbon_dioxide_per_cent: f64,
}

/// A study with its place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Base<'a> {
    pub(super) laws: LawsWithOrigin<'a>,
    pub(super) at: Place,
}

impl<'a> Base<'a> {
    fn new(laws: LawsWithOrigin<'a>) -> Self {
        let wire = &laws.record.wire;
        let at = Place {
            section_mm2: wire.section_mm2(),
            diameter_mm: wire.diameter_mm,
            carbon_dioxide_per_cent: laws.record.gas.as_ref().map_or(0.0, |g| g.carbon_dioxide),
        };
        Self { laws, at }
    }

    /// For the record.
    pub(super) fn rests_on(&self) -> RestsOn {
        let record = self.laws.record;
        let laws = &record.laws;
        RestsOn {
            study: record.name.clone(),
            file: self.laws.name.to_owned(),
            laws_checksum: self.laws.checksum.to_owned(),
            wire_diameter_mm: self.at.diameter_mm,
            metal_section_mm2: self.at.section_mm2,
            carbon_dioxide_per_cent: record.gas.as_ref().map(|g| g.carbon_dioxide),
            reason: record.gas.is_none().then(|| "the study does not state the gas".to_owned()),
            trials: [
                laws.burn_off.trials_used.len(),
                laws.detachment.trials_used.len(),
                laws.arc_voltage.trials_used.len(),
            ],
        }
    }

    /// What it is called where it is named: `1.2 mm (thick.json)`.
    pub(super) fn label(&self) -> String {
        format!("{:?} mm ({})", self.at.diameter_mm, self.laws.name)
    }
}

fn lacking<T>(
    found: impl Into<String>,
    needed: impl Into<String>,
    remedy: impl Into<String>,
) -> Result<T, ExtensionError> {
    Err(ExtensionError::Lacking { found: found.into(), needed: needed.into(), remedy: remedy.into() })
}

/// Studies that carry to the target, and where that is.
pub(super) fn bases<'a>(
    laws: &[LawsWithOrigin<'a>],
    request: &ExtensionRequest,
) -> Result<(Vec<Base<'a>>, Place), ExtensionError> {
    let all: Vec<Base<'a>> = laws.iter().map(|&l| Base::new(l)).collect();
    let Some(first) = all.first() else {
        return lacking(
            "no study was found",
            "at least one is needed",
            "name study files, result folders or laws files",
        );
    };
    for (value, option, example) in [
        (request.heterogeneity_relative, "--heterogeneity-relative", "0.02"),
        (request.detachment_power, "--detachment-power", "2"),
        (request.target.wire_diameter_mm, "--wire-diameter-mm", "1.6"),
    ] {
        if value.is_some_and(|v| !(v > 0.0 && v.is_finite())) {
            return lacking(
                format!("{option} is {}", value.unwrap_or(f64::NAN)),
                "a number above zero is needed",
                format!("give for example {option} {example}"),
            );
        }
    }
    if let Some(extended) = all.iter().find(|b| b.laws.record.extension.is_some()) {
        return lacking(
            format!("{} holds laws that were extended themselves", extended.laws.name),
            "laws of welded trials are needed",
            "name the studies that it rests on",
        );
    }
    same_once(&all)?;
    if let Some(other) = all.iter().find(|b| b.laws.record.wire.material != first.laws.record.wire.material) {
        return lacking(
            format!(
                "{} is of {}, {} of {}",
                first.laws.name,
                first.laws.record.wire.material.word(),
                other.laws.name,
                other.laws.record.wire.material.word()
            ),
            "one material is needed: heat content and resistance are the material's",
            "extend each material by itself",
        );
    }
    let target = &request.target;
    if target.wire_diameter_mm.is_some() && target.carbon_dioxide_per_cent.is_some() {
        return lacking(
            "another diameter and another gas were asked for at once",
            "one of both is needed: nobody's studies tell how they act together",
            "extend to the diameter in a gas that was welded, or to the gas at a diameter that was welded",
        );
    }
    gases(&all, target.carbon_dioxide_per_cent.is_some())?;
    let mut at = first.at;
    if let Some(diameter) = target.wire_diameter_mm {
        diameters(&all, diameter)?;
        at.diameter_mm = diameter;
        at.section_mm2 = section(&all, diameter);
    } else if let Some(other) = all.iter().find(|b| (b.at.diameter_mm - first.at.diameter_mm).abs() > 1e-9) {
        return lacking(
            format!("{} and {} were found", first.label(), other.label()),
            "one diameter is needed where no other is asked for",
            "give --wire-diameter-mm, or name studies of one wire",
        );
    }
    if let Some(content) = target.carbon_dioxide_per_cent {
        contents(&all, content)?;
        at.carbon_dioxide_per_cent = content;
    }
    if target.any_batch && all.len() < 2 {
        return lacking(
            "one study was found",
            "two batches are needed at least, three to tell how far batches scatter",
            "weld another batch of the same specification and name its study too",
        );
    }
    Ok((all, at))
}

/// No study twice, and no trials twice.
fn same_once(all: &[Base<'_>]) -> Result<(), ExtensionError> {
    for (place, one) in all.iter().enumerate() {
        for other in &all[place + 1..] {
            let hashes = |b: &Base<'_>| {
                b.laws
                    .provenance
                    .inputs
                    .iter()
                    .map(|i| i.sha256.clone())
                    .filter(|h| !h.is_empty())
                    .collect::<BTreeSet<_>>()
            };
            // The same laws under another name, whatever the file says of their trials.
            let same = one.laws.record.laws == other.laws.record.laws;
            if same || !hashes(one).is_disjoint(&hashes(other)) {
                return lacking(
                    format!("{} and {} rest on the same trials", one.laws.name, other.laws.name),
                    "studies of other welds are needed: the same trials twice look like agreement",
                    "name each study once",
                );
            }
        }
    }
    Ok(())
}

fn gases(all: &[Base<'_>], along_carbon_dioxide: bool) -> Result<(), ExtensionError> {
    let gas = |b: &Base<'_>| b.laws.record.gas;
    let first = all.first().and_then(gas);
    if along_carbon_dioxide {
        let mixture = |g: Gas| (g.argon + g.carbon_dioxide - 100.0).abs() < 0.5;
        return match all.iter().find(|b| !gas(b).is_some_and(mixture)) {
            Some(b) => lacking(
                format!("{} states {}", b.laws.name, gas(b).map_or("no gas".to_owned(), |g| g.text())),
                "mixtures of argon and carbon dioxide are needed",
                "leave it out, or state its [gas]",
            ),
            None => Ok(()),
        };
    }
    match all.iter().find(|b| gas(b) != first) {
        Some(b) => {
            let text = |g: Option<Gas>| g.map_or("no gas".to_owned(), |g| g.text());
            lacking(
                format!("{} was welded in {}, {} in {}", all[0].laws.name, text(first), b.laws.name, text(gas(b))),
                "one gas is needed",
                "name studies of one gas, or extend along carbon dioxide with --carbon-dioxide and four studies",
            )
        }
        None => Ok(()),
    }
}

fn diameters(all: &[Base<'_>], target: f64) -> Result<(), ExtensionError> {
    let known: Vec<f64> = {
        let mut d: Vec<f64> = all.iter().map(|b| b.at.diameter_mm).collect();
        d.sort_by(f64::total_cmp);
        d.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        d
    };
    let list = known.iter().map(|d| format!("{d:?}")).collect::<Vec<_>>().join(", ");
    if known.len() < 2 {
        return lacking(
            format!("studies of one diameter were found, {list} mm"),
            "two diameters are needed at least, three to estimate how far diameters scatter about the scaling",
            format!("weld a study of another diameter, best so that {target:?} mm lies between, and name it too"),
        );
    }
    if let Some(same) = known.iter().find(|d| (**d - target).abs() < 1e-9) {
        return lacking(
            format!("{same:?} mm was welded already"),
            "a diameter that nobody welded is needed",
            "use its own laws; for a line that holds for any batch of it name its studies with --any-batch",
        );
    }
    let (low, high) = (known[0], known[known.len() - 1]);
    if target > FARTHEST_DIAMETER * high || target < low / FARTHEST_DIAMETER {
        return lacking(
            format!("{target:?} mm is far from {list} mm"),
            format!(
                "a diameter between {:.2} and {:.2} mm is needed",
                low / FARTHEST_DIAMETER,
                high * FARTHEST_DIAMETER
            ),
            "weld a study nearer to it",
        );
    }
    Ok(())
}

/// π·d²/4 for solid wires; for cored wires that part of it which the bases have.
fn section(all: &[Base<'_>], diameter: f64) -> f64 {
    let round = |d: f64| std::f64::consts::PI * d * d / 4.0;
    let shares: Vec<f64> = all.iter().map(|b| b.at.section_mm2 / round(b.at.diameter_mm)).collect();
    round(diameter) * crate::statistics::mean(&shares)
}

fn contents(all: &[Base<'_>], target: f64) -> Result<(), ExtensionError> {
    let mut known: Vec<f64> = all.iter().map(|b| b.at.carbon_dioxide_per_cent).collect();
    known.sort_by(f64::total_cmp);
    known.dedup_by(|a, b| (*a - *b).abs() < 0.1);
    let list = known.iter().map(|c| format!("{c}")).collect::<Vec<_>>().join(", ");
    let (studies, levels) = CARBON_DIOXIDE;
    if all.len() < studies || known.len() < levels {
        return lacking(
            format!("{} studies at {list} % carbon dioxide were found", all.len()),
            format!("{studies} studies at {levels} contents are needed: two coefficients and their scatter"),
            "weld studies at further contents and name them too",
        );
    }
    let (low, high) = (known[0], known[known.len() - 1]);
    let room = FARTHEST_SHARE * (high - low);
    if !(target >= (low - room).max(0.0) && target <= (high + room).min(100.0)) {
        return lacking(
            format!("{target} % carbon dioxide is far from {list} %"),
            format!("a content between {:.1} and {:.1} % is needed", (low - room).max(0.0), (high + room).min(100.0)),
            "weld a study nearer to it",
        );
    }
    Ok(())
}

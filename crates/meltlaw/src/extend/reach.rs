//! The same wire beyond its measured range: farther from the work, slower, faster.
//!
//! The laws stay; what grows is how far they are believed. A form that predicts the upper part of its own range worse than
//! it says is believed by as much less beyond: its covariance grows by the square of that.

use super::bases::Base;
use super::{Extension, ExtensionError, ExtensionRequest};
use crate::laws::FittedLaw;
use crate::record::LawsRecord;
use crate::statistics::range;

/// At most this share of a range beyond its end.
const FARTHEST_SHARE: f64 = 0.5;

/// Laws with their reach.
pub(super) fn reached(
    mut record: LawsRecord,
    bases: &[Base<'_>],
    request: &ExtensionRequest,
) -> Result<LawsRecord, ExtensionError> {
    let target = &request.target;
    let mut said = Vec::new();
    let mut extension = 1.0;
    if let Some(ctwd) = target.ctwd_mm {
        let known = bases_range(bases, |b| b.laws.record.laws.arc_voltage.range.get("ctwd_mm").copied());
        let known = known.unwrap_or([record.conditions.ctwd_mm; 2]);
        within("the contact-tip-to-work distance", ctwd, known, "mm")?;
        let arc = record.conditions.arc_length_mm;
        record.conditions.ctwd_mm = ctwd;
        record.conditions.extension_mm = ctwd - arc;
        reach_to(&mut record.laws.arc_voltage, "ctwd_mm", ctwd);
        reach_to(&mut record.laws.arc_voltage, "extension_mm", ctwd - arc);
        let [near, far] = known.map(|d| d - arc);
        extension = if ctwd - arc > far { (ctwd - arc) / far } else { (ctwd - arc) / near }.max(1e-3);
        said.push(format!("to a contact-tip-to-work distance of {ctwd:?} mm from {:?} to {:?} mm", known[0], known[1]));
    }
    let mut shares = [0.0; 2];
    if let Some([low, high]) = target.wire_feed_m_min {
        let known =
            bases_range(bases, |b| feeds(&b.laws.record.laws.burn_off)).ok_or_else(|| ExtensionError::Lacking {
                found: "laws that do not hold the feeds of their trials were found".to_owned(),
                needed: "laws with their diagnostics are needed".to_owned(),
                remedy: "fit the study again with this program".to_owned(),
            })?;
        let width = known[1] - known[0];
        within("the wire feed", low, known, "m/min")?;
        within("the wire feed", high, known, "m/min")?;
        shares = [((known[0] - low) / width).max(0.0), ((high - known[1]) / width).max(0.0)];
        said.push(format!("to {low:?} to {high:?} m/min from {:.1} to {:.1} m/min", known[0], known[1]));
    }
    for law in [&mut record.laws.burn_off, &mut record.laws.detachment, &mut record.laws.arc_voltage] {
        let ranges: Vec<(String, [f64; 2])> = law.range.iter().map(|(n, r)| (n.clone(), *r)).collect();
        for (name, [low, high]) in ranges {
            // As far beyond in each variable as in feed, and a little more for the pulse.
            let room = 1.2 * (high - low);
            let mut reach = [low - shares[0] * room, high + shares[1] * room];
            if name == "extension_rms_squared_mm_a2" {
                reach =
                    if extension > 1.0 { [reach[0], reach[1] * extension] } else { [reach[0] * extension, reach[1]] };
            }
            let entry = law.reach.entry(name).or_insert(reach);
            *entry = [entry[0].min(reach[0]), entry[1].max(reach[1])];
        }
        // Where trials lie together says nothing of what was asked for beyond them.
        law.cloud = None;
        doubt(law);
    }
    let words = said.join(", ");
    let rests_on = bases.iter().map(Base::rests_on).collect();
    match &mut record.extension {
        Some(found) => {
            found.target = target.clone();
            found.words = format!("{}, {words}", found.words);
        }
        none => {
            *none = Some(Extension {
                target: target.clone(),
                words,
                rests_on,
                traits: Vec::new(),
                tests: std::collections::BTreeMap::new(),
                left_out: Vec::new(),
                confirm: Vec::new(),
                stated: vec!["the laws keep their form beyond the trials; how well they predicted the upper part of their own range says how far that is believed".to_owned()],
            });
        }
    }
    Ok(record)
}

/// By how much worse a form predicts beyond than it says, squared, times the covariance.
fn doubt(law: &mut FittedLaw) {
    let form = law.form.clone();
    let worse = law
        .candidates
        .iter()
        .find(|c| c.form == form)
        .and_then(|c| c.held_out_range.as_ref())
        .map_or(1.0, |h| h.standardised)
        .max(1.0);
    if worse > 1.0 && worse.is_finite() {
        law.covariance.iter_mut().flatten().for_each(|v| *v *= worse * worse);
        law.notes.push(format!(
            "fitted to the lower part of its range the law missed the upper part by {worse:.2} of its standard errors: they were widened by that"
        ));
    }
}

fn reach_to(law: &mut FittedLaw, name: &str, value: f64) {
    if let Some([low, high]) = law.range.get(name).copied() {
        law.reach.insert(name.to_owned(), [low.min(value), high.max(value)]);
    }
}

/// Slowest and fastest feed of the trials of a law, m/min.
pub(super) fn feeds(law: &FittedLaw) -> Option<[f64; 2]> {
    let found = range(law.diagnostics.iter().map(|d| 0.06 * (d.fitted + d.residual)));
    found[0].is_finite().then_some(found)
}

fn bases_range(bases: &[Base<'_>], of: impl Fn(&Base<'_>) -> Option<[f64; 2]>) -> Option<[f64; 2]> {
    let found = range(bases.iter().filter_map(of).flatten());
    found[0].is_finite().then_some(found)
}

fn within(what: &str, asked: f64, [low, high]: [f64; 2], unit: &str) -> Result<(), ExtensionError> {
    let room = FARTHEST_SHARE * (high - low);
    if asked >= low - room && asked <= high + room {
        return Ok(());
    }
    Err(ExtensionError::Lacking {
        found: format!("{what} of {asked:?} {unit} was asked for, {low:.1} to {high:.1} {unit} were welded"),
        needed: format!("{:.1} to {:.1} {unit} are needed: half the range beyond its ends", low - room, high + room),
        remedy: format!("weld a few trials near {asked:?} {unit} first"),
    })
}

//! The same wire beyond the ranges of its trials: nearer to the work or farther, slower, faster.
//!
//! The coefficients stay. For more feeds the ranges of the laws' variables reach farther, and the joint regions grow as
//! the ranges do. At another distance a weld is held against the trials at the nearest extension that was welded: with
//! the same currents, so that L·I_rms² grows as the extension does.
//!
//! ```text
//! (L·I_rms²)' = λ·L·I_rms²        L' = λ·L        λ = extension asked for / nearest extension welded
//! ```
//!
//! A form that predicts the upper part of its own range worse than it says is believed by as much less beyond: its
//! covariance grows by the square of that.

use std::collections::BTreeMap;

use super::bases::Base;
use super::{Extension, ExtensionError, ExtensionRequest};
use crate::laws::{CarriedTo, FittedLaw, Laws, TrialCloud, distance_ranges};
use crate::record::LawsRecord;
use crate::statistics::range;

/// At most this share of a range beyond its end.
const FARTHEST_SHARE: f64 = 0.5;

/// In each variable as far beyond as in feed, and a little more for the pulse.
const ROOM_FOR_THE_PULSE: f64 = 1.2;

/// Variables that change with the feed; the distance from the work does not.
const WITH_FEED: [&str; 4] = ["current_mean_a", "extension_rms_squared_mm_a2", "detachment_s", "log_pulse_current"];

/// Laws at another distance, for other feeds, or both.
pub(super) fn reached(
    mut record: LawsRecord,
    bases: &[Base<'_>],
    request: &ExtensionRequest,
) -> Result<LawsRecord, ExtensionError> {
    let target = &request.target;
    let mut said = Vec::new();
    let mut beyond = false;
    if let Some(ctwd) = target.ctwd_mm {
        let (words, carries) = carry_to(&mut record, ctwd, bases)?;
        said.push(words);
        beyond |= carries;
    }
    if let Some(feeds) = target.wire_feed_m_min {
        said.push(reach_feeds(&mut record.laws, bases, feeds)?);
        beyond = true;
    }
    if beyond {
        each(&mut record.laws).into_iter().for_each(doubt);
    }
    let words = said.join(", ");
    match &mut record.extension {
        Some(found) => {
            found.target = target.clone();
            found.words = format!("{}, {words}", found.words);
        }
        none => {
            *none = Some(Extension {
                target: target.clone(),
                words,
                rests_on: bases.iter().map(Base::rests_on).collect(),
                traits: Vec::new(),
                tests: BTreeMap::new(),
                left_out: Vec::new(),
                confirm: Vec::new(),
                stated: vec!["the laws keep their form beyond the trials; how well they predicted the upper part of their own range says how far that is believed".to_owned()],
            });
        }
    }
    Ok(record)
}

fn each(laws: &mut Laws) -> [&mut FittedLaw; 3] {
    [&mut laws.burn_off, &mut laws.detachment, &mut laws.arc_voltage]
}

/// Carries laws to a contact-tip-to-work distance: in words from where, and whether it was beyond what was welded.
fn carry_to(record: &mut LawsRecord, ctwd: f64, bases: &[Base<'_>]) -> Result<(String, bool), ExtensionError> {
    let arc = record.conditions.arc_length_mm;
    let mut welded = [record.conditions.ctwd_mm; 2];
    let mut nearest = ctwd - arc;
    for known in distance_ranges(&record.laws) {
        let asked = known.of(ctwd, arc);
        let distance = "the contact-tip-to-work distance";
        let extension = format!("with {ctwd:?} mm from tip to work the extension");
        let what = if known.name == "ctwd_mm" { distance } else { &extension };
        within(what, asked, known.range_mm, known.widened(FARTHEST_SHARE), "mm")?;
        if known.name == "extension_mm" {
            nearest = asked.clamp(known.range_mm[0], known.range_mm[1]);
        }
    }
    if let Some(known) = record.laws.arc_voltage.range.get("ctwd_mm").filter(|[low, high]| low <= high) {
        welded = *known;
    }
    let factor = (ctwd - arc) / nearest;
    if !(factor > 0.0 && factor.is_finite()) {
        return Err(ExtensionError::Lacking {
            found: format!("the contact-tip-to-work distance of {ctwd:?} mm was asked for, the arc is {arc:?} mm long"),
            needed: "an extension above 0 mm is needed".to_owned(),
            remedy: "ask for a longer distance".to_owned(),
        });
    }
    record.conditions.ctwd_mm = ctwd;
    record.conditions.extension_mm = ctwd - arc;
    if (welded[0]..=welded[1]).contains(&ctwd) && factor == 1.0 {
        let [near, far] = welded;
        return Ok((
            format!(
                "to a contact-tip-to-work distance of {ctwd:?} mm among those of the trials, {near:?} to {far:?} mm"
            ),
            false,
        ));
    }
    each(&mut record.laws).into_iter().for_each(|law| lengthen(law, factor));
    record.laws.arc_voltage.range.insert("ctwd_mm".to_owned(), [ctwd; 2]);
    let words = format!("to a contact-tip-to-work distance of {ctwd:?} mm from {}", from_to(welded));
    enter(&mut record.laws, bases, ctwd, &words, nearest);
    Ok((words, true))
}

fn from_to([low, high]: [f64; 2]) -> String {
    if low == high { format!("{low:?} mm") } else { format!("{low:?} to {high:?} mm") }
}

/// Ranges and clouds of the trials as if each had been welded with its extension times a factor.
fn lengthen(law: &mut FittedLaw, factor: f64) {
    let scale = |name: &str| if matches!(name, "extension_mm" | "extension_rms_squared_mm_a2") { factor } else { 1.0 };
    for (name, range) in &mut law.range {
        *range = range.map(|v| scale(name) * v);
    }
    let cloud = |c: &TrialCloud| c.mapped(|name| [scale(name), 0.0]);
    law.cloud = law.cloud.as_ref().map(cloud);
    law.clouds = law.clouds.iter().map(cloud).collect();
}

/// Enters in the laws that they were carried to a distance, besides what else they were carried to.
fn enter(laws: &mut Laws, bases: &[Base<'_>], ctwd: f64, words: &str, nearest: f64) {
    const WHAT: &str = "contact-tip-to-work distance";
    let mut mapped = BTreeMap::new();
    mapped.insert("ctwd_mm".to_owned(), "the distance that the laws were carried to".to_owned());
    mapped.insert(
        "extension_mm".to_owned(),
        format!("extensions of the trials, {nearest:.1} mm drawn out to the line's"),
    );
    mapped.insert(
        "extension_rms_squared_mm_a2".to_owned(),
        format!("ranges of the trials at the same currents, extensions of {nearest:.1} mm drawn out to the line's"),
    );
    match &mut laws.carried {
        Some(carried) => {
            carried.what = format!("{} and {WHAT}", carried.what);
            carried.words = format!("{}, {words}", carried.words);
            for (name, how) in mapped {
                let whole = carried.mapped.get(&name).map_or_else(|| how.clone(), |first| format!("{first}; {how}"));
                carried.mapped.insert(name, whole);
            }
            carried.ctwd_mm = Some(ctwd);
        }
        none => {
            *none = Some(CarriedTo {
                what: WHAT.to_owned(),
                words: words.to_owned(),
                studies: bases.iter().map(|b| b.laws.record.name.clone()).collect(),
                ctwd_mm: Some(ctwd),
                mapped,
            });
        }
    }
}

/// Lets the ranges of the laws' variables reach to more feeds; in words from where.
fn reach_feeds(laws: &mut Laws, bases: &[Base<'_>], [low, high]: [f64; 2]) -> Result<String, ExtensionError> {
    let known = range(bases.iter().filter_map(|b| feeds(&b.laws.record.laws.burn_off)).flatten());
    if !known[0].is_finite() {
        return Err(ExtensionError::Lacking {
            found: "laws that do not hold the feeds of their trials were found".to_owned(),
            needed: "laws with their diagnostics are needed".to_owned(),
            remedy: "fit the study again with this program".to_owned(),
        });
    }
    let width = known[1] - known[0];
    let room = FARTHEST_SHARE * width;
    for feed in [low, high] {
        within("a wire feed", feed, known, [known[0] - room, known[1] + room], "m/min")?;
    }
    let shares = [((known[0] - low) / width).max(0.0), ((high - known[1]) / width).max(0.0)];
    for law in each(laws) {
        let ranges = law.range.iter().filter(|(name, _)| WITH_FEED.contains(&name.as_str()));
        let reach = ranges.map(|(name, [low, high])| {
            let room = ROOM_FOR_THE_PULSE * (high - low);
            (name.clone(), [low - shares[0] * room, high + shares[1] * room])
        });
        law.reach = reach.collect();
    }
    Ok(format!("to {low:?} to {high:?} m/min from {:.1} to {:.1} m/min", known[0], known[1]))
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

/// Slowest and fastest feed of the trials of a law, m/min.
pub(super) fn feeds(law: &FittedLaw) -> Option<[f64; 2]> {
    let found = range(law.diagnostics.iter().map(|d| 0.06 * (d.fitted + d.residual)));
    found[0].is_finite().then_some(found)
}

fn within(
    what: &str,
    asked: f64,
    [low, high]: [f64; 2],
    [least, most]: [f64; 2],
    unit: &str,
) -> Result<(), ExtensionError> {
    if asked >= least && asked <= most {
        return Ok(());
    }
    Err(ExtensionError::Lacking {
        found: format!("{what} of {asked:?} {unit} was asked for, the trials go from {low:.1} to {high:.1} {unit}"),
        needed: format!(
            "laws go no farther than half that range beyond its ends{}, which is {least:.1} to {most:.1} {unit}",
            if unit == "mm" { ", 1 mm at least" } else { "" }
        ),
        remedy: format!("weld a few trials near {asked:?} {unit} first"),
    })
}

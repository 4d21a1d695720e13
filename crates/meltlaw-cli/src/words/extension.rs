//! Extended laws on one screen: to what, from what, how sure, and which welds would confirm them.

use std::path::Path;

use meltlaw::extend::{Extension, Trait};
use meltlaw::record::LawsRecord;
use meltlaw::statistics::range;
use meltlaw::study::LineRequest;
use meltlaw_files::spelt_out;
use meltlaw_report::numbers::{confidence, feed, fixed, interval};

use super::{command, law_lines, path_as_typed};
use crate::told::{Told, Tone};

/// Letters before what is told.
const START: usize = 22;

/// Everything told.
pub(crate) fn extension_lines(record: &LawsRecord, width: usize) -> Vec<Told> {
    let Some(extension) = &record.extension else { return Vec::new() };
    let mut lines = vec![Told::heading(match &record.laws.carried {
        Some(carried) => format!("laws extended {}: nobody has welded this {}", extension.words, carried.what),
        None => format!("laws extended {}", extension.words),
    })];
    let told = |name: &str, text: String| Told::new(format!("  {name:<0$}", START - 2), text);
    for base in &extension.rests_on {
        lines.push(told(
            "rests on",
            format!(
                "{} ({:?} mm; {}, {} and {} trials)",
                spelt_out(&base.file),
                base.wire_diameter_mm,
                base.trials[0],
                base.trials[1],
                base.trials[2]
            ),
        ));
    }
    lines.push(Told::line(""));
    lines.extend(law_lines(&record.laws, record.confidence, width));
    lines.push(Told::line(""));
    lines.extend(extension.traits.iter().filter(|t| t.heterogeneity.is_some()).map(|t| told("scatter", scatter(t))));
    for (name, test) in extension.tests.iter().filter(|(_, t)| t.warns) {
        let text = format!("{}; {}", spelt_out(&test.reading.seen), test.reading.action);
        // A name as long as the column still ends with a blank.
        let named = format!("{} ", name.replace('_', " "));
        lines.push(Told::new(format!("! {named:<0$}", START - 2), text).toned(Tone::Warning));
    }
    if !extension.tests.is_empty() && !extension.tests.values().any(|t| t.warns) {
        lines.push(told("scaling", "the studies agree with it; no study stands out".to_owned()));
    }
    lines.extend(proof(extension, record.confidence));
    if let Some([best, worst]) = melting_known(extension) {
        let [best, worst] = [best, worst].map(|se| fixed(100.0 * se, 1));
        let within = if best == worst { best } else { format!("{best} to {worst}") };
        let text = format!("known within {within} % (standard error) at the welds below");
        lines.push(told("melting rate", text));
    }
    for weld in &extension.confirm {
        let [low, high] = weld.current_mean_a_interval;
        lines.push(told(
            "weld to confirm",
            format!(
                "{} m/min at {} A for {} ms, {} mm contact-tip-to-work distance, {} mm arc: expect {} A mean ({} A); {}",
                feed(weld.wire_feed_m_min),
                fixed(weld.pulse_current_a, 0),
                fixed(weld.pulse_time_ms, 2),
                feed(weld.ctwd_mm),
                feed(weld.arc_length_mm),
                fixed(weld.current_mean_a, 0),
                interval(low, high),
                weld.why
            ),
        ));
    }
    lines.extend(extension.stated.iter().map(|s| told("stated", spelt_out(s))));
    lines
}

fn scatter(t: &Trait) -> String {
    let value = |v: f64| {
        if t.heterogeneity_unit == "1" {
            format!("{} %", fixed(100.0 * v, 1))
        } else {
            format!("{} {}", fixed(v, 3), t.heterogeneity_unit)
        }
    };
    let from = match t.heterogeneity_interval {
        [_, Some(0.0)] => " (less than the studies' own errors)".to_owned(),
        [Some(low), Some(high)] => format!(" ({} to {} at 95 %)", value(low), value(high)),
        _ => String::new(),
    };
    format!(
        "{}: {}{from} between studies, {}; carried by {}",
        t.name,
        value(t.heterogeneity.unwrap_or(f64::NAN)),
        t.heterogeneity_from,
        t.scaling
    )
}

fn proof(extension: &Extension, at: f64) -> Option<Told> {
    let of = extension.left_out.len();
    let inside = extension.left_out.iter().filter(|l| l.inside).count();
    let text = format!(
        "each study predicted from the others: {inside} of {of} values lie inside their {} intervals",
        confidence(at)
    );
    (of > 0).then(|| Told::new(format!("  {:<1$}", "left out", START - 2), text))
}

/// Smallest and largest relative standard error of the melting rate at the confirming welds.
fn melting_known(extension: &Extension) -> Option<[f64; 2]> {
    let found = range(extension.confirm.iter().map(|w| w.melting_rate_relative_se));
    found[0].is_finite().then_some(found)
}

/// What to do next.
pub(crate) fn after_extend(record: &LawsRecord, out: &Path) -> String {
    if record.extension.as_ref().is_some_and(|e| e.tests.values().any(|t| t.warns)) {
        return "clear what is marked above before these laws are used".to_owned();
    }
    let missing = record.laws.missing();
    if !missing.is_empty() {
        return format!(
            "mend what keeps {} from being extended, then extend again",
            missing.join(" and ").replace('_', " ")
        );
    }
    let diameter = format!("{:?}", record.wire.diameter_mm);
    let usual = LineRequest::USUAL_MELTING_RATE_RELATIVE_SE;
    let uncertain = record.extension.as_ref().and_then(melting_known).is_some_and(|[_, worst]| worst > usual);
    let accepted = if uncertain {
        format!("; its [line] extended_melting_rate_relative_se must be above the usual {usual}, or it has no setting")
    } else {
        String::new()
    };
    let distance = record.laws.carried.as_ref().and_then(|c| c.ctwd_mm);
    let distance = distance.map_or(String::new(), |d| format!(", [bench] ctwd_mm = {d:?}"));
    let compose = command(format_args!("meltlaw compose {} STUDY --out line.json", path_as_typed(out)));
    format!(
        "weld what is named above to confirm; {compose} composes a line, where STUDY states [wire] diameter_mm = {diameter}{distance}, [line] and [source] and needs no trials{accepted}"
    )
}

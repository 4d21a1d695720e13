//! Lines that were found, on one screen.

use meltlaw::find::{Found, Hit, Wanted, nearest_feed};
use meltlaw::line::Node;
use meltlaw::line_spans::spans;
use meltlaw::record::LineRecord;
use meltlaw_files::{FoundLine, LineFolder, spelt_out};
use meltlaw_report::numbers::{feed, fixed};

use super::{command, path_as_typed, plural};
use crate::arguments::FindArguments;
use crate::told::{Told, Tone};

/// Letters of a checksum that tell two files of a folder apart.
const SHORT: usize = 12;

/// What is looked for; empty where that is everything.
pub(crate) fn asked_words(wanted: &Wanted) -> String {
    let mut words: Vec<String> = Vec::new();
    words.extend(wanted.material.map(|m| m.word().to_owned()));
    words.extend(wanted.diameter_mm.map(|d| format!("{d:?} mm")));
    words.extend(wanted.gas.map(|gas| {
        let points = wanted.gas_tolerance_points;
        format!("{} (each within {points} {})", gas.text(), if points == 1.0 { "point" } else { "points" })
    }));
    words.extend(wanted.ctwd_mm.map(|c| format!("contact tip to work {c:?} mm")));
    words.extend(wanted.wire_feed_m_min.map(|f| format!("{} m/min", feed(f))));
    words.join(", ")
}

/// A line: what it is for, where it may be used, where it lies, what differs, and the setting at the feed asked for.
pub(crate) fn hit_lines(place: usize, line: &FoundLine, hit: &Hit, wanted: &Wanted) -> Vec<Told> {
    let record = line.document.body();
    let told = |name: &str, text: String| Told::new(format!("    {name:<11} "), text);
    let name = if record.name.is_empty() { "a line without a name".to_owned() } else { spelt_out(&record.name) };
    let mut lines = vec![Told::heading(format!("{place:>2}  {name}"))];
    if !hit.differs.is_empty() {
        let differs: Vec<String> = hit.differs.iter().map(|d| spelt_out(&d.words)).collect();
        lines.push(Told::new("  ! differs     ", differs.join("; ")).toned(Tone::Warning));
    }
    let wire = &record.wire;
    let what = format!("{}, {}, {:?} mm", spelt_out(&wire.designation), wire.material.word(), wire.diameter_mm);
    lines.push(told("wire", what));
    lines.push(told("gas", record.gas.as_ref().map_or("not stated".to_owned(), meltlaw::gas::Gas::text_and_group)));
    let (ctwd, arc) = (record.conditions.ctwd_mm, record.conditions.arc_length_mm);
    lines.push(told("distance", format!("contact tip to work {ctwd} mm, arc length {arc} mm")));
    lines.push(told("feeds", ranges(record)));
    lines.push(told("standing", standing(record)));
    if let (Some(asked), Some(node)) = (wanted.wire_feed_m_min, &hit.setting) {
        let at = format!("{}, {}: {}", node.support, hit.standing.word(), setting(node));
        lines.push(told(&format!("at {}", feed(asked)), at));
    }
    let checksum: String = line.document.checksum().chars().take(SHORT).collect();
    lines.push(told("file", format!("{} (checksum {checksum}…)", spelt_out(&line.path.display().to_string()))));
    for copy in &line.copies {
        lines.push(told("the same", spelt_out(&copy.display().to_string())));
    }
    lines
}

/// `covered 2.87 to 9.0, extended 9.0 to 9.81 m/min; none from 4.2 to 4.4`.
fn ranges(record: &LineRecord) -> String {
    let spans = spans(&record.line);
    if spans.is_empty() {
        return "no setting at any feed".to_owned();
    }
    let told = spans.iter().map(|s| format!("{} {} to {}", s.support.word(), feed(s.from_m_min), feed(s.to_m_min)));
    format!("{} m/min", told.collect::<Vec<_>>().join(", "))
}

fn standing(record: &LineRecord) -> String {
    let told = record.line.standing.iter().map(|s| {
        let [low, high] = s.wire_feed_m_min;
        let by = s.date.as_ref().map_or(String::new(), |date| format!(", {}", spelt_out(date)));
        format!("{} {} to {} m/min{by}", s.state, feed(low), feed(high))
    });
    let told: Vec<String> = told.collect();
    if told.is_empty() { "proposed".to_owned() } else { told.join("; ") }
}

/// The key settings in a line.
fn setting(n: &Node) -> String {
    format!(
        "pulse {} A for {} ms at {} Hz, background {} A; mean {} A, {} V",
        fixed(n.pulse_current_a, 1),
        fixed(n.pulse_time_ms, 3),
        fixed(n.pulse_frequency_hz, 1),
        fixed(n.background_current_a, 1),
        fixed(n.current_mean_a, 1),
        fixed(n.voltage_mean_v, 2)
    )
}

/// Line files that cannot be used, each with its reason.
pub(crate) fn damaged_lines(folder: &LineFolder) -> Vec<Told> {
    let told = |d: &meltlaw_files::DamagedLine| {
        let text = format!("{}: {}", spelt_out(&d.path.display().to_string()), spelt_out(&d.reason));
        Told::new("! not usable  ", text).toned(Tone::Warning)
    };
    folder.damaged.iter().map(told).collect()
}

/// What was passed over; nothing where nothing was.
pub(crate) fn skipped_words(folder: &LineFolder) -> Option<String> {
    let counted = [
        (folder.other_files, "file that is no line", "files that are no lines"),
        (folder.links, "link", "links"),
        (folder.hidden_folders, "hidden folder", "hidden folders"),
    ];
    let told: Vec<String> = counted
        .iter()
        .filter(|c| c.0 > 0)
        .map(|(n, one, many)| format!("{n} {}", if *n == 1 { one } else { many }))
        .collect();
    (!told.is_empty()).then(|| format!("passed over: {}", told.join(", ")))
}

/// What to do with what was found.
pub(crate) fn after_find(arguments: &FindArguments, folder: &LineFolder, found: &Found) -> String {
    let best = found.fits.first().or(found.others.first());
    let Some(best) = best else {
        let lacks = match folder.damaged.len() {
            0 => "no line lies there".to_owned(),
            n => format!("mend or replace the {} named above", plural(n, "file")),
        };
        let develop = command(format_args!("meltlaw develop STUDY"));
        return format!("{lacks}; {develop} makes a line.json from welded trials");
    };
    let line = &folder.lines[best.index];
    let path = path_as_typed(&line.path);
    let record = line.document.body();
    let nodes = &record.line.nodes;
    let asked = arguments.wire_feed.or(nodes.get(nodes.len() / 2).map(|n| n.wire_feed_m_min));
    let shown = asked.and_then(|asked| if best.setting.is_some() { Some(asked) } else { nearest_feed(record, asked) });
    let Some(shown) = shown else {
        return format!("weld or mend what {path} names as its reasons, then develop it again");
    };
    let at = command(format_args!("meltlaw at {path} {shown}"));
    match found.fits.is_empty() {
        false => format!("{at} shows the setting of the first in full"),
        true => format!(
            "{at} shows the nearest line; weld trials for your own: what differs changes melting and detachment"
        ),
    }
}

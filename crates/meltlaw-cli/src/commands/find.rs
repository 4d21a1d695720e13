//! Lines by wire, diameter, gas and feed in a folder.

use meltlaw::find::{CTWD_TOLERANCE_MM, DIAMETER_TOLERANCE_MM, Found, Hit, RANKED_BY, Wanted, find, nearest_feed};
use meltlaw::line_spans::spans;
use meltlaw_files::{FoundLine, LineFolder, read_line_folder};
use serde_json::{Value, json};

use crate::arguments::FindArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::told::Told;
use crate::words::{after_find, asked_words, damaged_lines, hit_lines, skipped_words};

/// Fewer lines that fit than this are few: the nearest of the others are shown too.
const FEW: usize = 3;
/// So many of the others.
const NEAREST_SHOWN: usize = 3;
/// More lines than this on a screen are a list for a machine.
const FITS_SHOWN: usize = 10;
/// What no search does.
const NOT_INTERPOLATED: &str =
    "nothing is interpolated between wires, gases or distances: a line holds for the wire and gas that it names";

/// `meltlaw find DIR`.
pub(crate) fn run(arguments: &FindArguments, output: &mut Output) -> Result<Exit, Failure> {
    let folder = read_line_folder(&arguments.folder).map_err(|e| Failure::Mismatch(e.to_string()))?;
    let wanted = Wanted {
        material: arguments.material,
        diameter_mm: arguments.diameter_mm,
        gas: arguments.gas,
        gas_tolerance_points: arguments.gas_tolerance_points,
        wire_feed_m_min: arguments.wire_feed,
        ctwd_mm: arguments.ctwd_mm,
    };
    let records: Vec<_> = folder.lines.iter().map(|line| line.document.body()).collect();
    let found = find(&records, &wanted);
    let nearest = if found.fits.len() < FEW { NEAREST_SHOWN.min(found.others.len()) } else { 0 };
    tell(&folder, &wanted, &found, nearest, output);
    output.next(&after_find(arguments, &folder, &found));
    output.json(&json!({
        "asked": wanted,
        "tolerances": { "diameter_mm": DIAMETER_TOLERANCE_MM, "ctwd_mm": CTWD_TOLERANCE_MM },
        "ranked_by": RANKED_BY,
        "interpolated": NOT_INTERPOLATED,
        "lines": folder.lines.len(),
        "fits": found.fits.iter().map(|h| as_json(&folder.lines[h.index], h, &wanted)).collect::<Vec<_>>(),
        "nearest": found.others.iter().take(nearest).map(|h| as_json(&folder.lines[h.index], h, &wanted)).collect::<Vec<_>>(),
        "damaged": folder.damaged.iter().map(|d| json!({ "file": d.path.display().to_string(), "reason": d.reason })).collect::<Vec<_>>(),
        "skipped": { "other_files": folder.other_files, "links": folder.links, "hidden_folders": folder.hidden_folders },
    }));
    Ok(if found.fits.is_empty() || !folder.damaged.is_empty() { Exit::InPart } else { Exit::Done })
}

fn tell(folder: &LineFolder, wanted: &Wanted, found: &Found, nearest: usize, output: &mut Output) {
    let (fits, all) = (found.fits.len(), folder.lines.len());
    let asked = asked_words(wanted);
    let count = match (all, asked.is_empty()) {
        (0, _) => "no line that can be used".to_owned(),
        (1, true) => "1 line".to_owned(),
        (_, true) => format!("{all} lines"),
        (_, false) if fits == 0 => format!("! none of {all} fits"),
        (_, false) => format!("{fits} of {all} {}", if fits == 1 { "fits" } else { "fit" }),
    };
    output.heading(&if all == 0 || asked.is_empty() { count } else { format!("{count}: {asked}") });
    let mut place = 0;
    for hit in found.fits.iter().take(FITS_SHOWN) {
        place += 1;
        output.text("");
        output.tell_all(&hit_lines(place, &folder.lines[hit.index], hit, wanted));
    }
    if fits > FITS_SHOWN {
        output.text(&format!("… and {} more; all with --json", fits - FITS_SHOWN));
    }
    if nearest > 0 {
        output.text("");
        output.heading(if fits == 0 { "nearest" } else { "nearest of the others" });
        for hit in found.others.iter().take(nearest) {
            place += 1;
            output.text("");
            output.tell_all(&hit_lines(place, &folder.lines[hit.index], hit, wanted));
        }
    }
    output.text("");
    output.tell_all(&damaged_lines(folder));
    if let Some(skipped) = skipped_words(folder) {
        output.tell(&Told::line(skipped));
    }
    if !folder.lines.is_empty() {
        output.tell(&Told::new("ranked: ", RANKED_BY));
        output.text(NOT_INTERPOLATED);
        output.text("a line is a starting point: qualify the procedure under the code that applies");
    }
}

fn as_json(line: &FoundLine, hit: &Hit, wanted: &Wanted) -> Value {
    let record = line.document.body();
    let ranges: Vec<Value> = spans(&record.line)
        .iter()
        .map(|s| json!({ "support": s.support.word(), "wire_feed_m_min": [s.from_m_min, s.to_m_min] }))
        .collect();
    let mut value = json!({
        "file": line.path.display().to_string(),
        "copies": line.copies.iter().map(|p| p.display().to_string()).collect::<Vec<_>>(),
        "checksum": line.document.checksum(),
        "name": record.name,
        "wire": record.wire,
        "gas": record.gas,
        "conditions": record.conditions,
        "standing": record.line.standing,
        "ranges": ranges,
        "unsupported": record.line.unsupported,
        "differs": hit.differs,
    });
    if record.gas.is_none() {
        value["gas_reason"] = json!(record.gas_reason.as_deref().unwrap_or("the line does not say why"));
    }
    if let Some(feed) = wanted.wire_feed_m_min {
        let mut at = json!({ "wire_feed_m_min": feed, "standing": hit.standing.word(), "setting": hit.setting });
        if hit.setting.is_none() {
            at["setting_reason"] = json!(hit.no_setting);
            at["nearest_feed_m_min"] = json!(nearest_feed(record, feed));
        }
        value["at"] = at;
    }
    value
}

//! Answers backwards and shifted settings for the terminal.

use meltlaw::backwards::Answer;
use meltlaw::compose::{Change, Shifted};
use meltlaw::record::LineRecord;
use meltlaw_report::numbers::{confidence, fixed, interval};

use crate::told::Told;

/// How far an answer may be off, and how well the trials carry it.
pub(crate) fn answer_lines(record: &LineRecord, answer: &Answer) -> Vec<Told> {
    let level = confidence(record.confidence);
    let mut lines = Vec::new();
    if let Some([low, high]) = answer.constant_over_m_min {
        let text = format!("the same from {} to {} m/min; shown is the middle", fixed(low, 3), fixed(high, 3));
        lines.push(Told::new("  ", text));
    }
    let ends = match answer.wire_feed_m_min_interval {
        [Some(low), Some(high)] => Some(format!("{} m/min", interval(low, high))),
        [Some(low), None] => Some(format!("{} m/min and above", fixed(low, 3))),
        [None, Some(high)] => Some(format!("up to {} m/min", fixed(high, 3))),
        [None, None] => None,
    };
    lines.push(match ends {
        Some(ends) => Told::new("  ", format!("{level} {ends}: {}", answer.interval_meaning)),
        None => Told::new("  ", format!("no {level} interval")),
    });
    if let Some(reason) = &answer.wire_feed_m_min_interval_reason {
        lines.push(Told::new("  ", reason.as_str()));
    }
    lines.push(Told::new("  ", format!("{}: {}", answer.support, answer.support_reason)));
    lines
}

/// What a shift changed against the line, and how well the trials carry it.
pub(crate) fn shift_lines(shifted: &Shifted) -> Vec<Told> {
    let changes = &shifted.changes;
    let mut lines = vec![Told::line("  against the line's own setting")];
    for (name, change, unit, places) in [
        ("arc length", changes.arc_length_mm, "mm", 2),
        ("extension", changes.extension_mm, "mm", 2),
        ("drop diameter", changes.drop_diameter_mm, "mm", 3),
        ("pulse frequency", changes.pulse_frequency_hz, "Hz", 1),
        ("background current", changes.background_current_a, "A", 1),
        ("mean current", changes.current_mean_a, "A", 1),
        ("voltage (tip to work)", changes.voltage_mean_v, "V", 2),
        ("power", changes.power_mean_w, "W", 0),
    ] {
        lines.push(changed(name, change, unit, places));
    }
    lines.push(Told::new("  ", format!("{}: {}", shifted.setting.support, shifted.support_reason)));
    lines
}

/// `    background current     131.4 → 138.7 A   (+7.3)`; what is held says so.
fn changed(name: &str, change: Change, unit: &str, places: i32) -> Told {
    let (from, to) = (fixed(change.from, places), fixed(change.to, places));
    if from == to {
        return Told::line(format!("    {name:<22} {from:>9} {unit}, held"));
    }
    let sign = if change.difference() > 0.0 { "+" } else { "" };
    let change = fixed(change.difference(), places);
    Told::line(format!("    {name:<22} {from:>9} → {to} {unit} ({sign}{change})"))
}

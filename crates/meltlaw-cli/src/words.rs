//! Findings and results as they are told on a screen.

mod answers;
mod citation;
mod coefficients;
mod compare;
mod comparison_picture;
mod comparison_table;
mod composing;
mod diagnosis;
mod drift;
mod extension;
mod find;
mod findings;
mod heat;
mod law_pictures;
mod laws;
mod laws_comparison;
mod line_picture;
mod logs;
mod next;
mod setting;
mod trial_picture;

pub(crate) use answers::{answer_lines, shift_lines};
pub(crate) use citation::citation_lines;
pub(crate) use compare::{after_compare, comparison_lines};
pub(crate) use comparison_picture::comparison_picture;
pub(crate) use composing::{a_feed, composing_lines, node_table, to_confirm};
pub(crate) use extension::{after_extend, extension_lines};
pub(crate) use find::{after_find, asked_words, damaged_lines, hit_lines, skipped_words};
pub(crate) use findings::finding_lines;
pub(crate) use law_pictures::law_pictures;
pub(crate) use laws::{counted, law_lines, laws_in_short, marked, plural, weakness_lines};
pub(crate) use laws_comparison::{after_laws_comparison, laws_comparison_lines, laws_comparison_picture};
pub(crate) use line_picture::line_picture;
pub(crate) use logs::{log_lines, progress_words};
pub(crate) use next::{Asked, after_at, after_check, after_fit, command, path_as_typed};
pub(crate) use setting::node_lines;
pub(crate) use trial_picture::trial_picture;

use meltlaw::line_spans::spans;
use meltlaw::record::LineRecord;
use meltlaw::study::Wire;
use meltlaw_report::numbers::{confidence, feed, fixed, percent};

use crate::told::{Told, Tone};

/// What may be used, in a few lines.
pub(crate) fn verdict_lines(record: &LineRecord, width: usize) -> Vec<Told> {
    let line = &record.line;
    let mut lines = Vec::new();
    match (line.nodes.first(), line.nodes.last()) {
        (Some(first), Some(last)) => {
            lines.push(Told::line(format!(
                "a line from {} to {} m/min, {} nodes, proposed: weld confirmation trials before use",
                feed(first.wire_feed_m_min),
                feed(last.wire_feed_m_min),
                line.nodes.len()
            )));
            for span in spans(line) {
                let support = span.support.word();
                lines.push(Told::line(format!(
                    "  {support:<9} {} to {} m/min",
                    feed(span.from_m_min),
                    feed(span.to_m_min)
                )));
            }
            let lowest = line.nodes.iter().map(|n| n.one_drop_probability.interval[0]).fold(1.0, f64::min);
            let widest = line.nodes.iter().map(|n| n.melting_rate_relative_se).fold(0.0, f64::max);
            lines.push(Told::line(format!(
                "  one drop per pulse: at least {} ({} lower bound); melting rate within {} (standard error)",
                percent(lowest),
                confidence(record.confidence),
                share(widest)
            )));
        }
        _ => lines.push(Told::line("! no line").toned(Tone::Warning)),
    }
    lines.extend(composing_lines(record, width));
    lines.extend(heat::beside_lines(record));
    for (place, text) in meltlaw_report::first_to_improve(line).iter().enumerate() {
        lines.push(Told::new(if place == 0 { "  improve first  " } else { "                 " }, text.as_str()));
    }
    for end in line.range_ends.iter().filter(|end| end.trial.is_some() || end.variable.is_some()) {
        lines.push(Told::new("  line ends      ", format!("{} m/min: {}", feed(end.wire_feed_m_min), end.reason)));
    }
    for gap in &line.unsupported {
        let limits: Vec<String> = gap.limits.iter().map(|l| l.replace('_', " ")).collect();
        let range = format!("{} to {} m/min", feed(gap.wire_feed_m_min[0]), feed(gap.wire_feed_m_min[1]));
        lines.push(Told::new("  no setting     ", format!("{range} ({}): {}", limits.join(", "), gap.reason)));
    }
    lines
}

/// The wire in a few words; a designation that already names the diameter is left as it is.
pub(crate) fn wire_words(wire: &Wire) -> String {
    let diameter = format!("{} mm", wire.diameter_mm);
    if wire.designation.contains(&diameter) {
        wire.designation.clone()
    } else {
        format!("{}, {diameter}", wire.designation)
    }
}

/// A share of one in per cent with two decimals.
fn share(value: f64) -> String {
    format!("{} %", fixed(100.0 * value, 2))
}

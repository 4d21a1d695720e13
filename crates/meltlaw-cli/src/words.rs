//! Findings and results in lines for the terminal.

mod answers;
mod composing;
mod diagnosis;
mod drift;
mod heat;

pub(crate) use answers::{answer_lines, shift_lines};
pub(crate) use composing::{a_feed, composing_lines, to_confirm};

use meltlaw::checks::{Finding, RowReference, Severity};
use meltlaw::laws::{FittedLaw, Laws};
use meltlaw::line::{Line, Node};
use meltlaw::record::LineRecord;
use meltlaw::study::Wire;
use meltlaw_report::composing::PINNED;
use meltlaw_report::numbers::{confidence, feed, fixed, percent, significant};
use meltlaw_report::setting;

/// Rows listed for one finding before the rest is only counted.
const ROWS_SHOWN: usize = 8;
/// Letters in a line; the same everywhere, so that a pipe gets what a terminal gets.
const WIDTH: usize = 100;

/// A finding as people read it: what is seen against what was expected, what to do, in which rows.
pub(crate) fn finding_lines(finding: &Finding) -> Vec<String> {
    let word = match finding.severity {
        Severity::Stop => "stop",
        Severity::Warning => "warning",
        Severity::Note => "note",
    };
    let reading = &finding.reading;
    let mut lines = wrapped(
        &format!("{word:<8} "),
        &format!("{}: {} (expected: {})", finding.check.replace('_', " "), reading.seen, reading.expected),
    );
    if !reading.action.is_empty() && !reading.action.starts_with("nothing") {
        lines.extend(wrapped("           do: ", &reading.action));
    }
    if !finding.rows.is_empty() {
        lines.extend(wrapped("           at: ", &rows_words(&finding.rows)));
    }
    lines
}

/// `trials.csv, wire_feed_m_min: row 2 (B01) 131.1 m/min, row 3 …`: file and column once for all rows that
/// share them.
fn rows_words(rows: &[RowReference]) -> String {
    let mut text = String::new();
    let mut before: Option<(&str, Option<&str>)> = None;
    for row in rows.iter().take(ROWS_SHOWN) {
        let place = (row.file.as_str(), row.column.as_deref());
        if before == Some(place) {
            text.push_str(", ");
        } else {
            let start = if before.is_some() { "; " } else { "" };
            let column = place.1.map_or(String::new(), |c| format!(", {c}"));
            text.push_str(&format!("{start}{}{column}: ", row.file));
            before = Some(place);
        }
        let found = row.found.as_deref().map_or(String::new(), |f| format!(" {f}"));
        text.push_str(&format!("row {} ({}){found}", row.row, row.trial));
    }
    if rows.len() > ROWS_SHOWN {
        text.push_str(&format!(", {} more rows (all with --json)", rows.len() - ROWS_SHOWN));
    }
    text
}

/// Lines of at most [`WIDTH`] letters, broken between words; the first begins with `start`, the others
/// below the first word. A word longer than a line stays whole.
pub(crate) fn wrapped(start: &str, text: &str) -> Vec<String> {
    let indent = start.chars().count();
    let mut lines = Vec::new();
    let (mut line, mut width) = (start.to_owned(), indent);
    // At plain blanks only: a number and its per cent sign stay together.
    for word in text.split([' ', '\t', '\n']).filter(|w| !w.is_empty()) {
        let letters = word.chars().count();
        if width > indent && width + 1 + letters > WIDTH {
            lines.push(std::mem::replace(&mut line, " ".repeat(indent)));
            width = indent;
        }
        if width > indent {
            line.push(' ');
            width += 1;
        }
        line.push_str(word);
        width += letters;
    }
    lines.push(line);
    lines
}

/// The three laws with their coefficients and, in a line each, what diagnosis says.
pub(crate) fn law_lines(laws: &Laws, level: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for (name, law) in laws.by_name() {
        lines.push(format!("{}  {}", name.replace('_', " "), law.equation));
        let used = format!("{} trials used, {} left out", law.trials_used.len(), law.trials_left_out.len());
        if law.ended.usable {
            let scatter = scatter_words(law).map_or(String::new(), |s| format!(", scatter {s}"));
            lines.push(format!("  {}, {used}{scatter}", law.ended.how.replace('_', " ")));
        } else {
            let how = law.ended.how.replace('_', " ");
            lines.extend(wrapped("  ", &format!("not usable ({how}), {used}: {}", law.ended.reason)));
        }
        for key in &law.coefficient_order {
            let Some(c) = law.coefficients.get(key) else { continue };
            let value = c.value.map_or("–".to_owned(), |v| significant(v, 4));
            let se = c.standard_error_with_calibration.map_or("–".to_owned(), |v| significant(v, 2));
            let range = match c.interval {
                [Some(low), Some(high)] => format!("{} to {}", significant(low, 4), significant(high, 4)),
                [Some(low), None] => format!("above {}", significant(low, 3)),
                [None, Some(high)] => format!("below {}", significant(high, 3)),
                [None, None] => "open".to_owned(),
            };
            lines.push(format!("  {key:<22} {value:>12}  se {se:>9}  {} {range} {}", confidence(level), c.unit));
        }
        for (key, p) in law.coefficients.iter().filter_map(|(key, c)| Some((key, c.prior.as_ref()?))) {
            lines.push(format!(
                "  stated beforehand: {key} {} ± {} ({}): {} – {}",
                significant(p.mean, 4),
                significant(p.standard_deviation, 2),
                p.source,
                p.reading.seen,
                p.reading.action
            ));
        }
        for note in &law.notes {
            lines.extend(wrapped("  note       ", note));
        }
        lines.extend(diagnosis::lines(law));
        lines.push(String::new());
    }
    lines
}

/// The scatter of the trials about the law, in the unit of the trade.
/// What the laws found weak in the trials: warnings, requests and trials that stand out, law by law.
pub(crate) fn weakness_lines(laws: &Laws) -> Vec<String> {
    laws.by_name()
        .into_iter()
        .flat_map(|(name, law)| {
            let mut lines = vec![format!("{}: {} trials used", name.replace('_', " "), law.trials_used.len())];
            if law.ended.usable {
                lines.extend(diagnosis::warnings(law));
            } else {
                lines.extend(wrapped("  ", &format!("not usable ({}): {}", law.ended.how, law.ended.reason)));
            }
            lines
        })
        .collect()
}

fn scatter_words(law: &FittedLaw) -> Option<String> {
    let scatter = law.residual_standard_deviation?;
    Some(match law.residual_unit.as_str() {
        "mm/s" => format!("{} m/min", significant(0.06 * scatter, 2)), // exact
        unit => format!("{} {unit}", significant(scatter, 2)),
    })
}

/// What may be used, in a few lines.
pub(crate) fn verdict_lines(record: &LineRecord) -> Vec<String> {
    let line = &record.line;
    let mut lines = Vec::new();
    match (line.nodes.first(), line.nodes.last()) {
        (Some(first), Some(last)) => {
            lines.push(format!(
                "a line from {} to {} m/min, {} nodes, proposed: weld confirmation trials before use",
                feed(first.wire_feed_m_min),
                feed(last.wire_feed_m_min),
                line.nodes.len()
            ));
            for (support, range) in stretches(line) {
                lines.push(format!("  {support:<9} {} to {} m/min", feed(range[0]), feed(range[1])));
            }
            let lowest = line.nodes.iter().map(|n| n.one_drop_probability.interval[0]).fold(1.0, f64::min);
            let widest = line.nodes.iter().map(|n| n.melting_rate_relative_se).fold(0.0, f64::max);
            lines.push(format!(
                "  one drop per pulse: at least {} ({} lower bound); melting rate within {} (standard error)",
                percent(lowest),
                confidence(record.confidence),
                share(widest)
            ));
        }
        _ => lines.push("no line".to_owned()),
    }
    lines.extend(composing_lines(record));
    lines.extend(heat::beside_lines(record));
    for (place, text) in meltlaw_report::first_to_improve(line).iter().enumerate() {
        lines.extend(wrapped(if place == 0 { "  improve first  " } else { "                 " }, text));
    }
    for end in line.range_ends.iter().filter(|end| end.trial.is_some() || end.variable.is_some()) {
        lines.extend(wrapped("  line ends      ", &format!("{} m/min: {}", feed(end.wire_feed_m_min), end.reason)));
    }
    for gap in &line.unsupported {
        let limits: Vec<String> = gap.limits.iter().map(|l| l.replace('_', " ")).collect();
        let range = format!("{} to {} m/min", feed(gap.wire_feed_m_min[0]), feed(gap.wire_feed_m_min[1]));
        lines.extend(wrapped("  no setting     ", &format!("{range} ({}): {}", limits.join(", "), gap.reason)));
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

/// Stretches of the line with the same support: between two nodes it is the weaker of theirs. Gaps end a
/// stretch.
fn stretches(line: &Line) -> Vec<(String, [f64; 2])> {
    let mut runs: Vec<(String, [f64; 2])> = Vec::new();
    let mut add = |support: &str, from: f64, to: f64| match runs.last_mut() {
        Some((last, range)) if last == support && range[1] == from => range[1] = to,
        _ => runs.push((support.to_owned(), [from, to])),
    };
    for pair in line.nodes.windows(2) {
        let (from, to) = (pair[0].wire_feed_m_min, pair[1].wire_feed_m_min);
        if line.unsupported.iter().any(|gap| gap.lies_between(from, to)) {
            continue;
        }
        let weaker = if pair.iter().any(|n| n.support == "extended") { "extended" } else { "measured" };
        add(weaker, from, to);
    }
    if let [only] = &line.nodes[..] {
        add(&only.support, only.wire_feed_m_min, only.wire_feed_m_min);
    }
    runs
}

/// A setting with what it does, in columns.
pub(crate) fn node_lines(record: &LineRecord, node: &Node) -> Vec<String> {
    let n = node;
    let mut lines: Vec<String> = setting::rows(record, node)
        .iter()
        .map(|row| {
            let mark = if row.pinned { PINNED } else { ' ' };
            format!("  {:<24} {:>9}{mark}{:<6} {}", row.name, row.value, row.unit, row.beside).trim_end().to_owned()
        })
        .collect();
    lines.extend(heat::transition_line(record));
    if !n.pinned.is_empty() {
        let is_node = record.line.nodes.iter().any(|other| other.wire_feed_m_min == n.wire_feed_m_min);
        let place = if is_node { "here" } else { "at a neighbouring node" };
        lines.push(format!("  {PINNED} pinned by the study {place}"));
    }
    if !n.limits.is_empty() {
        lines.push(format!("  at a limit: {}", n.limits.join(", ")));
    }
    lines.extend(drift::node_lines(n));
    // What is pinned stands marked above.
    let notes = n.notes.iter().filter(|note| !note.starts_with("pinned by the study"));
    lines.extend(notes.flat_map(|note| wrapped("  note: ", note)));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_texts_break_between_words_and_below_the_first() {
        let text = "word ".repeat(30);
        let lines = wrapped("  do: ", &text);
        // 6 letters of start and 5 a word less the last space: 19 words reach the hundredth letter.
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|l| l.chars().count() <= WIDTH) && lines[1].starts_with("      word"), "{lines:?}");
        assert_eq!(wrapped("a ", ""), ["a "]);
    }
}

//! A comparison of laws on one screen: verdict first, then what it rests on.

use std::path::Path;

use meltlaw::compare::laws::{ComparedWire, LawStatement, LawsComparison, PlaceOfLaw, Verdict};
use meltlaw::in_words::probability;
use meltlaw_files::spelt_out;
use meltlaw_report::numbers::{confidence, fixed, signed};

use super::{command, path_as_typed, plural};
use crate::plot::{Axis, Plot, Stroke};
use crate::screen::Screen;
use crate::told::{Told, Tone};

/// Letters before what is told.
const START: usize = 29;
const ROWS: usize = 9;
const MARGIN: usize = 12;

/// Everything told.
pub(crate) fn laws_comparison_lines(c: &LawsComparison) -> Vec<Told> {
    let mut lines = Vec::new();
    let first = c.wires.first().map_or("", |w| w.name.as_str());
    for wire in c.wires.iter().skip(1) {
        let of: Vec<&LawStatement> = c.comparisons.iter().filter(|s| s.wire == wire.name).collect();
        if !lines.is_empty() {
            lines.push(Told::line(""));
        }
        lines.push(Told::heading(format!("{} against {first}: {}", spelt_out(&wire.name), in_a_word(&of))));
        lines.extend(conditions(wire));
        for statement in of {
            lines.extend(statement_lines(statement));
        }
        lines.extend(ratios(c, wire));
    }
    for spread in &c.batch_spread {
        let start = format!("  {:<1$}", format!("batches, {}", law_name(&spread.quantity)), START - 2);
        let tone = if spread.standard_deviation.is_some() { Tone::Plain } else { Tone::Warning };
        lines.push(Told::new(start, format!("{}: {}", spelt_out(&spread.wire), spread.reading.seen)).toned(tone));
    }
    let told = |name: &str, text: &str| Told::new(format!("  {name:<0$}", START - 2), text.to_owned());
    lines.push(Told::line(""));
    let m = c.margins;
    lines.push(told(
        "margins",
        &format!(
            "{} % of wire feed, {} % of pulse time, {} V; {}",
            number(100.0 * m.wire_feed_relative),
            number(100.0 * m.detachment_relative),
            number(m.voltage_v),
            c.margins_from
        ),
    ));
    lines.push(told("instruments", &c.instruments.words));
    lines.push(told(
        "intervals",
        &format!(
            "for each law all places, quantities and wires together hold at {}; the likelihood ratio stands beside, never instead",
            confidence(c.confidence)
        ),
    ));
    lines.extend(c.notes.iter().map(|n| told("note", &spelt_out(n)).toned(Tone::Warning)));
    lines
}

fn number(value: f64) -> String {
    let text = fixed(value, 3);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn in_a_word(of: &[&LawStatement]) -> &'static str {
    let any = |v: Verdict| of.iter().any(|s| s.verdict == v);
    if any(Verdict::Different) {
        "different"
    } else if any(Verdict::Undecided) {
        "undecided"
    } else {
        "alike"
    }
}

fn conditions(wire: &ComparedWire) -> Option<Told> {
    let words: Vec<String> = wire.conditions.iter().map(|d| spelt_out(&d.words)).collect();
    (!words.is_empty())
        .then(|| Told::new(format!("! {:<1$}", "other", START - 2), words.join("; ")).toned(Tone::Warning))
}

/// What is compared, as people call it.
fn law_name(quantity: &str) -> &'static str {
    match quantity {
        "wire_feed_m_min" => "wire feed",
        "one_drop_from_ms" => "one drop from",
        "more_drops_from_ms" => "second drop from",
        _ => "voltage",
    }
}

/// Verdict, difference, place and margin; then what would settle it.
fn statement_lines(s: &LawStatement) -> Vec<Told> {
    let mark = match s.verdict {
        Verdict::Alike => '=',
        Verdict::Different => '!',
        Verdict::Undecided => '?',
    };
    let start = format!("{mark} {:<10}{:<1$}", s.verdict.word(), START - 12);
    let start = format!("{}{:<2$}", &start[..12], law_name(&s.quantity), START - 12);
    let tone = if s.verdict == Verdict::Different { Tone::Warning } else { Tone::Plain };
    let (Some(at), Some(difference), Some([low, high]), Some(margin), Some(first)) =
        (s.at, s.difference, s.interval, s.margin, s.first)
    else {
        return vec![Told::new(start, spelt_out(&s.settle)).toned(Tone::Warning)];
    };
    let per_cent = |v: f64| 100.0 * v / first;
    let relative = if s.unit == "V" {
        String::new()
    } else {
        format!(
            "{} % ({} to {} %, margin {} %); ",
            signed(per_cent(difference), 1),
            signed(per_cent(low), 1),
            signed(per_cent(high), 1),
            number(per_cent(margin))
        )
    };
    let margin = if s.unit == "V" { format!(", margin {} V", number(margin)) } else { String::new() };
    let mut lines = vec![
        Told::new(
            start,
            format!(
                "{relative}{} {} ({} to {}) at {}{margin}",
                signed(difference, 2),
                s.unit,
                signed(low, 2),
                signed(high, 2),
                place(&at)
            ),
        )
        .toned(tone),
    ];
    if s.verdict == Verdict::Undecided {
        lines.push(Told::new(" ".repeat(START), spelt_out(&s.settle)));
    }
    lines
}

/// Where, in short.
fn place(at: &PlaceOfLaw) -> String {
    let mut parts = Vec::new();
    if let Some(i) = at.pulse_current_a {
        parts.push(format!("{} A pulse", fixed(i, 0)));
    }
    if let Some(i) = at.current_mean_a {
        parts.push(format!("{} A mean", fixed(i, 0)));
    }
    if let Some(h) = at.extension_rms_squared_mm_a2 {
        parts.push(format!("L·I_rms² {} mm kA²", fixed(h / 1e6, 2)));
    }
    if let Some(a) = at.arc_length_mm {
        parts.push(format!("{} mm arc", fixed(a, 1)));
    }
    if let Some(l) = at.extension_mm {
        parts.push(format!("{} mm extension", fixed(l, 1)));
    }
    parts.join(", ")
}

/// The likelihood ratios of a wire in one line.
fn ratios(c: &LawsComparison, wire: &ComparedWire) -> Option<Told> {
    let words: Vec<String> = c
        .likelihood_ratio
        .iter()
        .filter(|l| l.wire == wire.name)
        .map(|l| {
            let law = l.law.replace('_', " ");
            match l.p_value {
                Some(p) => format!("{law} {}", probability(p)),
                None => format!("{law} not tested: {}", l.reason.as_deref().unwrap_or("no reason")),
            }
        })
        .collect();
    (!words.is_empty()).then(|| Told::new(format!("  {:<1$}", "likelihood ratio", START - 2), words.join("; ")))
}

/// The difference in wire feed along the current, in per cent, with the margins; none where nothing can be seen.
pub(crate) fn laws_comparison_picture(c: &LawsComparison, screen: Screen) -> Vec<String> {
    if !screen.plots {
        return Vec::new();
    }
    c.bands
        .iter()
        .filter(|b| b.law == "burn_off")
        .take(2)
        .flat_map(|b| picture(b, c, screen).unwrap_or_default())
        .collect()
}

fn picture(band: &meltlaw::compare::laws::Band, c: &LawsComparison, screen: Screen) -> Option<Vec<String>> {
    let at = |p: &meltlaw::compare::laws::BandPlace| p.at.current_mean_a;
    let per_cent = |p: &meltlaw::compare::laws::BandPlace, v: f64| 100.0 * v / p.first;
    let margin = 100.0 * c.margins.wire_feed_relative;
    let ends = band.along.iter().flat_map(|p| p.interval.map(|v| per_cent(p, v)));
    let title = format!("{}: wire feed against the first, %", spelt_out(&band.wire));
    let y = Axis::around(&title, ends.chain([margin, -margin, 0.0]), 4)?;
    let x = Axis::around("mean current, A", band.along.iter().filter_map(at), 6)?;
    let mut plot = Plot::new(x, y, screen.width, MARGIN, ROWS)?;
    let curve = |of: &dyn Fn(&meltlaw::compare::laws::BandPlace) -> f64| {
        band.along.iter().filter_map(|p| Some((at(p)?, of(p)))).collect::<Vec<_>>()
    };
    plot.curve(&curve(&|p| per_cent(p, p.difference)), Stroke::Solid);
    for end in [0, 1] {
        plot.curve(&curve(&|p| per_cent(p, p.interval[end])), Stroke::Dotted);
    }
    for limit in [margin, -margin] {
        plot.curve(&curve(&|_| limit), Stroke::Dashed);
        plot.beside(limit, " margin");
    }
    if let Some(last) = band.along.last() {
        plot.beside(per_cent(last, last.difference), " difference");
    }
    let mut lines = vec![String::new()];
    lines.extend(plot.lines());
    Some(lines)
}

/// What to do next.
pub(crate) fn after_laws_comparison(c: &LawsComparison, out: Option<&Path>) -> String {
    let undecided = c.comparisons.iter().filter_map(|s| s.trials_to_settle).max();
    let different = c.comparisons.iter().any(|s| s.verdict == Verdict::Different);
    if different {
        return "compose a line of its own for the wire that is different; one line for both would be off on it"
            .to_owned();
    }
    if let Some(most) = undecided {
        return format!(
            "weld {} more of each wire, where the lines above say, and compare again",
            plural(most, "trial")
        );
    }
    if c.comparisons.iter().any(|s| s.verdict == Verdict::Undecided) {
        return "see above what keeps it undecided: trials alone do not settle it".to_owned();
    }
    match out {
        Some(out) => format!("one line serves all within the margins; open {}", out.join("comparison.html").display()),
        None => {
            let files: Vec<String> =
                c.wires.iter().flat_map(|w| &w.files).map(|f| path_as_typed(Path::new(f))).collect();
            let typed = command(format_args!("meltlaw compare {} --out compared", files.join(" ")));
            format!("one line serves all within the margins; {typed} writes page, figures and tables")
        }
    }
}

//! What a reader of a line's numbers must know, in words: the same facts in every export.

use meltlaw::line::{Line, StandingRange};
use meltlaw::line_spans::{Span, Support, spans};

use crate::document::{LineDocument, number_text};

/// A fact: what it is about, and its words. Words may hold a user's text: each format escapes it in its own way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Fact {
    pub(crate) about: &'static str,
    pub(crate) words: String,
}

/// What `carried` means, for whoever is about to set a machine.
const CARRIED: &str =
    "the laws were carried to a wire or distance that nobody has welded; weld and confirm every setting before use";

/// All facts, in the order in which they are read: what, where it holds, how far it may be trusted, cautions, whence.
pub(crate) fn facts(document: &LineDocument) -> Vec<Fact> {
    let body = document.body();
    let conditions = &body.conditions;
    let mut facts = Vec::new();
    let mut add = |about, words: String| facts.push(Fact { about, words });
    add("line", body.name.clone());
    add(
        "wire",
        format!("{}, {}, {} mm", body.wire.designation, body.wire.material.word(), number_text(body.wire.diameter_mm)),
    );
    add(
        "gas",
        match (&body.gas, &body.gas_reason) {
            (Some(gas), _) => gas.text_and_group(),
            (None, reason) => format!("not stated: {}", reason.as_deref().unwrap_or("no reason given")),
        },
    );
    add(
        "conditions",
        format!(
            "contact-tip-to-work distance {} mm, arc length {} mm, extension {} mm",
            number_text(conditions.ctwd_mm),
            number_text(conditions.arc_length_mm),
            number_text(conditions.extension_mm)
        ),
    );
    for span in spans(&body.line) {
        let mut words = feeds([span.from_m_min, span.to_m_min]);
        if span.support == Support::Carried {
            words = format!("{words}: {CARRIED}");
        }
        add(span.support.word(), words);
    }
    for range in body.line.refused() {
        add("do not use", range.refusal_words());
    }
    for gap in &body.line.unsupported {
        add("no setting", format!("{}: {}: {}", feeds(gap.wire_feed_m_min), gap.limits.join(" "), gap.reason));
    }
    for range in &body.line.standing {
        add("standing", standing(range));
    }
    add("between nodes", body.line.interpolation.rule.clone());
    add("confidence", format!("intervals (_low to _high) at {} %", number_text(100.0 * body.confidence)));
    for caution in document.cautions() {
        add("caution", caution.clone());
    }
    add("made by", document.provenance().tool.clone());
    add("checksum of line.json", document.checksum().to_owned());
    facts
}

/// `proposed, 3 to 8 m/min`, with rule, evidence, date and name where it was decided.
fn standing(range: &StandingRange) -> String {
    let mut words = format!("{}, {}", range.state, feeds(range.wire_feed_m_min));
    let more = [("rule", &range.rule), ("evidence", &range.evidence), ("date", &range.date), ("by", &range.by)];
    for (about, text) in more {
        if let Some(text) = text {
            words.push_str(&format!("; {about}: {text}"));
        }
    }
    words
}

/// The standing of the whole line in one text.
pub(super) fn standing_words(line: &Line) -> String {
    if line.standing.is_empty() {
        return "proposed: no confirmation weld".to_owned();
    }
    line.standing.iter().map(standing).collect::<Vec<_>>().join(" | ")
}

/// Where there are settings and where none may be used, in sentences.
pub(super) fn usable_words(line: &Line) -> String {
    let spans = spans(line);
    let told = |span: &Span| format!("{} {}", span.support.word(), feeds([span.from_m_min, span.to_m_min]));
    let mut words = match &spans[..] {
        [] => "Settings: none.".to_owned(),
        spans => format!("Settings: {}.", spans.iter().map(told).collect::<Vec<_>>().join(", ")),
    };
    if spans.iter().any(|span| span.support == Support::Carried) {
        words.push_str(&format!(" Carried: {CARRIED}."));
    }
    let refused: Vec<String> = line.refused().map(StandingRange::refusal_words).collect();
    if !refused.is_empty() {
        words.push_str(&format!(" Do not use: {}.", refused.join("; ")));
    }
    words
}

/// A range of wire feeds in words.
pub(crate) fn feeds([low, high]: [f64; 2]) -> String {
    format!("{} to {} m/min", number_text(low), number_text(high))
}

//! The line at a wire feed speed, or backwards, as it stands or shifted.

use meltlaw::backwards::{Answer, ShiftedBackwards, Wanted, feeds_for, feeds_for_shifted};
use meltlaw::compose::{Shift, ShiftError, Shifted, shifted};
use meltlaw::line::Node;
use meltlaw::line_at::{NoSetting, Standing, Support, at};
use meltlaw::record::LineRecord;
use meltlaw::short_number::short_number;
use meltlaw::support_words::support_words;
use meltlaw_files::LineDocument;
use meltlaw_report::numbers::{feed, feed_as_typed};
use serde_json::{Value, json};

use crate::arguments::AtArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::told::{Told, Tone};
use crate::words::{Asked, after_at, answer_lines, line_picture, node_lines, node_table, shift_lines, wire_words};

/// `meltlaw at LINE.json WIRE_FEED…`.
pub(crate) fn run(arguments: &AtArguments, output: &mut Output) -> Result<Exit, Failure> {
    let document = LineDocument::load(&arguments.line)?;
    let record = document.body();
    let shift = shift(arguments, record)?;
    if arguments.heat_input_kj_mm.is_some() && record.line.nodes.iter().any(|n| n.heat_input_kj_mm.is_none()) {
        return Err(Failure::Usage(
            "the line holds no heat input: state [line].travel_speed_mm_s in the study and develop it again".to_owned(),
        ));
    }
    let mut given = Given::default();
    let mut backwards = Vec::new();
    for &wire_feed in &arguments.wire_feed {
        one(record, wire_feed, shift, output, &mut given);
    }
    for (wanted, words) in wanted(arguments) {
        backwards.push(one_backwards(record, wanted, &words, shift, output, &mut given)?);
    }
    if given.nodes.len() > 1 {
        output.text("");
        output.heading("side by side");
        output.tell_all(&node_table(&given.nodes, output.screen().width));
    }
    output.picture(&line_picture(record, &given.feeds(), &given.nodes, output.screen()));
    output.text("");
    output.text(&format!("{}: {}, {}", record.name, wire_words(&record.wire), standing(record)));
    output.text("a line is a starting point: qualify the procedure under the code that applies");
    output.next(&after_at(record, &arguments.line, &given.asked));
    let all_there = given.asked.iter().all(|a| matches!(a, Asked::Setting(..)));
    output.json(&json!({
        "line": { "name": record.name, "checksum": document.checksum(), "standing": record.line.standing, "confidence": record.confidence },
        "cautions": document.cautions(),
        "at": given.answers,
        "backwards": backwards,
    }));
    Ok(if all_there { Exit::Done } else { Exit::InPart })
}

/// What was answered so far, as JSON and for what follows from it.
#[derive(Debug, Default)]
struct Given {
    answers: Vec<Value>,
    asked: Vec<Asked>,
    /// The settings that were found, shifted where that was asked for.
    nodes: Vec<Node>,
}

impl Given {
    /// The feeds that were looked at.
    fn feeds(&self) -> Vec<f64> {
        let feed = |a: &Asked| match a {
            Asked::Setting(f, _) | Asked::ShiftRefused(f) | Asked::Nothing(f) => *f,
        };
        self.asked.iter().map(feed).filter(|f| f.is_finite()).collect()
    }
}

/// The shift asked for, refused at once where no weld could have it or the line file does not suffice.
fn shift(arguments: &AtArguments, record: &LineRecord) -> Result<Option<Shift>, Failure> {
    let shift = Shift { arc_length_mm: arguments.arc_length_mm, drop_to_wire_ratio: arguments.drop_to_wire_ratio };
    if shift == Shift::default() {
        return Ok(None);
    }
    shift.is_possible(record.conditions.ctwd_mm).map_err(|e| Failure::Usage(e.to_string()))?;
    record.study().map_err(|e| Failure::Mismatch(format!("{}: {e}", arguments.line.display())))?;
    Ok(Some(shift))
}

fn standing(record: &LineRecord) -> String {
    let states: Vec<&str> = record.line.standing.iter().map(|s| s.state.as_str()).collect();
    if states.is_empty() { "no standing".to_owned() } else { states.join(", ") }
}

/// One feed, as it was asked for.
fn one(record: &LineRecord, wire_feed: f64, shift: Option<Shift>, output: &mut Output, given: &mut Given) {
    if !given.asked.is_empty() {
        output.text("");
    }
    match at(record, wire_feed) {
        Ok(node) => {
            let standing = record.line.standing_at(wire_feed).word();
            let mut entry = json!({ "asked": null, "wire_feed_m_min": wire_feed, "status": "ok", "code": 0, "support": node.support, "support_reason": support_reason(record, &node), "standing": standing, "setting": node });
            match shift {
                None => given.setting(node, None, record, output),
                Some(shift) => {
                    entry["shift"] = match shifted(record, wire_feed, shift) {
                        Ok(shifted) => given.shifted(shifted, None, record, output),
                        Err(error) => given.refused(wire_feed, shift, &error.to_string(), &limits_of(&error), output),
                    }
                }
            }
            given.answers.push(entry);
        }
        Err(NoSetting { status, support, standing, reason, limits }) => {
            let heading = format!("! {} m/min  no setting ({})", feed_as_typed(wire_feed), status.word());
            output.tell(&Told::heading(heading).toned(Tone::Warning));
            output.tell(&Told::new("  ", reason.as_str()));
            given.asked.push(Asked::Nothing(wire_feed));
            let (support, standing) = (support.map(Support::word), standing.map(Standing::word));
            given.answers.push(json!({ "asked": null, "wire_feed_m_min": wire_feed, "status": status.word(), "code": status.code(), "support": support, "standing": standing, "limits": limits, "reason": reason }));
        }
    }
}

/// The feeds that give something wanted, of the line's own settings or of all of them shifted.
fn one_backwards(
    record: &LineRecord,
    wanted: Wanted,
    words: &str,
    shift: Option<Shift>,
    output: &mut Output,
    given: &mut Given,
) -> Result<Value, Failure> {
    let ShiftedBackwards { found, settings, refused } = match shift {
        None => ShiftedBackwards { found: feeds_for(record, wanted), settings: Vec::new(), refused: Vec::new() },
        Some(shift) => feeds_for_shifted(record, wanted, shift).map_err(|e| Failure::Mismatch(e.to_string()))?,
    };
    if !given.asked.is_empty() {
        output.text("");
    }
    let shift_words = shift.map_or(String::new(), |s| format!(", {}", s.words(6)));
    output.text(&format!("{words}{shift_words}: {}", found.reason));
    if found.answers.is_empty() && refused.is_empty() {
        given.asked.push(Asked::Nothing(found.nearest.as_ref().map_or(f64::NAN, |n| n.wire_feed_m_min)));
        given.answers.push(
            json!({ "asked": words, "status": "none", "reason": found.reason, "nearest": found.nearest, "shift": shift }),
        );
    }
    let mut settings = settings.into_iter();
    for answer in &found.answers {
        let wire_feed = answer.wire_feed_m_min;
        let Ok(node) = at(record, wire_feed) else { continue };
        let mut entry = json!({ "asked": words, "wire_feed_m_min": wire_feed, "status": "ok", "code": 0, "support_reason": support_reason(record, &node), "setting": node, "answer": answer });
        match settings.next() {
            None => given.setting(node, Some(answer), record, output),
            Some(setting) => entry["shift"] = given.shifted(setting, Some(answer), record, output),
        }
        given.answers.push(entry);
    }
    let refused_shift = shift.unwrap_or_default();
    for refused in &refused {
        let shown = to_the_millimetre(refused.wire_feed_m_min);
        let value = given.refused(shown, refused_shift, &refused.reason, &refused.limits, output);
        given.answers.push(json!({ "asked": words, "wire_feed_m_min": refused.wire_feed_m_min, "status": "refused", "reason": refused.reason, "limits": refused.limits, "shift": value }));
    }
    Ok(json!({ "asked": words, "shift": shift, "found": found, "refused": refused }))
}

impl Given {
    fn found(&mut self, mut node: Node, answer: Option<&Answer>) {
        node.wire_feed_m_min = as_typed(node.wire_feed_m_min, answer);
        self.asked.push(Asked::Setting(node.wire_feed_m_min, node.support.clone()));
        self.nodes.push(node);
    }

    /// A setting as the line has it.
    fn setting(&mut self, node: Node, answer: Option<&Answer>, record: &LineRecord, output: &mut Output) {
        show(record, &node, None, answer, output);
        self.found(node, answer);
    }

    /// A shifted setting, and it as JSON.
    fn shifted(
        &mut self,
        shifted: Shifted,
        answer: Option<&Answer>,
        record: &LineRecord,
        output: &mut Output,
    ) -> Value {
        show(record, &shifted.setting, Some(shifted.asked), answer, output);
        output.tell_all(&shift_lines(&shifted));
        let mut value = json!(shifted);
        value["status"] = json!("ok");
        self.found(shifted.setting, answer);
        value
    }

    /// Why a setting cannot be shifted as asked for, and it as JSON.
    fn refused(&mut self, wire_feed: f64, shift: Shift, reason: &str, limits: &[String], output: &mut Output) -> Value {
        let heading = format!("! {} m/min, {}  no such setting", feed(wire_feed), shift.words(6));
        output.tell(&Told::heading(heading).toned(Tone::Warning));
        output.tell(&Told::new("  ", reason));
        self.asked.push(Asked::ShiftRefused(wire_feed));
        json!({ "asked": shift, "status": "refused", "limits": limits, "reason": reason })
    }
}

fn limits_of(error: &ShiftError) -> Vec<String> {
    match error {
        ShiftError::Refused { limits, .. } => limits.iter().map(|l| l.word().to_owned()).collect(),
        _ => Vec::new(),
    }
}

/// A feed as it was typed, or an answer as it is to be typed.
fn as_typed(wire_feed: f64, answer: Option<&Answer>) -> f64 {
    if answer.is_some() { to_the_millimetre(wire_feed) } else { wire_feed }
}

fn to_the_millimetre(wire_feed_m_min: f64) -> f64 {
    (wire_feed_m_min * 1e3).round() / 1e3
}

/// Why a setting of the line itself is covered or weaker.
fn support_reason(record: &LineRecord, node: &Node) -> String {
    support_words(record, node, record.conditions.arc_length_mm)
}

fn show(record: &LineRecord, node: &Node, shift: Option<Shift>, answer: Option<&Answer>, output: &mut Output) {
    let shifted = shift.map_or(String::new(), |s| format!(", {}", s.words(6)));
    let place = feed_as_typed(as_typed(node.wire_feed_m_min, answer));
    output.heading(&format!("{place} m/min{shifted}  {}", node.support));
    match (answer, shift) {
        (Some(answer), _) => output.tell_all(&answer_lines(record, answer)),
        // Below a shifted setting its own reason stands with what changed.
        (None, Some(_)) => {}
        (None, None) if node.support == Support::Covered.word() => {}
        (None, None) => output.tell(&Told::new("  ", format!("{}: {}", node.support, support_reason(record, node)))),
    }
    output.tell_all(&node_lines(record, node, output.screen().width));
}

fn wanted(arguments: &AtArguments) -> Vec<(Wanted, String)> {
    let mut all = Vec::new();
    if let Some(a) = arguments.current_a {
        all.push((Wanted::CurrentMeanA(a), format!("mean current {} A", short_number(a))));
    }
    if let Some(rate) = arguments.melting_rate_kg_h {
        all.push((Wanted::MeltingRateKgH(rate), format!("melting rate {} kg/h", short_number(rate))));
    }
    if let Some(heat) = arguments.heat_input_kj_mm {
        all.push((Wanted::HeatInputKjMm(heat), format!("heat input {} kJ/mm", short_number(heat))));
    }
    all
}

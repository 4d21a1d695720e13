//! The line at a wire feed speed, or backwards, as it stands or shifted.

use meltlaw::backwards::{Answer, Wanted, feeds_for};
use meltlaw::compose::{Shift, ShiftError, shifted};
use meltlaw::line::Node;
use meltlaw::line_at::{NoSetting, Standing, Support, at};
use meltlaw::record::LineRecord;
use meltlaw_files::LineDocument;
use meltlaw_report::numbers::feed;
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
    let mut given = Given::default();
    let mut backwards = Vec::new();
    for &wire_feed in &arguments.wire_feed {
        one(record, wire_feed, None, shift, output, &mut given);
    }
    for (wanted, words) in wanted(arguments) {
        if matches!(wanted, Wanted::HeatInputKjMm(_)) && record.line.nodes.iter().any(|n| n.heat_input_kj_mm.is_none())
        {
            return Err(Failure::Usage(
                "the line holds no heat input: state [line].travel_speed_mm_s in the study and develop it again"
                    .to_owned(),
            ));
        }
        let found = feeds_for(record, wanted);
        if !given.asked.is_empty() {
            output.text("");
        }
        output.text(&format!("{words}: {}", found.reason));
        if found.answers.is_empty() {
            given.asked.push(Asked::Nothing(found.nearest.as_ref().map_or(f64::NAN, |n| n.wire_feed_m_min)));
            given
                .answers
                .push(json!({ "asked": words, "status": "none", "reason": found.reason, "nearest": found.nearest }));
        }
        for answer in &found.answers {
            let asked = Some((words.as_str(), answer));
            one(record, answer.wire_feed_m_min, asked, shift, output, &mut given);
        }
        backwards.push(json!({ "asked": words, "found": found }));
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

/// One feed: asked for as it is, or the answer to something wanted.
fn one(
    record: &LineRecord,
    wire_feed: f64,
    asked: Option<(&str, &Answer)>,
    shift: Option<Shift>,
    output: &mut Output,
    given: &mut Given,
) {
    let words = asked.map(|(words, _)| words);
    if asked.is_none() && !given.asked.is_empty() {
        output.text("");
    }
    match at(record, wire_feed) {
        Ok(node) => {
            let standing = record.line.standing_at(wire_feed).word();
            let mut entry = json!({ "asked": words, "wire_feed_m_min": wire_feed, "status": "ok", "support": node.support, "standing": standing, "setting": node });
            if let Some((_, answer)) = asked {
                entry["answer"] = json!(answer);
            }
            let found = match shift {
                None => {
                    show(record, &node, None, asked.map(|(_, a)| a), output);
                    let support = node.support.clone();
                    given.nodes.push(node);
                    Asked::Setting(wire_feed, support)
                }
                Some(shift) => {
                    let (value, found) = one_shifted(record, wire_feed, shift, asked.map(|(_, a)| a), output, given);
                    entry["shift"] = value;
                    found
                }
            };
            given.answers.push(entry);
            given.asked.push(found);
        }
        Err(NoSetting { status, support, standing, reason, limits }) => {
            let heading = format!("! {} m/min  no setting ({})", feed(wire_feed), status.word());
            output.tell(&Told::heading(heading).toned(Tone::Warning));
            output.tell(&Told::new("  ", reason.as_str()));
            given.asked.push(Asked::Nothing(wire_feed));
            let (support, standing) = (support.map(Support::word), standing.map(Standing::word));
            given.answers.push(json!({ "asked": words, "wire_feed_m_min": wire_feed, "status": status.word(), "code": status.code(), "support": support, "standing": standing, "limits": limits, "reason": reason }));
        }
    }
}

/// A shifted setting, or why there is none, told and as JSON.
fn one_shifted(
    record: &LineRecord,
    wire_feed: f64,
    shift: Shift,
    answer: Option<&Answer>,
    output: &mut Output,
    given: &mut Given,
) -> (Value, Asked) {
    match shifted(record, wire_feed, shift) {
        Ok(shifted) => {
            show(record, &shifted.setting, Some(shift), answer, output);
            output.tell_all(&shift_lines(&shifted));
            let mut value = json!(shifted);
            value["status"] = json!("ok");
            let support = shifted.setting.support.clone();
            given.nodes.push(shifted.setting);
            (value, Asked::Setting(wire_feed, support))
        }
        Err(error) => {
            let heading = format!("! {} m/min, {}  no such setting", feed(wire_feed), shift.words(6));
            output.tell(&Told::heading(heading).toned(Tone::Warning));
            output.tell(&Told::new("  ", error.to_string()));
            let limits: Vec<&str> = match &error {
                ShiftError::Refused { limits, .. } => limits.iter().map(|l| l.word()).collect(),
                _ => Vec::new(),
            };
            let reason = error.to_string();
            (
                json!({ "asked": shift, "status": "refused", "limits": limits, "reason": reason }),
                Asked::ShiftRefused(wire_feed),
            )
        }
    }
}

fn show(record: &LineRecord, node: &Node, shift: Option<Shift>, answer: Option<&Answer>, output: &mut Output) {
    let shifted = shift.map_or(String::new(), |s| format!(", {}", s.words(6)));
    output.heading(&format!("{} m/min{shifted}  {}", feed(node.wire_feed_m_min), node.support));
    if let Some(answer) = answer {
        output.tell_all(&answer_lines(record, answer));
        if shift.is_some() {
            output.text("  so far the line itself, which gives what was asked for here; what follows is shifted");
        }
    }
    output.tell_all(&node_lines(record, node, output.screen().width));
}

fn wanted(arguments: &AtArguments) -> Vec<(Wanted, String)> {
    let mut all = Vec::new();
    if let Some(a) = arguments.current_a {
        all.push((Wanted::CurrentMeanA(a), format!("mean current {a} A")));
    }
    if let Some(rate) = arguments.melting_rate_kg_h {
        all.push((Wanted::MeltingRateKgH(rate), format!("melting rate {rate} kg/h")));
    }
    if let Some(heat) = arguments.heat_input_kj_mm {
        all.push((Wanted::HeatInputKjMm(heat), format!("heat input {heat} kJ/mm")));
    }
    all
}

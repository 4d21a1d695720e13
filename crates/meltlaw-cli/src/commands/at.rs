//! The line at a wire feed speed, or backwards.

use meltlaw::line_at::{NoSetting, Wanted, at, feeds_for};
use meltlaw::record::LineRecord;
use meltlaw_files::LineDocument;
use meltlaw_report::numbers::feed;

use crate::arguments::AtArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{node_lines, wire_words};

/// `meltlaw at LINE.json WIRE_FEED…`.
pub(crate) fn run(arguments: &AtArguments, output: &mut Output) -> Result<Exit, Failure> {
    let document = LineDocument::load(&arguments.line)?;
    let record = document.body();
    let mut answers = Vec::new();
    let mut all_there = true;
    for &wire_feed in &arguments.wire_feed {
        all_there &= one(record, wire_feed, None, output, &mut answers);
    }
    for (wanted, words) in wanted(arguments) {
        if matches!(wanted, Wanted::HeatInputKjMm(_)) && record.line.nodes.iter().any(|n| n.heat_input_kj_mm.is_none())
        {
            return Err(Failure::Usage(
                "the line holds no heat input: state [line].travel_speed_mm_s in the study and develop it again"
                    .to_owned(),
            ));
        }
        let feeds = feeds_for(record, wanted);
        output.text(&match feeds.len() {
            0 => format!("{words}: at no wire feed of this line"),
            1 => format!("{words}: at one wire feed"),
            n => format!("{words}: at {n} wire feeds"),
        });
        if feeds.is_empty() {
            all_there = false;
            answers.push(
                serde_json::json!({ "asked": words, "status": "none", "reason": "at no wire feed of this line" }),
            );
        }
        for wire_feed in feeds {
            all_there &= one(record, wire_feed, Some(&words), output, &mut answers);
        }
    }
    output.text(&format!("{}: {}, {}", record.name, wire_words(&record.wire), standing(record)));
    output.text("a line is a starting point: qualify the procedure under the code that applies");
    output.json(&serde_json::json!({
        "line": { "name": record.name, "checksum": document.checksum(), "standing": record.line.standing, "confidence": record.confidence },
        "cautions": document.cautions(),
        "at": answers,
    }));
    Ok(if all_there { Exit::Done } else { Exit::InPart })
}

fn standing(record: &LineRecord) -> String {
    let states: Vec<&str> = record.line.standing.iter().map(|s| s.state.as_str()).collect();
    if states.is_empty() { "no standing".to_owned() } else { states.join(", ") }
}

fn one(
    record: &LineRecord,
    wire_feed: f64,
    asked: Option<&str>,
    output: &mut Output,
    answers: &mut Vec<serde_json::Value>,
) -> bool {
    match at(record, wire_feed) {
        Ok(node) => {
            output.heading(&format!("{} m/min  {}", feed(wire_feed), node.support));
            node_lines(record, &node).iter().for_each(|l| output.text(l));
            answers.push(
                serde_json::json!({ "asked": asked, "wire_feed_m_min": wire_feed, "status": "ok", "setting": node }),
            );
            true
        }
        Err(NoSetting { status, reason, limits }) => {
            output.heading(&format!("{} m/min  no setting ({})", feed(wire_feed), status.word()));
            output.text(&format!("  {reason}"));
            answers.push(serde_json::json!({ "asked": asked, "wire_feed_m_min": wire_feed, "status": status.word(), "code": status.code(), "limits": limits, "reason": reason }));
            false
        }
    }
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

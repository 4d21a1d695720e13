//! The line as one function block of IEC 61131-3 structured text, in the plainest form: ASCII, names of at most 32
//! characters, one-dimensional arrays filled by assignments at the first call, `REAL` and `INT`, `IF` and `WHILE`, `SQRT`.
//!
//! ```text
//! line(wire_feed_m_min := 6.5);
//! IF line.Valid THEN ... line.pulse_current_a ... END_IF;
//! ```
//!
//! A setting holds while `Valid` is `TRUE`; on any `Status` but 0 it is `FALSE` and the setting is not written. `Status`,
//! `Standing` and `Support` are the codes of `meltlaw-line/src/codes.rs`. An open general parser of the language reads the
//! block in a test, and a controller of just this subset carries it out.

mod body;
mod reserved;
mod text;

use meltlaw_line::{Standing, Status, Support};
pub(super) use reserved::is_reserved;

use super::ExportError;
use super::facts::{facts, standing_words};
use super::prefix::Prefix;
use super::single::{SingleLine, number_text};
use super::wrapped::comment_lines;
use crate::document::LineDocument;

/// A variable of the block.
struct Variable {
    name: String,
    /// Its type, and its value before the first call.
    of: String,
    about: String,
}

/// An array and what it holds.
struct Array {
    name: String,
    of: &'static str,
    values: Vec<String>,
}

/// The block's text.
pub(super) fn structured_text(document: &LineDocument, name: &Prefix) -> Result<String, ExportError> {
    let line = SingleLine::of(&document.body().line)?;
    let (inputs, outputs, arrays) = (inputs(), outputs(&line), arrays(&line));
    let inner = inner(&line, &arrays);
    let taken = |v: &Variable| v.name.eq_ignore_ascii_case(name.as_str());
    if inputs.iter().chain(&outputs).chain(&inner).any(taken) {
        return Err(ExportError::NameTaken(name.clone()));
    }
    let mut out = String::from("(*\n");
    for fact in comment_lines(&facts(document), text::in_comment) {
        out.push_str(&format!("  {fact}\n"));
    }
    out.push_str(USE);
    out.push_str(&format!("FUNCTION_BLOCK {name}\n"));
    for (section, variables) in [("VAR_INPUT", &inputs), ("VAR_OUTPUT", &outputs), ("VAR", &inner)] {
        out.push_str(&format!("{section}\n"));
        for Variable { name, of, about } in variables {
            out.push_str(&format!("    {name} : {of}; (* {about} *)\n"));
        }
        out.push_str("END_VAR\n");
    }
    first_call(&mut out, document, &arrays);
    each_call(&mut out, &line);
    Ok(out)
}

/// What the comment ends with.
const USE: &str = "
  A setting holds while Valid is TRUE. On any Status but 0 Valid is FALSE and the setting is not written.
  Numbers are single precision, units stand at the end of names.
*)
";

fn variable(name: &str, of: &str, about: &str) -> Variable {
    Variable { name: name.to_owned(), of: of.to_owned(), about: about.to_owned() }
}

fn inputs() -> Vec<Variable> {
    vec![variable("wire_feed_m_min", "REAL := 0.0", "wire feed speed, m/min")]
}

fn outputs(line: &SingleLine) -> Vec<Variable> {
    let codes = |words: Vec<(u8, &str)>| {
        words.iter().map(|(code, word)| format!("{code} {word}")).collect::<Vec<_>>().join(", ")
    };
    let statuses = codes(Status::ALL.iter().map(|s| (s.code(), s.word())).collect());
    let standings = codes(Standing::ALL.iter().map(|s| (s.code(), s.word())).collect());
    let supports = codes(Support::ALL.iter().map(|s| (s.code(), s.word())).collect());
    let before = Status::NotANumber.code();
    let mut outputs = vec![
        variable("Valid", "BOOL := FALSE", "TRUE: the setting holds"),
        variable("Status", &format!("INT := {before}"), &statuses),
        variable("Standing", &format!("INT := {}", Standing::Proposed.code()), &standings),
        variable("Support", "INT := 0", &format!("0 no setting, {supports}")),
    ];
    for (name, about) in [
        ("pulse_current_a", "A"),
        ("pulse_time_ms", "ms, width at half height"),
        ("pulse_frequency_hz", "Hz"),
        ("background_current_a", "A"),
        ("background_time_ms", "ms, 1000/frequency - pulse time"),
        ("rise_a_per_ms", "A/ms"),
        ("fall_a_per_ms", "A/ms, positive"),
        ("current_mean_a", "A, mean"),
        ("current_rms_a", "A, root mean square"),
        ("voltage_mean_v", "V, mean between contact tip and work"),
    ] {
        outputs.push(variable(name, "REAL := 0.0", about));
    }
    for column in &line.band {
        let about = "where the reading of a single weld should lie";
        outputs.push(variable(&format!("next_weld_{}", column.name), "REAL := 0.0", about));
    }
    for (name, about) in IDENTITY {
        outputs.push(variable(name, "STRING", about));
    }
    outputs.push(variable("format_version", "INT := 0", "version of the form of line.json"));
    outputs
}

/// What tells a line from others while the controller runs.
const IDENTITY: [(&str, &str); 4] = [
    ("line_name", "the line, at most 80 characters"),
    ("line_standing", "its standing in words, at most 80 characters"),
    ("made_by", "tool and version"),
    ("checksum", "SHA-256 of line.json"),
];

fn arrays(line: &SingleLine) -> Vec<Array> {
    let reals = |values: &mut dyn Iterator<Item = f32>| values.map(literal).collect::<Vec<_>>();
    let codes = |values: &mut dyn Iterator<Item = u8>| values.map(|v| v.to_string()).collect::<Vec<_>>();
    let real = |name: String, values: &mut dyn Iterator<Item = f32>| Array { name, of: "REAL", values: reals(values) };
    let mut arrays = vec![real("node_wire_feed_m_min".to_owned(), &mut line.wire_feed_m_min.iter().copied())];
    for column in &line.settings {
        arrays.push(real(format!("node_{}", column.name), &mut column.values.iter().copied()));
    }
    for column in &line.band {
        arrays.push(real(format!("band_{}", column.name), &mut column.values.iter().copied()));
    }
    arrays.push(Array { name: "node_support".to_owned(), of: "INT", values: codes(&mut line.support.iter().copied()) });
    arrays.push(real("gap_low_m_min".to_owned(), &mut line.gaps_m_min.iter().map(|g| g[0])));
    arrays.push(real("gap_high_m_min".to_owned(), &mut line.gaps_m_min.iter().map(|g| g[1])));
    arrays.push(real("standing_low_m_min".to_owned(), &mut line.standing.iter().map(|s| s.wire_feed_m_min[0])));
    arrays.push(real("standing_high_m_min".to_owned(), &mut line.standing.iter().map(|s| s.wire_feed_m_min[1])));
    let standing = codes(&mut line.standing.iter().map(|s| s.standing.code()));
    arrays.push(Array { name: "standing_code".to_owned(), of: "INT", values: standing });
    // There is no array without an element; the loops over those are left out too.
    arrays.retain(|array| !array.values.is_empty());
    arrays
}

fn inner(line: &SingleLine, arrays: &[Array]) -> Vec<Variable> {
    let several = line.wire_feed_m_min.len() > 1;
    let ranges = !line.gaps_m_min.is_empty() || !line.standing.is_empty();
    let mut inner = vec![variable("ready", "BOOL := FALSE", "TRUE once the tables are filled")];
    for Array { name, of, values } in arrays {
        inner.push(variable(name, &format!("ARRAY [1..{}] OF {of}", values.len()), "filled at the first call"));
    }
    for (wanted, name, of, about) in [
        (several, "node", "INT := 1", "counts nodes"),
        (ranges, "range", "INT := 1", "counts ranges"),
        (true, "lower_node", "INT := 1", "last node not above the wire feed"),
        (true, "upper_node", "INT := 1", "the node after it, the same at a node"),
        (true, "upper_weight", "REAL := 0.0", "weight of the upper node"),
        (several, "feed_low_m_min", "REAL := 0.0", "wire feed of the lower node"),
        (several, "feed_high_m_min", "REAL := 0.0", "wire feed of the upper node"),
        (true, "found_status", "INT := 0", "status before it is given"),
        (true, "found_standing", "INT := 0", "standing before it is given"),
        (true, "frequency_khz", "REAL := 0.0", "kHz"),
        (true, "step_a", "REAL := 0.0", "A, pulse above background"),
        (true, "ramp_ms_per_a", "REAL := 0.0", "ms/A, both slopes"),
        (true, "above_a2_ms", "REAL := 0.0", "A^2*ms, of one pulse above the background"),
    ] {
        if wanted {
            inner.push(variable(name, of, about));
        }
    }
    inner
}

/// Fills what does not change.
fn first_call(out: &mut String, document: &LineDocument, arrays: &[Array]) {
    let record = document.body();
    let standing = standing_words(&record.line);
    let words = [record.name.as_str(), standing.as_str(), document.provenance().tool.as_str(), document.checksum()];
    out.push_str("\nIF NOT ready THEN\n");
    for ((name, _), words) in IDENTITY.iter().zip(words) {
        out.push_str(&format!("    {name} := {};\n", text::string(words)));
    }
    out.push_str(&format!("    format_version := {};\n", document.format_version()));
    for Array { name, values, .. } in arrays {
        for (index, value) in (1..).zip(values) {
            out.push_str(&format!("    {name}[{index}] := {value};\n"));
        }
    }
    out.push_str("    ready := TRUE;\nEND_IF;\n");
}

fn each_call(out: &mut String, line: &SingleLine) {
    let (several, gaps) = (line.wire_feed_m_min.len() > 1, !line.gaps_m_min.is_empty());
    let mut text = String::new();
    for (wanted, piece) in [
        (true, body::BEGIN),
        (!line.standing.is_empty(), body::STANDING),
        (true, body::ENDS),
        (several, body::PLACE),
        (several && gaps, body::GAPS),
        (several, body::PLACE_END),
        (true, body::SEARCH_END),
    ] {
        if wanted {
            text.push_str(piece);
        }
    }
    let linear = |output: &str, table: &str| body::LINEAR.replace("{output}", output).replace("{table}", table);
    for column in &line.settings {
        text.push_str(&linear(column.name, &format!("node_{}", column.name)));
    }
    for column in &line.band {
        text.push_str(&linear(&format!("next_weld_{}", column.name), &format!("band_{}", column.name)));
    }
    text.push_str(body::FOLLOWS);
    text.push_str(body::END);
    for status in Status::ALL {
        text = text.replace(&format!("{{{}}}", status.word()), &status.code().to_string());
    }
    let withdrawn = Standing::Withdrawn.code().to_string();
    let counts = [
        ("{proposed}", Standing::Proposed.code().to_string()),
        ("{standing_withdrawn}", withdrawn),
        ("{nodes}", line.wire_feed_m_min.len().to_string()),
        ("{gaps}", line.gaps_m_min.len().to_string()),
        ("{standing_ranges}", line.standing.len().to_string()),
    ];
    for (word, count) in counts {
        text = text.replace(word, &count);
    }
    out.push_str(&text);
}

/// A `REAL` literal.
fn literal(value: f32) -> String {
    number_text(value).replace('e', "E")
}

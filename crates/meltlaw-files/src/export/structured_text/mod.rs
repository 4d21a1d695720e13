//! The line as one function block of IEC 61131-3 structured text, in the plainest form: ASCII, names of at most 32
//! characters, one-dimensional arrays, `REAL` and `INT`, `IF` and `WHILE`, `SQRT`. Names are those of `line.json` and of
//! the C header: lower case for what changes, capitals for what does not, units at the end. Inputs and outputs are single
//! variables and not members of a structure, so that they can be wired in the graphical languages as well.
//!
//! ```text
//! line(wire_feed_m_min := 6.5);
//! IF line.valid THEN ... line.pulse_current_a ... END_IF;
//! ```
//!
//! A setting holds while `valid` is `TRUE`; on any `status` but 0 it is `FALSE` and the outputs of the setting keep the
//! values of the last valid call. `status`, `support` and `standing` are the codes of `meltlaw-line/src/codes.rs`.
//!
//! # Why the tables are initialised constants whose names end with a part of the checksum
//!
//! Tables that assignments fill once stay as they are when a new line is loaded by an online change or meets retained
//! memory: the new code would then read the old line. Two ways out were weighed. Filling again whenever a stored checksum
//! differs from the literal one needs nothing but assignments, which every compiler takes; but it makes a line of 5000 nodes
//! 70 000 statements that run in one cycle. Initialised constants take no time, a quarter of the text, and no memory of an
//! instance; but a controller may keep a constant of the same name at an online change, and some open compilers took array
//! initialisers late. So the names of the tables end with the beginning of the line's checksum: a table of another line has
//! another name and is always filled from the new text, wherever the controller keeps it. Ranges of standing and gaps, the
//! ends of the line and the texts that identify it are literals in the code.
//!
//! An open general parser of the language reads the block in a test, all but the array initialisers, which it does not know;
//! a controller of just this subset carries it out.

mod body;
mod constants;
mod reserved;
mod text;

use constants::{Constant, constants, key, literal};
use meltlaw_line::{Standing, Status, Support};
pub(super) use reserved::is_reserved;

use super::ExportError;
use super::facts::{facts, standing_words};
use super::prefix::Prefix;
use super::single::SingleLine;
use super::wrapped::comment_lines;
use crate::document::LineDocument;

/// The most nodes that an `INT` counts.
const MOST_NODES: usize = 32_767;

/// A variable of the block.
struct Variable {
    name: String,
    /// Its type, and its value before the first call.
    of: String,
    about: String,
}

/// The block's text.
pub(super) fn structured_text(document: &LineDocument, name: &Prefix) -> Result<String, ExportError> {
    let line = SingleLine::of(&document.body().line)?;
    let nodes = line.wire_feed_m_min.len();
    countable(nodes)?;
    let (inputs, outputs, inner) = (inputs(), outputs(&line), inner(&line));
    let taken = |v: &Variable| v.name.eq_ignore_ascii_case(name.as_str());
    if inputs.iter().chain(&outputs).chain(&inner).any(taken) {
        return Err(ExportError::NameTaken(name.clone()));
    }
    let key = key(document);
    let constants = constants(&line, &key);
    let mut block = format!("FUNCTION_BLOCK {name}\n");
    for (section, variables) in [("VAR_INPUT", &inputs), ("VAR_OUTPUT", &outputs), ("VAR", &inner)] {
        block.push_str(&format!("{section}\n"));
        for Variable { name, of, about } in variables {
            block.push_str(&format!("    {name} : {of}; (* {about} *)\n"));
        }
        block.push_str("END_VAR\n");
    }
    block.push_str("VAR CONSTANT\n");
    constants.iter().for_each(|constant| block.push_str(&constant.text()));
    block.push_str("END_VAR\n");
    identity(&mut block, document);
    each_call(&mut block, &line, &constants, &key);
    Ok(comment(document, &constants, nodes, &block) + &block)
}

/// Bytes of the block's constants.
pub(super) fn bytes(document: &LineDocument) -> Result<usize, ExportError> {
    Ok(bytes_of(&constants(&SingleLine::of(&document.body().line)?, &key(document))))
}

fn bytes_of(constants: &[Constant]) -> usize {
    constants.iter().map(Constant::bytes).sum()
}

/// An index is an `INT`.
fn countable(nodes: usize) -> Result<(), ExportError> {
    if nodes > MOST_NODES {
        return Err(ExportError::TooLong { rows: nodes, most: MOST_NODES, format: "structured text" });
    }
    Ok(())
}

/// What must be known before the block is used, and how much it takes.
fn comment(document: &LineDocument, constants: &[Constant], nodes: usize, block: &str) -> String {
    let mut out = String::from("(*\n");
    for fact in comment_lines(&facts(document), text::in_comment) {
        out.push_str(&format!("  {fact}\n"));
    }
    let bytes = bytes_of(constants).to_string();
    let mut end = USE.replace("{nodes}", &nodes.to_string()).replace("{bytes}", &bytes);
    let lines = out.lines().count() + end.lines().count() + block.lines().count();
    end = end.replace("{lines}", &lines.to_string());
    out + &end
}

/// What the comment ends with.
const USE: &str = "
  A setting holds while valid is TRUE. On any status but 0 valid is FALSE, and the outputs of the setting keep the values
  of the last valid call; support and standing are told where the feed has them, otherwise they are 0.
  After a download, an online change or a restart with retained memory call the block before reading its outputs.
  Numbers are single precision, units stand at the end of names. Names of tables end with a part of the checksum.
  Size: {nodes} nodes, {bytes} bytes of constants, {lines} lines of text.
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
    let supports = codes(Support::ALL.iter().map(|s| (s.code(), s.word())).collect());
    let standings = codes(Standing::ALL.iter().map(|s| (s.code(), s.word())).collect());
    let before = Status::NotANumber.code();
    let mut outputs = vec![
        variable("valid", "BOOL := FALSE", "TRUE: the setting holds"),
        variable("status", &format!("INT := {before}"), &statuses),
        variable("support", "INT := 0", &format!("0 none, {supports}")),
        variable("standing", "INT := 0", &format!("0 none, {standings}")),
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

/// What each call works with; nothing of it is read before it is written.
fn inner(line: &SingleLine) -> Vec<Variable> {
    let several = line.wire_feed_m_min.len() > 1;
    let mut inner = Vec::new();
    for (wanted, name, of, about) in [
        (true, "found_status", "INT := 0", "status before it is given"),
        (true, "lower_node", "INT := 1", "last node not above the wire feed"),
        (true, "upper_node", "INT := 1", "the node after it, the same at a node"),
        (several, "nodes_left", "INT := 1", "nodes among which the lower one is searched"),
        (several, "half", "INT := 1", "half of them"),
        (true, "upper_weight", "REAL := 0.0", "weight of the upper node"),
        (several, "feed_low_m_min", "REAL := 0.0", "wire feed of the lower node"),
        (several, "feed_high_m_min", "REAL := 0.0", "wire feed of the upper node"),
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

/// Writes which line this is.
fn identity(out: &mut String, document: &LineDocument) {
    let record = document.body();
    let standing = standing_words(&record.line);
    let words = [record.name.as_str(), standing.as_str(), document.provenance().tool.as_str(), document.checksum()];
    out.push('\n');
    for ((name, _), words) in IDENTITY.iter().zip(words) {
        out.push_str(&format!("{name} := {};\n", text::string(words)));
    }
    out.push_str(&format!("format_version := {};\n", document.format_version()));
}

fn each_call(out: &mut String, line: &SingleLine, constants: &[Constant], key: &str) {
    let several = line.wire_feed_m_min.len() > 1;
    let ends =
        |piece: &str, [low, high]: [f32; 2]| piece.replace("{low}", &literal(low)).replace("{high}", &literal(high));
    let mut text = String::from(body::BEGIN);
    for range in &line.standing {
        let piece = ends(body::STANDING, range.wire_feed_m_min);
        text.push_str(&piece.replace("{code}", &range.standing.code().to_string()));
    }
    if several {
        text.push_str(body::SEARCH);
        line.gaps_m_min.iter().for_each(|gap| text.push_str(&ends(body::GAP, *gap)));
        text.push_str(body::SEARCH_END);
    }
    let support_by_node = constants.last().is_some_and(Constant::by_node);
    text.push_str(if support_by_node { body::SUPPORT } else { body::ONE_SUPPORT });
    text.push_str(body::REFUSALS);
    let bands = line.band.iter().map(|column| format!("next_weld_{}", column.name));
    let given = line.settings.iter().map(|column| column.name.to_owned()).chain(bands);
    // The first constant is the feeds, the last the support.
    for (output, constant) in given.zip(&constants[1..]) {
        let piece = if constant.by_node() { body::LINEAR } else { body::CONSTANT };
        text.push_str(&piece.replace("{output}", &output).replace("{table}", &constant.name));
    }
    text.push_str(body::FOLLOWS);
    out.push_str(&with_codes(text, line, key));
}

/// The text with codes, ends and key in the place of their words.
fn with_codes(mut text: String, line: &SingleLine, key: &str) -> String {
    for status in Status::ALL {
        text = text.replace(&format!("{{{}}}", status.word()), &status.code().to_string());
    }
    let feed = |feed: Option<&f32>| feed.map(|feed| literal(*feed)).unwrap_or_default();
    for (word, written) in [
        ("{proposed}", Standing::Proposed.code().to_string()),
        ("{standing_withdrawn}", Standing::Withdrawn.code().to_string()),
        ("{standing_contradicted}", Standing::Contradicted.code().to_string()),
        ("{first_m_min}", feed(line.wire_feed_m_min.first())),
        ("{last_m_min}", feed(line.wire_feed_m_min.last())),
        ("{nodes}", line.wire_feed_m_min.len().to_string()),
        ("{key}", key.to_owned()),
    ] {
        text = text.replace(word, &written);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_nodes_than_an_index_counts_are_refused() {
        assert_eq!(countable(32_767), Ok(()));
        assert!(matches!(countable(32_768), Err(ExportError::TooLong { rows: 32_768, most: 32_767, .. })));
    }
}

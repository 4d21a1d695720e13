//! The function block: read by an open parser of IEC 61131-3, carried out by a controller of just its own subset, and asked at a
//! thousand feeds.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

#[path = "exported/controller.rs"]
mod controller;
mod exported;

use controller::{Instance, Value};
use exported::{Answer, HOSTILE, NUMBERS, Setting, answers, compare, feeds, hostile, lines, long};
use meltlaw_files::{ExportError, ExportFormat, LineDocument, export};

fn block(document: &LineDocument, name: &str) -> String {
    let bytes = export(document, ExportFormat::StructuredText(name.parse().unwrap())).unwrap();
    String::from_utf8(bytes).unwrap()
}

/// What the block answers; on any status but 0 it may not have written a setting.
fn ask(instance: &mut Instance, feed: f32) -> Answer {
    let numbers = |instance: &Instance| NUMBERS.map(|name| instance.real(name));
    let before = numbers(instance);
    instance.call(feed);
    let (status, standing) = (instance.code("Status"), instance.code("Standing"));
    let after = numbers(instance);
    assert_eq!(*instance.value("Valid"), Value::Bool(status == 0), "{feed:?}");
    if status != 0 {
        assert_eq!(before.map(f32::to_bits), after.map(f32::to_bits), "{feed:?}");
        assert_eq!(instance.code("Support"), 0, "{feed:?}");
        return Answer { status, standing, setting: None };
    }
    Answer { status, standing, setting: Some(Setting { support: instance.code("Support"), numbers: after }) }
}

#[test]
fn the_block_agrees_with_the_evaluator_at_a_thousand_feeds() {
    for (name, document) in lines() {
        let line = &document.body().line;
        let feeds = feeds(line);
        let mut instance = Instance::new(&block(&document, "synergic_line"));
        let found: Vec<Answer> = feeds.iter().map(|feed| ask(&mut instance, *feed)).collect();
        compare(name, &feeds, &answers(line, &feeds), &found);
        assert_eq!(*instance.value("checksum"), Value::Text(document.checksum().to_owned()));
        assert_eq!(*instance.value("format_version"), Value::Int(2));
    }
}

#[test]
fn before_the_first_call_nothing_is_valid() {
    let instance = Instance::new(&block(&long(), "synergic_line"));
    assert_eq!(*instance.value("Valid"), Value::Bool(false));
    assert_eq!((instance.code("Status"), instance.code("Support")), (4, 0));
}

/// The text without its comments and with each string as `''`; comments must not nest and must end.
fn code_alone(text: &str) -> (String, Vec<String>) {
    let (mut code, mut strings, mut rest) = (String::new(), Vec::new(), text);
    while let Some(at) = rest.find(['(', '\'']) {
        code.push_str(&rest[..at]);
        rest = &rest[at..];
        if let Some(comment) = rest.strip_prefix("(*") {
            let (inside, after) = comment.split_once("*)").unwrap();
            assert!(!inside.contains("(*"), "nested: {inside}");
            rest = after;
        } else if let Some(string) = rest.strip_prefix('\'') {
            let (inside, after) = string.split_once('\'').unwrap();
            strings.push(inside.to_owned());
            code.push_str("''");
            rest = after;
        } else {
            code.push('(');
            rest = &rest[1..];
        }
    }
    code.push_str(rest);
    (code, strings)
}

/// Words of the code, in capitals.
fn words(code: &str) -> Vec<String> {
    let word = |c: char| !c.is_ascii_alphanumeric() && c != '_' && c != '.';
    let letter = |w: &&str| w.starts_with(|c: char| c.is_ascii_alphabetic());
    code.split(word).filter(letter).map(str::to_ascii_uppercase).collect()
}

#[test]
fn the_text_keeps_to_the_plainest_form() {
    let known = [
        "FUNCTION_BLOCK",
        "END_FUNCTION_BLOCK",
        "VAR_INPUT",
        "VAR_OUTPUT",
        "VAR",
        "END_VAR",
        "BOOL",
        "INT",
        "REAL",
        "STRING",
        "ARRAY",
        "OF",
        "TRUE",
        "FALSE",
        "IF",
        "THEN",
        "ELSIF",
        "END_IF",
        "WHILE",
        "DO",
        "END_WHILE",
        "NOT",
        "AND",
        "SQRT",
    ];
    for (_, document) in lines() {
        let text = block(&document, "synergic_line");
        for fact in ["wire: ", "measured: ", "caution: ", "made by: ", "between nodes: "] {
            assert!(text.contains(&format!("\n  {fact}")), "{fact}");
        }
        assert!(text.is_ascii() && !text.contains(['\r', '\t']));
        let (code, strings) = code_alone(&text);
        assert!(strings.iter().all(|s| s.len() <= 80), "{strings:?}");
        assert!(!code.contains(['"', '{', '}', '#', '%', '\\']) && !code.contains("//"), "a mark that is no code");
        let instance = Instance::new(&text);
        let mut names: Vec<String> = instance.names().iter().map(|n| n.to_ascii_uppercase()).collect();
        let declared = names.len();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), declared, "names differ by more than case");
        for name in &names {
            assert!(name.len() <= 32 && !name.contains("__") && !name.ends_with('_'), "{name}");
            // A prefix may not be a word of the language; nor may any other name.
            assert!(name == "SYNERGIC_LINE" || name.parse::<meltlaw_files::Prefix>().is_ok(), "{name}");
        }
        for word in words(&code) {
            assert!(known.contains(&word.as_str()) || names.contains(&word), "{word} is neither known nor declared");
        }
        assert!(code.lines().all(|l| l.len() <= 120), "a line beyond 120 characters");
    }
}

#[test]
fn hostile_text_is_text_and_changes_no_line_of_code() {
    let (tame, hostile) = (long(), hostile(&long()));
    let code = |document: &LineDocument| code_alone(&block(document, "line")).0;
    assert_eq!(code(&tame), code(&hostile));

    let mut instance = Instance::new(&block(&hostile, "line"));
    instance.call(4.5);
    // The controller reads the very text back, up to what a string holds.
    let Value::Text(name) = instance.value("line_name") else { panic!("a text") };
    let stated = HOSTILE.join("");
    assert!(name.ends_with("...") && stated.starts_with(name.trim_end_matches('.')), "{name}");
    assert!(name.len() > 60, "{name}");
}

#[test]
fn a_name_that_a_variable_has_is_refused() {
    for name in ["Status", "WIRE_FEED_M_MIN", "ready", "Node_Support"] {
        let refused = export(&long(), ExportFormat::StructuredText(name.parse().unwrap())).unwrap_err();
        assert_eq!(refused, ExportError::NameTaken(name.parse().unwrap()));
    }
    assert!("Function".parse::<meltlaw_files::Prefix>().is_err());
}

//! The function block: read by an open parser of IEC 61131-3, carried out by a controller of just its own subset, and asked at a
//! thousand feeds.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

#[path = "exported/controller.rs"]
mod controller;
mod exported;

use controller::{Instance, Value};
use exported::{Answer, HOSTILE, NUMBERS, answers, compare, feeds, hostile, lines, long};
use meltlaw_files::{ExportError, ExportFormat, LineDocument, export, tables_size};

fn block(document: &LineDocument, name: &str) -> String {
    let bytes = export(document, ExportFormat::StructuredText(name.parse().unwrap())).unwrap();
    String::from_utf8(bytes).unwrap()
}

/// What the block answers; on any status but 0 it may not have written a setting.
fn ask(instance: &mut Instance, feed: f32) -> Answer {
    let numbers = |instance: &Instance| NUMBERS.map(|name| instance.real(name));
    let before = numbers(instance);
    instance.call(feed);
    let (status, support, standing) = (instance.code("status"), instance.code("support"), instance.code("standing"));
    let after = numbers(instance);
    assert_eq!(*instance.value("valid"), Value::Bool(status == 0), "{feed:?}");
    if status != 0 {
        assert_eq!(before.map(f32::to_bits), after.map(f32::to_bits), "{feed:?}");
        return Answer { status, support, standing, numbers: None };
    }
    Answer { status, support, standing, numbers: Some(after) }
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
fn after_an_online_change_or_with_retained_memory_the_answers_are_those_of_the_new_line() {
    let old = long();
    // As many nodes, ranges and gaps as before, so that everything has the same shape.
    let mut body = old.body().clone();
    body.name = "the new line".to_owned();
    for node in &mut body.line.nodes {
        node.pulse_current_a += 20.0;
        node.next_weld.voltage_mean_v[1] += 1.0;
        node.support = "carried".to_owned();
    }
    body.line.standing.swap(0, 3);
    body.line.standing[0].wire_feed_m_min = [4.5, 5.0];
    let new = LineDocument::new(body, old.cautions().to_vec(), old.provenance().clone()).unwrap();

    let mut running = Instance::new(&block(&old, "synergic_line"));
    let old_line = &old.body().line;
    for feed in feeds(old_line) {
        running.call(feed);
    }
    let mut changed = running.changed_online(&block(&new, "synergic_line"));
    let line = &new.body().line;
    let feeds = feeds(line);
    let found: Vec<Answer> = feeds.iter().map(|feed| ask(&mut changed, *feed)).collect();
    compare("changed online", &feeds, &answers(line, &feeds), &found);
    assert_ne!(answers(line, &feeds), answers(old_line, &feeds));
    assert_eq!(*changed.value("checksum"), Value::Text(new.checksum().to_owned()));
    assert_eq!(*changed.value("line_name"), Value::Text("the new line".to_owned()));
}

#[test]
fn before_the_first_call_nothing_is_valid() {
    let instance = Instance::new(&block(&long(), "synergic_line"));
    assert_eq!(*instance.value("valid"), Value::Bool(false));
    assert_eq!(["status", "support", "standing"].map(|name| instance.code(name)), [4, 0, 0]);
}

#[test]
fn a_column_that_holds_one_value_is_one_constant_and_the_comment_says_the_size() {
    let slopes = |line: &mut meltlaw::line::Line| {
        for node in &mut line.nodes {
            (node.rise_a_per_ms, node.fall_a_per_ms) = (600.0, 500.0);
            node.support = "covered".to_owned();
        }
        line.nodes[1].pulse_time_ms += 0.01;
    };
    let document = exported::changed(slopes);
    let text = block(&document, "line");
    let key = document.checksum()[..6].to_uppercase();
    for constant in [format!("NODE_RISE_A_PER_MS_{key} : REAL := 600.0;"), format!("NODE_SUPPORT_{key} : INT := 1;")] {
        assert!(text.contains(&constant), "{constant}");
    }
    let size = tables_size(&document, &ExportFormat::StructuredText("line".parse().unwrap())).unwrap().unwrap();
    let arrays = text.matches("ARRAY [1..3] OF REAL").count();
    // A REAL takes 4 bytes, the one INT 2; 14 columns are REAL.
    assert_eq!((size.nodes, size.bytes), (3, 4 * (3 * arrays + (14 - arrays)) + 2));
    let lines = text.lines().count();
    assert!(text.contains(&format!("\n  Size: 3 nodes, {} bytes of constants, {lines} lines of text.\n", size.bytes)));
}

#[test]
fn a_thousand_nodes_stay_a_text_that_a_person_can_load() {
    let document = exported::changed(|line| {
        let example = line.nodes[0].clone();
        line.unsupported.clear();
        line.nodes = (0..1000)
            .map(|i| {
                let step = f64::from(i) / 200.0;
                let mut node = example.clone();
                (node.wire_feed_m_min, node.pulse_frequency_hz) = (3.0 + step, 60.0 + step);
                node
            })
            .collect();
    });
    let text = block(&document, "line");
    // Two arrays, six values a line.
    assert!(text.lines().count() < 700, "{} lines", text.lines().count());
    let mut instance = Instance::new(&text);
    let feeds = [3.0, 4.2345, 7.99];
    let found = feeds.map(|feed| ask(&mut instance, feed));
    compare("a thousand nodes", &feeds, &answers(&document.body().line, &feeds), &found);
    // Halving: the steps of a call grow with the logarithm of the nodes.
    assert!(instance.steps() < 130, "{} statements in a call", instance.steps());
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
        "CONSTANT",
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
        "AND",
        "SQRT",
    ];
    for (_, document) in lines() {
        let text = block(&document, "synergic_line");
        for fact in ["wire: ", "Size: ", "caution: ", "made by: ", "between nodes: "] {
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
    let code = |document: &LineDocument| {
        let key = format!("_{}", document.checksum()[..6].to_uppercase());
        code_alone(&block(document, "line")).0.replace(&key, "_KEY")
    };
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
    for name in ["Status", "WIRE_FEED_M_MIN", "Half", "Upper_Node"] {
        let refused = export(&long(), ExportFormat::StructuredText(name.parse().unwrap())).unwrap_err();
        assert_eq!(refused, ExportError::NameTaken(name.parse().unwrap()));
    }
    assert!("Function".parse::<meltlaw_files::Prefix>().is_err());
}

//! Laws and lines under a right checksum that carry escape sequences, text direction characters and carriage returns:
//! no command hands them on to a terminal.
#![allow(missing_docs, dead_code, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod common;

use common::{Lab, TRIALS};
use meltlaw_files::checksum;
use serde_json::{Value, json};

const LINE: &str = include_str!("../../../datasets/worked_example/line.json");
const LAWS: &str = include_str!("../../../datasets/worked_example/laws.json");

/// What a forger would like to see on a terminal: a colour, an erased screen, a turned name, an overwritten line.
const HOSTILE: [&str; 5] = ["\u{1b}[31mred", "\u{1b}]0;title\u{7}", "\u{9b}2J", "safe\u{202e}efas", "hidden\rshown"];

fn forged(text: &str, change: &dyn Fn(&mut Value)) -> String {
    let mut value: Value = serde_json::from_str(text).unwrap();
    change(&mut value);
    let sum = checksum(value.as_object().unwrap());
    value["checksum"] = json!(sum);
    value.to_string()
}

/// Nothing in what a command says moves a cursor, colours, or turns the direction of text.
fn is_harmless(answer: &str) -> bool {
    !answer.chars().any(|c| {
        (c.is_control() && c != '\n') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{2028}')
    })
}

#[test]
fn a_forged_line_or_laws_file_is_refused_without_showing_its_texts_as_they_are() {
    let lab = Lab::new(TRIALS);
    std::fs::create_dir(lab.path().join("lines")).unwrap();
    for text in HOSTILE {
        let of_line: [&dyn Fn(&mut Value); 5] = [
            &|v| v["name"] = json!(text),
            &|v| v["nodes"][0]["notes"] = json!([text]),
            &|v| v["wire"]["material"] = json!(text),
            &|v| v["nodes"][0]["support"] = json!(text),
            &|v| v["format"] = json!(text),
        ];
        for change in of_line {
            let line = forged(LINE, change);
            lab.file("line.json", &line).file("lines/line.json", &line);
            for arguments in [
                vec!["at", "line.json", "5"],
                vec!["export", "line.json", "--to", "csv", "--out", "x.csv"],
                vec!["compare", "line.json", "line.json"],
                vec!["find", "lines"],
            ] {
                let answer = lab.run(&arguments);
                assert!(is_harmless(&answer), "{arguments:?}: {answer:?}");
                assert!(arguments[0] == "find" || answer.starts_with("exit 3"), "{arguments:?}: {answer}");
            }
        }
        let of_laws: [&dyn Fn(&mut Value); 4] = [
            &|v| v["wire"]["designation"] = json!(text),
            &|v| v["laws"]["burn_off"]["trials_used"][0] = json!(text),
            &|v| v["laws"]["detachment"]["form"] = json!(text),
            &|v| v["laws"]["burn_off"]["covariance_from"] = json!(text),
        ];
        for change in of_laws {
            lab.file("laws.json", &forged(LAWS, change));
            for arguments in [
                vec!["compose", "laws.json", ".", "--out", "new.json"],
                vec!["compare", "laws.json", "laws.json"],
                vec!["extend", "laws.json", "--ctwd-mm", "20", "--out", "more.json"],
            ] {
                let answer = lab.run(&arguments);
                assert!(is_harmless(&answer), "{arguments:?}: {answer:?}");
                assert!(!answer.starts_with("exit 0"), "{arguments:?}: {answer}");
            }
        }
    }
}

#[test]
fn hostile_texts_of_a_study_and_its_table_are_spelt_out() {
    for text in HOSTILE {
        let quoted = json!(text).to_string().replace("\\r", "\\u000d");
        for (from, to) in [
            ("name = \"Lab\"", format!("name = {quoted}")),
            ("material = \"carbon-steel\"", format!("material = {quoted}")),
            ("file = \"trials.csv\"", format!("file = {quoted}")),
            ("[numerics]", format!("[numerics]\n{quoted} = 1")),
        ] {
            let lab = Lab::new(TRIALS);
            lab.study_with(from, &to);
            let answer = lab.run(&["check", "."]);
            assert!(is_harmless(&answer) && answer.starts_with("exit 3"), "{from}: {answer:?}");
        }
        let lab = Lab::new(&TRIALS.replacen("trial,", &format!("trial,\"{text}\","), 1));
        assert!(is_harmless(&lab.run(&["check", "."])), "{text:?}");
    }
}

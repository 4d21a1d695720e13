//! `export` for controllers: what it answers, which names it takes, and that nothing half-written is left.
#![allow(missing_docs, dead_code, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod common;

use common::{Lab, TRIALS};
use insta::assert_snapshot;

fn lab() -> Lab {
    let lab = Lab::new(TRIALS);
    lab.file("line.json", include_str!("../../../datasets/worked_example/line.json"));
    lab
}

#[test]
fn the_line_goes_to_firmware_and_controllers() {
    let lab = lab();
    assert_snapshot!("export_c_header", lab.run(&["export", "line.json", "--to", "c-header", "--out", "line.h"]));
    let block = ["export", "line.json", "--to", "structured-text", "--prefix", "line_g3si1_12", "--out", "line.st"];
    assert_snapshot!("export_structured_text", lab.run(&block));
    let written = |name: &str| std::fs::read_to_string(lab.path().join(name)).unwrap();
    assert!(written("line.h").contains("static inline int synergic_line_evaluate("));
    assert!(written("line.st").contains("FUNCTION_BLOCK line_g3si1_12\n"));
    let answer = lab.run(&["export", "line.json", "--to", "c-header", "--out", "json.h", "--json"]);
    assert!(answer.contains("\"nodes\": 3") && answer.contains("\"tables_bytes\": "), "{answer}");
}

#[test]
fn a_name_that_is_none_is_told_what_is_wrong_and_nothing_is_written() {
    let lab = lab();
    let with = |prefix: &str| {
        let to = if prefix == "csv" { "csv" } else { "structured-text" };
        lab.run(&["export", "line.json", "--to", to, "--prefix", prefix, "--out", "line.out"])
    };
    let names = ["1line", "line-1", "line__1", "a_name_of_more_than_thirty_two_characters", "while", "status", "csv"];
    assert_snapshot!("export_bad_prefix", names.map(|name| format!("{name}: {}", with(name))).join("\n"));
    assert!(!lab.path().join("line.out").exists());
}

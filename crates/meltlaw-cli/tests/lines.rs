//! Lines found in a folder and held against each other.
#![allow(missing_docs, dead_code, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod common;

use std::fs;

use common::{Lab, TRIALS, with_column};
use insta::assert_snapshot;
use serde_json::Value;

const EXAMPLE: &str = include_str!("../../../datasets/worked_example/line.json");

/// A lab with its line developed.
fn developed(lab: &Lab) -> &Lab {
    let answer = lab.run(&["develop", "."]);
    assert!(answer.starts_with("exit 0"), "{answer}");
    lab
}

/// What was answered with `--json`.
fn json(answer: &str) -> Value {
    let out = answer.split("--- out\n").nth(1).unwrap().split("--- err").next().unwrap();
    serde_json::from_str(out).unwrap()
}

/// Checksums change with the version of the program.
fn masked(answer: &str) -> String {
    let mut parts = answer.split("(checksum ");
    let first = parts.next().unwrap().to_owned();
    parts.fold(first, |text, part| format!("{text}(checksum [SHA]{}", &part[part.find('…').unwrap()..]))
}

/// A line of the lab, and one of a second campaign whose wire melts 6 % faster, with less background allowed.
fn two_lines() -> Lab {
    let lab = Lab::new(TRIALS);
    developed(&lab);
    fs::rename(lab.path().join("result"), lab.path().join("old")).unwrap();
    let faster = with_column("wire_feed_m_min", |i, cell| {
        let noise = if i % 2 == 0 { 1.001 } else { 0.999 };
        format!("{:.4}", 1.06 * noise * cell.parse::<f64>().unwrap())
    });
    lab.file("trials.csv", &faster).study_with("[25.0, 150.0]", "[25.0, 140.0]");
    developed(&lab);
    fs::rename(lab.path().join("result"), lab.path().join("new")).unwrap();
    lab
}

#[test]
fn compare_says_what_changed_where_and_whether_it_is_beyond_error() {
    let lab = two_lines();
    let answer = lab.run(&["compare", "old/line.json", "new/line.json"]);
    assert!(answer.lines().all(|l| l.chars().count() <= 100), "{answer}");
    assert_snapshot!("compare", answer);
    // The command that it names is one that works.
    let next = answer.split("meltlaw ").last().unwrap().replace("\n      ", " ");
    let typed: Vec<&str> = next.split(' ').take(3).collect();
    assert!(lab.run(&typed).starts_with("exit 0"), "{next}");

    let value = json(&lab.run(&["compare", "old/line.json", "new/line.json", "old/line.json", "--json"]));
    assert_eq!(value["overall"], serde_json::json!(["changed_beyond_error", "same"]));
    assert_eq!(value["lines"][0]["relation"]["rule"], "independent");
    assert_eq!(value["lines"][1]["relation"]["shared"], "laws");
    let melted: Vec<&Value> = value["comparisons"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| c["quantity"] == "melted_by_first_setting_m_min" && c["file"] == "new/line.json")
        .collect();
    assert!(!melted.is_empty() && melted.iter().all(|c| c["law"] == "burn_off" && c["interval"][0].is_number()));
    for c in value["comparisons"].as_array().unwrap() {
        assert!(c["verdict"].is_null() && c["margin"].is_null() && !c["reason"].as_str().unwrap().is_empty());
    }
}

#[test]
fn a_line_and_itself_and_other_draws_of_it_do_not_differ() {
    let lab = Lab::new(TRIALS);
    developed(&lab);
    fs::rename(lab.path().join("result"), lab.path().join("one")).unwrap();
    assert_snapshot!("compare_with_itself", lab.run(&["compare", "one/line.json", "one/line.json"]));
    lab.study_with("[numerics]\n", "[numerics]\nseed = 2\n");
    developed(&lab);
    let answer = lab.run(&["compare", "one/line.json", "result/line.json"]);
    assert!(!answer.contains('!') && answer.contains("both lines rest on the same laws"), "{answer}");
}

#[test]
fn a_drawing_is_written_with_its_numbers_and_replaced_only_with_force() {
    let lab = two_lines();
    let compare = |more: &[&str]| lab.run(&[&["compare", "old/line.json", "new/line.json", "--out"], more].concat());
    assert!(compare(&["changes.png"]).contains("a name that ends in .svg was needed"));
    lab.file("changes.csv", "mine");
    let answer = compare(&["changes.svg"]);
    assert!(answer.starts_with("exit 1") && answer.contains("changes.csv: exists already"), "{answer}");
    assert!(!lab.path().join("changes.svg").exists());
    let answer = compare(&["changes.svg", "--force"]);
    assert!(answer.starts_with("exit 0") && answer.contains("changes.csv: its numbers in full"), "{answer}");
    let read = |name: &str| fs::read_to_string(lab.path().join(name)).unwrap();
    assert!(read("changes.svg").contains("<desc") && read("changes.csv").contains(",melted_by_first_setting_m_min,"));
    assert!(compare(&["none/changes.svg"]).contains("create it first"));
}

#[test]
fn what_cannot_be_compared_says_why() {
    let lab = Lab::new(TRIALS);
    developed(&lab).file("example.json", EXAMPLE).file("notes.json", "{}");
    assert_snapshot!("compare_laws", lab.run(&["compare", "result/line.json", "result/laws.json"]));
    assert!(lab.run(&["compare", "result/line.json", "notes.json"]).starts_with("exit 3"));
    assert!(lab.run(&["compare", "result/line.json"]).starts_with("exit 2"));
    // A line that another program wrote lacks some members, not the answer.
    assert!(lab.run(&["compare", "example.json", "result/line.json"]).starts_with("exit 0"));
    // Feeds apart: nothing in common is an answer.
    lab.study_with("[4.0, 8.0]", "[4.0, 4.6]");
    developed_again(&lab, "low");
    lab.study_with("[4.0, 8.0]", "[7.0, 8.0]");
    developed_again(&lab, "high");
    assert_snapshot!("compare_apart", lab.run(&["compare", "low/line.json", "high/line.json"]));
    // No feed at all.
    lab.study_with("[4.0, 8.0]", "[40.0, 41.0]");
    lab.run(&["develop", ".", "--out", "none"]);
    let answer = lab.run(&["compare", "low/line.json", "none/line.json", "--out", "x.svg"]);
    assert!(answer.starts_with("exit 4") && answer.contains("none/line.json has no setting at any feed"), "{answer}");
    let answer = lab.run(&["compare", "none/line.json", "none/line.json", "--out", "y.svg"]);
    assert!(answer.contains("nothing to draw") && !lab.path().join("y.svg").exists(), "{answer}");
}

fn developed_again(lab: &Lab, out: &str) {
    let answer = lab.run(&["develop", ".", "--out", out]);
    assert!(answer.starts_with("exit 0"), "{answer}");
}

/// A folder with a line, a copy, another gas, and what lies about in archives.
fn archive() -> Lab {
    let lab = Lab::new(TRIALS);
    developed(&lab);
    let at = |name: &str| lab.path().join(name);
    fs::create_dir_all(at("archive/deep/er")).unwrap();
    fs::copy(at("result/line.json"), at("archive/deep/er/thick.json")).unwrap();
    fs::copy(at("result/line.json"), at("archive/copy.json")).unwrap();
    let gas = "[gas]\nargon = 92.0\ncarbon_dioxide = 8.0\n";
    lab.study_with(gas, "[gas]\nargon = 82.0\ncarbon_dioxide = 18.0\n");
    developed_again(&lab, "other");
    fs::copy(at("other/line.json"), at("archive/more-co2.json")).unwrap();
    let line = fs::read_to_string(at("result/line.json")).unwrap();
    fs::write(at("archive/cut.json"), &line[..3000]).unwrap();
    fs::write(at("archive/newer.json"), line.replacen("\"format_version\": 2", "\"format_version\": 9", 1)).unwrap();
    fs::write(at("archive/table.json"), "[[1, 2], [3").unwrap();
    fs::write(at("archive/photo.jpg"), [0u8, 159, 146, 150]).unwrap();
    fs::File::create(at("archive/huge.json")).unwrap().set_len(5_000_000_000).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(lab.path(), at("archive/loop")).unwrap();
    lab
}

#[cfg(unix)]
#[test]
fn find_tells_what_fits_what_is_nearest_and_what_is_damaged() {
    let lab = archive();
    let wanted = ["--material", "carbon-steel", "--diameter-mm", "1.2", "--gas", "ar=82,co2=18", "--wire-feed", "6"];
    let find = |more: &[&str]| lab.run(&[&["find", "archive"], more].concat());
    let answer = find(&wanted);
    assert!(answer.lines().all(|l| l.chars().count() <= 100), "{answer}");
    assert_snapshot!("find", masked(&answer));
    let next = answer.lines().find_map(|l| l.strip_prefix("next: meltlaw ")).unwrap();
    let typed: Vec<&str> = next.split(' ').take(3).collect();
    assert!(lab.run(&typed).starts_with("exit 0"), "{next}");
    assert_snapshot!("find_none", masked(&find(&["--diameter-mm", "1.0", "--wire-feed", "30"])));

    let value = json(&find(&[&wanted[..], &["--json"]].concat()));
    assert_eq!(value["fits"][0]["file"], "archive/more-co2.json");
    assert_eq!(value["fits"][0]["at"]["setting"]["wire_feed_m_min"], 6.0);
    assert_eq!(value["nearest"][0]["differs"][0]["words"], "8 instead of 18 % CO2");
    assert_eq!(value["nearest"][0]["copies"].as_array().unwrap().len(), 1);
    assert_eq!(value["damaged"].as_array().unwrap().len(), 2);
    assert_eq!(value["skipped"], serde_json::json!({ "other_files": 3, "links": 1, "hidden_folders": 0 }));
}

#[test]
fn find_in_a_good_folder_and_in_none() {
    let lab = Lab::new(TRIALS);
    developed(&lab);
    let answer = lab.run(&["find", "result"]);
    assert!(answer.starts_with("exit 0") && answer.contains("\n1 line\n"), "{answer}");
    assert!(lab.run(&["find", "elsewhere"]).starts_with("exit 3"));
    assert!(lab.run(&["find", "study.toml"]).contains("a file was found, a folder was needed"));
    fs::create_dir(lab.path().join("empty")).unwrap();
    assert_snapshot!("find_empty", lab.run(&["find", "empty", "--wire-feed", "6"]));
    assert_snapshot!("find_wrong_gas", lab.run(&["find", "result", "--gas", "co2=18"]));
    assert!(lab.run(&["find", "result", "--gas-tolerance-points", "3"]).starts_with("exit 2"));
}

#[cfg(unix)]
#[test]
fn names_of_files_and_lines_cannot_steer_the_terminal() {
    let lab = Lab::new(TRIALS);
    developed(&lab);
    fs::create_dir(lab.path().join("archive")).unwrap();
    fs::copy(lab.path().join("result/line.json"), lab.path().join("archive/\u{1b}[2Jx.json")).unwrap();
    fs::write(lab.path().join("archive/\u{202e}.json"), "\"meltlaw-line\"").unwrap();
    let answer = lab.run(&["find", "archive"]);
    assert!(!answer.contains(['\u{1b}', '\u{202e}']) && answer.contains("\\u{1b}[2Jx.json"), "{answer}");
}

//! What the commands answer when all is well, and that their parts agree with the whole.
#![allow(missing_docs, dead_code, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod common;

use common::{Lab, TRIALS};
use insta::assert_snapshot;

#[test]
fn help_begins_with_what_to_type_first() {
    assert_snapshot!(Lab::new(TRIALS).run(&["--help"]));
}

#[test]
fn develop_and_at_speak_plainly() {
    let lab = Lab::new(TRIALS);
    assert_snapshot!("develop", lab.run(&["develop", "."]));
    assert_snapshot!("at", lab.run(&["at", "result/line.json", "6.5", "240in/min", "12"]));
    assert_snapshot!("at_backwards", lab.run(&["at", "result/line.json", "--current-a", "180"]));
    assert_snapshot!("at_wrong_feed", lab.run(&["at", "result/line.json", "six"]));
}

#[test]
fn at_shifts_a_setting_and_answers_backwards_with_interval_and_support() {
    let lab = Lab::new(TRIALS);
    lab.study_with("[line]\n", "[line]\ncomposing = \"midpoint\"\ntravel_speed_mm_s = 7.0\n");
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    let at = |arguments: &[&str]| lab.run(&[&["at", "result/line.json"], arguments].concat());
    assert_snapshot!("at_shifted", at(&["5", "--arc-length-mm", "5", "--drop-to-wire-ratio", "1.15"]));
    assert_snapshot!("at_shifted_too_far", at(&["5", "--arc-length-mm", "7"]));
    assert_snapshot!("at_shifted_impossible", at(&["5", "--arc-length-mm", "20"]));
    assert_snapshot!("at_several", at(&["--heat-input-kj-mm", "0.5", "--melting-rate-kg-h", "3"]));
    assert_snapshot!("at_nowhere", at(&["--current-a", "400"]));
    assert_snapshot!("at_shift_alone", at(&["--arc-length-mm", "5"]));
    let json = at(&["5", "--current-a", "180", "--arc-length-mm", "5", "--json"]);
    let out = json.split("--- out\n").nth(1).unwrap().split("--- err").next().unwrap();
    let value: serde_json::Value = serde_json::from_str(out).unwrap();
    assert_eq!(value["at"][0]["shift"]["status"], "ok");
    assert_eq!(value["at"][0]["shift"]["conditions"]["extension_mm"], 13.0);
    assert_eq!(value["at"][0]["shift"]["changes"]["arc_length_mm"]["from"], 4.0);
    assert!(value["at"][1]["answer"]["wire_feed_m_min_interval"][0].is_number());
    assert_eq!(value["backwards"][0]["found"]["answers"].as_array().unwrap().len(), 1);
}

#[test]
fn a_line_of_another_program_says_what_a_shift_lacks() {
    let lab = Lab::new(TRIALS);
    lab.file("line.json", include_str!("../../../datasets/worked_example/line.json"));
    assert_snapshot!("at_shift_lacks", lab.run(&["at", "line.json", "6", "--arc-length-mm", "5"]));
}

#[test]
fn a_line_is_exported_to_tables_and_says_what_to_do_with_each() {
    let lab = Lab::new(TRIALS);
    lab.file("line.json", include_str!("../../../datasets/worked_example/line.json"));
    let export = |to: &str, out: &str| lab.run(&["export", "line.json", "--to", to, "--out", out]);
    let files = [("csv", "line.csv"), ("parquet", "line.parquet"), ("xlsx", "line.xlsx"), ("check-table", "check.csv")];
    assert_snapshot!("export_tables", files.map(|(to, out)| export(to, out)).concat());
    let begins = |file: &str, start: &[u8]| std::fs::read(lab.path().join(file)).unwrap().starts_with(start);
    assert!(begins("line.csv", b"# line") && begins("line.parquet", b"PAR1") && begins("line.xlsx", b"PK"));
    assert_snapshot!("export_exists", export("xlsx", "line.xlsx"));
}

#[test]
fn fit_and_check_fit_on_one_screen() {
    let lab = Lab::new(TRIALS);
    let fit = lab.run(&["fit", ".", "--out", "laws.json"]);
    let check = lab.run(&["check", "."]);
    for answer in [&fit, &check] {
        // A screen of 45 lines, each of 100 letters.
        assert!(answer.lines().count() <= 48 && answer.lines().all(|l| l.chars().count() <= 100), "{answer}");
    }
    assert_snapshot!("fit", fit);
    assert_snapshot!("check", check);
}

#[test]
fn a_pipe_gets_the_same_text_whatever_terminal_stands_behind_it() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    let rich = [("LANG", "C.UTF-8"), ("TERM", "xterm-256color"), ("COLUMNS", "62")];
    for arguments in [vec!["at", "result/line.json", "6", "99"], vec!["check", "."], vec!["check", "elsewhere"]] {
        let plain = lab.run(&arguments);
        assert_eq!(lab.run_with(&arguments, &rich), plain);
        assert_eq!(lab.run(&[&arguments[..], &["--no-color"]].concat()), plain);
        let picture = |c: char| c == '\u{1b}' || ('\u{2800}'..='\u{28ff}').contains(&c) || c == '█';
        assert!(!plain.contains(picture), "{plain}");
    }
}

#[test]
fn at_check_and_fit_end_with_what_to_do_next() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    for arguments in [vec!["at", "result/line.json", "6"], vec!["check", "."], vec!["fit", ".", "--out", "laws.json"]] {
        let answer = lab.run(&arguments);
        let out = answer.split("--- err").next().unwrap();
        assert!(out.trim_end().lines().last().unwrap().starts_with("next: "), "{answer}");
    }
    // The command it names is one that works.
    let answer = lab.run(&["at", "result/line.json", "99"]);
    let next = answer.lines().find_map(|l| l.strip_prefix("next: meltlaw ")).unwrap();
    let typed: Vec<&str> = next.split(' ').take(3).collect();
    assert!(lab.run(&typed).starts_with("exit 0"), "{next}");
}

#[test]
fn fit_then_compose_gives_the_line_of_develop() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    assert!(lab.run(&["fit", ".", "--out", "laws.json"]).starts_with("exit 0"));
    assert!(lab.run(&["compose", "laws.json", ".", "--out", "line.json"]).starts_with("exit 0"));
    let read = |name: &str| std::fs::read_to_string(lab.path().join(name)).unwrap();
    assert_eq!(read("laws.json"), read("result/laws.json"));
    assert_eq!(read("line.json"), read("result/line.json"));
}

#[test]
fn compose_explains_itself_on_one_screen() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["fit", ".", "--out", "laws.json"]).starts_with("exit 0"));
    let answer = lab.run(&["compose", "laws.json", ".", "--out", "line.json"]);
    assert!(answer.lines().count() <= 43 && answer.lines().all(|l| l.chars().count() <= 100), "{answer}");
    // The table of nodes, from its head to its last row, on a screen of 80 letters.
    let from = answer.lines().position(|l| l.trim_start().starts_with("feed ")).unwrap();
    assert!(answer.lines().skip(from).take(11).all(|l| l.chars().count() <= 80), "{answer}");
    assert_snapshot!("compose", answer);
}

#[test]
fn pinned_values_are_marked_and_the_midpoint_rule_says_itself() {
    let lab = Lab::new(TRIALS);
    let pin = "[[line.pin]]\nwire_feed_m_min = 6.0\npulse_current_a = 410.0\n\n[numerics]\n";
    lab.study_with("[numerics]\n", &format!("composing = \"midpoint\"\n\n{pin}"));
    let developed = lab.run(&["develop", "."]);
    assert!(developed.starts_with("exit 0"), "{developed}");
    let line = developed.split("\nline\n").nth(1).unwrap();
    assert_snapshot!("pinned_midpoint", line);
    let at = lab.run(&["at", "result/line.json", "6"]);
    assert!(at.contains("410.0*A") && at.contains("* pinned by the study here"), "{at}");
    let csv = std::fs::read_to_string(lab.path().join("result/line.csv")).unwrap();
    assert!(csv.contains(",pulse_current_a,") && csv.contains("support,pinned,limits,notes"));
    let page = std::fs::read_to_string(lab.path().join("result/report.html")).unwrap();
    assert!(page.contains("pinned by the study") && page.contains("By the midpoint rule"));
}

#[test]
fn the_report_drawn_again_is_the_same_line() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    let line = std::fs::read(lab.path().join("result/line.json")).unwrap();
    let answer = lab.run(&["report", "result"]);
    assert!(answer.starts_with("exit 0"), "{answer}");
    assert_eq!(std::fs::read(lab.path().join("result/line.json")).unwrap(), line);
    let page = std::fs::read_to_string(lab.path().join("result/report.html")).unwrap();
    assert!(page.contains("Detachment"));
}

#[test]
fn a_damaged_line_is_not_read() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    let text = std::fs::read_to_string(lab.path().join("result/line.json")).unwrap();
    lab.file("damaged.json", &text.replacen("\"ctwd_mm\": 18.0", "\"ctwd_mm\": 19.0", 1));
    let answer = lab.run(&["at", "damaged.json", "6"]);
    assert!(answer.starts_with("exit 3") && answer.contains("checksum"), "{answer}");
}

#[test]
fn a_line_edited_under_a_new_checksum_is_refused_by_the_identity_that_fails() {
    let lab = Lab::new(TRIALS);
    let text = include_str!("../../../datasets/worked_example/line.json");
    let mut line: serde_json::Value = serde_json::from_str(text).unwrap();
    line["nodes"][1]["pulse_current_a"] = serde_json::Value::from(410.0);
    line["checksum"] = serde_json::Value::from(meltlaw_files::checksum(line.as_object().unwrap()));
    lab.file("edited.json", &line.to_string());
    assert_snapshot!("at_edited_line", lab.run(&["at", "edited.json", "6"]));
}

/// The worked example with this standing, under its own checksum.
fn line_with_standing(lab: &Lab, standing: &[(&str, [f64; 2])]) {
    let text = include_str!("../../../datasets/worked_example/line.json");
    let mut line: serde_json::Value = serde_json::from_str(text).unwrap();
    let range = |(state, ends): &(&str, [f64; 2])| serde_json::json!({ "state": state, "wire_feed_m_min": ends });
    line["standing"] = standing.iter().map(range).collect();
    line["checksum"] = serde_json::Value::from(meltlaw_files::checksum(line.as_object().unwrap()));
    lab.file("line.json", &line.to_string());
}

#[test]
fn a_contradicted_feed_is_refused_and_says_what_contradicts_it() {
    let lab = Lab::new(TRIALS);
    line_with_standing(&lab, &[("confirmed", [4.0, 8.0]), ("contradicted", [5.0, 6.0]), ("withdrawn", [7.0, 8.0])]);
    let answer = lab.run(&["at", "line.json", "5.5", "7.5"]);
    assert!(answer.starts_with("exit 4"), "{answer}");
    let running = answer.split_whitespace().collect::<Vec<_>>().join(" ");
    for told in [
        "! 5.5 m/min no setting (contradicted) confirmation welds contradict the line from 5 to 6 m/min: do not use it there",
        "! 7.5 m/min no setting (withdrawn) the line was withdrawn from 7 to 8 m/min",
    ] {
        assert!(running.contains(told), "{answer}");
    }
    let answer = lab.run(&["at", "line.json", "5.5", "4.5", "9", "--json"]);
    assert!(answer.starts_with("exit 4"), "{answer}");
    let out = answer.split("--- out\n").nth(1).unwrap().split("--- err").next().unwrap();
    let value: serde_json::Value = serde_json::from_str(out).unwrap();
    let told = |i: usize, name: &str| value["at"][i][name].clone();
    let words = ["status", "support", "standing"];
    assert_eq!(words.map(|name| told(0, name)), ["contradicted", "covered", "contradicted"]);
    assert_eq!((told(0, "code"), told(0, "setting")), (6.into(), serde_json::Value::Null));
    assert_eq!(words.map(|name| told(1, name)), ["ok", "covered", "confirmed"]);
    assert_eq!(
        words.map(|name| told(2, name)),
        ["above_range".into(), serde_json::Value::Null, serde_json::Value::Null]
    );
}

#[test]
fn json_is_one_document_on_standard_output() {
    let lab = Lab::new(TRIALS);
    for arguments in
        [vec!["develop", ".", "--json"], vec!["at", "result/line.json", "6", "--json"], vec!["check", ".", "--json"]]
    {
        let answer = lab.run(&arguments);
        let out = answer.split("--- out\n").nth(1).unwrap().split("--- err").next().unwrap();
        let value: serde_json::Value =
            serde_json::from_str(out).unwrap_or_else(|e| panic!("{arguments:?}: {e}\n{answer}"));
        assert!(value.is_object());
    }
}

#[test]
fn the_demo_is_developed_from_both_its_tables() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["demo", "demo"]).starts_with("exit 0"));
    assert!(lab.run(&["demo", "demo"]).starts_with("exit 1"), "an earlier demo is not overwritten");
    assert!(lab.run(&["develop", "demo"]).starts_with("exit 0"));
    assert!(lab.run(&["develop", "demo/study_xlsx.toml", "--out", "demo/from_xlsx"]).starts_with("exit 0"));
    let nodes = |folder: &str| {
        let text = std::fs::read_to_string(lab.path().join(folder).join("line.json")).unwrap();
        serde_json::from_str::<serde_json::Value>(&text).unwrap()["nodes"].clone()
    };
    assert_eq!(nodes("demo/result"), nodes("demo/from_xlsx"));
}

#[test]
fn every_file_that_leaves_carries_the_cautions_for_its_wire() {
    let lab = Lab::new(TRIALS);
    lab.study_with("carbon-steel", "stainless-steel");
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    let mut files: Vec<String> =
        ["laws.json", "line.json", "line.csv", "trials.csv", "report.html", "datapackage.json"]
            .map(|name| format!("result/{name}"))
            .to_vec();
    let forms = [
        ("csv", "a.csv"),
        ("check-table", "c.csv"),
        ("c-header", "l.h"),
        ("structured-text", "l.st"),
        ("parquet", "l.parquet"),
    ];
    for (to, out) in forms {
        let said = lab.run(&["export", "result/line.json", "--to", to, "--out", out]);
        assert!(said.starts_with("exit 0"), "{said}");
        files.push(out.to_owned());
    }
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").replace("&#39;", "'");
    for file in files {
        let bytes = std::fs::read(lab.path().join(&file)).unwrap();
        let text = plain(&String::from_utf8_lossy(&bytes).replace("\n *", "\n").replace("\n//", "\n"));
        for caution in meltlaw::cautions::cautions(&[meltlaw::materials::Material::StainlessSteel]) {
            assert!(text.contains(&caution), "{file}: {caution}");
        }
        assert!(!text.contains("Fume of copper wire"), "{file}");
    }
}

#[test]
fn fit_and_develop_warn_of_what_check_warns_of() {
    let last = TRIALS.trim_end().lines().last().unwrap();
    let copy = format!("{}again,{}", last.split(',').next().unwrap(), last.split_once(',').unwrap().1);
    let lab = Lab::new(&format!("{}\n{copy}\n", TRIALS.trim_end()));
    let warned =
        |arguments: &[&str]| lab.run(arguments).contains("! warning  repeated row: all numbers of an earlier row");
    assert!(warned(&["check", "."]) && warned(&["fit", ".", "--out", "laws.json"]) && warned(&["develop", "."]));
}

#[test]
fn a_statement_that_the_trials_contradict_is_marked_wherever_it_is_told() {
    let lab = Lab::new(TRIALS);
    let prior =
        "[prior.burn_off.alpha_mm_per_a_s]\nmean = 0.2\nstandard_deviation = 0.005\nsource = \"an old sheet\"\n";
    lab.study_with("[numerics]\n", &format!("{prior}\n[numerics]\n"));
    for arguments in [vec!["check", "."], vec!["fit", ".", "--out", "laws.json"], vec!["develop", "."]] {
        let answer = lab.run(&arguments);
        assert!(answer.starts_with("exit 0") && answer.contains("! warning  stated beforehand: burn off"), "{answer}");
        assert!(answer.replace("\n", " ").contains("neither"), "{answer}");
    }
    let laws: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(lab.path().join("laws.json")).unwrap()).unwrap();
    assert_eq!(laws["laws"]["burn_off"]["tests"]["stated_beforehand"]["warns"], true);
    assert!(laws["findings"].as_array().unwrap().iter().any(|f| f["check"] == "stated_beforehand"));
    let page = std::fs::read_to_string(lab.path().join("result/report.html")).unwrap();
    assert!(page.contains("stated beforehand"), "the page does not tell it");
}

#[test]
fn backwards_and_shifted_the_answer_has_the_current_that_was_asked_for() {
    let lab = Lab::new(TRIALS);
    lab.run(&["develop", "."]);
    let at = |arguments: &[&str]| lab.run(&[&["at", "result/line.json"], arguments].concat());
    let answer = at(&["--current-a", "180", "--arc-length-mm", "4.6"]);
    assert!(answer.starts_with("exit 0") && answer.contains("    mean current             180.0 A"), "{answer}");
    let out = at(&["--current-a", "180", "--arc-length-mm", "4.6", "--json"]);
    let value: serde_json::Value =
        serde_json::from_str(out.split("--- out\n").nth(1).unwrap().split("--- err").next().unwrap()).unwrap();
    let mean = value["at"][0]["shift"]["setting"]["current_mean_a"].as_f64().unwrap();
    assert!((mean - 180.0).abs() < 1e-6, "{mean}");
    assert_eq!(value["backwards"][0]["shift"]["arc_length_mm"], 4.6);
}

#[test]
fn feeds_and_numbers_are_shown_as_what_they_are() {
    let lab = Lab::new(TRIALS);
    lab.run(&["develop", "."]);
    let at = |arguments: &[&str]| lab.run(&[&["at", "result/line.json"], arguments].concat());
    let answer = at(&["5.995", "8.00001", "1e308"]);
    assert!(answer.contains("\n5.995 m/min  ") && answer.contains("! 8.00001 m/min  no setting"), "{answer}");
    assert!(answer.contains("! 1e308 m/min  no setting"), "{answer}");
    let most = at(&["--current-a", "1e308"]);
    assert!(most.contains("mean current 1e308 A: at no wire feed"), "{most}");
    for answer in [answer, most] {
        assert!(answer.lines().all(|l| l.chars().count() <= 100), "{answer}");
    }
}

#[test]
fn a_setting_beyond_the_trials_says_why_without_being_asked_backwards() {
    let lab = Lab::new(TRIALS);
    lab.study_with("[4.0, 8.0]", "[3.0, 10.0]").run(&["develop", "."]);
    let line: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(lab.path().join("result/line.json")).unwrap()).unwrap();
    let nodes = line["nodes"].as_array().unwrap();
    let feed = nodes.iter().find(|n| n["support"] == "extended").unwrap()["wire_feed_m_min"].to_string();
    let answer = lab.run(&["at", "result/line.json", &feed]).replace("\n  ", " ");
    assert!(answer.contains("extended: ") && answer.contains("weld trials"), "{answer}");
    let json = lab.run(&["at", "result/line.json", &feed, "--json"]);
    assert!(json.contains("\"code\": 0") && json.contains("\"support_reason\": \""), "{json}");
}

//! Logs reduced as a user types it.
#![allow(missing_docs, dead_code, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod common;

use std::fmt::Write as _;
use std::fs;

use common::{Lab, TRIALS};
use meltlaw::virtual_bench::LogTruth;
#[cfg(target_os = "linux")]
use polars::prelude::{Column as PolarsColumn, DataFrame, ParquetWriter};

/// A pulsed weld as text; every number is invented.
fn log(number: u64, truth: &LogTruth) -> String {
    let log = truth.log(11, number);
    let mut text = String::from("time_s,current_a,voltage_v\n");
    for (k, (i, u)) in log.current.iter().zip(&log.voltage).enumerate() {
        let _ = writeln!(text, "{:.5},{i:.3},{u:.3}", k as f64 / truth.sample_rate_hz);
    }
    text
}

fn lab() -> Lab {
    let lab = Lab::new(TRIALS);
    fs::create_dir(lab.path().join("logs")).unwrap();
    let truth = LogTruth { sample_rate_hz: 20_000.0, arc_s: 2.2, ..LogTruth::default() };
    lab.file("logs/w1.csv", &log(0, &truth));
    lab.file("logs/w2.csv", &log(1, &LogTruth { missed: 0.05, ..truth }));
    lab.file("logs/w3.csv", "time_s,current_a,voltage_v\n0,1,2\n0.001,x,2\n");
    lab.file("welds.csv", "trial,wire_feed_m_min,ctwd_mm\nw1,6.5,18\nw2,7.0,18\nw9,7.5,18\n");
    lab
}

#[test]
fn a_folder_of_logs_becomes_rows_and_what_cannot_be_read_is_named() {
    let lab = lab();
    let typed = ["reduce", "logs", "--sidecar", "welds.csv", "--out", "t.csv", "--plots", "pictures"];
    let answer = lab.run(&typed);
    assert!(answer.starts_with("exit 4"), "{answer}");
    assert!(answer.contains("w3.csv, row 3, column current_a: found 'x', needed a number"), "{answer}");
    assert!(answer.contains("row 'w9' that no log answers to") && answer.contains("pulses missed"), "{answer}");
    let table = fs::read_to_string(lab.path().join("t.csv")).unwrap();
    let rows: Vec<&str> = table.lines().filter(|l| !l.starts_with('#')).collect();
    assert_eq!(rows.len(), 3, "{table}");
    for column in ["pulse_current_a_se", "pulse_time_ms", "log", "window_start_s", "arc_energy_j", "warnings"] {
        assert!(rows[0].split(',').any(|c| c == column), "no {column} in {}", rows[0]);
    }
    assert!(rows[1].starts_with("w1,6.5,") && rows[2].contains("pulses_missed"), "{table}");
    let page = fs::read_to_string(lab.path().join("pictures/w1.html")).unwrap();
    assert!(page.contains("All periods") && lab.path().join("pictures/w1/folded.svg").exists());
    let again = lab.run(&["reduce", "logs/w1.csv", "--out", "t.csv"]);
    assert!(again.starts_with("exit 1"), "an existing table is replaced only with --force: {again}");
    assert!(!lab.path().join("t.csv.part").exists(), "what was reduced stands in the table");
    // Mended and gone on with: pages of the others stay.
    fs::copy(lab.path().join("logs/w1.csv"), lab.path().join("logs/w3.csv")).unwrap();
    let resumed = lab.run(&[&typed[..], &["--resume"]].concat());
    assert!(
        resumed.starts_with("exit 0") && resumed.contains("3 of 3 logs as rows, 2 of them not read again"),
        "{resumed}"
    );
    assert!(!lab.path().join("t.csv.part").exists());
    for page in ["w1", "w2", "w3"] {
        assert!(lab.path().join(format!("pictures/{page}.html")).exists(), "{page}");
        assert!(lab.path().join(format!("pictures/{page}/folded.svg")).exists(), "{page}");
    }
}

/// The rows of a table without its comments.
fn rows(lab: &Lab, table: &str) -> Vec<String> {
    let text = fs::read_to_string(lab.path().join(table)).unwrap();
    text.lines().filter(|l| !l.starts_with('#')).map(str::to_owned).collect()
}

/// A cell of a table by trial and column.
fn cell(lab: &Lab, table: &str, trial: &str, column: &str) -> String {
    let rows = rows(lab, table);
    let at = rows[0].split(',').position(|name| name == column).unwrap_or_else(|| panic!("no {column} in {}", rows[0]));
    let row = rows.iter().find(|row| row.split(',').next() == Some(trial)).unwrap_or_else(|| panic!("no {trial}"));
    row.split(',').nth(at).unwrap().to_owned()
}

/// A lab of three logs, of which the third was recorded with the current probe turned round.
fn lab_with_one_turned_round() -> Lab {
    let lab = lab();
    let truth = LogTruth { sample_rate_hz: 20_000.0, arc_s: 2.2, ..LogTruth::default() };
    let mut text = String::from("time_s,current_a,voltage_v\n");
    let log = truth.log(11, 2);
    for (k, (i, u)) in log.current.iter().zip(&log.voltage).enumerate() {
        let _ = writeln!(text, "{:.5},{:.3},{u:.3}", k as f64 / truth.sample_rate_hz, -i);
    }
    lab.file("logs/w3.csv", &text);
    lab
}

#[test]
fn what_is_typed_for_a_log_that_failed_neither_reads_the_others_again_nor_loses_their_rows() {
    let lab = lab_with_one_turned_round();
    let first = lab.run(&["reduce", "logs", "--out", "t.csv"]);
    assert!(
        first.starts_with("exit 4") && first.contains("write invert = current into the row of this log"),
        "{first}"
    );
    assert!(first.contains("then run the same command with --resume"), "{first}");
    let before = rows(&lab, "t.csv");
    assert_eq!(before.len(), 3);
    // The others would fail if they were read again with the current turned round.
    let resumed = lab.run(&["reduce", "logs", "--out", "t.csv", "--invert", "current", "--resume"]);
    assert!(resumed.starts_with("exit 0") && resumed.contains("2 of them not read again"), "{resumed}");
    let after = rows(&lab, "t.csv");
    assert_eq!(after.len(), 4);
    assert!(after[1].starts_with(&before[1]) && after[2].starts_with(&before[2]), "{after:?}");
    assert_eq!(cell(&lab, "t.csv", "w3", "invert"), "current");
    // One log alone, and none of the others: all rows stay.
    fs::remove_file(lab.path().join("logs/w1.csv")).unwrap();
    let alone = lab.run(&["reduce", "logs/w3.csv", "--out", "t.csv", "--resume"]);
    assert!(alone.starts_with("exit 0") && alone.replace('\n', " ").contains("3 rows in all"), "{alone}");
    assert_eq!(rows(&lab, "t.csv"), after);
    // Recorded again, and now unreadable: its row stays too.
    std::thread::sleep(std::time::Duration::from_millis(20));
    lab.file("logs/w3.csv", "time_s,current_a,voltage_v\n0,1,2\n0.001,x,2\n");
    let broken = lab.run(&["reduce", "logs", "--out", "t.csv", "--resume"]);
    assert!(broken.starts_with("exit 4") && broken.contains("its earlier row stays"), "{broken}");
    assert_eq!(rows(&lab, "t.csv"), after);
    let both = lab.run(&["reduce", "logs", "--out", "t.csv", "--resume", "--force"]);
    assert!(both.starts_with("exit 2"), "{both}");
}

#[test]
fn the_table_beside_the_logs_says_what_belongs_to_one_log_alone() {
    let lab = lab_with_one_turned_round();
    let typed = ["reduce", "logs", "--sidecar", "welds.csv", "--out", "t.csv"];
    lab.file("welds.csv", "trial,wire_feed_m_min,invert,scale_current\nw1,6.5,,\nw2,7.0,,2\nw3,7.5,current,\n");
    let whole = lab.run(&typed);
    assert!(whole.starts_with("exit 0") && whole.contains("3 of 3 logs as rows"), "{whole}");
    let current = |trial: &str| cell(&lab, "t.csv", trial, "current_mean_a").parse::<f64>().unwrap();
    assert!((current("w3") / current("w1") - 1.0).abs() < 0.05 && current("w2") / current("w1") > 1.8);
    assert_eq!([cell(&lab, "t.csv", "w3", "invert"), cell(&lab, "t.csv", "w2", "scale_current")], ["current", "2"]);
    let (w1, w3) = (rows(&lab, "t.csv")[1].clone(), rows(&lab, "t.csv")[3].clone());
    // Another scale for the second: only that one is read again. A feed that is corrected needs no log.
    lab.file("welds.csv", "trial,wire_feed_m_min,invert,scale_current\nw1,6.6,,\nw2,7.0,,1\nw3,7.5,current,\n");
    let changed = lab.run(&[&typed[..], &["--resume"]].concat());
    assert!(changed.starts_with("exit 0") && changed.contains("2 of them not read again"), "{changed}");
    assert!((current("w2") / current("w1") - 1.0).abs() < 0.1);
    assert_eq!(rows(&lab, "t.csv")[1], w1.replacen("6.5", "6.6", 1));
    assert_eq!(rows(&lab, "t.csv")[3], w3);
    lab.file("welds.csv", "trial,wire_feed_m_min,invert\nw1,6.6,yes\n");
    let wrong = lab.run(&[&typed[..], &["--resume"]].concat());
    assert!(wrong.starts_with("exit 3"), "{wrong}");
    assert!(
        wrong.contains("welds.csv, row 2, column invert: found \"yes\", needed current, voltage, both or none"),
        "{wrong}"
    );
    // A study reads its logs the same way.
    lab.file("welds.csv", "trial,wire_feed_m_min,ctwd_mm,invert\nw1,6.5,18,\nw2,7.0,18,\nw3,7.5,18,current\n");
    let study = fs::read_to_string(lab.path().join("study.toml")).unwrap();
    let logs = "[[logs]]\nglob = \"logs/w*.csv\"\nsidecar = \"welds.csv\"";
    lab.file("study.toml", &study.replace("[[trials]]\nfile = \"trials.csv\"", logs));
    let checked = lab.run(&["check", "."]);
    assert!(!checked.contains("mean current of -") && checked.contains("in 3 rows from 3 tables"), "{checked}");
    assert!(!checked.contains("invert is not known"), "{checked}");
    let turned =
        study.replace("[[trials]]\nfile = \"trials.csv\"", "[[logs]]\nglob = \"logs/w3.csv\"\ninvert = \"current\"");
    lab.file("study.toml", &turned);
    let one = lab.run(&["check", "."]);
    assert!(one.contains("in 1 row from 1 table"), "{one}");
}

#[test]
#[cfg(unix)]
fn names_of_logs_and_of_their_columns_move_no_cursor() {
    let lab = lab();
    let name = "logs/w\u{1b}[2Jx\r\u{9b}31m.csv";
    fs::rename(lab.path().join("logs/w1.csv"), lab.path().join(name)).unwrap();
    lab.file("logs/w\u{1b}]0;y\u{7}.csv", "time_\u{1b}[2J,b,c\n1,2,3\n");
    for more in [&[][..], &["--json"]] {
        let answer = lab.run(&[&["reduce", "logs", "--out", "t.csv", "--force"], more].concat());
        assert!(answer.starts_with("exit 4"), "{answer}");
        assert!(!answer.contains(|c: char| c.is_control() && c != '\n'), "{answer:?}");
    }
    let table = fs::read_to_string(lab.path().join("t.csv")).unwrap();
    assert!(!table.contains(|c: char| c.is_control() && c != '\n'), "{table:?}");
}

#[test]
fn what_is_typed_wrongly_is_said_and_nothing_is_written() {
    let lab = lab();
    let usage = |arguments: &[&str]| {
        let answer = lab.run(&[&["reduce"], arguments, &["--out", "n.csv"]].concat());
        assert!(!lab.path().join("n.csv").exists(), "{answer}");
        answer
    };
    assert!(usage(&[]).starts_with("exit 2"));
    assert!(usage(&["logs/w1.csv", "--columns", "speed=2"]).contains("needed time, current or voltage"));
    assert!(usage(&["logs/w1.csv", "--columns", "currents=2"]).contains("needed time, current or voltage"));
    assert!(usage(&["logs/w1.csv", "--scale", "current=x"]).contains("needed current=NUMBER"));
    assert!(usage(&["logs/w1.csv", "--cut-ends-s", "-1"]).starts_with("exit 2"));
    assert!(usage(&["logs/w1.csv", "logs/../logs/w1.csv"]).contains("would both be trial 'w1'"));
    let gone = usage(&["nowhere.csv"]);
    assert!(gone.starts_with("exit 3") && gone.contains("nowhere.csv"), "{gone}");
    let inverted = usage(&["logs/w1.csv", "--invert", "current"]);
    assert!(inverted.starts_with("exit 3") && inverted.contains("--invert current"), "{inverted}");
    let short = usage(&["logs/w1.csv", "--cut-ends-s", "3"]);
    assert!(short.contains("weld longer, or give a smaller --cut-ends-s"), "{short}");
    fs::create_dir(lab.path().join("empty")).unwrap();
    assert!(usage(&["empty"]).contains("found no file that ends in"));
}

#[test]
fn the_answer_as_json_holds_every_row_or_its_reason() {
    let lab = lab();
    let answer = lab.run(&["reduce", "logs", "--out", "t.csv", "--json"]);
    let out = answer.split("--- out\n").nth(1).unwrap().split("--- err").next().unwrap();
    let value: serde_json::Value = serde_json::from_str(out).unwrap();
    let logs = value["logs"].as_array().unwrap();
    assert_eq!(logs.len(), 3);
    let row = &logs[0]["reduced"];
    assert!((row["pulsed"]["pulse_current_a"]["value"].as_f64().unwrap() - 420.0).abs() < 1.0, "{row}");
    assert_eq!(row["mode"], "pulsed");
    assert!(logs[2]["reduced"].is_null() && logs[2]["reason"].as_str().unwrap().contains("row 3"));
}

#[test]
fn a_study_reduces_its_logs_on_the_way_and_keeps_what_it_reduced() {
    let lab = lab();
    fs::remove_file(lab.path().join("logs/w3.csv")).unwrap();
    let study = fs::read_to_string(lab.path().join("study.toml")).unwrap();
    let logs = "[[logs]]\nglob = \"logs/w*.csv\"\nsidecar = \"welds.csv\"\nscale = { current = 1.0 }\n";
    let begin = study.find("[[trials]]").unwrap();
    let rest = study[begin..].find("\n[").map_or("", |at| &study[begin + at..]);
    lab.file("study.toml", &format!("{}{logs}{rest}", &study[..begin]));
    let answer = lab.run(&["develop", ".", "--out", "result"]);
    // Two trials determine no law: the result says so, and holds the rows.
    assert!(answer.starts_with("exit 4"), "{answer}");
    let table = fs::read_to_string(lab.path().join("result/trials.csv")).unwrap();
    let rows: Vec<&str> = table.lines().filter(|l| !l.starts_with('#')).collect();
    assert!(rows[0].contains("window_start_s") && rows[1].starts_with("w1,6.5,") && rows[1].contains("logs/w1.csv"));
    let page = fs::read_to_string(lab.path().join("result/report.html")).unwrap();
    assert!(page.contains("pulses are missing between others"), "what was noticed of a log stands in the report");
    assert!(page.contains("the row is its window from 0.800 to 2.000 s"), "each row leads to its window");
    let laws = fs::read_to_string(lab.path().join("result/laws.json")).unwrap();
    let laws: serde_json::Value = serde_json::from_str(&laws).unwrap();
    let inputs = laws["provenance"]["inputs"].as_array().unwrap();
    assert!(
        inputs.iter().any(|i| i["file"] == "logs/w1.csv" && i["sha256"].as_str().unwrap().len() == 64),
        "{inputs:?}"
    );
    // Kept by content: the same bytes are not read again, other bytes are.
    let kept = lab.path().join(".meltlaw-logs");
    assert_eq!(fs::read_dir(&kept).unwrap().count(), 2);
    let again = lab.run(&["develop", ".", "--out", "again"]);
    assert_eq!(table, fs::read_to_string(lab.path().join("again/trials.csv")).unwrap(), "{again}");
    fs::write(lab.path().join("logs/w2.csv"), "time_s,current_a,voltage_v\n0,1,2\n0.001,x,2\n").unwrap();
    let broken = lab.run(&["check", "."]);
    assert!(broken.starts_with("exit 3") && broken.contains("logs/w2.csv, row 3, column current_a"), "{broken}");
}

/// Most memory that a run held, kB, as the kernel counts it: its own, and with the pages of the program itself, of which the
/// kernel maps now more and now less.
#[cfg(target_os = "linux")]
fn peak_kilobytes(folder: &std::path::Path, arguments: &[&str]) -> [u64; 2] {
    let mut run = std::process::Command::new(env!("CARGO_BIN_EXE_meltlaw"))
        .args(arguments)
        .current_dir(folder)
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let mut peaks = [0; 2];
    loop {
        // Gone once the run has ended.
        let status = fs::read_to_string(format!("/proc/{}/status", run.id())).unwrap_or_default();
        for (peak, name) in peaks.iter_mut().zip(["RssAnon:", "VmHWM:"]) {
            let line = status.lines().find_map(|l| l.strip_prefix(name));
            *peak = line.and_then(|l| l.trim().strip_suffix(" kB")).map_or(*peak, |kb| kb.parse().unwrap()).max(*peak);
        }
        if let Some(ended) = run.try_wait().unwrap() {
            assert!(ended.success(), "{arguments:?}");
            return peaks;
        }
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
}

#[test]
#[cfg(target_os = "linux")]
fn a_log_takes_as_much_memory_however_long_it_is() {
    let lab = Lab::new(TRIALS);
    let truth = LogTruth { sample_rate_hz: 20_000.0, before_s: 0.0, after_s: 0.0, arc_s: 2.0, ..LogTruth::default() };
    let two_seconds = truth.log(11, 0);
    let pairs = || two_seconds.current.iter().zip(&two_seconds.voltage);
    let mut text = String::new();
    pairs().for_each(|(i, u)| writeln!(text, "{i:.3},{u:.3}").unwrap());
    let bytes: Vec<u8> = pairs().flat_map(|(i, u)| [i.to_le_bytes(), u.to_le_bytes()].concat()).collect();
    let repeated = |piece: &[u8], seconds: usize| piece.repeat(seconds / 2);
    let parquet = |seconds: usize| {
        let column = |name: &str, values: &[f32]| PolarsColumn::new(name.into(), values.repeat(seconds / 2));
        let columns = vec![column("current_a", &two_seconds.current), column("voltage_v", &two_seconds.voltage)];
        let mut bytes = Vec::new();
        let writer = ParquetWriter::new(&mut bytes).with_data_page_size(Some(100_000));
        writer.finish(&mut DataFrame::new_infer_height(columns).unwrap()).unwrap();
        bytes
    };
    let [numbered, raw] = [&["--columns", "current=1,voltage=2"][..], &["--raw", "f32"]];
    let logs: [(&str, &dyn Fn(usize) -> Vec<u8>, &[&str]); 3] = [
        ("log.csv", &|seconds| repeated(text.as_bytes(), seconds), numbered),
        ("log.f32", &|seconds| repeated(&bytes, seconds), raw),
        ("log.parquet", &parquet, &[]),
    ];
    for (name, log, more) in logs {
        let mut typed =
            vec!["reduce", name, "--sample-rate-hz", "20000", "--threads", "2", "--out", "rows.csv", "--force"];
        typed.extend(more);
        let peaks = [10, 60, 300].map(|seconds| {
            fs::write(lab.path().join(name), log(seconds)).unwrap();
            peak_kilobytes(lab.path(), &typed)
        });
        let own = peaks.map(|[own, _]| own);
        let [least, most] = [own.iter().min().unwrap(), own.iter().max().unwrap()];
        // 300 s are 96 MB of text: who kept even the samples would hold several times as much as for 10 s.
        assert!(*most as f64 <= 1.05 * *least as f64, "{name}: {peaks:?} kB");
        assert!(peaks.iter().all(|[_, whole]| *whole < 100_000), "{name}: {peaks:?} kB");
    }
}

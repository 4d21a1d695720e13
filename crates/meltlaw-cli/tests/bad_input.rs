//! Bad input and what the program says to it; each message is kept as a snapshot.
#![allow(missing_docs, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod common;

use common::{Lab, TRIALS, first_rows, with_column};
use insta::assert_snapshot;

#[test]
fn a_missing_study() {
    assert_snapshot!(Lab::new(TRIALS).run(&["develop", "elsewhere"]));
}

#[test]
fn a_missing_table() {
    let lab = Lab::new(TRIALS);
    std::fs::remove_file(lab.path().join("trials.csv")).unwrap();
    assert_snapshot!(lab.run(&["develop", "."]));
    assert!(!lab.path().join("result").exists());
}

#[test]
fn an_empty_table() {
    assert_snapshot!(Lab::new("").run(&["develop", "."]));
}

#[test]
fn a_header_only() {
    assert_snapshot!(Lab::new(&first_rows(0)).run(&["develop", "."]));
}

#[test]
fn one_trial() {
    assert_snapshot!(Lab::new(&first_rows(1)).run(&["develop", "."]));
}

#[test]
fn two_trials_with_the_same_feed() {
    let table = with_column("wire_feed_m_min", |_, _| "4.80".to_owned())
        .lines()
        .take(3)
        .map(|l| format!("{l}\n"))
        .collect::<String>();
    assert_snapshot!(Lab::new(&table).run(&["develop", "."]));
}

#[test]
fn lengths_in_inches_under_a_millimetre_name() {
    let table = with_column("ctwd_mm", |_, c| format!("{:.3}", c.parse::<f64>().unwrap() / 25.4));
    assert_snapshot!(Lab::new(&table).run(&["check", "."]));
}

#[test]
fn a_feed_in_inches_per_minute_under_a_metre_name() {
    let table = with_column("wire_feed_m_min", |_, c| format!("{:.1}", c.parse::<f64>().unwrap() / 0.0254));
    assert_snapshot!(Lab::new(&table).run(&["check", "."]));
}

#[test]
fn a_decimal_comma_in_a_comma_separated_table() {
    let table =
        with_column(
            "current_mean_a",
            |i, c| if i == 2 { format!("\"{}\"", c.replace('.', ",")) } else { c.to_owned() },
        );
    assert_snapshot!(Lab::new(&table).run(&["check", "."]));
}

#[test]
fn what_is_no_number_is_told_for_every_cell_at_once() {
    let table = with_column("current_mean_a", |i, c| match i {
        0 => "NaN".to_owned(),
        3 => "inf".to_owned(),
        5 => "about 170".to_owned(),
        _ => c.to_owned(),
    });
    assert_snapshot!(Lab::new(&table).run(&["develop", "."]));
}

#[test]
fn two_trials_of_one_name() {
    let table = with_column("trial", |i, c| if i == 4 { "B01".to_owned() } else { c.to_owned() });
    assert_snapshot!(Lab::new(&table).run(&["develop", "."]));
}

#[test]
fn currents_in_kiloamperes_without_the_suffix() {
    let mut table = TRIALS.to_owned();
    for column in ["current_mean_a", "current_rms_a", "pulse_current_a", "background_current_a"] {
        let header: Vec<&str> = TRIALS.lines().next().unwrap().split(',').collect();
        let at = header.iter().position(|h| *h == column).unwrap();
        table = table
            .lines()
            .enumerate()
            .map(|(i, line)| {
                let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
                if i > 0 {
                    cells[at] = format!("{:.5}", cells[at].parse::<f64>().unwrap() / 1000.0);
                }
                cells.join(",") + "\n"
            })
            .collect();
    }
    assert_snapshot!(Lab::new(&table).run(&["develop", "."]));
}

#[test]
fn no_drop_was_counted() {
    let mut table = with_column("pulses_without_drop", |_, _| String::new());
    for column in ["pulses_with_one_drop", "pulses_with_more_drops"] {
        let header: Vec<&str> = TRIALS.lines().next().unwrap().split(',').collect();
        let at = header.iter().position(|h| *h == column).unwrap();
        table = table
            .lines()
            .enumerate()
            .map(|(i, line)| {
                let mut cells: Vec<&str> = line.split(',').collect();
                if i > 0 {
                    cells[at] = "";
                }
                cells.join(",") + "\n"
            })
            .collect();
    }
    let lab = Lab::new(&table);
    assert_snapshot!(lab.run(&["develop", "."]));
    assert!(lab.path().join("result/report.html").exists(), "a result in part is a result");
}

#[test]
fn every_pulse_detached_one_drop() {
    let table = {
        let one = with_column("pulses_with_one_drop", |_, _| "150".to_owned());
        let header: Vec<&str> = TRIALS.lines().next().unwrap().split(',').collect();
        one.lines()
            .enumerate()
            .map(|(i, line)| {
                let mut cells: Vec<&str> = line.split(',').collect();
                if i > 0 {
                    for column in ["pulses_without_drop", "pulses_with_more_drops"] {
                        cells[header.iter().position(|h| *h == column).unwrap()] = "0";
                    }
                }
                cells.join(",") + "\n"
            })
            .collect::<String>()
    };
    assert_snapshot!(Lab::new(&table).run(&["develop", "."]));
}

#[test]
fn an_unknown_material() {
    let lab = Lab::new(TRIALS);
    lab.study_with("carbon-steel", "carbonsteel");
    assert_snapshot!(lab.run(&["develop", "."]));
}

#[test]
fn an_unknown_key() {
    let lab = Lab::new(TRIALS);
    lab.study_with("arc_length_mm = 4.0", "arc_lenght_mm = 4.0");
    assert_snapshot!(lab.run(&["develop", "."]));
}

#[test]
fn a_gas_that_sums_to_97() {
    let lab = Lab::new(TRIALS);
    lab.study_with("carbon_dioxide = 8.0", "carbon_dioxide = 5.0");
    assert_snapshot!(lab.run(&["develop", "."]));
}

#[test]
fn a_table_outside_the_study() {
    let outside = tempfile::tempdir().unwrap();
    std::fs::write(outside.path().join("trials.csv"), TRIALS).unwrap();
    let lab = Lab::new(TRIALS);
    lab.study_with("file = \"trials.csv\"", "file = \"../trials.csv\"");
    assert_snapshot!("through_dots", lab.run(&["develop", "."]));
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(outside.path().join("trials.csv"), lab.path().join("linked.csv")).unwrap();
        lab.study_with("file = \"trials.csv\"", "file = \"linked.csv\"");
        assert_snapshot!("through_a_link", lab.run(&["develop", "."]));
    }
}

#[test]
fn a_name_with_a_line_break_is_refused_and_markup_is_text() {
    let lab = Lab::new(TRIALS);
    lab.study_with("name = \"Lab\"", "name = \"Lab\\nsecond line\"");
    assert_snapshot!("line_break", lab.run(&["develop", "."]));
    lab.study_with("name = \"Lab\"", "name = \"<script>alert(1)</script>\"");
    let answer = lab.run(&["develop", "."]);
    assert!(answer.starts_with("exit 0"), "{answer}");
    let page = std::fs::read_to_string(lab.path().join("result/report.html")).unwrap();
    assert!(!page.contains("<script>alert") && page.contains("&lt;script&gt;alert"));
}

#[test]
fn an_output_folder_that_exists_or_is_not_ours_or_cannot_be_written() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    assert_snapshot!("out_exists", lab.run(&["develop", "."]));
    assert!(lab.run(&["develop", ".", "--force"]).starts_with("exit 0"));
    std::fs::write(lab.path().join("result/mine.txt"), "keep me").unwrap();
    assert_snapshot!("out_holds_a_foreign_file", lab.run(&["develop", ".", "--force"]));
    assert_eq!(std::fs::read_to_string(lab.path().join("result/mine.txt")).unwrap(), "keep me");
    std::fs::create_dir(lab.path().join("photos")).unwrap();
    std::fs::write(lab.path().join("photos/weld.txt"), "mine").unwrap();
    assert_snapshot!("out_is_not_ours", lab.run(&["develop", ".", "--force", "--out", "photos"]));
    #[cfg(target_os = "linux")]
    assert_snapshot!("out_cannot_be_written", lab.run(&["develop", ".", "--out", "/proc/result"]));
}

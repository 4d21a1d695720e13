//! Numbers, shapes, counts and texts that no laboratory sends: whatever a study, its table or a document says, the
//! answer is a message or finite numbers that can be read again. Nothing panics.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use std::fmt::Write as _;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use meltlaw::develop;
use meltlaw::record::{Provenance, StudyReference};
use meltlaw_files::document::parse_strictly;
use meltlaw_files::{DocumentError, LawsDocument, LineDocument, checksum, read_study};
use serde_json::{Map, Value, json};

const STUDY: &str = "name = \"Hostile\"
[wire]
material = \"carbon-steel\"
diameter_mm = 1.2
[gas]
argon = 92
carbon_dioxide = 8
[bench]
ctwd_mm = 18
arc_length_mm = 4
[calibration]
current_gain_relative = 0.003
[source]
current_a = [20, 500]
background_current_a = [25, 170]
[line]
wire_feed_m_min = [4, 6]
composing = \"midpoint\"
[numerics]
draws = 100
[[trials]]
file = \"t.csv\"
";

/// The demo's table, a row a trial.
fn table() -> (Vec<String>, Vec<Vec<String>>) {
    let text = include_str!("../../../datasets/demo/trials.csv");
    let mut rows = text.lines().filter(|l| !l.starts_with('#')).map(|l| l.split(',').map(str::to_owned).collect());
    let header: Vec<String> = rows.next().unwrap();
    let width = header.len();
    // A remark may hold commas; nothing here needs it.
    (
        header,
        rows.map(|mut row: Vec<String>| {
            row.truncate(width - 1);
            row.push(String::new());
            row
        })
        .collect(),
    )
}

fn text(header: &[String], rows: &[Vec<String>]) -> String {
    let mut text = header.join(",") + "\n";
    for row in rows {
        writeln!(text, "{}", row.join(",")).unwrap();
    }
    text
}

/// The study with a key of a section set.
fn with_key(section: &str, key: &str, value: &str) -> String {
    let mut lines: Vec<String> = Vec::new();
    let (mut inside, mut done) = (false, false);
    for line in STUDY.lines() {
        if line.starts_with('[') {
            inside = line == format!("[{section}]");
        }
        if inside && line.split('=').next().is_some_and(|k| k.trim() == key) {
            continue;
        }
        lines.push(line.to_owned());
        if inside && !done {
            lines.push(format!("{key} = {value}"));
            done = true;
        }
    }
    if !done {
        lines.insert(1, format!("[{section}]\n{key} = {value}"));
    }
    lines.join("\n") + "\n"
}

/// How the whole way of the data ended.
#[derive(Debug, PartialEq)]
enum Ended {
    /// Not read, with this message.
    Refused(String),
    /// A check stopped it.
    Stopped,
    /// Both documents were written and read again.
    Written,
}

fn way(folder: &Path, study: &str, table: &str) -> Ended {
    fs::write(folder.join("study.toml"), study).unwrap();
    fs::write(folder.join("t.csv"), table).unwrap();
    let read = match read_study(folder) {
        Ok(read) => read,
        Err(error) => return Ended::Refused(error.to_string()),
    };
    let Ok(laws) = develop::laws(&read.study, &read.trials) else { return Ended::Stopped };
    let provenance = Provenance {
        tool: "test".to_owned(),
        study: StudyReference { file: read.file.clone(), sha256: read.sha256.clone() },
        inputs: Vec::new(),
        seed: 1,
        draws: 100,
    };
    let cautions = vec!["a caution".to_owned()];
    let laws = LawsDocument::new(laws, cautions.clone(), provenance.clone()).expect("finite laws");
    LawsDocument::from_json(&laws.to_json(), "laws.json").expect("laws as written are read");
    let line = develop::line(&read.study, laws.body(), laws.checksum());
    let line = LineDocument::new(line, cautions, provenance).expect("a finite line");
    LineDocument::from_json(&line.to_json(), "line.json").expect("a line as written is read");
    Ended::Written
}

/// Runs all cases and names every one that panics.
fn all_end(cases: Vec<(String, String, String)>) -> Vec<(String, Ended)> {
    let folder = tempfile::tempdir().unwrap();
    let mut ended = Vec::new();
    let mut panicked = Vec::new();
    for (name, study, table) in cases {
        match catch_unwind(AssertUnwindSafe(|| way(folder.path(), &study, &table))) {
            Ok(end) => ended.push((name, end)),
            Err(_) => panicked.push(name),
        }
    }
    assert!(panicked.is_empty(), "panicked: {panicked:#?}");
    ended
}

/// Every number of a study, with the ends of its range.
const KEYS: [(&str, &str, &str, &str); 39] = [
    ("wire", "diameter_mm", "0.05", "20"),
    ("wire", "metal_section_mm2", "0.001", "1.13"),
    ("wire", "density_kg_m3", "500", "25000"),
    ("wire", "linear_mass_g_m", "0.001", "10000"),
    ("bench", "ctwd_mm", "4.0000000001", "1000"),
    ("bench", "arc_length_mm", "0.001", "17.9999999999"),
    ("bench", "wire_feed_relative_se", "0", "0.9999999"),
    ("bench", "current_relative_se", "0", "0.9999999"),
    ("bench", "voltage_se_v", "0", "100"),
    ("bench", "ctwd_se_mm", "0", "100"),
    ("bench", "arc_length_se_mm", "0", "100"),
    ("bench", "extension_se_mm", "0", "100"),
    ("bench", "pulse_time_relative_se", "0", "0.9999999"),
    ("calibration", "current_gain_relative", "0", "0.5"),
    ("calibration", "wire_feed_gain_relative", "0", "0.5"),
    ("calibration", "voltage_offset_v", "0", "50"),
    ("calibration", "voltage_gain_relative", "0", "0.5"),
    ("calibration", "ctwd_offset_mm", "0", "100"),
    ("calibration", "arc_length_offset_mm", "0", "100"),
    ("calibration", "pulse_time_gain_relative", "0", "0.5"),
    ("laws", "reference_current_a", "1", "100000"),
    ("source", "rise_a_per_ms", "0.1", "1000000"),
    ("source", "fall_a_per_ms", "0.1", "1000000"),
    ("line", "step_m_min", "0.02", "1000"),
    ("line", "drop_to_wire_ratio", "0.8", "1.4"),
    ("line", "interpolation_tolerance", "0.000001", "0.9999999"),
    ("line", "one_drop_floor", "0.000001", "0.9999999"),
    ("line", "extended_by", "0", "10"),
    ("line", "extended_melting_rate_relative_se", "0.000001", "0.9999999"),
    ("line", "travel_speed_mm_s", "0.001", "10000"),
    ("line.weights", "one_drop", "0", "10"),
    ("line.weights", "drop_size", "0", "10"),
    ("line.weights", "pulse_current", "0", "10"),
    ("line.weights", "smoothness", "0", "10"),
    ("compare", "wire_feed_relative", "0.000001", "10"),
    ("compare", "detachment_relative", "0.000001", "10"),
    ("compare", "voltage_v", "0.000001", "1000"),
    ("numerics", "draws", "100", "101"),
    ("numerics", "confidence", "0.5000001", "0.9999"),
];

#[test]
fn no_number_of_a_study_is_beyond_what_the_mathematics_bears() {
    let (header, rows) = table();
    let table = text(&header, &rows);
    let folder = tempfile::tempdir().unwrap();
    for (section, key, ..) in KEYS {
        for value in ["1e308", "-1e308", "-1.0", "1e300", "1e-300", "5e-324", "nan", "inf", "1e18"] {
            if value.starts_with("1e-") || value.starts_with("5e") {
                // So near to zero is as good as zero where zero is allowed.
                continue;
            }
            let ended = way(folder.path(), &with_key(section, key, value), &table);
            let Ended::Refused(message) = &ended else { panic!("{section}.{key} = {value}: {ended:?}") };
            let place = format!("key {section}.{key}: found ");
            assert!(message.contains(&place) && message.contains(", needed "), "{message}");
        }
    }
}

#[test]
fn between_the_ends_of_every_range_the_way_ends_in_finite_numbers() {
    let (header, rows) = table();
    let table = text(&header, &rows);
    let mut cases = Vec::new();
    for (section, key, low, high) in KEYS {
        for value in [low, high, "1e-300"] {
            cases.push((format!("{section}.{key} = {value}"), with_key(section, key, value), table.clone()));
        }
    }
    for (name, end) in all_end(cases) {
        if name.ends_with("1e-300") {
            continue;
        }
        // A check may stop what is conceivable but not welded, such as these feeds with a wire of 0.05 mm.
        assert!(!matches!(end, Ended::Refused(_)), "{name}: {end:?}");
    }
}

fn numbers(header: &[String]) -> Vec<usize> {
    let words = ["trial", "block", "mode", "use", "note"];
    (0..header.len()).filter(|&i| !words.contains(&header[i].as_str())).collect()
}

#[test]
fn a_column_of_one_value_or_of_absurd_ones_is_refused_or_fitted_with_finite_numbers() {
    let (header, rows) = table();
    let mut cases = Vec::new();
    for column in numbers(&header) {
        for value in ["2", "20", "1e307", "-1e307", "1e-300", "5e-324"] {
            let mut rows = rows.clone();
            rows.iter_mut().for_each(|row| row[column] = value.to_owned());
            cases.push((format!("{} all {value}", header[column]), STUDY.to_owned(), text(&header, &rows)));
        }
        for value in ["1e308", "-1e308", "1e-308"] {
            let mut rows = rows.clone();
            rows[5][column] = value.to_owned();
            cases.push((format!("{} once {value}", header[column]), STUDY.to_owned(), text(&header, &rows)));
        }
    }
    for (name, end) in all_end(cases) {
        let beyond = ["1e307", "1e-300", "5e-324", "1e308", "1e-308"].iter().any(|v| name.ends_with(v));
        let Ended::Refused(message) = &end else {
            assert!(!beyond, "{name}: {end:?}");
            continue;
        };
        let column = name.split(' ').next().unwrap();
        assert!(
            message.starts_with("t.csv, row ") && message.contains(&format!("column {column}: found ")),
            "{message}"
        );
    }
}

/// A generator of our own: the same cases everywhere.
struct Disorder(u64);

impl Disorder {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

#[test]
fn few_equal_constant_and_collinear_trials_end_in_words() {
    let (header, rows) = table();
    let mut cases = Vec::new();
    for n in (0..9).chain([12, 47]) {
        cases.push((format!("{n} trials"), STUDY.to_owned(), text(&header, &rows[..n])));
    }
    for n in [2, 3, 5, 8, 30] {
        let mut equal = vec![rows[0].clone(); n];
        equal.iter_mut().enumerate().for_each(|(i, row)| row[0] = format!("T{i}"));
        cases.push((format!("{n} trials all equal"), STUDY.to_owned(), text(&header, &equal)));
    }
    let mut disorder = Disorder(7);
    let numbers = numbers(&header);
    for case in 0..40 {
        // Some columns constant, some a multiple of another, as collinear as f64 can be.
        let mut rows = rows.clone();
        for _ in 0..=disorder.below(4) {
            let (to, from) = (numbers[disorder.below(numbers.len())], numbers[disorder.below(numbers.len())]);
            let factor = [0.0, 1.0, 0.5, 3.0][disorder.below(4)];
            let constant = rows[disorder.below(10)][to].clone();
            for row in &mut rows {
                row[to] = match row[from].parse::<f64>() {
                    Ok(v) if factor > 0.0 => (factor * v).to_string(),
                    _ => constant.clone(),
                };
            }
        }
        cases.push((format!("columns of each other {case}"), STUDY.to_owned(), text(&header, &rows)));
    }
    all_end(cases);
}

#[test]
fn counts_of_every_kind_end_in_words() {
    let (header, rows) = table();
    let at = |name: &str| header.iter().position(|h| h == name).unwrap();
    let classes = ["pulses_without_drop", "pulses_with_one_drop", "pulses_with_more_drops"].map(at);
    let mut cases = Vec::new();
    let mut push = |name: String, count: &mut dyn FnMut(usize) -> [String; 3]| {
        let mut rows = rows.clone();
        for (i, row) in rows.iter_mut().enumerate() {
            for (column, value) in classes.into_iter().zip(count(i)) {
                row[column] = value;
            }
        }
        cases.push((name, STUDY.to_owned(), text(&header, &rows)));
    };
    let whole = |counts: [u64; 3]| counts.map(|c| c.to_string());
    for (name, counts) in [
        ("none", [100, 0, 0]),
        ("one", [0, 100, 0]),
        ("more", [0, 0, 100]),
        ("no pulse", [0, 0, 0]),
        ("many", [0, 1_000_000_000, 0]),
        ("many of each", [1_000_000_000; 3]),
        ("one pulse", [0, 1, 0]),
    ] {
        push(format!("all {name}"), &mut |_| whole(counts));
    }
    for cut in [1, 5, 20, 40] {
        push(format!("separated at {cut}"), &mut |i| whole(if i < cut { [100, 0, 0] } else { [0, 0, 100] }));
        push(format!("separated in three at {cut}"), &mut |i| {
            whole(if i < cut {
                [100, 0, 0]
            } else if i < cut + 5 {
                [0, 100, 0]
            } else {
                [0, 0, 100]
            })
        });
        push(format!("one trial differs, {cut}"), &mut |i| whole(if i == cut { [99, 1, 0] } else { [0, 100, 0] }));
    }
    let mut disorder = Disorder(11);
    for case in 0..20 {
        push(format!("any counts {case}"), &mut |_| {
            whole([0, 1, 2].map(|_| disorder.next() % [1, 2, 100, 1_000_000_000][disorder.below(4)]))
        });
    }
    for bad in ["0.5", "-1", "9007199254740993", "1000000001", "1e30", "nan"] {
        push(format!("bad {bad}"), &mut |i| {
            [if i == 3 { bad } else { "5" }.to_owned(), "90".to_owned(), "5".to_owned()]
        });
    }
    for (name, end) in all_end(cases) {
        assert!(
            !name.starts_with("bad") || matches!(&end, Ended::Refused(m) if m.contains("row 5")),
            "{name}: {end:?}"
        );
    }
}

fn example(name: &str) -> Map<String, Value> {
    let path = format!("{}/../../datasets/worked_example/{name}", env!("CARGO_MANIFEST_DIR"));
    let Value::Object(members) = parse_strictly(&fs::read_to_string(path).unwrap()).unwrap() else { unreachable!() };
    members
}

/// A document with a right checksum, whatever it says.
fn forged(name: &str, change: impl FnOnce(&mut Value)) -> String {
    let mut value = Value::Object(example(name));
    change(&mut value);
    let Value::Object(mut members) = value else { unreachable!() };
    let new = checksum(&members);
    members.insert("checksum".to_owned(), Value::from(new));
    Value::Object(members).to_string()
}

fn refusal(name: &str, text: &str) -> String {
    if name.starts_with("laws") {
        LawsDocument::from_json(text, name).map(|_| ()).unwrap_err().to_string()
    } else {
        LineDocument::from_json(text, name).map(|_| ()).unwrap_err().to_string()
    }
}

#[test]
fn json_that_is_cut_deep_doubled_huge_or_from_the_future_is_refused() {
    for name in ["line.json", "laws.json"] {
        let whole = Value::Object(example(name)).to_string();
        let mut disorder = Disorder(3);
        for _ in 0..60 {
            let end = disorder.below(whole.len());
            if whole.is_char_boundary(end) {
                assert!(refusal(name, &whole[..end]).starts_with(&format!("{name}: ")));
            }
        }
        let doubled = whole.replacen("{\"format\"", "{\"cautions\":[],\"format\"", 1);
        assert!(refusal(name, &doubled).contains("\"cautions\" appears twice"));
        assert!(refusal(name, &"[".repeat(1_000_000)).contains("recursion"));
        assert!(refusal(name, &"{\"a\":".repeat(1_000_000)).contains("recursion"));
        for huge in ["1e999", "-1e999", "1e99999999999"] {
            let text = whole.replacen("\"diameter_mm\":1.2", &format!("\"diameter_mm\":{huge}"), 1);
            assert!(refusal(name, &text).contains("not readable as JSON"), "{huge}");
        }
        for version in [json!(0), json!(3), json!(1e300), json!(-2), json!("2"), json!(2.5), json!(u64::MAX)] {
            let text = forged(name, |v| v["format_version"] = version.clone());
            assert!(refusal(name, &text).contains("format_version"), "{version}");
        }
        assert_eq!(refusal(name, "\"\u{1b}[2J\"").matches('\u{1b}').count(), 0);
    }
}

#[test]
fn a_forged_line_is_refused_by_the_number_that_cannot_be() {
    let line = |change: fn(&mut Value)| refusal("line.json", &forged("line.json", change));
    assert!(line(|v| v["confidence"] = json!(-1)).contains("confidence is -1, a number above 0.5 and at most 0.9999"));
    for value in [-1.0, 1e308] {
        let text = forged("line.json", |v| v["nodes"][0]["melting_rate_relative_se"] = json!(value));
        assert!(refusal("line.json", &text).contains("melting_rate_relative_se is"));
    }
    assert!(line(|v| v["cautions"] = json!([])).contains("cautions are empty"));
    assert!(line(|v| v["cautions"] = json!(["  "])).contains("cautions are empty"));
    let numerics = json!({"seed": 1, "draws": 200, "confidence": 2, "covariance_from": "residuals"});
    let text = forged("line.json", |v| v["numerics"] = numerics);
    assert!(refusal("line.json", &text).contains("numerics.confidence is 2"));
    let absurd = json!([{"name": "voltage_offset_v", "standard_uncertainty": 1e9, "unit": "V", "effects": {}}]);
    let text = forged("line.json", |v| v["calibration"] = absurd);
    assert!(refusal("line.json", &text).contains("calibration.voltage_offset_v is 1000000000"));
    assert!(line(|v| v["source"]["rise_a_per_ms"] = json!(1e300)).contains("source.rise_a_per_ms is"));
    assert!(line(|v| v["wire"]["diameter_mm"] = json!(-1.2)).contains("wire.diameter_mm is -1.2"));
    assert!(line(|v| v["standing"][0]["wire_feed_m_min"][1] = json!(1e300)).contains("standing.wire_feed_m_min is"));
    assert!(line(|v| v["standing"] = Value::from(vec![v["standing"][0].clone(); 100_000])).contains("100000 ranges"));
    let laws = refusal("laws.json", &forged("laws.json", |v| v["laws"]["burn_off"]["covariance"][0][0] = json!(-1)));
    assert!(laws.contains("laws.burn_off.covariance[0][0] is -1, a number from 0 to"), "{laws}");
    let laws = refusal("laws.json", &forged("laws.json", |v| v["confidence"] = json!(1)));
    assert!(laws.contains("confidence is 1"), "{laws}");
}

#[test]
fn a_forged_text_reaches_no_terminal_as_it_stands() {
    for (name, escape) in
        [("line.json", "\u{1b}[31mred"), ("line.json", "a\u{202e}b"), ("laws.json", "a\rb"), ("laws.json", "\u{9b}2J")]
    {
        let changes: [&dyn Fn(&mut Value); 6] = [
            &|v| v["name"] = json!(escape),
            &|v| v["wire"]["designation"] = json!(escape),
            &|v| v["wire"]["material"] = json!(escape),
            &|v| v["laws"]["burn_off"]["trials_used"][0] = json!(escape),
            &|v| v["laws"]["burn_off"]["ended"]["reason"] = json!(escape),
            &|v| v["cautions"][0] = json!(escape),
        ];
        for change in changes {
            let message = refusal(name, &forged(name, change));
            assert!(!message.chars().any(|c| c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c)), "{message:?}");
            assert!(message.contains("holds") && message.contains("was needed"), "{message}");
        }
        let format = refusal(name, &forged(name, |v| v["format"] = json!(escape)));
        assert!(!format.chars().any(|c| c.is_control() || c == '\u{202e}'), "{format:?}");
    }
    let long = refusal("line.json", &forged("line.json", |v| v["name"] = json!("x".repeat(121))));
    assert!(long.contains("name holds 121 characters, one line of at most 120 characters"), "{long}");
}

#[test]
fn nodes_and_pins_are_counted_together_before_anything_is_composed() {
    let (header, rows) = table();
    let table = text(&header, &rows);
    let folder = tempfile::tempdir().unwrap();
    let pins = |n: usize| {
        (0..n).fold(String::new(), |mut text, i| {
            let feed = 4.0 + 2.0 * i as f64 / n as f64;
            writeln!(text, "[[line.pin]]\nwire_feed_m_min = {feed}\npulse_time_ms = 2.2").unwrap();
            text
        })
    };
    let refused = |study: &str| match way(folder.path(), study, &table) {
        Ended::Refused(message) => message,
        other => panic!("{other:?}"),
    };
    assert_eq!(
        refused(&(with_key("line", "step_m_min", "0.001") + &pins(150))),
        "study.toml, line 17, key line.step_m_min: found a line of 2151 nodes: 2001 at 0.001 m/min from 4 to 6 m/min, 150 pinned, needed at most 2000 nodes, pins among them; take a longer step, a shorter line or fewer pins"
    );
    let many = refused(&(STUDY.to_owned() + &pins(5000)));
    assert!(many.contains("key line.pin: found 5000 pins, needed at most 200; pin only"), "{many}");
}

#[test]
fn unknown_keys_and_columns_by_the_thousand_are_counted_and_not_all_searched() {
    let (header, rows) = table();
    let folder = tempfile::tempdir().unwrap();
    let keys = (0..20_000).fold(String::new(), |mut text, i| {
        writeln!(text, "wire_feed_m_minn{i} = \"x\"").unwrap();
        text
    });
    let columns = STUDY.to_owned() + "[trials.columns]\n" + &keys;
    let Ended::Refused(message) = way(folder.path(), &columns, &text(&header, &rows)) else { panic!("read") };
    assert!(message.contains("found 20000 columns, needed at most 1000"), "{message}");
    let unknown = STUDY.replace("[bench]\n", &format!("[bench]\n{keys}"));
    let Ended::Refused(message) = way(folder.path(), &unknown, &text(&header, &rows)) else { panic!("read") };
    assert_eq!(message.lines().count(), 101);
    assert!(message.lines().last().unwrap().contains("found 19900 more unknown keys, needed known keys"), "{message}");
}

#[test]
fn more_trials_than_a_laws_file_holds_are_refused() {
    let (header, rows) = table();
    let mut many = Vec::new();
    for i in 0..20_001 {
        let mut row = rows[i % rows.len()].clone();
        row[0] = format!("T{i}");
        many.push(row);
    }
    let folder = tempfile::tempdir().unwrap();
    let Ended::Refused(message) = way(folder.path(), STUDY, &text(&header, &many)) else { panic!("read") };
    assert_eq!(
        message,
        "study.toml: found 20001 trials in its tables, needed at most 20000; leave trials out of the tables: a law gains little from more"
    );
}

#[test]
fn what_would_be_too_large_to_read_is_not_written() {
    let text =
        fs::read_to_string(format!("{}/../../datasets/worked_example/line.json", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let read = LineDocument::from_json(&text, "line.json").unwrap();
    let mut body = read.body().clone();
    body.line.nodes[0].notes = vec!["x".repeat(65_000_000)];
    let error = LineDocument::new(body, read.cautions().to_vec(), read.provenance().clone()).unwrap_err();
    assert!(matches!(error, DocumentError::TooLargeToRead { .. }), "{error}");
    assert!(error.to_string().contains("at most 64000000 are read again; ask for fewer nodes"));
}

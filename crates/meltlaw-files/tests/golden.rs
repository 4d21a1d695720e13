//! Files that an earlier program wrote: today's reads them to the same numbers and writes them to the same bytes.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use std::path::{Path, PathBuf};

use meltlaw::line_at::at;
use meltlaw::trials::Column;
use meltlaw_files::{LawsDocument, LineDocument, SchemaOf, read_study, schema};
use serde_json::{Value, json};

fn golden() -> PathBuf {
    PathBuf::from(format!("{}/../../datasets/golden", env!("CARGO_MANIFEST_DIR")))
}

/// Every folder of golden files that are still read. Version 1 was never released.
fn folders() -> Vec<PathBuf> {
    let all = std::fs::read_dir(golden()).unwrap().map(|e| e.unwrap().path());
    let folders: Vec<PathBuf> = all.filter(|path| path.is_dir() && !path.ends_with("v1")).collect();
    assert!(!folders.is_empty());
    folders
}

#[test]
fn a_file_from_before_the_first_release_is_refused_with_what_to_do() {
    let refused = LineDocument::load(&golden().join("v1/line.json")).unwrap_err().to_string();
    assert!(refused.ends_with("format_version is 1, written before the first release; develop again"), "{refused}");
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

fn expected(folder: &Path) -> Value {
    serde_json::from_str(&text(&folder.join("expected.json"))).unwrap()
}

/// Every `line*.json` of a folder.
fn lines(folder: &Path) -> Vec<PathBuf> {
    let names = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    names.filter(|p| p.file_name().unwrap().to_string_lossy().starts_with("line")).collect()
}

/// All that was said then is said now; more may be said. Numbers to 1e-12 relative: the same operations in another
/// order may differ by some units in the last place, of which 1e-12 holds four thousand.
fn same(then: &Value, now: &Value, place: &str) {
    match (then, now) {
        (Value::Number(then), Value::Number(now)) => {
            let (then, now) = (then.as_f64().unwrap(), now.as_f64().unwrap());
            assert!((then - now).abs() <= 1e-12 * then.abs(), "{place}: {then} then, {now} now");
        }
        (Value::Object(then), Value::Object(_)) => {
            for (name, value) in then {
                same(value, now.get(name).unwrap_or(&Value::Null), &format!("{place}.{name}"));
            }
        }
        (Value::Array(then), Value::Array(now)) => {
            assert_eq!(then.len(), now.len(), "{place}");
            then.iter().zip(now).enumerate().for_each(|(i, (then, now))| same(then, now, &format!("{place}[{i}]")));
        }
        _ => assert_eq!(then, now, "{place}"),
    }
}

#[test]
fn documents_are_written_again_to_the_same_bytes_and_fit_their_schemas() {
    let fits = |of: SchemaOf, text: &str| {
        let value: Value = serde_json::from_str(text).unwrap();
        jsonschema::validator_for(&schema(of)).unwrap().iter_errors(&value).map(|e| e.to_string()).collect::<Vec<_>>()
    };
    for folder in folders() {
        let laws = folder.join("laws.json");
        assert!(LawsDocument::load(&laws).unwrap().to_json() == text(&laws), "{}", laws.display());
        assert_eq!(fits(SchemaOf::Laws, &text(&laws)), Vec::<String>::new());
        for line in lines(&folder) {
            assert!(LineDocument::load(&line).unwrap().to_json() == text(&line), "{}", line.display());
            assert_eq!(fits(SchemaOf::Line, &text(&line)), Vec::<String>::new());
        }
    }
}

#[test]
fn a_line_gives_the_settings_that_it_gave() {
    for folder in folders() {
        let expected = expected(&folder);
        assert_eq!(expected["at"].as_object().unwrap().len(), lines(&folder).len());
        for (file, answers) in expected["at"].as_object().unwrap() {
            let line = LineDocument::load(&folder.join(file)).unwrap();
            for answer in answers.as_array().unwrap() {
                let feed = answer["wire_feed_m_min"].as_f64().unwrap();
                let now = match at(line.body(), feed) {
                    Ok(node) => json!({ "wire_feed_m_min": feed, "status": "ok", "setting": node }),
                    Err(none) => {
                        json!({ "wire_feed_m_min": feed, "status": none.status.word(), "code": none.status.code() })
                    }
                };
                same(answer, &now, &format!("{file} at {feed} m/min"));
            }
        }
    }
}

#[test]
fn laws_have_the_coefficients_that_they_had() {
    for folder in folders() {
        let laws = LawsDocument::load(&folder.join("laws.json")).unwrap();
        for (name, law) in laws.body().laws.by_name() {
            let now: Value = law.coefficients.iter().map(|(name, c)| (name.clone(), json!(c.value))).collect();
            same(&expected(&folder)["laws"][name], &now, name);
        }
    }
}

#[test]
fn a_study_is_understood_as_it_was() {
    for folder in folders() {
        let read = read_study(&folder).unwrap();
        let sums: Value = Column::ALL
            .iter()
            .filter(|column| read.trials.has(**column))
            .map(|&c| (c.name().to_owned(), json!(read.trials.rows.iter().filter_map(|t| t.get(c)).sum::<f64>())))
            .collect();
        let (study, gas) = (&read.study, read.study.gas.as_ref().unwrap());
        let now = json!({
            "name": study.name, "diameter_mm": study.wire.diameter_mm, "argon": gas.argon, "ctwd_mm": study.bench.ctwd_mm,
            "wire_feed_m_min": study.line.wire_feed_m_min, "draws": study.numerics.draws,
            "trials": read.trials.rows.len(), "sums": sums,
        });
        same(&expected(&folder)["study"], &now, "study");
    }
}

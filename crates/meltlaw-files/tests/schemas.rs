//! What the program writes today fits the schemas that it publishes.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use std::path::Path;

use meltlaw::develop;
use meltlaw::record::{Provenance, StudyReference};
use meltlaw_files::{LawsDocument, LineDocument, SchemaOf, read_study, schema};
use serde_json::Value;

fn faults(of: SchemaOf, text: &str) -> Vec<String> {
    let value: Value = serde_json::from_str(text).unwrap();
    let validator = jsonschema::validator_for(&schema(of)).unwrap();
    validator.iter_errors(&value).map(|e| format!("{}: {e}", e.instance_path())).collect()
}

/// Both documents of the golden study, composed by the rule named.
fn developed(composing: &str, few: Option<usize>) -> (String, String) {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../datasets/golden/v2");
    let folder = tempfile::tempdir().unwrap();
    let study = std::fs::read_to_string(golden.join("study.toml")).unwrap();
    std::fs::write(folder.path().join("study.toml"), study.replace("\"midpoint\"", composing)).unwrap();
    let trials = std::fs::read_to_string(golden.join("trials.csv")).unwrap();
    let rows: String = trials.split_inclusive('\n').take(few.unwrap_or(usize::MAX)).collect();
    std::fs::write(folder.path().join("trials.csv"), rows).unwrap();
    let read = read_study(folder.path()).unwrap();
    let provenance = Provenance {
        tool: "meltlaw".to_owned(),
        study: StudyReference { file: read.file, sha256: read.sha256 },
        inputs: Vec::new(),
        seed: 1,
        draws: 200,
    };
    let laws = develop::laws(&read.study, &read.trials).unwrap();
    let laws = LawsDocument::new(laws, vec!["caution".to_owned()], provenance.clone()).unwrap();
    let line = develop::line(&read.study, laws.body(), laws.checksum());
    let line = LineDocument::new(line, vec!["caution".to_owned()], provenance).unwrap();
    (laws.to_json(), line.to_json())
}

#[test]
fn laws_and_line_fit_whether_optimised_by_midpoint_or_without_a_law() {
    for (composing, few) in [("\"optimised\"", None), ("\"midpoint\"", None), ("\"optimised\"", Some(4))] {
        let (laws, line) = developed(composing, few);
        assert_eq!(faults(SchemaOf::Laws, &laws), Vec::<String>::new(), "{composing}, {few:?}");
        assert_eq!(faults(SchemaOf::Line, &line), Vec::<String>::new(), "{composing}, {few:?}");
        // Read back and written again: the same bytes.
        assert!(LawsDocument::from_json(&laws, "laws.json").unwrap().to_json() == laws);
        assert!(LineDocument::from_json(&line, "line.json").unwrap().to_json() == line);
    }
}

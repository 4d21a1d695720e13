//! JSON Schema of `study.toml`, made from the table of its keys.

use serde_json::{Map, Value, json};

use meltlaw::laws::CoefficientName;

use super::study_keys::{Key, Kind, SECTIONS, Section};
use crate::read::prior::{above_zero, prior_coefficients};

/// The schema of a study as typed. Unknown keys are errors, as in the program.
pub(super) fn study_schema() -> Value {
    let mut properties = Map::new();
    properties.insert(
        "name".to_owned(),
        json!({"type": "string", "maxLength": 120, "description": "One line, shown everywhere."}),
    );
    let mut required = Vec::new();
    for section in SECTIONS {
        let table = table(section.keys);
        let schema = if section.list {
            json!({"type": "array", "items": table, "description": section.about})
        } else {
            let mut table = table;
            table["description"] = Value::from(section.about);
            table
        };
        place(&mut properties, section, schema);
        if section.required {
            required.push(Value::from(section.name));
        }
    }
    properties.insert("prior".to_owned(), prior());
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Study: wire, gas, bench, trials and the line asked for",
        "description": "TOML; units are the suffixes of the keys. Not said here: gas sums to 100, and metal section or linear mass is for cored wire.",
        "type": "object",
        "properties": properties,
        "required": required,
        "anyOf": [{"required": ["trials"]}, {"required": ["logs"]}],
        "additionalProperties": false
    })
}

/// `line.pin` stands inside `line`.
fn place(properties: &mut Map<String, Value>, section: &Section, schema: Value) {
    match section.name.split_once('.') {
        None => {
            properties.insert(section.name.to_owned(), schema);
        }
        Some((outer, inner)) => {
            let parent = properties.get_mut(outer).expect("the table lists a section before what stands in it");
            parent["properties"][inner] = schema;
        }
    }
}

fn table(keys: &[Key]) -> Value {
    let properties: Map<String, Value> = keys.iter().map(|key| (key.name.to_owned(), value(key))).collect();
    let required: Vec<&str> = keys.iter().filter(|k| k.required).map(|k| k.name).collect();
    let mut table = json!({"type": "object", "properties": properties, "additionalProperties": false});
    if !required.is_empty() {
        table["required"] = json!(required);
    }
    table
}

fn value(key: &Key) -> Value {
    let mut schema = match key.kind {
        Kind::Text => json!({"type": "string"}),
        Kind::OneOf(words) => json!({"enum": words}),
        Kind::Positive => json!({"type": "number", "exclusiveMinimum": 0}),
        Kind::NotNegative => json!({"type": "number", "minimum": 0}),
        Kind::Number => json!({"type": "number"}),
        Kind::Share => json!({"type": "number", "minimum": 0, "maximum": 1}),
        Kind::Count => json!({"type": "integer", "minimum": 0}),
        Kind::FromOne => json!({"type": "integer", "minimum": 1}),
        Kind::Range => json!({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}),
        Kind::Flag => json!({"type": "boolean"}),
        Kind::Rows => {
            json!({"type": "array", "items": {"type": "integer", "minimum": 1}, "minItems": 2, "maxItems": 2})
        }
        Kind::List => json!({"type": "array", "items": {"type": ["string", "integer"]}, "minItems": 1}),
        Kind::TextOrNumber => json!({"type": ["string", "number"]}),
        Kind::Texts => json!({"type": "object", "additionalProperties": {"type": "string"}}),
        Kind::Numbers => json!({"type": "object", "additionalProperties": {"type": "number"}}),
    };
    schema["description"] = Value::from(key.about);
    if let Some(default) = key.default {
        schema["default"] = serde_json::from_str(default).expect("defaults in the table are JSON");
    }
    schema
}

fn prior() -> Value {
    let one = |name: &CoefficientName| {
        let mean = if above_zero(name.name) {
            json!({"type": "number", "exclusiveMinimum": 0})
        } else {
            json!({"type": "number"})
        };
        json!({
            "type": "object",
            "description": format!("Mean and standard deviation in {}, and where they come from.", name.unit),
            "properties": {
                "mean": mean,
                "standard_deviation": {"type": "number", "exclusiveMinimum": 0},
                "source": {"type": "string", "minLength": 1, "maxLength": 120}
            },
            "required": ["mean", "standard_deviation", "source"],
            "additionalProperties": false
        })
    };
    let laws: Map<String, Value> = prior_coefficients()
        .into_iter()
        .map(|(law, names)| {
            let coefficients: Map<String, Value> = names.iter().map(|n| (n.name.to_owned(), one(n))).collect();
            (law.to_owned(), json!({"type": "object", "properties": coefficients, "additionalProperties": false}))
        })
        .collect();
    json!({
        "type": "object",
        "description": "Stated prior knowledge of coefficients; it takes part in the fit and its pull is shown.",
        "properties": laws,
        "additionalProperties": false
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    fn complaints(study: &str) -> Vec<String> {
        let study: Value = toml::from_str(study).unwrap();
        let validator = jsonschema::validator_for(&study_schema()).unwrap();
        validator.iter_errors(&study).map(|e| e.to_string()).collect()
    }

    const SMALLEST: &str = "[wire]\nmaterial = 'copper'\ndiameter_mm = 1.0\n[bench]\nctwd_mm = 15.0\n\
        [[trials]]\nfile = 'trials.csv'\n[line]\nwire_feed_m_min = [3.0, 9.0]\n";

    #[test]
    fn the_worked_study_and_the_smallest_one_fit() {
        let path = format!("{}/../../datasets/worked_example/study.toml", env!("CARGO_MANIFEST_DIR"));
        assert_eq!(complaints(&std::fs::read_to_string(path).unwrap()), Vec::<String>::new());
        assert_eq!(complaints(SMALLEST), Vec::<String>::new());
    }

    #[test]
    fn every_optional_part_has_its_place() {
        let more = format!(
            "{SMALLEST}[[line.pin]]\nwire_feed_m_min = 6.0\npulse_current_a = 420.0\n[prior.burn_off.beta_per_a2_s]\n\
             mean = 5e-5\nstandard_deviation = 1e-6\nsource = 'earlier study'\n[laws]\nburn_off = 'offset'\n\
             [[logs]]\nglob = 'logs/*.csv'\ncolumns = {{ time = 't' }}\n"
        );
        assert_eq!(complaints(&more), Vec::<String>::new());
    }

    #[test]
    fn a_misspelt_key_and_a_missing_diameter_are_found() {
        assert_eq!(complaints(&SMALLEST.replace("ctwd_mm", "ctwd")).len(), 2);
        assert_eq!(complaints(&SMALLEST.replace("diameter_mm = 1.0", "")).len(), 1);
        assert!(!complaints(&SMALLEST.replace("[[trials]]\nfile = 'trials.csv'\n", "")).is_empty());
    }
}

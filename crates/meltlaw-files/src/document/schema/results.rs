//! JSON Schema of `laws.json` and `line.json`: the body's own schema with the members around it.

use meltlaw::record::Provenance;
use schemars::generate::SchemaSettings;
use serde_json::{Value, json};

use crate::document::{Body, FORMAT_VERSION};

/// The schema of a document with this body.
///
/// It says what the program reads, so a member that it always writes but can do without is not required.
pub(super) fn result_schema<T: Body>(title: &str) -> Value {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let provenance = generator.subschema_for::<Provenance>().to_value();
    let mut root = generator.into_root_schema_for::<T>();
    root.insert("title".to_owned(), Value::from(title));
    let around = [
        ("format", json!({"const": T::FORMAT, "description": "Kind of document."})),
        (
            "format_version",
            json!({"type": "integer", "minimum": 2, "maximum": FORMAT_VERSION, "description": "Version of the format."}),
        ),
        (
            "cautions",
            json!({"type": "array", "items": {"type": "string"}, "description": "What a reader must know before welding."}),
        ),
        ("provenance", provenance),
        (
            "checksum",
            json!({
                "type": "string", "pattern": "^[0-9a-f]{64}$",
                "description": "SHA-256 of the RFC 8785 form of the document without this member. It shows damage and careless edits, not malice."
            }),
        ),
    ];
    let names: Vec<Value> = around.iter().map(|(name, _)| Value::from(*name)).collect();
    let object = root.ensure_object();
    if let Some(properties) = object.entry("properties").or_insert_with(|| json!({})).as_object_mut() {
        properties.extend(around.map(|(name, schema)| (name.to_owned(), schema)));
    }
    if let Some(required) = object.entry("required").or_insert_with(|| json!([])).as_array_mut() {
        required.extend(names);
    }
    root.to_value()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;
    use crate::document::{SchemaOf, schema};

    fn example(file: &str) -> Value {
        let path = format!("{}/../../datasets/worked_example/{file}", env!("CARGO_MANIFEST_DIR"));
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
    }

    fn complaints(of: SchemaOf, value: &Value) -> Vec<String> {
        let validator = jsonschema::validator_for(&schema(of)).unwrap();
        validator.iter_errors(value).map(|e| format!("{}: {e}", e.instance_path())).collect()
    }

    #[test]
    fn results_of_an_independent_script_fit_the_schemas() {
        assert_eq!(complaints(SchemaOf::Laws, &example("laws.json")), Vec::<String>::new());
        assert_eq!(complaints(SchemaOf::Line, &example("line.json")), Vec::<String>::new());
    }

    #[test]
    fn a_line_is_not_a_laws_file_and_a_missing_member_is_missed() {
        assert!(!complaints(SchemaOf::Laws, &example("line.json")).is_empty());
        let mut line = example("line.json");
        line["nodes"][0].as_object_mut().unwrap().shift_remove("pulse_current_a");
        assert!(complaints(SchemaOf::Line, &line)[0].contains("pulse_current_a"));
        let mut laws = example("laws.json");
        laws["checksum"] = Value::from("none");
        assert_eq!(complaints(SchemaOf::Laws, &laws).len(), 1);
    }

    #[test]
    fn each_schema_states_its_draft_and_title() {
        for of in [SchemaOf::Laws, SchemaOf::Line, SchemaOf::Study] {
            let schema = schema(of);
            assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
            assert!(schema["title"].is_string());
            assert!(jsonschema::draft202012::meta::is_valid(&schema), "{}", of.word());
        }
    }
}

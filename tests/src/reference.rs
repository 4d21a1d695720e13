//! The folder `datasets`, and reference answers in it.

use std::path::PathBuf;

use serde_json::Value;

/// The top of the repository.
pub fn top() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// A file below `datasets`.
pub fn text(path: &str) -> String {
    let file = top().join("datasets").join(path);
    std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()))
}

/// A JSON file below `datasets`.
pub fn json(path: &str) -> Value {
    serde_json::from_str(&text(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The number at a place such as `/solution/slope`, stored as a number or as a string of digits.
pub fn number(value: &Value, pointer: &str) -> f64 {
    as_number(value.pointer(pointer).unwrap_or_else(|| panic!("nothing at {pointer}")))
}

/// The numbers of the list at a place.
pub fn numbers(value: &Value, pointer: &str) -> Vec<f64> {
    let list = value.pointer(pointer).and_then(Value::as_array).unwrap_or_else(|| panic!("no list at {pointer}"));
    list.iter().map(as_number).collect()
}

fn as_number(value: &Value) -> f64 {
    match value {
        Value::String(digits) => digits.parse().unwrap_or_else(|_| panic!("{digits} is no number")),
        other => other.as_f64().unwrap_or_else(|| panic!("{other} is no number")),
    }
}

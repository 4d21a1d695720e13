//! Texts of a document as they may be shown: one line without control or text direction characters each, names short.
//! Checked once here, so that a forged file cannot move a cursor or make one name look like another.

use serde_json::Value;

use crate::read::{A_NAME, name_fault, one_line_fault, quoted};

/// Members that hold a name, an identifier or a designation.
const NAMES: [&str; 5] = ["name", "designation", "trial", "trials", "trials_used"];

/// The first text that may not stand in a document, with its place, in words.
pub(super) fn unfit_text(document: &Value) -> Option<String> {
    let mut path = Vec::new();
    let (wrong, needed) = first_fault(document, false, &mut path)?;
    let place: String = path.iter().rev().cloned().collect::<Vec<_>>().join(".");
    Some(format!("{place} holds {wrong}, {needed} was needed"))
}

/// What is wrong and what was needed; the place is pushed from the inside out.
fn first_fault(value: &Value, is_name: bool, path: &mut Vec<String>) -> Option<(String, &'static str)> {
    match value {
        Value::String(text) if text.is_empty() => None,
        Value::String(text) if is_name => name_fault(text).map(|wrong| (wrong, A_NAME)),
        Value::String(text) => {
            one_line_fault(text).map(|wrong| (wrong, "one line without control or text direction characters"))
        }
        Value::Array(items) => items.iter().enumerate().find_map(|(i, item)| {
            let fault = first_fault(item, is_name, path)?;
            path.push((i + 1).to_string());
            Some(fault)
        }),
        Value::Object(members) => members.iter().find_map(|(key, member)| {
            let fault = one_line_fault(key)
                .map(|wrong| (wrong, "a key without control or text direction characters"))
                .or_else(|| first_fault(member, NAMES.contains(&key.as_str()), path))?;
            path.push(quoted(key).trim_matches('"').to_owned());
            Some(fault)
        }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_text_that_moves_the_cursor_or_turns_the_line_is_named_with_its_place() {
        let found = |value: Value| unfit_text(&value);
        assert_eq!(found(json!({"name": "a", "notes": ["plain", "Größe Ω"], "reason": ""})), None);
        assert_eq!(
            found(json!({"nodes": [{"notes": ["fine", "\u{1b}[2J"]}]})).as_deref(),
            Some(
                "nodes.1.notes.2 holds \"\\u{1b}[2J\" with the unseen character U+001B, one line without control or text direction characters was needed"
            )
        );
        assert!(found(json!({"wire": {"designation": "a\u{202e}b"}})).is_some_and(|f| f.contains("U+202E")));
        assert!(found(json!({"by": "a\rb"})).is_some_and(|f| f.starts_with("by holds") && f.contains("line break")));
        assert!(found(json!({"trials_used": ["x".repeat(121)]})).is_some_and(|f| f.contains("121 characters")));
        assert!(found(json!({"shift": {"\u{9b}31m": 1}})).is_some_and(|f| !f.contains('\u{9b}')));
    }
}

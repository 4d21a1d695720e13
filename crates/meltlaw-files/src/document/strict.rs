//! JSON read strictly: a member that appears twice is an error, not a silent choice between the two.

use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

/// Reads one JSON value; a byte order mark before it is passed over, nothing may follow it.
///
/// Depth is limited to 128 by the parser, so that a deep file ends in a message and not in a full stack.
///
/// # Errors
/// What the parser says, with line and column; also for a member that appears twice.
pub fn parse_strictly(text: &str) -> Result<Value, serde_json::Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = Strict.deserialize(&mut reader)?;
    reader.end()?;
    Ok(value)
}

struct Strict;

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("the number is not finite"))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut array = Vec::new();
        while let Some(item) = items.next_element_seed(Strict)? {
            array.push(item);
        }
        Ok(Value::Array(array))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Value, A::Error> {
        let mut object = Map::new();
        while let Some(key) = members.next_key::<String>()? {
            if object.contains_key(&key) {
                return Err(A::Error::custom(format!("the member {key:?} appears twice in one object")));
            }
            let value = members.next_value_seed(Strict)?;
            object.insert(key, value);
        }
        Ok(Value::Object(object))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    #[test]
    fn a_member_that_appears_twice_is_named_with_its_place() {
        let error = parse_strictly("{\"a\": 1,\n \"b\": {\"c\": 1, \"c\": 2}}").unwrap_err().to_string();
        assert!(error.contains("\"c\" appears twice") && error.contains("line 2"), "{error}");
    }

    #[test]
    fn plain_json_reads_as_always() {
        let text = r#"{"a": [1, -2, 2.5, 1e30, null, true, "x"], "z": {}, "b": 18446744073709551615}"#;
        assert_eq!(parse_strictly(text).unwrap(), serde_json::from_str::<Value>(text).unwrap());
        assert_eq!(parse_strictly("\u{feff}[]").unwrap(), Value::Array(Vec::new()));
    }

    #[test]
    fn depth_huge_numbers_and_trailing_text_are_errors() {
        assert!(parse_strictly(&"[".repeat(1_000_000)).unwrap_err().to_string().contains("recursion"));
        assert!(parse_strictly("[1e999]").is_err());
        assert!(parse_strictly("{} {}").is_err());
        assert!(parse_strictly("").is_err());
    }
}

//! The one spelling of a JSON value that checksums are taken of: RFC 8785, JSON Canonicalization Scheme.

use serde_json::{Map, Value};

/// The RFC 8785 form: no blanks, members sorted by UTF-16 code units, numbers as ECMAScript writes them.
///
/// # Source
/// RFC 8785, section 3.2.
pub fn canonical(value: &Value) -> String {
    let mut out = String::new();
    write_value(value, &mut out);
    out
}

/// A finite number as ECMAScript writes it: shortest text that reads back to the same double.
///
/// # Source
/// RFC 8785, section 3.2.2.3; ECMA-262, `Number::toString`.
pub fn number_text(number: f64) -> String {
    debug_assert!(number.is_finite(), "JSON and our tables know finite numbers only");
    ryu_js::Buffer::new().format_finite(number).to_owned()
}

fn write_value(value: &Value, out: &mut String) {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(true) => out.push_str("true"),
        Value::Bool(false) => out.push_str("false"),
        // RFC 8785 knows doubles only: an integer above 2^53 is written as the double next to it.
        Value::Number(number) => {
            out.push_str(&number_text(number.as_f64().expect("a JSON number without arbitrary precision is a double")));
        }
        Value::String(text) => write_string(text, out),
        Value::Array(items) => {
            out.push('[');
            for (i, item) in items.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write_value(item, out);
            }
            out.push(']');
        }
        Value::Object(members) => write_object(members, out),
    }
}

fn write_object(members: &Map<String, Value>, out: &mut String) {
    let mut sorted: Vec<_> = members.iter().collect();
    // UTF-16 order differs from UTF-8 order beyond U+FFFF.
    sorted.sort_by(|(a, _), (b, _)| a.encode_utf16().cmp(b.encode_utf16()));
    out.push('{');
    for (i, (key, value)) in sorted.into_iter().enumerate() {
        if i > 0 {
            out.push(',');
        }
        write_string(key, out);
        out.push(':');
        write_value(value, out);
    }
    out.push('}');
}

fn write_string(text: &str, out: &mut String) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\u{8}' => out.push_str("\\b"),
            '\t' => out.push_str("\\t"),
            '\n' => out.push_str("\\n"),
            '\u{c}' => out.push_str("\\f"),
            '\r' => out.push_str("\\r"),
            control if control < '\u{20}' => out.push_str(&format!("\\u{:04x}", u32::from(control))),
            other => out.push(other),
        }
    }
    out.push('"');
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    fn of(text: &str) -> String {
        canonical(&serde_json::from_str(text).unwrap())
    }

    #[test]
    fn numbers_are_written_as_ecmascript_writes_them() {
        // From memory: the example of RFC 8785, section 3.2.2.
        let text = r#"[333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001]"#;
        assert_eq!(of(text), "[333333333.3333333,1e+30,4.5,0.002,1e-27]");
    }

    #[test]
    fn the_bit_patterns_of_the_rfc_give_its_texts() {
        // From memory: RFC 8785, appendix B.
        for (bits, text) in [
            (0x0000_0000_0000_0000_u64, "0"),
            (0x8000_0000_0000_0000, "0"),
            (0x0000_0000_0000_0001, "5e-324"),
            (0x8000_0000_0000_0001, "-5e-324"),
            (0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308"),
            (0x4340_0000_0000_0000, "9007199254740992"),
            (0x4430_0000_0000_0000, "295147905179352830000"),
            (0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22"),
            (0x44b5_2d02_c7e1_4af6, "1e+23"),
            (0x444b_1ae4_d6e2_ef4e, "999999999999999700000"),
            (0x444b_1ae4_d6e2_ef50, "1e+21"),
            (0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7"),
            (0x3eb0_c6f7_a0b5_ed8d, "0.000001"),
            (0x41b3_de43_5555_5555, "333333333.3333333"),
        ] {
            assert_eq!(number_text(f64::from_bits(bits)), text, "{bits:016x}");
        }
    }

    #[test]
    fn integers_are_doubles_like_all_numbers() {
        assert_eq!(
            of("[1, -0, 20000, 18446744073709551615, -9007199254740993]"),
            "[1,0,20000,18446744073709552000,-9007199254740992]"
        );
    }

    #[test]
    fn strings_are_escaped_only_where_they_must_be() {
        // From memory: the string of RFC 8785, section 3.2.2.
        let text = r#"{"string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/"}"#;
        assert_eq!(of(text), "{\"string\":\"€$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}");
    }

    #[test]
    fn members_are_sorted_by_utf_16_units() {
        // From memory: RFC 8785, section 3.2.3; the emoji (surrogate d83d) comes before U+FB33.
        let text = r#"{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh",
            "1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}"#;
        let sorted = of(text);
        let places: Vec<_> = ["Carriage", "One", "Control", "Latin", "Euro", "Emoji", "Hebrew"]
            .into_iter()
            .map(|word| sorted.find(word).unwrap())
            .collect();
        assert!(places.is_sorted(), "{sorted}");
    }

    #[test]
    fn literals_and_nesting_lose_their_blanks() {
        assert_eq!(of(r#"{ "b" : [ true , false , null ], "a" : { } }"#), r#"{"a":{},"b":[true,false,null]}"#);
    }
}

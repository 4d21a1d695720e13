//! Members that this program does not know survive a change of what it does know.

use serde_json::Value;

/// Adds to `new` every member of `read` that is not in `known`, which is what this program makes of the same document;
/// takes from it what only `known` has, its defaults, where they did not change. So what did not change is as it was read.
///
/// Lists are gone through item by item where all three have the same length; in a list that became longer or shorter it
/// cannot be told which item a member belonged to, and only what this program knows is written.
pub(super) fn kept_unknown(read: &Value, known: &Value, new: &mut Value) {
    match (read, known, new) {
        (Value::Object(read), Value::Object(known), Value::Object(new)) => {
            new.retain(|name, value| read.contains_key(name) || known.get(name) != Some(value));
            for (name, value) in read {
                match (known.get(name), new.get_mut(name)) {
                    (None, None) => {
                        new.insert(name.clone(), value.clone());
                    }
                    (Some(known), Some(new)) => kept_unknown(value, known, new),
                    // Known and now left out, or set now: the new one is meant.
                    _ => {}
                }
            }
        }
        (Value::Array(read), Value::Array(known), Value::Array(new))
            if read.len() == known.len() && known.len() == new.len() =>
        {
            read.iter().zip(known).zip(new).for_each(|((read, known), new)| kept_unknown(read, known, new));
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn the_unknown_stays_the_known_changes_and_what_was_taken_out_stays_out() {
        let read =
            json!({"a": 1, "b": {"c": 2, "later": [1]}, "list": [{"x": 1, "idea": 2}], "gone": 3, "remark": "kept"});
        let known = json!({"a": 1, "b": {"c": 2}, "list": [{"x": 1}], "gone": 3});
        let mut new = json!({"a": 9, "b": {"c": 8}, "list": [{"x": 7}]});
        kept_unknown(&read, &known, &mut new);
        assert_eq!(new, json!({"a": 9, "b": {"c": 8, "later": [1]}, "list": [{"x": 7, "idea": 2}], "remark": "kept"}));
    }

    #[test]
    fn defaults_that_were_not_read_are_not_written() {
        let mut new = json!({"a": 1, "default": 0, "changed": 5});
        kept_unknown(&json!({"a": 1}), &json!({"a": 1, "default": 0, "changed": 0}), &mut new);
        assert_eq!(new, json!({"a": 1, "changed": 5}));
    }

    #[test]
    fn in_a_list_of_another_length_nothing_is_guessed() {
        let mut new = json!([{"x": 1}, {"x": 2}]);
        kept_unknown(&json!([{"x": 1, "idea": 2}]), &json!([{"x": 1}]), &mut new);
        assert_eq!(new, json!([{"x": 1}, {"x": 2}]));
    }
}

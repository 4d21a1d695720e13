#![allow(clippy::unwrap_used, reason = "a test that fails may panic")]

use serde_json::Value;

use super::*;
use crate::read::limits::LARGEST_DOCUMENT_BYTES;

fn example(file: &str) -> String {
    let path = format!("{}/../../datasets/worked_example/{file}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap()
}

/// The worked laws with one change, under a checksum that fits again.
fn changed_laws(change: impl FnOnce(&mut Value)) -> String {
    let mut value: Value = serde_json::from_str(&example("laws.json")).unwrap();
    change(&mut value);
    value["checksum"] = Value::from(checksum(value.as_object().unwrap()));
    value.to_string()
}

fn complaint(text: &str) -> String {
    LawsDocument::from_json(text, "laws.json").unwrap_err().to_string()
}

#[test]
fn results_of_an_independent_script_load() {
    let folder = format!("{}/../../datasets/worked_example", env!("CARGO_MANIFEST_DIR"));
    let laws = LawsDocument::load(format!("{folder}/laws.json").as_ref()).unwrap();
    let line = LineDocument::load(format!("{folder}/line.json").as_ref()).unwrap();
    // README of the worked example: alpha 0.306905, end of the line at 9.39 m/min.
    let alpha = laws.body().laws.burn_off.coefficients["alpha_mm_per_a_s"].value.unwrap();
    assert!((alpha - 0.306_905).abs() < 5e-7);
    assert!((line.body().line.unsupported[0].wire_feed_m_min[0] - 9.39).abs() < 1e-12);
    assert_eq!(line.body().laws_checksum, laws.checksum());
    assert_eq!(laws.provenance().inputs[0].rows_used, 39);
}

#[test]
fn written_read_and_written_again_gives_the_same_bytes() {
    let read = LineDocument::from_json(&example("line.json"), "line.json").unwrap();
    let (cautions, provenance) = (read.cautions().to_vec(), read.provenance().clone());
    let new = LineDocument::new(read.body().clone(), cautions, provenance).unwrap();
    let written = new.to_json();
    let again = LineDocument::from_json(&written, "line.json").unwrap();
    assert_eq!(again.to_json(), written);
    assert_eq!(again, new);
    assert!(
        written.ends_with("}\n") && written.starts_with("{\n  \"format\": \"meltlaw-line\",\n  \"format_version\": 2,")
    );
    // 0.1 + 0.2 and its neighbours keep every bit.
    assert_eq!(again.body(), read.body());
}

#[test]
fn unknown_members_count_in_the_checksum_and_survive() {
    let text = changed_laws(|v| {
        v["remark"] = Value::from("kept");
        v["laws"]["burn_off"]["later_idea"] = Value::from(1.5);
    });
    let written = LawsDocument::from_json(&text, "laws.json").unwrap().to_json();
    assert!(written.contains("\"remark\": \"kept\"") && written.contains("\"later_idea\": 1.5"));
    assert_eq!(LawsDocument::from_json(&written, "laws.json").unwrap().to_json(), written);
    let edited = written.replace("\"later_idea\": 1.5", "\"later_idea\": 1.6");
    assert!(complaint(&edited).contains("damaged or edited"));
}

#[test]
fn another_body_keeps_the_unknown_members_and_has_its_own_checksum() {
    let mut value: Value = serde_json::from_str(&example("line.json")).unwrap();
    value["remark"] = Value::from("kept");
    value["nodes"][1]["later_idea"] = Value::from(1.5);
    value["standing"][0]["signature"] = Value::from("kept too");
    value["provenance"]["laboratory"] = Value::from("known to others");
    value["checksum"] = Value::from(checksum(value.as_object().unwrap()));
    let read = LineDocument::from_json(&value.to_string(), "line.json").unwrap();
    let (cautions, provenance) = (read.cautions().to_vec(), read.provenance().clone());
    let mut body = read.body().clone();
    body.line.standing[0].state = "confirmed".to_owned();
    body.line.standing[0].rule = Some("every band held".to_owned());
    let new = read.with_body(body, cautions.clone(), provenance.clone()).unwrap();
    let written = new.to_json();
    let again = LineDocument::from_json(&written, "line.json").unwrap();
    assert_eq!(again.to_json(), written);
    assert_eq!(again.body().line.standing[0].state, "confirmed");
    assert_ne!(again.checksum(), read.checksum());
    let value: Value = serde_json::from_str(&written).unwrap();
    assert_eq!(value["remark"], "kept");
    assert_eq!(value["nodes"][1]["later_idea"], 1.5);
    assert_eq!(value["standing"][0]["signature"], "kept too");
    assert_eq!(value["provenance"]["laboratory"], "known to others");
    // With nothing changed the content, and so the checksum, is the one that was read.
    let same = read.with_body(read.body().clone(), cautions, provenance).unwrap();
    assert_eq!(same.checksum(), read.checksum());
}

#[test]
fn one_changed_digit_is_noticed_and_the_message_says_what_to_do() {
    let text = example("laws.json").replacen("0.3069051180222134", "0.3069051180222135", 1);
    let message = complaint(&text);
    assert!(message.starts_with("laws.json: the checksum says ") && message.contains("`meltlaw fit`"), "{message}");
}

#[test]
fn a_later_version_and_another_format_are_named() {
    let later = complaint(&changed_laws(|v| v["format_version"] = Value::from(7)));
    assert!(later.contains("format_version is 7") && later.contains("reads up to 2"), "{later}");
    for odd in [Value::from(0), Value::from(1.5), Value::from("1"), Value::Null] {
        assert!(complaint(&changed_laws(|v| v["format_version"] = odd)).contains("a whole number up to 2"));
    }
    let line = complaint(&example("line.json"));
    assert!(line.contains("\"meltlaw-line\" was found, \"meltlaw-laws\" was needed"), "{line}");
    assert!(complaint("[]").contains("no JSON object"));
    assert!(complaint("{}").contains("no member \"format\""));
}

#[test]
fn a_missing_checksum_is_not_a_right_one() {
    let mut value: Value = serde_json::from_str(&example("laws.json")).unwrap();
    value.as_object_mut().unwrap().shift_remove("checksum");
    assert!(complaint(&value.to_string()).contains("checksum is missing"));
    value["checksum"] = Value::from("abc");
    assert!(complaint(&value.to_string()).contains("checksum is \"abc\""));
}

#[test]
fn truncated_anywhere_it_does_not_load_and_does_not_panic() {
    let text = example("laws.json");
    let whole = text.trim_end();
    for end in (0..whole.len()).step_by(97).filter(|&e| whole.is_char_boundary(e)) {
        assert!(LawsDocument::from_json(&whole[..end], "laws.json").is_err());
    }
}

#[test]
fn right_checksum_but_wrong_content_is_named() {
    let wrong_type = complaint(&changed_laws(|v| v["wire"]["diameter_mm"] = Value::from("thin")));
    assert!(wrong_type.contains("invalid type") && wrong_type.contains("meltlaw fit"), "{wrong_type}");
    let ragged = complaint(&changed_laws(|v| v["laws"]["burn_off"]["covariance"][0] = Value::from(vec![1.0])));
    assert!(ragged.contains("laws.burn_off: covariance is not 2 by 2"), "{ragged}");
    let order = complaint(&changed_laws(|v| v["laws"]["detachment"]["coefficient_order"][0] = Value::from("gamma")));
    assert!(order.contains("gamma"), "{order}");
}

/// The worked line with one member of its node at 6 m/min 0.1 % larger, under a checksum that fits again.
fn line_with(field: &str) -> String {
    let mut value: Value = serde_json::from_str(&example("line.json")).unwrap();
    let member = &mut value["nodes"][1][field];
    *member = Value::from(1.001 * member.as_f64().unwrap());
    value["checksum"] = Value::from(checksum(value.as_object().unwrap()));
    value.to_string()
}

#[test]
fn a_line_edited_under_a_new_checksum_is_refused_by_the_identity_that_fails() {
    for (field, identity) in [
        ("wire_feed_m_min", "melt balance"),
        ("pulse_current_a", "melt balance"),
        ("pulse_time_ms", "background time"),
        ("pulse_frequency_hz", "drop volume"),
        ("background_current_a", "mean current"),
        ("background_time_ms", "background time"),
        ("rise_a_per_ms", "RMS current"),
        ("fall_a_per_ms", "RMS current"),
        ("current_mean_a", "mean current"),
        ("current_rms_a", "RMS current"),
        ("drop_diameter_mm", "drop volume"),
        ("melting_rate_kg_h", "melting rate"),
        ("voltage_mean_v", "voltage law"),
        ("power_mean_w", "mean power"),
        ("heat_input_kj_mm", "heat input"),
    ] {
        let message = LineDocument::from_json(&line_with(field), "line.json").unwrap_err().to_string();
        let node = if field == "wire_feed_m_min" { "node at 6.006 m/min" } else { "node at 6 m/min" };
        assert!(message.starts_with(&format!("line.json: {node}")), "{field}: {message}");
        assert!(message.contains(identity) && message.contains("develop the study again"), "{field}: {message}");
        assert_eq!(message.matches("node at").count(), 1, "{field}: {message}");
    }
}

#[test]
fn the_numbers_found_and_needed_stand_in_the_refusal() {
    let message = LineDocument::from_json(&line_with("melting_rate_kg_h"), "line.json").unwrap_err().to_string();
    // 7850 kg/m³ · π·1.2²/4 mm² · 100 mm/s · 3600e-9 = 3.1961307 kg/h; times 1.001 = 3.1993268.
    let wanted = "node at 6 m/min: melting rate of the wire at this feed (kg/h) is 3.1993268, 3.1961307 was needed;";
    assert!(message.contains(wanted), "{message}");
}

#[test]
fn numbers_that_are_not_finite_are_not_written() {
    let read = LawsDocument::from_json(&example("laws.json"), "laws.json").unwrap();
    let new = |change: fn(&mut meltlaw::record::LawsRecord)| {
        let mut body = read.body().clone();
        change(&mut body);
        LawsDocument::new(body, Vec::new(), read.provenance().clone())
    };
    assert!(new(|_| {}).is_ok());
    assert!(new(|b| b.wire.diameter_mm = f64::NAN).is_err());
    assert!(new(|b| b.laws.burn_off.chi_squared_per_degree = Some(f64::INFINITY)).is_err());
}

#[test]
fn folders_large_files_and_missing_files_have_their_own_message() {
    let folder = tempfile::tempdir().unwrap();
    let load = |path: &std::path::Path| LawsDocument::load(path).unwrap_err().to_string();
    assert!(load(folder.path()).contains("a folder was found"));
    assert!(load(&folder.path().join("none.json")).contains("no such file"));
    let large = folder.path().join("large.json");
    std::fs::File::create(&large).unwrap().set_len(LARGEST_DOCUMENT_BYTES + 1).unwrap();
    assert!(load(&large).contains("64000001 bytes"));
    let latin = folder.path().join("latin.json");
    std::fs::write(&latin, b"{\"a\": \"\xe4\"}").unwrap();
    assert!(load(&latin).contains("byte 7 is not UTF-8"));
}

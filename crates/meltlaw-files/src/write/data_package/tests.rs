#![allow(clippy::unwrap_used, reason = "a test that fails may panic")]

use super::*;

fn documents() -> (LawsDocument, LineDocument) {
    let folder = format!("{}/../../datasets/worked_example", env!("CARGO_MANIFEST_DIR"));
    let laws = LawsDocument::load(format!("{folder}/laws.json").as_ref()).unwrap();
    (laws, LineDocument::load(format!("{folder}/line.json").as_ref()).unwrap())
}

fn package(files: &[(&str, &str)]) -> Value {
    let (laws, line) = documents();
    let files = files.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect();
    serde_json::from_str(&data_package(&laws, &line, &files)).unwrap()
}

fn field<'a>(package: &'a Value, name: &str) -> &'a Value {
    let fields = package["resources"][0]["schema"]["fields"].as_array().unwrap();
    fields.iter().find(|f| f["name"] == name).unwrap()
}

#[test]
fn each_file_has_its_bytes_and_hash_and_each_column_its_unit() {
    let text = "# name\n# units\nwire_feed_m_min,rise_a_per_ms,melting_rate_relative_se,pinned\n4,600,0.01,\n5,600,,\n";
    let package = package(&[("line.csv", text), ("report.html", "x"), ("line.json", "{}")]);
    let resources = package["resources"].as_array().unwrap();
    assert_eq!(resources.len(), 2);
    assert_eq!(resources[0]["bytes"], text.len());
    assert_eq!(resources[0]["hash"], format!("sha256:{}", sha256_hex(text.as_bytes())));
    assert_eq!(resources[0]["dialect"]["commentChar"], "#");
    // The third physical line is the header.
    assert_eq!(resources[0]["dialect"]["headerRows"], json!([3]));
    assert_eq!(resources[0]["schema"]["primaryKey"], json!(["wire_feed_m_min"]));
    assert_eq!(field(&package, "rise_a_per_ms")["ucumUnit"], "A/ms");
    assert_eq!(field(&package, "melting_rate_relative_se")["ucumUnit"], "1");
    // Nothing but blanks, and still text.
    assert_eq!(field(&package, "pinned"), &json!({ "name": "pinned", "type": "string" }));
}

#[test]
fn a_type_never_contradicts_the_cells() {
    let text =
        "trial,run_order,pulses,voltage_mean_v,ctwd_mm_se,operator,source_row\n7,1.5,120,-1,0.1,007,2\n8,2,,,,,3\n";
    let package = package(&[("trials.csv", text)]);
    let kind = |name: &str| field(&package, name)["type"].as_str().unwrap().to_owned();
    assert_eq!(
        ["trial", "run_order", "pulses", "voltage_mean_v", "ctwd_mm_se", "operator", "source_row"].map(kind),
        ["string", "number", "integer", "number", "number", "string", "integer"]
    );
    assert!(field(&package, "voltage_mean_v").get("constraints").is_none());
    assert!(field(&package, "ctwd_mm_se")["description"].as_str().unwrap().starts_with("Standard error. "));
}

#[test]
fn a_trial_whose_name_begins_like_a_comment_is_not_lost() {
    let package = package(&[("trials.csv", "# name\ntrial,use\n#1,yes\nB2,yes\n")]);
    let dialect = &package["resources"][0]["dialect"];
    assert_eq!(dialect["commentRows"], json!([1]));
    assert!(dialect.get("commentChar").is_none());
}

#[test]
fn two_rows_of_one_name_are_no_key() {
    let package = package(&[("plots/burn_off.csv", "trial,leverage\nA,0.1\nA,0.2\n")]);
    assert_eq!(package["resources"][0]["name"], "plots-burn-off");
    assert!(package["resources"][0]["schema"].get("primaryKey").is_none());
    assert!(package["resources"][0].get("dialect").is_none());
}

#[test]
fn cautions_and_sources_stand_in_it_and_no_licence_is_invented() {
    let package = package(&[("trials.csv", "trial\nA\n")]);
    let (laws, line) = documents();
    assert!(package["description"].as_str().unwrap().contains(&line.cautions()[0]));
    let provenance = laws.provenance();
    assert_eq!(package["sources"][0]["hash"], format!("sha256:{}", provenance.study.sha256));
    assert_eq!(package["sources"][1]["title"], provenance.inputs[0].file.as_str());
    assert!(package.get("licenses").is_none());
}

#[test]
fn names_keep_to_the_letters_of_the_standard_whatever_the_study_is_called() {
    for (text, name) in
        [("Our wire, 1.2 mm", "our-wire-1-2-mm"), ("线材", "result"), ("../../x", "x"), ("Ångström", "ngstr-m")]
    {
        assert_eq!(slug(text), name);
    }
}

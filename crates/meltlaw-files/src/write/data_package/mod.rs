//! `datapackage.json`: what the tables of a result folder hold, for tools that know the Data Package standard, version 2
//! (<https://datapackage.org>): columns with type, unit and UCUM code, bytes and hash of each file, title, cautions and
//! whence it all came. It states no licence: that is for those whose trials they are.

mod fields;
mod table;

use std::collections::BTreeMap;

use serde_json::{Value, json};

use self::table::TableRead;
use crate::document::{LawsDocument, LineDocument, pretty, sha256_hex};

/// Name of the file in a result folder.
pub const DATA_PACKAGE_FILE: &str = "datapackage.json";

const PROFILES: &str = "https://datapackage.org/profiles/2.0";

/// The data package of a result: from its documents and its files as they will be written, by path.
pub fn data_package(laws: &LawsDocument, line: &LineDocument, files: &BTreeMap<String, Vec<u8>>) -> String {
    let readings = readings(files);
    let tables = files.iter().filter(|(path, _)| path.ends_with(".csv"));
    let documents = files.iter().filter(|(path, _)| path.as_str() == "laws.json" || path.as_str() == "line.json");
    let resources: Vec<Value> = tables
        .filter_map(|(path, bytes)| table_resource(path, bytes, &readings))
        .chain(documents.map(|(path, bytes)| document_resource(path, bytes)))
        .collect();
    let body = line.body();
    pretty(&json!({
        "$schema": format!("{PROFILES}/datapackage.json"),
        "name": slug(&body.name),
        "title": body.name,
        "description": description(line),
        "keywords": ["welding", "trials", "synergic line"],
        "sources": sources(laws),
        "resources": resources,
    }))
}

/// Without the study's name: a description is read as Markdown, a name is not.
fn description(line: &LineDocument) -> String {
    let mut paragraphs = vec![format!(
        "Trials, laws and line of a welding study, made by {}. A blank cell is missing, never zero. No licence is stated here: it is \
         for those whose trials these are to state one.",
        line.provenance().tool
    )];
    paragraphs.extend(line.cautions().iter().map(|caution| format!("Caution: {caution}")));
    paragraphs.join("\n\n")
}

/// The study and its tables. Their paths are relative to the study and not to the package, so they stand as titles.
fn sources(laws: &LawsDocument) -> Vec<Value> {
    let provenance = laws.provenance();
    let study = json!({ "title": provenance.study.file, "hash": format!("sha256:{}", provenance.study.sha256) });
    let inputs = provenance.inputs.iter().map(|input| {
        json!({
            "title": input.file, "hash": format!("sha256:{}", input.sha256),
            "rows": input.rows, "rowsUsed": input.rows_used,
        })
    });
    std::iter::once(study).chain(inputs).collect()
}

/// Title and caption of each figure by its name, from `plots/readings.json`.
fn readings(files: &BTreeMap<String, Vec<u8>>) -> Value {
    files.get("plots/readings.json").and_then(|bytes| serde_json::from_slice(bytes).ok()).unwrap_or(Value::Null)
}

/// `None` for a CSV file without a header, of which there is nothing to say.
fn table_resource(path: &str, bytes: &[u8], readings: &Value) -> Option<Value> {
    let table = TableRead::of(bytes)?;
    let stem = path.trim_end_matches(".csv").rsplit('/').next().unwrap_or(path);
    let figure = &readings[stem];
    let (title, description) = match path {
        "line.csv" => ("The line, one row per node", "Settings, what they do, what moves them, support and limits."),
        "trials.csv" => {
            ("The trials as understood", "One row per steady weld window, in contract units, with its way back.")
        }
        _ => (
            figure["title"].as_str().unwrap_or(stem),
            figure["caption"].as_str().unwrap_or("What the figure of this name shows."),
        ),
    };
    let mut resource = json!({
        "name": slug(path.trim_end_matches(".csv")), "type": "table", "title": title, "description": description,
        "path": path, "format": "csv", "mediatype": "text/csv", "encoding": "utf-8",
        "bytes": bytes.len(), "hash": format!("sha256:{}", sha256_hex(bytes)),
    });
    if let Some(dialect) = table.dialect() {
        resource["dialect"] = dialect;
    }
    resource["schema"] = fields::schema(path, &table);
    Some(resource)
}

fn document_resource(path: &str, bytes: &[u8]) -> Value {
    json!({
        "name": slug(path), "title": if path == "laws.json" { "The laws with their diagnostics" } else { "The line in full" },
        "description": format!("Its JSON Schema: meltlaw schema {}", path.trim_end_matches(".json")),
        "path": path, "format": "json", "mediatype": "application/json", "encoding": "utf-8",
        "bytes": bytes.len(), "hash": format!("sha256:{}", sha256_hex(bytes)),
    })
}

/// A name of lower-case letters, digits and hyphens, as the standard asks; other letters become hyphens.
fn slug(text: &str) -> String {
    let lower = text.to_lowercase();
    let words = lower.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    let joined = words.collect::<Vec<_>>().join("-");
    if joined.is_empty() { "result".to_owned() } else { joined }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;

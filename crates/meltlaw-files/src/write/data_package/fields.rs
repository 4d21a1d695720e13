//! The columns of a table as a Table Schema. Types follow from what a column is and, where only its cells can tell, from
//! them: no file of a result may contradict its own description.

use meltlaw::trials::Column;
use serde_json::{Value, json};

use super::PROFILES;
use super::table::TableRead;
use crate::document::{description, unit_of};

/// Columns of text, whatever their cells look like: a trial may be named 7.
const TEXT: &[&str] = &[
    "trial",
    "day",
    "spool",
    "station",
    "block",
    "origin",
    "mode",
    "use",
    "note",
    "notes",
    "flags",
    "form",
    "coefficient",
    "unit",
    "support",
    "standing",
    "pinned",
    "limits",
    "ends_below_by",
    "ends_above_by",
    "source_file",
];

/// The Table Schema of a table at this path inside the folder.
pub(super) fn schema(path: &str, table: &TableRead) -> Value {
    let fields: Vec<Value> = (0..table.header.len()).map(|place| field(path, table, place)).collect();
    let mut schema = json!({
        "$schema": format!("{PROFILES}/tableschema.json"), "missingValues": [""], "fields": fields,
    });
    let key = if path == "line.csv" { "wire_feed_m_min" } else { "trial" };
    if table.header.first().is_some_and(|first| first == key) && table.is_key(0) {
        schema["primaryKey"] = json!([key]);
    }
    schema
}

fn field(path: &str, table: &TableRead, place: usize) -> Value {
    let name = table.header[place].as_str();
    // In the table of trials only the contract's columns are known; those of the user stay text: 007 is no number.
    let known = column(name);
    let is_text = TEXT.contains(&name) || (path == "trials.csv" && known.is_none() && name != "source_row");
    if is_text || !table.filled(place).all(is_number) {
        return json!({ "name": name, "type": "string" });
    }
    let counts = name == "source_row" || (path == "trials.csv" && known.is_some_and(is_count));
    let whole = counts && table.filled(place).all(|cell| cell.bytes().all(|b| b.is_ascii_digit()));
    let mut field = json!({ "name": name, "type": if whole { "integer" } else { "number" } });
    // A unit in a column of its own says itself.
    if !(name == "value" && table.header.iter().any(|head| head == "unit")) {
        let unit = unit_of(name);
        field["unit"] = Value::from(unit.unit);
        field["ucumUnit"] = Value::from(unit.ucum);
    }
    if let (Some(column), "trials.csv") = (known, path) {
        let of = match name {
            _ if name == column.name() => "",
            _ if name.ends_with("_se") => "Standard error. ",
            _ => "As asked for. ",
        };
        field["description"] = Value::from(format!("{of}{}", description(column)));
    }
    field
}

/// The column of a trial table of this name, or whose standard error or asked value it is.
fn column(name: &str) -> Option<Column> {
    let error = || Column::from_name(name.strip_suffix("_se")?).filter(|c| c.may_have_se());
    let asked = || Column::from_name(name.strip_prefix("asked_")?).filter(|c| c.may_be_asked());
    Column::from_name(name).or_else(error).or_else(asked)
}

fn is_count(column: Column) -> bool {
    column.unit() == "1" && column != Column::CurrentGainSe
}

fn is_number(cell: &str) -> bool {
    cell.parse::<f64>().is_ok_and(f64::is_finite)
}

//! Frictionless Table Schema of the trial table, with a UCUM code for each unit.

use meltlaw::trials::{Column, Mode, Origin};
use serde_json::{Value, json};

/// The columns of a trial table in contract units; columns that the program does not know are allowed.
pub(super) fn trials_schema() -> Value {
    let mut fields = vec![json!({
        "name": "trial", "type": "string", "description": "Identifier, unique in the study.",
        "constraints": {"required": true, "unique": true, "maxLength": 120}
    })];
    for &column in Column::ALL {
        fields.push(field(column));
        if column.may_have_se() {
            fields.push(standard_error(column));
        }
    }
    fields.extend(Column::ALL.iter().filter(|c| c.may_be_asked()).map(|&column| asked(column)));
    let modes = [Mode::Pulsed, Mode::ConstantCurrent, Mode::ConstantVoltage].map(Mode::word);
    fields.extend([
        json!({"name": "mode", "type": "string", "description": "How the trial was welded; blank is pulsed.", "constraints": {"enum": modes}}),
        json!({"name": "day", "type": "string", "description": "Day of welding; trials of one day share a shift."}),
        json!({"name": "spool", "type": "string", "description": "Spool of wire; trials of one spool share a shift."}),
        json!({"name": "station", "type": "string", "description": "Welding station with its instruments; trials of one station share a shift."}),
        json!({"name": "block", "type": "string", "description": "Anything else that trials share, such as a coil or a plate."}),
        json!({"name": "origin", "type": "string", "description": "Where the numbers come from; blank is measured. Simulated trials are fitted and are no evidence that a line holds.", "constraints": {"enum": Origin::ALL.map(Origin::word)}}),
        json!({"name": "use", "type": "string", "description": "Whether the trial is used; blank is yes. yes or no, 1 or 0, true or false, or the two words in a common language of Europe; x in a column of ticks, where blank is no."}),
        json!({"name": "note", "type": "string", "description": "Why, or any remark."}),
    ]);
    json!({
        "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
        "title": "Trial table: one row per steady weld window",
        "description": "A blank cell is missing, never zero. Lines that start with # before the header are comments. Other units by suffix are converted on reading.",
        "fieldsMatch": "partial",
        "missingValues": [""],
        "primaryKey": ["trial"],
        "fields": fields
    })
}

fn field(column: Column) -> Value {
    let kind = match column {
        Column::WithoutDrop
        | Column::OneDrop
        | Column::MoreDrops
        | Column::Drops
        | Column::Pulses
        | Column::RunOrder => "integer",
        _ => "number",
    };
    json!({
        "name": column.name(), "type": kind, "unit": column.unit(), "ucumUnit": column.ucum(),
        "description": description(column), "constraints": {"minimum": 0}
    })
}

fn standard_error(column: Column) -> Value {
    json!({
        "name": format!("{}_se", column.name()), "type": "number", "unit": column.unit(), "ucumUnit": column.ucum(),
        "description": format!("Standard error of {} in this trial; replaces the study's value, 0 means exact.", column.name()),
        "constraints": {"minimum": 0}
    })
}

fn asked(column: Column) -> Value {
    json!({
        "name": column.asked_name(), "type": "number", "unit": column.unit(), "ucumUnit": column.ucum(),
        "description": format!("What the sheet of a plan asked for as {}; kept, never fitted.", column.name()),
        "constraints": {"minimum": 0}
    })
}

/// What a column of a trial table holds, in words.
pub(crate) const fn description(column: Column) -> &'static str {
    match column {
        Column::WireFeed => "Measured wire feed speed.",
        Column::CurrentMean => "Mean current over the window.",
        Column::CurrentRms => "RMS current over the same window, from samples and not from means.",
        Column::Extension => "Electrode extension, last contact point to wire tip.",
        Column::Ctwd => "Contact-tip-to-work distance.",
        Column::ArcLength => "Wire tip to pool surface along the wire axis, mean over whole pulses.",
        Column::VoltageMean => "Mean voltage between contact tip and work.",
        Column::PowerMean => "Mean of the instantaneous power from the same channels.",
        Column::PulseCurrent => "Pulse current.",
        Column::PulseTime => "Width of the pulse at half height between background and pulse current.",
        Column::BackgroundCurrent => "Background current.",
        Column::BackgroundTime => "Time at background between two pulses.",
        Column::PulseFrequency => "Pulse frequency.",
        Column::WithoutDrop => "Counted pulses that detached no drop.",
        Column::OneDrop => "Counted pulses that detached one drop.",
        Column::MoreDrops => "Counted pulses that detached more than one drop.",
        Column::Drops => "Counted drops, where only totals are known.",
        Column::Pulses => "Counted pulses.",
        Column::RunOrder => "Order welded.",
        Column::TipMinutes => "Arc time on the contact tip.",
        Column::TravelSpeed => "Travel speed.",
        Column::GasFlow => "Shielding gas flow.",
        Column::DisplayedCurrent => "Current on the source's own display; never fitted.",
        Column::DisplayedVoltage => "Voltage on the source's own display; never fitted.",
        Column::CurrentGainSe => {
            "Relative gain error of the current probe in this trial, shared by all current columns and power."
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    #[test]
    fn every_numeric_field_has_a_unit_and_its_code() {
        let schema = trials_schema();
        let fields = schema["fields"].as_array().unwrap();
        let feed = fields.iter().find(|f| f["name"] == "wire_feed_m_min").unwrap();
        assert_eq!((feed["unit"].as_str(), feed["ucumUnit"].as_str()), (Some("m/min"), Some("m/min")));
        for field in fields.iter().filter(|f| f["type"] != "string") {
            assert!(field["ucumUnit"].is_string() && field["description"].is_string(), "{field}");
        }
        // 25 numeric columns, 16 of which may have a standard error and 13 may be asked for, and 9 of text.
        assert_eq!(fields.len(), 25 + 16 + 13 + 9);
    }

    #[test]
    fn counts_have_no_standard_error() {
        let schema = trials_schema();
        assert!(schema["fields"].as_array().unwrap().iter().all(|f| f["name"] != "drops_se"));
    }
}

//! The header of a table: which column means what, by its name or by the study's `columns`, and whether its unit agrees.

use std::collections::BTreeMap;

use super::fault::{Fault, Place};
use super::meaning::{Meaning, fold};
use super::request::TableRequest;
use super::unit_words::{Conflict, factor_text, unit_in_heading, unit_word};
use super::wording::{misspelt, nearest, quoted, spelt_out};
use crate::logs::option_place;

/// A column of a file and what it means.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Headed {
    /// The column as the file names it, and what it stands for where the study says.
    pub(crate) label: String,
    /// The column's name for lists of unknown columns.
    pub(crate) name: String,
    /// `None` where the program does not know it.
    pub(crate) meaning: Option<Meaning>,
    /// Our name by which the study maps the column, where it does.
    ours: Option<String>,
    /// What the study multiplies its numbers by.
    pub(crate) scale: Option<f64>,
    /// Its place in the file, which counts columns that were dropped.
    pub(crate) place: usize,
}

/// How many columns of a header have a meaning; the measure by which a separator is chosen.
pub(crate) fn recognised<'a>(header: impl IntoIterator<Item = &'a str>, columns: &BTreeMap<String, String>) -> usize {
    let known = Meaning::all_names();
    header
        .into_iter()
        .filter(|cell| columns.values().any(|theirs| theirs == cell.trim()) || known.contains(&fold(cell)))
        .count()
}

/// The meaning of every column of a header.
pub(crate) fn resolve(header: &[String], request: &TableRequest, place: &Place) -> (Vec<Headed>, Vec<Fault>) {
    let mut faults = Vec::new();
    let fault =
        |found: String, needed: String, action: String| Fault::at(&request.file, place.clone(), found, needed, action);
    let mut headed: Vec<Headed> = header
        .iter()
        .enumerate()
        .map(|(index, name)| {
            let name = if name.is_empty() { format!("column {}", index + 1) } else { name.clone() };
            let meaning = Meaning::from_name(&fold(&name));
            // An unknown name travels on into results, so unseen characters in it are spelt out here.
            Headed { label: shown(&name), meaning, name: spelt_out(&name), ours: None, scale: None, place: index }
        })
        .collect();
    for (ours, theirs) in &request.columns {
        let places = places_of(theirs, header);
        let meaning = Meaning::from_name(&fold(ours));
        match (places.as_slice(), meaning) {
            (&[index], Some(meaning)) => {
                headed[index].label = format!("{} ({ours})", quoted(theirs));
                headed[index].meaning = Some(meaning);
                headed[index].ours = Some(ours.clone());
            }
            (_, None) => faults.push(fault(
                format!("{} under columns in the study", quoted(ours)),
                "one of our column names".to_owned(),
                nearest(ours, Meaning::all_names().iter().map(String::as_str))
                    .map_or("correct it".to_owned(), |near| format!("the nearest is {near}")),
            )),
            (&[], _) => faults.push(fault(
                format!("no column {}", quoted(theirs)),
                format!("it, as the study maps {ours} to it"),
                nearest(theirs, header.iter().map(String::as_str).filter(|h| !h.is_empty()))
                    .map_or("correct the study".to_owned(), |near| {
                        format!("correct the study, the nearest is {}", quoted(near))
                    }),
            )),
            // Reported as a duplicate header below.
            _ => {}
        }
    }
    faults.extend(duplicates(header, &headed, &fault));
    faults.extend(scaled(&mut headed, request, &fault));
    // Where a column is not what it seems to be, its unit is no matter.
    if faults.is_empty() {
        faults.extend(headed.iter().zip(header).filter_map(|(column, heading)| {
            let (unit, in_brackets) = unit_in_heading(heading).filter(|_| column.ours.is_some())?;
            let conflict = unit_conflict(column, unit, "in the heading", in_brackets)?;
            Some(fault(conflict.found, conflict.needed, conflict.action).in_column(column.label.clone()))
        }));
    }
    if !headed.iter().any(|h| h.meaning == Some(Meaning::Trial)) {
        let near = misspelt("trial", header.iter().map(String::as_str));
        let action = near.map_or_else(
            || "name the column of identifiers trial, or map it: columns = { trial = \"its name\" }".to_owned(),
            |near| format!("rename {} or map it: columns = {{ trial = {} }}", quoted(near), quoted(near)),
        );
        faults.push(fault("no column trial".to_owned(), "an identifier for each trial".to_owned(), action));
    }
    (headed, faults)
}

/// Columns that a study's name for them means: those with that heading, or the one at a letter such as `@C`.
fn places_of(theirs: &str, header: &[String]) -> Vec<usize> {
    let by_name: Vec<usize> = (0..header.len()).filter(|&i| header[i] == theirs).collect();
    let letters = theirs.strip_prefix('@').filter(|l| (1..=3).contains(&l.len()) && by_name.is_empty());
    let Some(letters) = letters.filter(|l| l.bytes().all(|b| b.is_ascii_alphabetic())) else { return by_name };
    let place = letters.bytes().fold(0, |n, b| 26 * n + usize::from(b.to_ascii_uppercase() - b'A') + 1);
    (place <= header.len()).then(|| place - 1).into_iter().collect()
}

/// Notes the factors that the study states, each of which must have its column.
fn scaled(
    headed: &mut [Headed],
    request: &TableRequest,
    fault: &dyn Fn(String, String, String) -> Fault,
) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (ours, factor) in &request.scale {
        let meaning = Meaning::from_name(ours);
        match headed.iter_mut().find(|h| h.meaning.is_some() && h.meaning == meaning) {
            Some(column) => column.scale = Some(*factor),
            None => {
                let other =
                    headed.iter().filter_map(|h| h.meaning).find(|m| meaning.is_some_and(|s| s.is_same_quantity(m)));
                let action = other.map_or_else(
                    || "remove it, or map a column to that name".to_owned(),
                    |m| format!("the table has {}: scale that name", m.name()),
                );
                let needed = format!("a column {ours}, as the study scales it");
                faults.push(fault(format!("no column {ours}"), needed, action));
            }
        }
    }
    faults
}

/// How a unit contradicts what its column's name states.
pub(crate) struct UnitConflict {
    pub(crate) found: String,
    pub(crate) needed: String,
    pub(crate) action: String,
}

/// The conflict of a column with a unit that stands with it. A unit that nothing marks as one must at least measure
/// the same quantity; a factor that the study states settles the matter.
pub(crate) fn unit_conflict(column: &Headed, text: &str, place: &str, is_surely_a_unit: bool) -> Option<UnitConflict> {
    let meaning = column.meaning.filter(|_| column.scale.is_none())?;
    let unit = meaning.unit()?;
    let (found, needed) = (unit_word(text)?, unit_word(unit)?);
    let conflict = found.conflict(needed)?;
    let name = meaning.name();
    let action = match (conflict, meaning.name_in(found)) {
        (Conflict::Factor(factor), other) => {
            let scale = format!("state scale = {{ {name} = {} }} for this table in the study", factor_text(factor));
            match (other, &column.ours) {
                (Some(other), Some(_)) => format!("map it as {other} instead, or {scale}"),
                (Some(other), None) => format!("rename the column {other}, or {scale}"),
                (None, _) => scale,
            }
        }
        (Conflict::Quantity, _) if !is_surely_a_unit => return None,
        (Conflict::Quantity, _) => format!(
            "map the column that holds it, or correct the unit; scale = {{ {name} = 1 }} says that the numbers are in {unit}"
        ),
    };
    let found = format!("the unit {} {place}", quoted(text.trim()));
    Some(UnitConflict { found, needed: format!("{unit}, as the name {name} states"), action })
}

fn duplicates(header: &[String], headed: &[Headed], fault: &dyn Fn(String, String, String) -> Fault) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (second, column) in headed.iter().enumerate() {
        let twice = headed[..second].iter().enumerate().find(|(first, earlier)| {
            let same_name = !header[second].is_empty() && fold(&header[*first]) == fold(&header[second]);
            let same_quantity =
                matches!((earlier.meaning, column.meaning), (Some(a), Some(b)) if a.is_same_quantity(&b));
            same_name || same_quantity
        });
        if let Some((_, earlier)) = twice {
            faults.push(fault(
                format!("columns {} and {}", earlier.label, column.label),
                "each quantity once".to_owned(),
                "rename or remove one".to_owned(),
            ));
        }
    }
    faults
}

/// A header as it may be shown: plain where it is one word, in quotation marks otherwise.
fn shown(name: &str) -> String {
    let plain = name.len() <= 60 && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    if plain { name.to_owned() } else { quoted(name) }
}

/// Remarks on columns that are converted or not known.
pub(crate) fn remarks(file: &str, headed: &[Headed]) -> Vec<String> {
    let mut notes = Vec::new();
    for column in headed {
        if let Some(factor) = column.scale {
            notes.push(format!(
                "{file}: the numbers of column {} were multiplied by {factor}, as the study states",
                column.label
            ));
        }
        let Some(Meaning::Value(known, Some(c)) | Meaning::Error(known, Some(c)) | Meaning::Asked(known, Some(c))) =
            column.meaning
        else {
            continue;
        };
        notes.push(format!(
            "{file}: column {} was converted from {} to {}: {}",
            column.label,
            c.unit,
            known.unit(),
            c.because
        ));
    }
    let names = Meaning::all_names();
    // How a log was or is to be read is for whoever reads logs.
    let unknown = headed.iter().filter(|h| h.meaning.is_none() && option_place(&h.name).is_none()).map(|column| {
        match misspelt(&fold(&column.name), names.iter().map(String::as_str)) {
            Some(near) => format!("{} (did you mean {near}?)", column.label),
            None => column.label.clone(),
        }
    });
    let unknown: Vec<String> = unknown.collect();
    match unknown.as_slice() {
        [] => {}
        [one] => notes.push(format!("{file}: column {one} is not known; it is kept and not used")),
        more => notes.push(format!("{file}: columns {} are not known; they are kept and not used", more.join(", "))),
    }
    notes
}

#[cfg(test)]
mod tests {
    use meltlaw::factors::Factor;
    use meltlaw::trials::Column;

    use super::*;

    fn resolved(header: &[&str], columns: &[(&str, &str)]) -> (Vec<Headed>, Vec<String>) {
        let header: Vec<String> = header.iter().map(|h| (*h).to_owned()).collect();
        let mut request = TableRequest::of_file("t.csv");
        request.columns = columns.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
        let (headed, faults) = resolve(&header, &request, &Place::Row(1));
        (headed, faults.iter().map(Fault::to_string).collect())
    }

    #[test]
    fn names_of_the_contract_need_no_mapping_whatever_the_case() {
        let (headed, faults) = resolved(&[" Trial", "Wire Feed m min", "CURRENT_MEAN_A", "ctwd_in_se"], &[]);
        assert!(faults.is_empty(), "{faults:?}");
        assert_eq!(headed[1].meaning, Some(Meaning::Value(Column::WireFeed, None)));
        assert!(matches!(headed[3].meaning, Some(Meaning::Error(Column::Ctwd, Some(c))) if c.unit == "in"));
    }

    #[test]
    fn the_probe_gain_error_is_a_column_and_not_the_error_of_one() {
        assert_eq!(Meaning::from_name("current_gain_relative_se"), Some(Meaning::Value(Column::CurrentGainSe, None)));
        assert_eq!(Meaning::from_name("pulses_se"), None);
    }

    #[test]
    fn a_heading_that_contradicts_the_mapped_name_is_one_error_with_its_cure() {
        let (_, faults) = resolved(&["trial", "P [kW]"], &[("power_mean_w", "P [kW]")]);
        assert_eq!(
            faults,
            [
                "t.csv, row 1, column \"P [kW]\" (power_mean_w): found the unit \"kW\" in the heading, needed W, as the name power_mean_w states; map it as power_mean_kw instead, or state scale = { power_mean_w = 1000 } for this table in the study"
            ]
        );
        for (ours, theirs) in
            [("power_mean_kw", "P [kW]"), ("power_mean_w", "P (avg)"), ("pulse_time_us", "tp/µs"), ("ctwd_mm", "v_W")]
        {
            assert_eq!(resolved(&["trial", theirs], &[(ours, theirs)]).1, Vec::<String>::new(), "{theirs}");
        }
        let (_, faults) = resolved(&["trial", "U [A]"], &[("voltage_mean_v", "U [A]")]);
        assert!(faults[0].contains("map the column that holds it"), "{faults:?}");
    }

    #[test]
    fn a_column_can_be_mapped_by_its_letter() {
        let (headed, faults) = resolved(&["trial", "", "I"], &[("current_mean_a", "@c")]);
        assert!(faults.is_empty(), "{faults:?}");
        assert_eq!(headed[2].meaning, Some(Meaning::Value(Column::CurrentMean, None)));
        assert!(resolved(&["trial"], &[("current_mean_a", "@C")]).1[0].contains("no column \"@C\""));
    }

    #[test]
    fn asked_settings_and_factors_have_names_of_their_own() {
        assert!(matches!(
            Meaning::from_name("asked_wire_feed_in_min"),
            Some(Meaning::Asked(Column::WireFeed, Some(_)))
        ));
        assert_eq!(Meaning::from_name("asked_pulses"), None);
        assert_eq!(Meaning::from_name("spool"), Some(Meaning::Level(Factor::Spool)));
        assert_eq!(Meaning::from_name("displayed_voltage_v_se"), None);
    }

    #[test]
    fn a_quantity_in_two_units_is_refused() {
        let (_, faults) = resolved(&["trial", "wire_feed_m_min", "wire_feed_in_min"], &[]);
        assert_eq!(
            faults,
            [
                "t.csv, row 1: found columns wire_feed_m_min and wire_feed_in_min, needed each quantity once; rename or remove one"
            ]
        );
    }

    #[test]
    fn a_mapped_column_that_is_not_there_names_the_nearest() {
        let (_, faults) = resolved(&["trial", "I avg [A]"], &[("current_mean_a", "I avg")]);
        assert_eq!(
            faults,
            [
                "t.csv, row 1: found no column \"I avg\", needed it, as the study maps current_mean_a to it; correct the study, the nearest is \"I avg [A]\""
            ]
        );
    }

    #[test]
    fn a_table_without_identifiers_is_refused() {
        let (_, faults) = resolved(&["trail", "ctwd_mm"], &[]);
        assert_eq!(
            faults,
            [
                "t.csv, row 1: found no column trial, needed an identifier for each trial; rename \"trail\" or map it: columns = { trial = \"trail\" }"
            ]
        );
    }

    #[test]
    fn unknown_columns_are_named_once_with_a_guess_where_it_is_a_good_one() {
        let (headed, _) = resolved(&["trial", "wire_fed_m_min", "layer", "ctwd_in"], &[]);
        assert_eq!(
            remarks("t.csv", &headed),
            [
                "t.csv: column ctwd_in was converted from in to mm: 1 in = 25.4 mm exactly (NIST SP 811, appendix B)",
                "t.csv: columns wire_fed_m_min (did you mean wire_feed_m_min?), layer are not known; they are kept and not used"
            ]
        );
    }
}

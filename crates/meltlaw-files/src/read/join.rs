//! The tables of a study as one: rows below rows, and tables that add columns to trials of the others.

use std::collections::BTreeMap;

use meltlaw::trials::{Mode, Origin, Trial, Trials};

use super::fault::{Fault, Place};
use super::limits::MOST_ROWS;
use super::meaning::Meaning;
use super::table::OneTable;
use super::wording::{nearest, quoted};

/// Joins the tables of a study; identifiers must be unique over all that hold trials. Tables that add columns come
/// last, so that they find the trials of reduced logs too.
pub(crate) fn join(tables: Vec<OneTable>) -> (Trials, Vec<Fault>) {
    let (adding, holding): (Vec<_>, Vec<_>) = tables.into_iter().partition(|table| table.joins.is_some());
    let (mut all, mut faults) = below_each_other(holding);
    for table in adding {
        add_columns(&mut all, table, &mut faults);
    }
    all.has_column.sort_unstable();
    all.has_column.dedup();
    (all, faults)
}

fn below_each_other(tables: Vec<OneTable>) -> (Trials, Vec<Fault>) {
    let mut all = Trials::default();
    let mut faults = Vec::new();
    let mut seen: BTreeMap<String, (usize, Place)> = BTreeMap::new();
    for table in &tables {
        for name in &table.trials.other_columns {
            if !all.other_columns.contains(name) {
                all.other_columns.push(name.clone());
            }
        }
    }
    for OneTable { trials: table, identifiers, .. } in tables {
        if all.rows.len() + table.rows.len() > MOST_ROWS as usize {
            let file = table.sources.first().map_or("", |source| source.file.as_str());
            let found = format!("more than {MOST_ROWS} trials in this table and those before it");
            faults.push(Fault::of_file(file, found, format!("at most {MOST_ROWS}"), "study fewer trials at once"));
            break;
        }
        let first_source = all.sources.len();
        let places: Vec<usize> = all
            .other_columns
            .iter()
            .map(|name| table.other_columns.iter().position(|n| n == name).unwrap_or(usize::MAX))
            .collect();
        all.sources.extend(table.sources);
        all.reading_notes.extend(table.reading_notes);
        all.has_column.extend(table.has_column);
        for (mut trial, place) in table.rows.into_iter().zip(identifiers) {
            trial.source += first_source;
            trial.other = places.iter().map(|&at| trial.other.get(at).cloned().unwrap_or_default()).collect();
            if let Some((source, first)) = seen.get(&trial.name) {
                let needed =
                    format!("an identifier of its own, as this one stands in {}{first}", all.sources[*source].file);
                let file = &all.sources[trial.source].file;
                let fault = Fault::at(file, place, quoted(&trial.name), needed, "rename one of the two");
                faults.push(fault.in_column("trial"));
            } else if !trial.name.is_empty() {
                seen.insert(trial.name.clone(), (trial.source, place));
            }
            all.rows.push(trial);
        }
    }
    (all, faults)
}

/// A column that both sides give, with the first trial and its place.
type GivenTwice = BTreeMap<String, (usize, String, Place)>;

fn add_columns(all: &mut Trials, table: OneTable, faults: &mut Vec<Fault>) {
    let OneTable { trials: table, identifiers, joins } = table;
    let (Some(mut source), Some(meanings)) = (table.sources.into_iter().next(), joins) else { return };
    let file = source.file.clone();
    if all.rows.is_empty() {
        let found = "a table that adds columns, and no trial of another table";
        faults.push(Fault::of_file(
            &file,
            found,
            "a table of the trials",
            "name it in another [[trials]] without join",
        ));
        return;
    }
    let first_other = all.other_columns.len();
    for name in table.other_columns {
        let taken = all.other_columns.contains(&name);
        all.other_columns.push(if taken { format!("{name} ({file})") } else { name });
    }
    let mut rows: BTreeMap<String, usize> =
        all.rows.iter().enumerate().map(|(place, trial)| (trial.name.clone(), place)).collect();
    let mut given_twice = GivenTwice::new();
    for (row, place) in table.rows.into_iter().zip(identifiers) {
        // A blank identifier has been reported by its cell.
        if row.name.is_empty() {
            continue;
        }
        let Some(at) = rows.remove(&row.name) else {
            faults.push(unmatched(all, &source.joined, &file, &row.name, place));
            continue;
        };
        source.joined.push(row.name.clone());
        let trial = &mut all.rows[at];
        trial.other.resize(first_other, String::new());
        trial.other.extend(row.other.iter().cloned());
        for meaning in &meanings {
            if !take_over(trial, &row, *meaning) {
                given_twice.entry(meaning.name()).or_insert((0, row.name.clone(), place.clone())).0 += 1;
            }
        }
    }
    let columns = all.other_columns.len();
    all.rows.iter_mut().for_each(|trial| trial.other.resize(columns, String::new()));
    faults.extend(given_twice.into_iter().map(|(column, (count, trial, place))| {
        let more = if count > 1 { format!(" and {} trials more", count - 1) } else { String::new() };
        let found = format!("a value of {trial}{more} that another table gives as well");
        Fault::at(&file, place, found, "each value once", "remove it here or there").in_column(column)
    }));
    all.sources.push(source);
    all.reading_notes.extend(table.reading_notes);
    all.has_column.extend(table.has_column);
}

fn unmatched(all: &Trials, joined: &[String], file: &str, name: &str, place: Place) -> Fault {
    let (needed, action) = if joined.iter().any(|known| known == name) {
        ("one row for each trial".to_owned(), "remove one of the two rows".to_owned())
    } else {
        let near = nearest(name, all.rows.iter().map(|t| t.name.as_str())).map_or_else(String::new, quoted);
        (format!("a trial of another table, the nearest is {near}"), "correct it or remove the row".to_owned())
    };
    let found = if action.starts_with("remove one") { format!("{} a second time", quoted(name)) } else { quoted(name) };
    Fault::at(file, place, found, needed, action).in_column("trial")
}

/// Takes a column of a row over; `false` where the trial has a value there already.
fn take_over(trial: &mut Trial, row: &Trial, meaning: Meaning) -> bool {
    let free = |had: Option<f64>, has: Option<f64>| had.is_none() || has.is_none();
    match meaning {
        Meaning::Value(column, _) => {
            let (had, has) = (trial.get(column), row.get(column));
            trial.set(column, had.or(has));
            free(had, has)
        }
        Meaning::Error(column, _) => {
            let (had, has) = (trial.stated_se(column), row.stated_se(column));
            trial.set_se(column, had.or(has));
            free(had, has)
        }
        Meaning::Asked(column, _) => {
            let (had, has) = (trial.asked(column), row.asked(column));
            trial.set_asked(column, had.or(has));
            free(had, has)
        }
        Meaning::Level(factor) => {
            let (had, has) = (trial.level(factor).map(str::to_owned), row.level(factor).map(str::to_owned));
            let free = had.is_none() || has.is_none();
            trial.set_level(factor, had.or(has));
            free
        }
        Meaning::Mode => {
            let had = std::mem::replace(&mut trial.mode, row.mode);
            had == Mode::default() || had == row.mode
        }
        Meaning::Origin => {
            let had = std::mem::replace(&mut trial.origin, row.origin);
            had == Origin::default() || had == row.origin
        }
        Meaning::Use => {
            trial.use_it &= row.use_it;
            true
        }
        Meaning::Note => {
            let notes = [trial.note.as_str(), row.note.as_str()];
            trial.note = notes.into_iter().filter(|note| !note.is_empty()).collect::<Vec<_>>().join("; ");
            true
        }
        Meaning::Trial => true,
    }
}

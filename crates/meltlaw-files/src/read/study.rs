//! The whole of a study: its file, then every table that it names.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use meltlaw::study::Study;
use meltlaw::trials::{Column, Trial, Trials};

use super::disk::read_bytes;
use super::fault::{Fault, Place, ReadError};
use super::join::join;
use super::limits::{LARGEST_STUDY_BYTES, MOST_TRIALS, MOST_UNKNOWN_KEYS};
use super::logs::{LogsRequest, read_logs};
use super::setup::LeaveOut;
use super::study_file::{Tables, read_study_text};
use super::table::read_one;
use super::wording::{nearest, quoted, spelt_out};
use crate::write::Inputs;

/// Name of the study file in a study's folder.
const STUDY_FILE: &str = "study.toml";

/// A study as read.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadStudy {
    /// The study as meant.
    pub study: Study,
    /// Its trials.
    pub trials: Trials,
    /// Name of the study file.
    pub file: String,
    /// SHA-256 of the study file, lower-case hexadecimal.
    pub sha256: String,
    /// The folder that holds it.
    pub folder: PathBuf,
    /// Every file that was read for it: the study file, tables, logs, and tables beside logs.
    pub inputs: Inputs,
}

/// Reads a study file, or `study.toml` of a folder, and every table that it names.
///
/// # Errors
/// [`ReadError::NoStudy`] where there is no such file, [`ReadError::BadStudy`] with every fault of the
/// study file, [`ReadError::BadTables`] with every fault of every table.
pub fn read_study(study: &Path) -> Result<ReadStudy, ReadError> {
    read_with(study, Tables::Needed)
}

/// Reads a study for what it asks for, such as the line of a wire that nobody welded: it may name no trials.
///
/// # Errors
/// As [`read_study`].
pub fn read_asked_for(study: &Path) -> Result<ReadStudy, ReadError> {
    read_with(study, Tables::Optional)
}

fn read_with(study: &Path, needed: Tables) -> Result<ReadStudy, ReadError> {
    let path = if study.is_dir() { study.join(STUDY_FILE) } else { study.to_owned() };
    let shown = path.display().to_string();
    let advice = "name a study file, or a folder that holds study.toml";
    let read = read_bytes(&path, &shown, LARGEST_STUDY_BYTES, advice).map_err(|fault| ReadError::NoStudy { fault })?;
    let file = path.file_name().map(|name| spelt_out(&name.to_string_lossy())).unwrap_or_default();
    let text = std::str::from_utf8(&read.bytes).map_err(|error| {
        let at = error.valid_up_to();
        let line = 1 + read.bytes[..at].iter().filter(|&&b| b == b'\n').count();
        let place = Place::Line { line, key: String::new() };
        let found = format!("byte {at} (counting from 0) that is no UTF-8");
        ReadError::BadStudy { faults: vec![Fault::at(&file, place, found, "text in UTF-8", "save the file as UTF-8")] }
    })?;
    let (study, requests) = read_study_text(&file, text, needed)?;
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).map_or(PathBuf::from("."), Path::to_owned);
    let mut faults = Vec::new();
    let mut tables = Vec::new();
    let read_tables = requests.tables.iter().map(|request| read_one(&folder, request));
    for (trials, more) in read_tables.chain(requests.logs.iter().map(|request| read_logs(&folder, request))) {
        tables.push(trials);
        faults.extend(more);
    }
    let (mut trials, more) = join(tables);
    faults.extend(more);
    // Where a table could not be read, its trials are missing for another reason.
    if faults.is_empty() {
        faults.extend(leave_out(&mut trials, &requests.leave_out, &file));
    }
    trials.reading_notes.splice(0..0, requests.notes);
    let more = [kept_in_words(&trials), left_out_in_words(&trials)].concat();
    trials.reading_notes.extend(more);
    if trials.rows.len() > MOST_TRIALS {
        let found = format!("{} trials in its tables", trials.rows.len());
        let action = "leave trials out of the tables: a law gains little from more";
        faults.push(Fault::of_file(&file, found, format!("at most {MOST_TRIALS}"), action));
    }
    if faults.is_empty() {
        let tables = requests.tables.iter().map(|table| table.file.as_str());
        let logs = trials.sources.iter().map(|source| source.file.as_str());
        let beside = requests.logs.iter().filter_map(LogsRequest::sidecar);
        let below = tables.chain(logs).chain(beside).map(|file| folder.join(file));
        let inputs = Inputs::of(below).and(Inputs::of([path]));
        Ok(ReadStudy { study, trials, file, sha256: read.sha256, folder, inputs })
    } else {
        Err(ReadError::BadTables { faults })
    }
}

/// Leaves trials out as the study says; a trial that no table has is a fault.
fn leave_out(trials: &mut Trials, entries: &[LeaveOut], file: &str) -> Vec<Fault> {
    let places: BTreeMap<String, usize> = trials.rows.iter().enumerate().map(|(i, t)| (t.name.clone(), i)).collect();
    let mut faults = Vec::new();
    for entry in entries {
        for name in &entry.trials {
            if let Some(&place) = places.get(name) {
                trials.rows[place].leave_out(entry.reason.as_str());
                continue;
            }
            // The nearest of thousands of names takes its time.
            let near = (faults.len() < MOST_UNKNOWN_KEYS).then(|| nearest(name, places.keys().map(String::as_str)));
            let near = near.flatten().map_or_else(String::new, |near| format!(", the nearest is {}", quoted(near)));
            let place = Place::Line { line: entry.line, key: "leave_out.trials".to_owned() };
            let needed = format!("a trial of the tables{near}");
            faults.push(Fault::at(file, place, quoted(name), needed, "correct or remove it"));
        }
    }
    faults
}

/// Columns that are kept and never fitted, where there are any.
fn kept_in_words(trials: &Trials) -> Vec<String> {
    let any = |has: &dyn Fn(&Trial) -> bool| trials.rows.iter().any(has);
    let asked = any(&|t| Column::ALL.iter().any(|&c| t.asked(c).is_some()));
    let displayed = any(&|t| [Column::DisplayedCurrent, Column::DisplayedVoltage].iter().any(|&c| t.get(c).is_some()));
    let said = [
        (asked, "what a sheet asked for (asked_…) is kept and never fitted; nothing holds it against the trials yet"),
        (displayed, "what the source displayed (displayed_…) is kept and never fitted"),
    ];
    said.into_iter().filter(|(is, _)| *is).map(|(_, words)| words.to_owned()).collect()
}

/// The trials that are left out for a stated reason, a sentence each; those without one are a check's business.
fn left_out_in_words(trials: &Trials) -> Vec<String> {
    const SHOWN: usize = 20;
    let explained = |trial: &&Trial| !trial.use_it && (trial.left_out.is_some() || !trial.note.is_empty());
    let out: Vec<&Trial> = trials.rows.iter().filter(explained).collect();
    let more = out.len().saturating_sub(SHOWN);
    let more = (more > 0).then(|| format!("{more} trials more are left out, each with its reason in trials.csv"));
    let said = out.iter().take(SHOWN).map(|trial| match &trial.left_out {
        Some(reason) => format!("trial {} is left out by the study: {reason}", trial.name),
        None => format!("trial {} is left out (use = no): {}", trial.name, trial.note),
    });
    said.chain(more).collect()
}

//! The whole of a study: its file, then every table that it names.

use std::path::{Path, PathBuf};

use meltlaw::study::Study;
use meltlaw::trials::Trials;

use super::disk::{LARGEST_STUDY_BYTES, read_bytes};
use super::fault::{Fault, Place, ReadError};
use super::logs::read_logs;
use super::study_file::{Tables, read_study_text};
use super::table::{join, read_one};

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
    let file = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
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
    let (trials, more) = join(tables);
    faults.extend(more);
    if faults.is_empty() {
        Ok(ReadStudy { study, trials, file, sha256: read.sha256, folder })
    } else {
        Err(ReadError::BadTables { faults })
    }
}

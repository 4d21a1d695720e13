//! Logs that a study names: `[[logs]]`, each file reduced to a row, once for all while neither it nor the way it is read
//! changes.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::Path;
use std::sync::atomic::AtomicU64;

use glob::Pattern;
use meltlaw::ranges::{CHANNEL, CUT_S, PULSE_CURRENT_A, SAMPLE_RATE_HZ, THRESHOLD_V};
use meltlaw::reduce::Reduced;

use super::fault::{Fault, Place};
use super::limits::MOST_LOGS;
use super::request::TableRequest;
use super::section::Section;
use super::table::{OneTable, read_one};
use super::wording::spelt_out;
use crate::document::{sha256_hex, sha256_hex_of_reader};
use crate::logs::{
    INVERT_WORDS, LogOptions, LogRequest, ROLES, ReducedLog, log_options, log_trials, look_at, reduce_log, role_of,
};
use crate::write::{Inputs, write_file};

/// Where reduced logs are kept beside the study.
const KEPT: &str = ".meltlaw-logs";

/// One `[[logs]]`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LogsRequest {
    glob: String,
    sidecar: Option<String>,
    request: LogRequest,
}

impl LogsRequest {
    /// The table beside the logs.
    pub(crate) fn sidecar(&self) -> Option<&str> {
        self.sidecar.as_deref()
    }
}

/// The logs that a study names.
pub(crate) fn read_logs_requests(root: &Section<'_>) -> Vec<LogsRequest> {
    root.sections("logs").into_iter().filter_map(read_request).collect()
}

fn read_request(section: Section<'_>) -> Option<LogsRequest> {
    let glob = section.required_text("glob", "which files below the study's folder, such as \"logs/*.csv\"");
    let sidecar = section.text("sidecar");
    let mut request =
        LogRequest { sample_rate_hz: section.number("sample_rate_hz", &SAMPLE_RATE_HZ), ..LogRequest::default() };
    for (key, range, to) in [
        ("cut_ends_s", &CUT_S, &mut request.cut_ends_s),
        ("arc_from_a", &PULSE_CURRENT_A, &mut request.arc_from_a),
        ("short_below_v", &THRESHOLD_V, &mut request.short_below_v),
    ] {
        *to = section.number_or(key, range, *to);
    }
    let columns = section.section("columns");
    for (ours, theirs, line) in columns.texts() {
        if role_of(&ours).is_none() {
            let (sampled, steady) = ROLES.split_at(3);
            let needed = format!(
                "one of {}, with _ms, _us, _ka, _mv where it is another unit, or {}",
                sampled.join(", "),
                steady.join(", ")
            );
            columns.fault(&ours, line, "an unknown name", needed, "write ours = \"theirs\", such as current = \"I\"");
            continue;
        }
        request.columns.insert(ours, theirs);
    }
    for (key, to) in
        [("scale", &mut request.scale), ("offset", &mut request.offset), ("delay_us", &mut request.delay_us)]
    {
        let channels = section.section(key);
        for (channel, place) in [("current", 0), ("voltage", 1)] {
            if let Some(value) = channels.number(channel, &CHANNEL) {
                to[place] = value;
            }
        }
        channels.finish();
    }
    let word = section.word("invert", &INVERT_WORDS.map(|(word, _)| word));
    request.invert = INVERT_WORDS.iter().find(|(w, _)| Some(*w) == word).map_or(request.invert, |(_, c)| *c);
    section.finish();
    Some(LogsRequest { glob: glob?, sidecar, request })
}

/// Reduces the logs of one entry to trials; each fault names its log.
pub(crate) fn read_logs(folder: &Path, asked: &LogsRequest) -> (OneTable, Vec<Fault>) {
    let files = match matching(folder, &asked.glob) {
        Ok(files) => files,
        Err(fault) => return (OneTable::default(), vec![*fault]),
    };
    let mut faults = Vec::new();
    let beside = asked.sidecar.as_ref().map(|file| {
        let (table, more) = read_one(folder, &TableRequest::of_file(file.as_str()));
        faults.extend(more);
        table.trials
    });
    let own = beside.as_ref().map(log_options).unwrap_or(Ok(BTreeMap::new())).unwrap_or_else(|more| {
        faults.extend(more);
        BTreeMap::new()
    });
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let request = LogRequest { threads, ..asked.request.clone() };
    let (mut logs, mut hashes, mut notes) = (Vec::new(), Vec::new(), Vec::new());
    for file in files {
        let stem = Path::new(&file).file_stem().map(|s| spelt_out(&s.to_string_lossy())).unwrap_or_default();
        let options = own.get(&stem).copied().unwrap_or_default();
        let request = options.on(&request);
        match reduced(folder, &file, &request) {
            Ok((hash, reduced)) => {
                notes.extend(reduced.findings.iter().map(|f| format!("{file}: {}; {}", f.seen, f.action)));
                hashes.push(hash);
                logs.push(ReducedLog { trial: stem, log: file, options: LogOptions::of(&request), reduced });
            }
            Err(fault) => faults.push(Fault { file, ..*fault }),
        }
    }
    let (mut trials, unanswered) = log_trials(&logs, beside.as_ref());
    for (source, hash) in trials.sources.iter_mut().zip(hashes) {
        source.sha256 = hash;
    }
    notes.extend(beside.into_iter().flat_map(|b| b.reading_notes));
    notes.extend(
        unanswered.iter().map(|name| format!("the table beside the logs has a row {name} that no log answers to")),
    );
    trials.reading_notes = notes;
    let identifiers = trials.rows.iter().map(|_| Place::File).collect();
    (OneTable { trials, identifiers, joins: None }, faults)
}

/// A log reduced, or what an earlier run kept of the same bytes read the same way.
fn reduced(folder: &Path, file: &str, request: &LogRequest) -> Result<(String, Reduced), Box<Fault>> {
    let path = folder.join(file);
    let unread = |e: std::io::Error| {
        Box::new(Fault::of_file(file, format!("a file that cannot be read ({e})"), "a log", "see that you may read it"))
    };
    look_at(&path, file)?;
    let hash = File::open(&path).and_then(sha256_hex_of_reader).map_err(unread)?;
    let known = LogRequest { threads: 0, ..request.clone() };
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
    let key = sha256_hex(format!("{} {hash} {ending} {known:?}", env!("CARGO_PKG_VERSION")).as_bytes());
    let kept = folder.join(KEPT).join(format!("{key}.json"));
    let earlier = fs::read_to_string(&kept).ok().and_then(|text| serde_json::from_str::<Reduced>(&text).ok());
    if let Some(reduced) = earlier {
        return Ok((hash, reduced));
    }
    let reduced = reduce_log(&path, request, &AtomicU64::new(0))?;
    // Where nothing can be kept the log is read again next time.
    if let Ok(text) = serde_json::to_string(&reduced)
        && fs::create_dir_all(folder.join(KEPT)).is_ok()
    {
        let _ = write_file(&kept, text.as_bytes(), true, &Inputs::default());
    }
    Ok((hash, reduced))
}

/// Files below the folder whose path matches, in the order of their names; `*` and `?` within a name.
fn matching(folder: &Path, glob: &str) -> Result<Vec<String>, Box<Fault>> {
    let fault = |found: String, needed: &str, action: &str| Box::new(Fault::of_file(glob, found, needed, action));
    let parts: Vec<&str> = glob.split('/').filter(|p| !p.is_empty() && *p != ".").collect();
    if glob.starts_with('/') || glob.contains('\\') || parts.contains(&"..") || parts.is_empty() {
        return Err(fault(
            "a path that leads elsewhere".to_owned(),
            "files in the study's folder or below it",
            "copy the logs there and write it with /",
        ));
    }
    let mut found = vec![String::new()];
    for (depth, part) in parts.iter().enumerate() {
        let pattern = Pattern::new(part)
            .map_err(|e| fault(format!("a pattern that cannot be read ({e})"), "* and ? within names", "correct it"))?;
        let last = depth + 1 == parts.len();
        let mut deeper = Vec::new();
        for at in &found {
            let Ok(entries) = fs::read_dir(folder.join(at)) else { continue };
            for entry in entries.flatten() {
                let Some(name) = entry.file_name().to_str().map(str::to_owned) else { continue };
                let path = if at.is_empty() { name.clone() } else { format!("{at}/{name}") };
                let kind = fs::metadata(folder.join(&path)).map(|m| if last { m.is_file() } else { m.is_dir() });
                // Names that begin with a dot are nobody's logs.
                if !name.starts_with('.') && pattern.matches(&name) && kind.unwrap_or(false) {
                    deeper.push(path);
                }
            }
        }
        deeper.sort();
        found = deeper;
    }
    let root = folder.canonicalize().map_err(|e| fault(e.to_string(), "a folder", "see that you may read it"))?;
    if let Some(out) = found.iter().find(|f| !folder.join(f).canonicalize().is_ok_and(|p| p.starts_with(&root))) {
        return Err(fault(
            format!("{out}, a link that leads out of the study's folder"),
            "files in the study's folder or below it",
            "copy the log there",
        ));
    }
    if found.is_empty() || found.len() > MOST_LOGS {
        let needed = format!("1 to {MOST_LOGS} logs");
        return Err(fault(format!("{} files", found.len()), &needed, "see what the pattern in glob matches"));
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    #[test]
    fn patterns_match_names_as_in_a_shell() {
        let of = |p: &str, n: &str| Pattern::new(p).unwrap().matches(n);
        assert!(of("*.csv", "w1.csv") && of("w?.csv", "w1.csv") && of("w*", "w") && of("*", "w1.tar.gz"));
        assert!(of("a*b*c", "aXbYc"));
        assert!(!of("*.csv", "w1.txt") && !of("w?.csv", "w12.csv") && !of("", "a") && !of("a*b*c", "aXbY"));
    }

    #[test]
    fn logs_are_found_below_the_folder_and_nowhere_else() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir_all(folder.path().join("day1/deep")).unwrap();
        for name in ["day1/b.csv", "day1/a.csv", "day1/c.txt", "day1/.a.csv", "day1/deep/d.csv"] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        let of = |glob: &str| matching(folder.path(), glob).map_err(|f| f.to_string());
        assert_eq!(of("day?/*.csv").unwrap(), ["day1/a.csv", "day1/b.csv"]);
        assert_eq!(of("./*/deep/*").unwrap(), ["day1/deep/d.csv"]);
        for elsewhere in ["../x.csv", "/x.csv", "", "a\\b"] {
            assert!(of(elsewhere).unwrap_err().contains("leads elsewhere"), "{elsewhere}");
        }
        assert!(of("*.csv").unwrap_err().contains("found 0 files"));
        assert!(of("day1/[.csv").unwrap_err().contains("a pattern that cannot be read"));
    }
}

//! Logs to rows of a trial table.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

use meltlaw::cautions::cautions;
use meltlaw_files::{
    DecimalMark, LogOutcome, LogRequest, NumberKind, Progress, ReducedLog, ResultFolder, TableRequest, log_trials,
    read_trial_table, reduce_logs, spelt_out, trials_csv, write_file,
};

use meltlaw_report::draw_log;

use super::{TOOL, refuse_existing};
use crate::arguments::{ChannelWord, MarkWord, RawWord, ReduceArguments};
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{command, log_lines, path_as_typed, progress_words};

/// Endings that are looked for in a folder.
const ENDINGS: [&str; 9] = ["csv", "tsv", "txt", "dat", "asc", "log", "parquet", "npy", "wav"];

/// `meltlaw reduce LOG… --out TABLE`.
pub(crate) fn run(arguments: &ReduceArguments, output: &mut Output) -> Result<Exit, Failure> {
    let replaces = arguments.force || arguments.resume;
    refuse_existing([Some(&arguments.out), arguments.plots.as_ref()].into_iter().flatten(), replaces)?;
    let logs = named(arguments)?;
    let names = trial_names(&logs)?;
    let beside = arguments
        .sidecar
        .as_ref()
        .map(|table| {
            let folder = table.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
            let file = table.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            read_trial_table(folder, &TableRequest::of_file(file))
        })
        .transpose()?;
    let request = request(arguments);
    let begun = Instant::now();
    let tell_progress = |p: Progress| output.progress(&progress_words(&p, begun.elapsed()));
    let outcomes = reduce_logs(&logs, &request, &arguments.out, arguments.resume, tell_progress)?;
    output.progress("");
    let reduced: Vec<ReducedLog> = outcomes
        .iter()
        .zip(&names)
        .zip(&logs)
        .filter_map(|((outcome, trial), log)| {
            let reduced = outcome.as_ref().ok()?.clone();
            Some(ReducedLog { trial: trial.clone(), log: log.display().to_string().replace('\\', "/"), reduced })
        })
        .collect();
    tell(output, &logs, &outcomes);
    let (trials, unanswered) = log_trials(&reduced, beside.as_ref());
    for name in &unanswered {
        output.remark(&format!(
            "warning: the table beside the logs has a row '{}' that no log answers to",
            spelt_out(name)
        ));
    }
    if let Some(beside) = &beside {
        for log in reduced.iter().filter(|l| beside.rows.iter().all(|row| row.name != l.trial)) {
            output.remark(&format!("warning: {} has no row in the table beside the logs", spelt_out(&log.trial)));
        }
    }
    if reduced.is_empty() {
        output.json(&as_json(arguments, &logs, &names, &outcomes));
        return Ok(Exit::Input);
    }
    let table = trials_csv("reduced from logs", &trials, &cautions(&[]));
    write_file(&arguments.out, table.as_bytes(), replaces)?;
    if let Some(folder) = &arguments.plots {
        pictures(&reduced).write(folder, replaces)?;
        output.text(&format!("{}: a page for each log, with its figures and their data", folder.display()));
    }
    let out = path_as_typed(&arguments.out);
    output.text(&format!("{out}: {} of {} logs as rows", reduced.len(), logs.len()));
    let lost = outcomes.len() - reduced.len();
    output.next(&if lost > 0 {
        format!("mend what is named above and give --resume: what is done is not read again; its beginnings lie in {out}.part")
    } else {
        let check = command(format_args!("meltlaw check STUDY"));
        format!("name {out} under [[trials]] of a study; {check} says what is wrong or weak in it")
    });
    output.json(&as_json(arguments, &logs, &names, &outcomes));
    Ok(if lost > 0 { Exit::InPart } else { Exit::Done })
}

/// A page and a folder of figures for each log.
fn pictures(reduced: &[ReducedLog]) -> ResultFolder {
    let mut folder = ResultFolder::new(TOOL);
    for log in reduced {
        let Some(page) = draw_log(&log.trial, &log.reduced) else { continue };
        let name: String =
            log.trial.chars().map(|c| if c.is_alphanumeric() || "-_.".contains(c) { c } else { '_' }).collect();
        folder.add(format!("{name}.html"), page.html);
        for (file, text) in page.files {
            folder.add(format!("{name}/{file}"), text);
        }
    }
    folder
}

fn tell(output: &mut Output, logs: &[PathBuf], outcomes: &[LogOutcome]) {
    for (log, outcome) in logs.iter().zip(outcomes) {
        match outcome {
            Ok(reduced) => output.tell_all(&log_lines(log, reduced)),
            Err(fault) => output.remark(&format!("error: {fault}")),
        }
    }
}

/// The logs that were named, those of folders in the order of their names.
fn named(arguments: &ReduceArguments) -> Result<Vec<PathBuf>, Failure> {
    let mut logs = Vec::new();
    for path in &arguments.logs {
        if !path.is_dir() {
            logs.push(path.clone());
            continue;
        }
        let shown = path.display();
        let entries = std::fs::read_dir(path).map_err(|e| {
            Failure::Mismatch(format!(
                "{shown}: found a folder that cannot be read ({e}), needed logs; see that you may read it"
            ))
        })?;
        let mut inside: Vec<PathBuf> = entries
            .filter_map(|e| Some(e.ok()?.path()))
            .filter(|p| {
                let ending = p.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
                p.is_file() && (arguments.raw.is_some() || ENDINGS.contains(&ending.as_str()))
            })
            .collect();
        if inside.is_empty() {
            return Err(Failure::Mismatch(format!(
                "{shown}: found no file that ends in {}, needed logs; name files, or export them as one of these",
                ENDINGS.join(", ")
            )));
        }
        inside.sort();
        logs.extend(inside);
    }
    Ok(logs)
}

/// Each log's name without its ending, unique.
fn trial_names(logs: &[PathBuf]) -> Result<Vec<String>, Failure> {
    let mut seen: BTreeMap<String, &PathBuf> = BTreeMap::new();
    let mut names = Vec::new();
    for log in logs {
        let name = log.file_stem().map(|s| spelt_out(&s.to_string_lossy())).unwrap_or_default();
        let short: String = name.chars().take(120).collect();
        if let Some(first) = seen.insert(short.clone(), log) {
            return Err(Failure::Usage(format!(
                "{} and {} would both be trial '{short}', names of their own were needed; rename one, or reduce them into two tables",
                first.display(),
                log.display()
            )));
        }
        names.push(short);
    }
    Ok(names)
}

fn request(a: &ReduceArguments) -> LogRequest {
    let place = |c: ChannelWord| usize::from(c == ChannelWord::Voltage);
    let mut request = LogRequest {
        columns: a.columns.iter().cloned().collect(),
        sample_rate_hz: a.sample_rate_hz,
        decimal: a.decimal.map(|m| match m {
            MarkWord::Point => DecimalMark::Point,
            MarkWord::Comma => DecimalMark::Comma,
        }),
        raw: a.raw.map(|r| match r {
            RawWord::F32 => NumberKind::F32,
            RawWord::F64 => NumberKind::F64,
            RawWord::I16 => NumberKind::I16,
            RawWord::I32 => NumberKind::I32,
        }),
        record_numbers: a.record_numbers.map(usize::from),
        cut_ends_s: a.cut_ends_s,
        arc_from_a: a.arc_from_a,
        short_below_v: a.short_below_v,
        drops: a.drops,
        pictures: a.plots.is_some(),
        threads: a.threads.map_or_else(|| std::thread::available_parallelism().map_or(1, usize::from), usize::from),
        ..LogRequest::default()
    };
    a.scale.iter().for_each(|(c, v)| request.scale[place(*c)] = *v);
    a.offset.iter().for_each(|(c, v)| request.offset[place(*c)] = *v);
    a.delay_us.iter().for_each(|(c, v)| request.delay_us[place(*c)] = *v);
    a.invert.iter().for_each(|c| request.scale[place(*c)] *= -1.0);
    request
}

fn as_json(a: &ReduceArguments, logs: &[PathBuf], names: &[String], outcomes: &[LogOutcome]) -> serde_json::Value {
    let rows: Vec<serde_json::Value> = logs
        .iter()
        .zip(names)
        .zip(outcomes)
        .map(|((log, trial), outcome)| {
            let log = log.display().to_string();
            match outcome {
                Ok(reduced) => serde_json::json!({ "trial": trial, "log": log, "reduced": reduced }),
                Err(fault) => {
                    serde_json::json!({ "trial": trial, "log": log, "reduced": null, "reason": fault.to_string() })
                }
            }
        })
        .collect();
    serde_json::json!({ "out": a.out.display().to_string(), "logs": rows })
}

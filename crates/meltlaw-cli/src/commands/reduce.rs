//! Logs to rows of a trial table.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

use meltlaw::cautions::cautions;
use meltlaw::trials::Trials;
use meltlaw_files::{
    DecimalMark, Inputs, LogOptions, LogOutcome, LogRequest, LogTable, NamedLog, NumberKind, ReadError, ReducedLog,
    ResultFolder, TableRequest, WhereItStands, log_options, log_trials, read_trial_table, spelt_out,
};
use meltlaw_report::draw_log;

use super::{TOOL, refuse};
use crate::arguments::{ChannelWord, MarkWord, RawWord, ReduceArguments};
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{command, log_lines, path_as_typed, progress_words};

/// Endings that are looked for in a folder.
const ENDINGS: [&str; 9] = ["csv", "tsv", "txt", "dat", "asc", "log", "parquet", "npy", "wav"];

/// `meltlaw reduce LOG… --out TABLE`.
pub(crate) fn run(arguments: &ReduceArguments, output: &mut Output) -> Result<Exit, Failure> {
    let paths = named(arguments)?;
    let names = trial_names(&paths)?;
    let inputs = Inputs::of(paths.iter().chain(&arguments.sidecar));
    let where_it_stands = match (arguments.resume, arguments.force) {
        (true, _) => WhereItStands::GoOn,
        (false, true) => WhereItStands::Replace,
        (false, false) => WhereItStands::Refuse,
    };
    let replaces = where_it_stands != WhereItStands::Refuse;
    refuse(&arguments.plots, replaces, &inputs)?;
    let beside = arguments.sidecar.as_deref().map(beside).transpose()?;
    let own = beside.as_ref().map_or(Ok(BTreeMap::new()), log_options);
    let own = own.map_err(|faults| ReadError::BadTables { faults })?;
    let of = |(path, trial): (PathBuf, String)| {
        let options = own.get(&trial).copied().unwrap_or_default();
        NamedLog { trial, path, options }
    };
    let logs: Vec<NamedLog> = paths.into_iter().zip(names).map(of).collect();
    let mut table = LogTable::open(&arguments.out, where_it_stands, inputs.clone())?;
    let request = request(arguments);
    let begun = Instant::now();
    let outcomes = table.reduce(&logs, &request, |p| output.progress(&progress_words(&p, begun.elapsed())))?;
    output.progress("");
    tell(output, &logs, &outcomes, &table);
    let reduced: Vec<ReducedLog> =
        logs.iter().zip(&outcomes).filter_map(|(log, o)| reduced(log, o, &request)).collect();
    let (trials, unanswered) = log_trials(&reduced, beside.as_ref());
    let unanswered = unanswered.iter().filter(|name| !table.holds(name) && logs.iter().all(|log| log.trial != **name));
    tell_apart(output, unanswered, &logs, beside.as_ref());
    let lost = outcomes.iter().filter(|o| matches!(o, LogOutcome::Failed(_))).count();
    if lost == logs.len() {
        table.leave();
        output.json(&as_json(arguments, &logs, &outcomes));
        return Ok(Exit::Input);
    }
    let rows = table.write(&trials, beside.as_ref(), &cautions(&[]))?;
    if let Some(folder) = &arguments.plots {
        pictures(&reduced, folder, arguments.resume)?.write(folder, replaces, &inputs)?;
        output.text(&format!("{}: a page for each log that was read, with its figures and data", folder.display()));
    }
    tell_end(output, arguments, &outcomes, rows);
    output.json(&as_json(arguments, &logs, &outcomes));
    Ok(if lost > 0 { Exit::InPart } else { Exit::Done })
}

/// The table beside the logs.
fn beside(table: &Path) -> Result<Trials, Failure> {
    let folder = table.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let file = table.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(read_trial_table(folder, &TableRequest::of_file(file))?)
}

fn reduced(log: &NamedLog, outcome: &LogOutcome, request: &LogRequest) -> Option<ReducedLog> {
    let options = LogOptions::of(&log.options.on(request));
    let reduced = outcome.reduced()?.clone();
    Some(ReducedLog { trial: log.trial.clone(), log: log.shown(), options, reduced })
}

/// A page and a folder of figures for each log; where a run goes on, the pages of other logs stay.
fn pictures(reduced: &[ReducedLog], standing: &Path, goes_on: bool) -> Result<ResultFolder, Failure> {
    let mut folder =
        if goes_on && standing.exists() { ResultFolder::standing(TOOL, standing)? } else { ResultFolder::new(TOOL) };
    for log in reduced {
        let Some(page) = draw_log(&log.trial, &log.reduced) else { continue };
        let name: String =
            log.trial.chars().map(|c| if c.is_alphanumeric() || "-_.".contains(c) { c } else { '_' }).collect();
        folder.remove(&format!("{name}.html"));
        folder.remove(&format!("{name}/"));
        folder.add(format!("{name}.html"), page.html);
        for (file, text) in page.files {
            folder.add(format!("{name}/{file}"), text);
        }
    }
    Ok(folder)
}

fn tell(output: &mut Output, logs: &[NamedLog], outcomes: &[LogOutcome], table: &LogTable) {
    for (log, outcome) in logs.iter().zip(outcomes) {
        match outcome {
            LogOutcome::Reduced(reduced) => output.tell_all(&log_lines(&log.path, reduced)),
            LogOutcome::Stands => {}
            LogOutcome::Failed(fault) if table.holds(&log.trial) => {
                output.remark(&format!("error: {fault}; its earlier row stays"));
            }
            LogOutcome::Failed(fault) => output.remark(&format!("error: {fault}")),
        }
    }
}

/// Logs without a row in the table beside them, and rows without a log.
fn tell_apart<'a>(
    output: &mut Output,
    unanswered: impl Iterator<Item = &'a String>,
    logs: &[NamedLog],
    beside: Option<&Trials>,
) {
    for name in unanswered {
        output.remark(&format!(
            "warning: the table beside the logs has a row '{}' that no log answers to",
            spelt_out(name)
        ));
    }
    let missing = |log: &&NamedLog| beside.is_some_and(|table| table.rows.iter().all(|row| row.name != log.trial));
    for log in logs.iter().filter(missing) {
        output.remark(&format!("warning: {} has no row in the table beside the logs", spelt_out(&log.trial)));
    }
}

fn tell_end(output: &mut Output, arguments: &ReduceArguments, outcomes: &[LogOutcome], rows: usize) {
    let count = |of: fn(&LogOutcome) -> bool| outcomes.iter().filter(|o| of(o)).count();
    let stands = count(|o| matches!(o, LogOutcome::Stands));
    let lost = count(|o| matches!(o, LogOutcome::Failed(_)));
    let out = path_as_typed(&arguments.out);
    let done = outcomes.len() - lost;
    let mut text = format!("{out}: {done} of {} logs as rows", outcomes.len());
    if stands > 0 {
        text += &format!(", {stands} of them not read again (what is typed now is for the others)");
    }
    if rows > done {
        text += &format!("; {rows} rows in all");
    }
    output.text(&text);
    output.next(&if lost > 0 {
        "correct what is listed above (what concerns one log alone belongs into its row of --sidecar), then run the same command with --resume: finished logs are not read again".to_owned()
    } else {
        let check = command(format_args!("meltlaw check STUDY"));
        format!("name {out} under [[trials]] of a study; {check} says what is wrong or weak in it")
    });
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
    a.invert.iter().for_each(|c| request.invert[place(*c)] = true);
    request
}

fn as_json(a: &ReduceArguments, logs: &[NamedLog], outcomes: &[LogOutcome]) -> serde_json::Value {
    let rows: Vec<serde_json::Value> = logs
        .iter()
        .zip(outcomes)
        .map(|(log, outcome)| {
            let (trial, path) = (&log.trial, log.path.display().to_string());
            match outcome {
                LogOutcome::Reduced(reduced) => serde_json::json!({ "trial": trial, "log": path, "reduced": reduced }),
                LogOutcome::Stands => {
                    serde_json::json!({ "trial": trial, "log": path, "reduced": null, "stands": true })
                }
                LogOutcome::Failed(fault) => {
                    serde_json::json!({ "trial": trial, "log": path, "reduced": null, "reason": fault.to_string() })
                }
            }
        })
        .collect();
    serde_json::json!({ "out": a.out.display().to_string(), "logs": rows })
}

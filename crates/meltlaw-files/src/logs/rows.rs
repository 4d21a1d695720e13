//! Reduced logs as rows of a trial table.

use std::collections::BTreeMap;

use meltlaw::reduce::{DropSigns, Measured, PulsedPart, Reduced};
use meltlaw::trials::{Column, Trial, TrialSource, Trials};

use super::LogRequest;
use super::options::{LogOptions, OPTION_COLUMNS, option_place};
use crate::document::number_text;

/// Columns beside those of the trial table.
const OTHERS: [&str; 12] = [
    "log",
    "window_start_s",
    "window_end_s",
    "short_circuits",
    "pulse_period_sd_ms",
    "rise_a_per_ms",
    "rise_a_per_ms_se",
    "fall_a_per_ms",
    "fall_a_per_ms_se",
    "arc_energy_j",
    "arc_energy_j_se",
    "warnings",
];
/// And where drops were told by the voltage.
const SIGNS: [&str; 4] = ["pulses_without_sign", "pulses_with_one_sign", "pulses_with_more_signs", "sign_error_rate"];

/// Columns of the trial table that only a log fills.
const MEASURED: [Column; 9] = [
    Column::CurrentMean,
    Column::CurrentRms,
    Column::VoltageMean,
    Column::PowerMean,
    Column::PulseCurrent,
    Column::PulseTime,
    Column::BackgroundCurrent,
    Column::BackgroundTime,
    Column::PulseFrequency,
];

/// Whether a column of the table of rows is filled from the log alone, so that an old cell says nothing of a newer log.
pub(super) fn is_from_log(column: &str) -> bool {
    let quantity = column.strip_suffix("_se").unwrap_or(column);
    let ours = [&OTHERS[..], &SIGNS, &OPTION_COLUMNS].concat();
    MEASURED.iter().any(|measured| measured.name() == quantity) || ours.contains(&column)
}

/// A log and what it was reduced to.
#[derive(Debug, Clone)]
pub struct ReducedLog {
    /// The trial's name: the file's without its ending.
    pub trial: String,
    /// Path of the log, with `/`.
    pub log: String,
    /// How it was read.
    pub options: LogOptions,
    /// The row.
    pub reduced: Reduced,
}

/// Rows of a trial table, each completed by what a table beside the logs says of the trial of that name.
///
/// Returns the trials, and the names in that table that no log answers to.
pub fn log_trials(logs: &[ReducedLog], beside: Option<&Trials>) -> (Trials, Vec<String>) {
    let known: BTreeMap<&str, &Trial> =
        beside.iter().flat_map(|t| &t.rows).map(|row| (row.name.as_str(), row)).collect();
    // How each log was read stands in columns of our own.
    let theirs = beside.map_or(&[][..], |table| &table.other_columns);
    let theirs: Vec<usize> = (0..theirs.len()).filter(|&k| option_place(&theirs[k]).is_none()).collect();
    let mut trials = Trials {
        other_columns: beside.map(|t| theirs.iter().map(|&k| t.other_columns[k].clone()).collect()).unwrap_or_default(),
        has_column: beside.map(|t| t.has_column.clone()).unwrap_or_default(),
        ..Trials::default()
    };
    trials.other_columns.extend(OTHERS.map(str::to_owned));
    let signs = |log: &ReducedLog| log.reduced.pulsed.as_ref()?.drop_signs.clone();
    let any_signs = logs.iter().any(|log| signs(log).is_some());
    if any_signs {
        trials.other_columns.extend(SIGNS.map(str::to_owned));
    }
    let usual = LogOptions::of(&LogRequest::default()).cells();
    let unusual = |place: &usize| logs.iter().any(|log| log.options.cells()[*place] != usual[*place]);
    let options: Vec<usize> = (0..OPTION_COLUMNS.len()).filter(unusual).collect();
    trials.other_columns.extend(options.iter().map(|&place| OPTION_COLUMNS[place].to_owned()));
    for log in logs {
        let source = trials.sources.len();
        let [from, to] = log.reduced.window_s;
        let read_as = format!(
            "a log of {} samples at {} Hz; the row is its window from {from:.3} to {to:.3} s",
            log.reduced.samples, log.reduced.sample_rate_hz
        );
        trials.sources.push(TrialSource { file: log.log.clone(), read_as, rows: 1, ..TrialSource::default() });
        let mut trial = match known.get(log.trial.as_str()) {
            Some(row) => {
                let mut own = (*row).clone();
                (own.source, own.row) = (source, 1);
                own.other = theirs.iter().map(|&k| row.other.get(k).cloned().unwrap_or_default()).collect();
                own
            }
            None => Trial::new(&log.trial, source, 1),
        };
        let stated_mode = known.contains_key(log.trial.as_str()) && trial.mode != meltlaw::trials::Mode::Pulsed;
        if !stated_mode {
            trial.mode = log.reduced.mode;
        }
        fill(&mut trial, &log.reduced);
        trial.other.resize(theirs.len(), String::new());
        trial.other.extend(others(log));
        if any_signs {
            trial.other.extend(sign_cells(signs(log)));
        }
        let cells = log.options.cells();
        trial.other.extend(options.iter().map(|&place| cells[place].clone()));
        trials.rows.push(trial);
    }
    let unanswered = known.keys().filter(|name| logs.iter().all(|l| l.trial != **name)).map(|n| (*n).to_owned());
    let unanswered = unanswered.collect();
    (trials, unanswered)
}

fn fill(trial: &mut Trial, r: &Reduced) {
    put(trial, Column::CurrentMean, r.current_mean_a);
    put(trial, Column::CurrentRms, r.current_rms_a);
    put(trial, Column::VoltageMean, r.voltage_mean_v);
    put(trial, Column::PowerMean, r.power_mean_w);
    for (column, mean) in r.steady.iter().filter_map(|(name, m)| Some((Column::from_name(name)?, m))) {
        // What the table beside the logs states is the user's own.
        if trial.get(column).is_none() {
            put(trial, column, *mean);
        }
    }
    if let Some(p) = &r.pulsed {
        put(trial, Column::PulseCurrent, p.pulse_current_a);
        put(trial, Column::PulseTime, p.pulse_time_ms);
        put(trial, Column::BackgroundCurrent, p.background_current_a);
        put(trial, Column::BackgroundTime, p.background_time_ms);
        put(trial, Column::PulseFrequency, p.pulse_frequency_hz);
        // A count beside counted drops is the user's own.
        if trial.get(Column::Pulses).is_none() {
            trial.set(Column::Pulses, Some(p.pulses as f64));
        }
    }
}

fn put(trial: &mut Trial, column: Column, measured: Measured) {
    trial.set(column, Some(measured.value));
    trial.set_se(column, measured.standard_error);
}

fn sign_cells(signs: Option<DropSigns>) -> [String; SIGNS.len()] {
    let cells =
        |s: DropSigns| [s.pulses[0] as f64, s.pulses[1] as f64, s.pulses[2] as f64, s.error_rate].map(number_text);
    signs.map(cells).unwrap_or_default()
}

fn others(log: &ReducedLog) -> [String; OTHERS.len()] {
    let r = &log.reduced;
    let number = |value: Option<f64>| value.map(number_text).unwrap_or_default();
    let pulsed = r.pulsed.as_ref();
    let slope = |of: fn(&PulsedPart) -> Option<Measured>| {
        let slope = pulsed.and_then(of);
        (number(slope.map(|m| m.value)), number(slope.and_then(|m| m.standard_error)))
    };
    let warnings: Vec<&str> = r.findings.iter().map(|f| f.name.as_str()).collect();
    [
        log.log.clone(),
        number(Some(r.window_s[0])),
        number(Some(r.window_s[1])),
        r.short_circuits.to_string(),
        number(pulsed.and_then(|p| p.pulse_period_sd_ms)),
        slope(|p| p.rise_a_per_ms).0,
        slope(|p| p.rise_a_per_ms).1,
        slope(|p| p.fall_a_per_ms).0,
        slope(|p| p.fall_a_per_ms).1,
        number(Some(r.arc_energy_j)),
        number(r.arc_energy().standard_error),
        warnings.join(" "),
    ]
}

//! Logs of current and voltage on the disk: read piece by piece, whatever their length, into one row each.
//!
//! `text` comma-separated and its relatives, `records` everything that holds numbers as bytes (raw, NumPy, WAV), `parquet`;
//! `clock` whether the samples come evenly, `align` a channel that comes late.

mod ahead;
mod align;
mod clock;
mod journal;
mod many;
mod number;
mod options;
mod parquet;
mod records;
mod rows;
mod standing;
mod steady;
mod table;
mod text;
mod text_layout;
mod text_rows;

use std::collections::BTreeMap;
use std::fs::{File, Metadata};
use std::io::{ErrorKind, Read};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use meltlaw::reduce::{Finding, ReduceSettings, Reduced, Reducer};

use crate::read::limits::LARGEST_LOG_BYTES;
use crate::read::{DecimalMark, Fault, Place};
use align::Align;
use clock::{Clock, Stamp, Tick, WrongTime};
pub use many::Progress;
pub(crate) use options::{INVERT_WORDS, option_place};
pub use options::{LogOptions, log_options};
pub use records::NumberKind;
pub use rows::{ReducedLog, log_trials};
use steady::{Readings, STEADY};
pub use table::{LogOutcome, LogTable, NamedLog, WhereItStands};
pub use text_layout::is_log_column;
use text_layout::named_once;
pub(crate) use text_layout::{ROLES, role_of};

/// Bytes that are read at once.
const PIECE_BYTES: usize = 1 << 18;
/// Of so many rows one time is looked at, as long as they come evenly.
const STAMP_EVERY: usize = 64;

/// What has to be known of a log before it can be read.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRequest {
    /// Our names (`time_s`, `current_a`, `voltage_v`, or with another unit at the end; `wire_feed_m_min` and what else of
    /// the trial table may be a channel) to theirs.
    pub columns: BTreeMap<String, String>,
    /// Samples per second, where no column tells the time.
    pub sample_rate_hz: Option<f64>,
    /// What current and voltage are multiplied by.
    pub scale: [f64; 2],
    /// Whether current and voltage are turned round.
    pub invert: [bool; 2],
    /// What is added to them afterwards, A and V.
    pub offset: [f64; 2],
    /// By how much current and voltage come late.
    pub delay_us: [f64; 2],
    /// Decimal mark of a text; told from the cells where not stated.
    pub decimal: Option<DecimalMark>,
    /// How numbers stand in a file of bare bytes.
    pub raw: Option<NumberKind>,
    /// Numbers in a record of bare bytes.
    pub record_numbers: Option<usize>,
    /// What is cut off at each end.
    pub cut_ends_s: f64,
    /// From which mean current the arc burns.
    pub arc_from_a: f64,
    /// Below which voltage a short circuit begins.
    pub short_below_v: f64,
    /// Whether to look for drops in the voltage.
    pub drops: bool,
    /// Whether to keep what pictures are drawn from.
    pub pictures: bool,
    /// Threads for one log.
    pub threads: usize,
}

impl Default for LogRequest {
    fn default() -> Self {
        let usual = ReduceSettings::usual(1.0);
        Self {
            columns: BTreeMap::new(),
            sample_rate_hz: None,
            scale: [1.0; 2],
            invert: [false; 2],
            offset: [0.0; 2],
            delay_us: [0.0; 2],
            decimal: None,
            raw: None,
            record_numbers: None,
            cut_ends_s: usual.cut_ends_s,
            arc_from_a: usual.arc_from_a,
            short_below_v: usual.short_below_v,
            drops: false,
            pictures: false,
            threads: 1,
        }
    }
}

impl LogRequest {
    /// What the samples of a channel are multiplied by and what is added then, from its factor of units.
    fn channel(&self, channel: usize, factor: f64) -> [f64; 2] {
        let sign = if self.invert[channel] { -1.0 } else { 1.0 };
        [sign * factor * self.scale[channel], self.offset[channel]]
    }

    /// Threads that make what this one takes; none where there is but one in all.
    const fn threads_beside(&self) -> usize {
        if self.threads > 1 { self.threads } else { 0 }
    }

    fn settings(&self, sample_rate_hz: f64) -> ReduceSettings {
        ReduceSettings {
            cut_ends_s: self.cut_ends_s,
            arc_from_a: self.arc_from_a,
            short_below_v: self.short_below_v,
            short_ends_above_v: 1.5 * self.short_below_v,
            drops: self.drops,
            pictures: self.pictures,
            ..ReduceSettings::usual(sample_rate_hz)
        }
    }
}

/// Reads a log and reduces it. `done` counts the bytes read, for whoever watches.
///
/// # Errors
/// A [`Fault`] with file, row and column where there is one, what was found, what was needed, what to do.
pub fn reduce_log(path: &Path, request: &LogRequest, done: &AtomicU64) -> Result<Reduced, Box<Fault>> {
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let fault = |found: String, needed: &str, action: &str| Box::new(Fault::of_file(&name, found, needed, action));
    let about = look_at(path, &name)?;
    named_once(&request.columns).map_err(|found| {
        fault(found, "one column for each of time, current and voltage", "name each once in --columns")
    })?;
    let file = File::open(path)
        .map_err(|e| fault(format!("a file that cannot be read ({e})"), "a log", "see that you may read it"))?;
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
    let (clock, steady) = (Clock::default(), std::array::from_fn(|_| Readings::default()));
    let mut sink = Sink {
        name: &name,
        request,
        reducer: None,
        clock,
        align: None,
        done,
        samples: 0,
        steady,
        findings: Vec::new(),
    };
    match (request.raw, ending.as_str()) {
        (Some(kind), _) => records::read_raw(file, kind, &mut sink)?,
        (None, "npy") => records::read_npy(file, about.len(), &mut sink)?,
        (None, "wav") => records::read_wav(file, about.len(), &mut sink)?,
        (None, "parquet") => parquet::read_parquet(path, &mut sink)?,
        (None, "csv" | "tsv" | "txt" | "dat" | "log" | "asc") => text::read_text(file, &mut sink)?,
        (None, other) => {
            return Err(fault(
                format!("a file that ends in '.{other}'"),
                "csv, tsv, txt, dat, asc, parquet, npy or wav",
                "give --raw f32, f64 or i16 for bare numbers, or export it as CSV",
            ));
        }
    }
    let Some(reducer) = sink.reducer else {
        return Err(fault("no sample".to_owned(), "a weld", "record current and voltage through a whole weld"));
    };
    let mut reduced = reducer.finish().map_err(|e| {
        let [found, needed, action] = e.parts();
        Box::new(Fault::of_file(&name, found, needed, action))
    })?;
    reduced.findings.splice(0..0, sink.findings);
    let window = reduced.window_s.map(|s| s * reduced.sample_rate_hz);
    let steady = STEADY.iter().zip(&sink.steady);
    reduced.steady = steady.filter_map(|(column, r)| Some((column.name().to_owned(), r.mean(window)?))).collect();
    Ok(reduced)
}

/// What the disk says of a log before it is opened: a pipe would never end, nor would a file that is only said to be large.
pub(crate) fn look_at(path: &Path, name: &str) -> Result<Metadata, Box<Fault>> {
    let fault = |found: String, needed: String, action: &str| Box::new(Fault::of_file(name, found, needed, action));
    let about = std::fs::metadata(path).map_err(|e| {
        fault(format!("a file that cannot be read ({e})"), "a log".to_owned(), "see that the path is right")
    })?;
    if !about.is_file() {
        let found = "something that is no ordinary file".to_owned();
        return Err(fault(found, "a log".to_owned(), "name a file"));
    }
    if about.len() > LARGEST_LOG_BYTES {
        let gigabytes = |bytes: u64| bytes as f64 / 1e9;
        let found = format!("a file of {:.0} GB", gigabytes(about.len()));
        let needed = format!("at most {:.0} GB", gigabytes(LARGEST_LOG_BYTES));
        return Err(fault(found, needed, "cut out the weld: a row is one steady state of some seconds"));
    }
    Ok(about)
}

/// Fills a buffer as far as the file goes.
pub(crate) fn read_up_to(file: &mut impl Read, buffer: &mut [u8]) -> std::io::Result<usize> {
    let mut filled = 0;
    while filled < buffer.len() {
        match file.read(&mut buffer[filled..]) {
            Ok(0) => break,
            Ok(more) => filled += more,
            Err(e) if e.kind() == ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(filled)
}

/// Where times stand, for messages.
#[derive(Debug, Clone, Copy)]
struct TimePlace<'a> {
    rows_before: usize,
    column: &'a str,
}

/// To the nanosecond: what lies beyond is rounding.
fn seconds(t: f64) -> f64 {
    (t * 1e9).round() / 1e9
}

/// Where samples go.
struct Sink<'a> {
    name: &'a str,
    request: &'a LogRequest,
    reducer: Option<Reducer>,
    clock: Clock,
    align: Option<Align>,
    done: &'a AtomicU64,
    /// Samples so far, missing ones among them.
    samples: u64,
    /// What holds still.
    steady: [Readings; STEADY.len()],
    /// What was noticed of the file.
    findings: Vec<Finding>,
}

impl Sink<'_> {
    /// So many bytes were read.
    fn read(&self, bytes: usize) {
        self.done.fetch_add(bytes as u64, Ordering::Relaxed);
    }

    /// Begins at a sample rate.
    fn begin(&mut self, sample_rate_hz: f64) -> Result<(), Box<Fault>> {
        if !(sample_rate_hz.is_finite() && (100.0..=1e8).contains(&sample_rate_hz)) {
            return Err(self.fault(
                format!("{sample_rate_hz} samples per second"),
                "100 to 100 000 000",
                "check the time column's unit (time_s, time_ms, time_us) or --sample-rate-hz",
            ));
        }
        let [current, voltage] = self.request.delay_us;
        let late = ((voltage - current) * 1e-6 * sample_rate_hz).round() as i64;
        self.align = (late != 0).then(|| Align::new(late));
        self.reducer = Some(Reducer::new(self.request.settings(sample_rate_hz)));
        Ok(())
    }

    const fn begun(&self) -> bool {
        self.reducer.is_some()
    }

    /// What holds still, at a sample.
    fn read_steady(&mut self, sample: u64, values: &[f64; STEADY.len()]) {
        self.steady.iter_mut().zip(values).for_each(|(readings, value)| readings.push(sample, *value));
    }

    /// What holds still in the samples that come next, of every so many: by place among them and role.
    fn read_steady_of(&mut self, samples: usize, value: impl Fn(usize, usize) -> f64) {
        for k in (0..samples).step_by(STAMP_EVERY) {
            self.read_steady(self.samples + k as u64, &std::array::from_fn(|channel| value(k, 3 + channel)));
        }
    }

    /// Samples in A and V.
    fn push(&mut self, current: &[f32], voltage: &[f32]) {
        self.samples += current.len() as u64;
        let Some(reducer) = &mut self.reducer else { return };
        match &mut self.align {
            Some(align) => align.push(current, voltage, |i, u| reducer.push(i, u)),
            None => reducer.push(current, voltage),
        }
    }

    /// Missing samples.
    fn gap(&mut self, samples: u64) {
        self.samples += samples;
        if let Some(align) = &mut self.align {
            align.forget();
        }
        if let Some(reducer) = &mut self.reducer {
            reducer.gap(samples);
        }
    }

    /// Begins at the sample rate that the times of the first rows tell.
    fn begin_by(&mut self, times: &[f64], place: TimePlace<'_>) -> Result<(), Box<Fault>> {
        if times.len() < 2 {
            return Err(self.fault(format!("{} rows with a time", times.len()), "a weld", "record a whole weld"));
        }
        let rate = self.clock.learn(times).map_err(|wrong| self.wrong_time(wrong, place))?;
        self.begin(rate)
    }

    /// Samples with the times of some of them; `false` where all times must be looked at before anything is taken.
    fn push_timed(
        &mut self,
        stamps: &[Stamp],
        current: &[f32],
        voltage: &[f32],
        place: TimePlace<'_>,
    ) -> Result<bool, Box<Fault>> {
        let all = stamps.len() == current.len();
        let ticks = self.clock.check(stamps, current.len(), all).map_err(|wrong| self.wrong_time(wrong, place))?;
        let Some(ticks) = ticks else { return Ok(false) };
        let mut from = 0;
        for tick in ticks {
            match tick {
                Tick::Rows(to) => {
                    let to = to.min(current.len());
                    self.push(&current[from..to], &voltage[from..to]);
                    from = to;
                }
                Tick::Missing(samples) => self.gap(samples),
            }
        }
        Ok(true)
    }

    fn wrong_time(&self, wrong: WrongTime, place: TimePlace<'_>) -> Box<Fault> {
        let row = |k: usize| place.rows_before + k + 1;
        match wrong {
            WrongTime::Back { row: k, from, to } => self.at_row(
                row(k),
                place.column,
                format!("{} s after {} s", seconds(to), seconds(from)),
                "time that runs forward",
                "sort the rows or cut the log there",
            ),
            WrongTime::Uneven { row: k, step, usual } => self.at_row(
                row(k),
                place.column,
                format!("a step of {step:.3e} s where {usual:.3e} s is usual"),
                "one sample rate",
                "resample the log, or give --sample-rate-hz if the times are wrong",
            ),
            WrongTime::Still => self.at_row(
                row(0),
                place.column,
                "the same time in every row".to_owned(),
                "time that runs forward",
                "export more decimals, or give --sample-rate-hz",
            ),
        }
    }

    /// A fault in a row.
    fn at_row(&self, row: usize, column: &str, found: String, needed: &str, action: &str) -> Box<Fault> {
        let fault = Fault::at(self.name, Place::Row(row), found, needed, action);
        Box::new(if column.is_empty() { fault } else { fault.in_column(column) })
    }

    fn fault(&self, found: impl Into<String>, needed: &str, action: &str) -> Box<Fault> {
        Box::new(Fault::of_file(self.name, found, needed, action))
    }
}

//! Arguments of the command that reduces logs.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use meltlaw_files::is_log_column;

/// How a number stands in a file of bare bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum RawWord {
    /// Four bytes, floating.
    F32,
    /// Eight bytes, floating.
    F64,
    /// Two bytes, whole.
    I16,
    /// Four bytes, whole.
    I32,
}

/// A channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ChannelWord {
    /// Current.
    Current,
    /// Voltage.
    Voltage,
}

/// A decimal mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum MarkWord {
    /// `1.5`.
    Point,
    /// `1,5`.
    Comma,
}

#[derive(Debug, Args)]
pub(crate) struct ReduceArguments {
    /// Logs of current and voltage, or folders of them: CSV, TSV, Parquet, NumPy, WAV, or bare numbers with --raw.
    #[arg(required = true)]
    pub(crate) logs: Vec<PathBuf>,
    /// Table of trials to write, CSV.
    #[arg(long)]
    pub(crate) out: PathBuf,
    /// Replaces an existing table.
    #[arg(long, conflicts_with = "resume")]
    pub(crate) force: bool,
    /// Goes on with a table: its rows stay, and only logs are read that have no row in it or have changed since. What else is
    /// typed is for the logs that are read.
    #[arg(long)]
    pub(crate) resume: bool,
    /// Names or numbers of the columns, each with a unit where it is not s, A, V: time_ms=t,current=I,voltage=U. A column that
    /// holds still is averaged: wire_feed_m_min, ctwd_mm, extension_mm, arc_length_mm, travel_speed_mm_s, gas_flow_l_min.
    #[arg(long, value_delimiter = ',', value_name = "OURS=THEIRS", value_parser = pair)]
    pub(crate) columns: Vec<(String, String)>,
    /// Samples per second, where no column tells the time.
    #[arg(long)]
    pub(crate) sample_rate_hz: Option<f64>,
    /// What a channel is multiplied by: current=100,voltage=10.
    #[arg(long, value_delimiter = ',', value_name = "CHANNEL=FACTOR", value_parser = channel_number)]
    pub(crate) scale: Vec<(ChannelWord, f64)>,
    /// What is added to it afterwards, A and V.
    #[arg(long, value_delimiter = ',', value_name = "CHANNEL=OFFSET", value_parser = channel_number)]
    pub(crate) offset: Vec<(ChannelWord, f64)>,
    /// Channels of all logs that are the other way round. Of one log alone its row in the sidecar says so, and its scale, offset
    /// and delay: columns invert (current, voltage, both, none), scale_current, offset_voltage_v, delay_voltage_us and so on.
    #[arg(long, value_delimiter = ',', value_name = "CHANNEL")]
    pub(crate) invert: Vec<ChannelWord>,
    /// By how many microseconds a channel comes late.
    #[arg(long, value_delimiter = ',', value_name = "CHANNEL=US", value_parser = channel_number)]
    pub(crate) delay_us: Vec<(ChannelWord, f64)>,
    /// Decimal mark of texts; told from the cells where not given.
    #[arg(long)]
    pub(crate) decimal: Option<MarkWord>,
    /// Files hold bare numbers of this kind, little-endian, record after record.
    #[arg(long)]
    pub(crate) raw: Option<RawWord>,
    /// Numbers in a record of --raw; else as many as --columns needs, or two: current, voltage.
    #[arg(long, requires = "raw", value_parser = clap::value_parser!(u16).range(2..=1000))]
    pub(crate) record_numbers: Option<u16>,
    /// Cut off after ignition and before the end.
    #[arg(long, default_value_t = 0.5, value_parser = not_negative)]
    pub(crate) cut_ends_s: f64,
    /// The arc burns from this mean current of 10 ms on.
    #[arg(long, default_value_t = 20.0, value_parser = above_zero)]
    pub(crate) arc_from_a: f64,
    /// A short circuit begins below this voltage; it ends above one and a half times it.
    #[arg(long, default_value_t = 8.0, value_parser = above_zero)]
    pub(crate) short_below_v: f64,
    /// Looks for drops in the voltage and says how often that errs. Counts from high-speed video are better; they belong into
    /// the sidecar.
    #[arg(long)]
    pub(crate) drops: bool,
    /// A table with wire feed, distances, counted drops and so on, a row for each log by its name without the ending.
    #[arg(long, value_name = "TABLE")]
    pub(crate) sidecar: Option<PathBuf>,
    /// Draws each log into this folder: overview with its window, all periods overlaid, current against voltage, pulses.
    #[arg(long, value_name = "FOLDER")]
    pub(crate) plots: Option<PathBuf>,
    /// Threads; as many as there are where not given. What comes out does not depend on it.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=512))]
    pub(crate) threads: Option<u16>,
}

fn pair(text: &str) -> Result<(String, String), String> {
    let parts = text.split_once('=').filter(|(a, b)| !a.trim().is_empty() && !b.trim().is_empty());
    let (ours, theirs) = parts.ok_or_else(|| format!("found '{text}', needed OURS=THEIRS such as current=I"))?;
    if !is_log_column(ours.trim()) {
        return Err(format!(
            "found '{ours}', needed time, current or voltage, with _ms, _us, _ka, _mv where it is another unit, or one such as wire_feed_m_min"
        ));
    }
    Ok((ours.trim().to_owned(), theirs.trim().to_owned()))
}

fn channel_number(text: &str) -> Result<(ChannelWord, f64), String> {
    let wrong = || format!("found '{text}', needed current=NUMBER or voltage=NUMBER");
    let (channel, number) = text.split_once('=').ok_or_else(wrong)?;
    let channel = ChannelWord::from_str(channel.trim(), true).map_err(|_| wrong())?;
    let number = number.trim().parse::<f64>().ok().filter(|n| n.is_finite()).ok_or_else(wrong)?;
    Ok((channel, number))
}

fn not_negative(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|v| *v >= 0.0 && v.is_finite())
        .ok_or_else(|| "a number from 0 on was needed".to_owned())
}

fn above_zero(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|v| *v > 0.0 && v.is_finite())
        .ok_or_else(|| "a number above 0 was needed".to_owned())
}

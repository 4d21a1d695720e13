//! What is typed to compare laws and to extend them.

use std::path::PathBuf;

use clap::Args;
use meltlaw::study::CalibrationTerm;

use super::lines::above_zero;

/// Laws files of batches of one specification, as typed: `a.json,b.json`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Batches(pub(crate) Vec<PathBuf>);

/// Terms that are of the same instrument in all files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SameInstruments(pub(crate) Vec<CalibrationTerm>);

#[derive(Debug, Args)]
pub(crate) struct CompareArguments {
    /// Laws files or line files; each is held against the first. A result folder stands for its laws.json.
    #[arg(required_unless_present = "batches", num_args = 1..)]
    pub(crate) files: Vec<PathBuf>,
    /// Laws: files of several batches of one specification, separated by commas, that stand for one wire; repeatable.
    #[arg(long, value_name = "FILE,FILE", value_parser = batches)]
    pub(crate) batches: Vec<Batches>,
    /// Laws: study whose `[compare]` states the margins within which two laws count as alike.
    #[arg(long, value_name = "STUDY")]
    pub(crate) margins: Option<PathBuf>,
    /// Laws: the same instruments read all files, so that their calibration errors cancel; or only those of these
    /// calibration terms, separated by commas.
    #[arg(long, value_name = "TERM,TERM", num_args = 0..=1, require_equals = true, default_missing_value = "", value_parser = same_instruments)]
    pub(crate) same_instruments: Option<SameInstruments>,
    /// Laws: writes page, figures, tables for a paper and methods into this folder. Lines: draws both and their
    /// differences into this file (SVG), with the numbers beside it (CSV).
    #[arg(long)]
    pub(crate) out: Option<PathBuf>,
    /// Replaces existing files.
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("target").required(true).multiple(true)))]
pub(crate) struct ExtendArguments {
    /// Studies, result folders or laws files to extend from.
    #[arg(required = true, num_args = 1..)]
    pub(crate) studies: Vec<PathBuf>,
    /// Wire diameter that nobody has welded.
    #[arg(long, group = "target", value_parser = above_zero)]
    pub(crate) wire_diameter_mm: Option<f64>,
    /// Carbon dioxide in the gas, per cent by volume, the rest argon; from four studies at three contents.
    #[arg(long, group = "target", value_name = "PER_CENT", value_parser = above_zero)]
    pub(crate) carbon_dioxide: Option<f64>,
    /// Any batch of the same specification: intervals hold how far batches scatter.
    #[arg(long, group = "target")]
    pub(crate) any_batch: bool,
    /// Contact-tip-to-work distance beyond those welded.
    #[arg(long, group = "target", value_parser = above_zero)]
    pub(crate) ctwd_mm: Option<f64>,
    /// Wire feeds beyond those welded, slowest and fastest, m/min.
    #[arg(long, group = "target", value_name = "LOW,HIGH", value_parser = feeds)]
    pub(crate) wire_feed_m_min: Option<Feeds>,
    /// Stated relative scatter between studies, for two that cannot tell it and for naming the odd one out
    /// [default: 0.02].
    #[arg(long, value_parser = above_zero)]
    pub(crate) heterogeneity_relative: Option<f64>,
    /// Stated power of the diameter by which pulse times for detachment grow; else estimated.
    #[arg(long, value_parser = above_zero)]
    pub(crate) detachment_power: Option<f64>,
    /// Laws file to write.
    #[arg(long)]
    pub(crate) out: PathBuf,
    /// Writes page, figures, tables and methods into this folder.
    #[arg(long, value_name = "FOLDER")]
    pub(crate) report: Option<PathBuf>,
    /// Replaces existing files.
    #[arg(long)]
    pub(crate) force: bool,
}

/// Slowest and fastest feed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Feeds(pub(crate) [f64; 2]);

fn batches(text: &str) -> Result<Batches, String> {
    let files: Vec<PathBuf> = text.split(',').map(str::trim).filter(|f| !f.is_empty()).map(PathBuf::from).collect();
    if files.len() < 2 {
        return Err(format!("found '{text}', needed two laws files at least, separated by commas"));
    }
    Ok(Batches(files))
}

fn same_instruments(text: &str) -> Result<SameInstruments, String> {
    if text.is_empty() {
        return Ok(SameInstruments(CalibrationTerm::ALL.to_vec()));
    }
    text.split(',')
        .map(str::trim)
        .map(|name| {
            CalibrationTerm::from_name(name).ok_or_else(|| {
                let known: Vec<&str> = CalibrationTerm::ALL.iter().map(|t| t.name()).collect();
                format!("found '{name}', needed calibration terms among {}", known.join(", "))
            })
        })
        .collect::<Result<_, _>>()
        .map(SameInstruments)
}

fn feeds(text: &str) -> Result<Feeds, String> {
    let ends: Vec<f64> = text.split(',').filter_map(|t| t.trim().parse().ok()).collect();
    match ends[..] {
        [low, high] if low > 0.0 && high > low && high.is_finite() => Ok(Feeds([low, high])),
        _ => Err(format!("found '{text}', needed the slowest and the fastest feed in m/min, such as 3,12")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_read_or_refused_with_an_example() {
        assert_eq!(batches("a.json, b.json").unwrap().0.len(), 2);
        assert!(batches("a.json").unwrap_err().contains("two laws files at least"));
        assert_eq!(same_instruments("").unwrap().0.len(), 7);
        assert_eq!(same_instruments("voltage_offset_v").unwrap().0, [CalibrationTerm::VoltageOffsetV]);
        assert!(same_instruments("volt").unwrap_err().contains("current_gain_relative"));
        assert_eq!(feeds("3,12"), Ok(Feeds([3.0, 12.0])));
        for text in ["12,3", "3", "3,x", "0,2", "3,12,15"] {
            assert!(feeds(text).is_err(), "{text}");
        }
    }
}

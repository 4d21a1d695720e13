//! What a user types.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

mod laws;
mod lines;
mod logs;

pub(crate) use laws::{CompareArguments, ExtendArguments};
pub(crate) use lines::FindArguments;
pub(crate) use logs::{ChannelWord, MarkWord, RawWord, ReduceArguments};

/// From welded trials to a synergic line: fits how fast a wire melts and when a drop lets go, composes the
/// one-knob line, and says where it may be trusted.
#[derive(Debug, Parser)]
#[command(
    name = "meltlaw",
    version,
    max_term_width = 100,
    after_help = "Start here:\n  meltlaw demo trial-lab           writes an invented study to try everything on\n  meltlaw develop trial-lab        fits, composes, draws; then open trial-lab/result/report.html\n\nA line is a starting point: procedures are qualified under the code that applies (for example ISO 15614) by the people licensed to do so."
)]
pub(crate) struct Arguments {
    /// Puts one JSON document on standard output instead of text.
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// Writes neither colour nor bold; the variable NO_COLOR does the same.
    #[arg(long, global = true)]
    pub(crate) no_color: bool,
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Does the whole job: read, check, fit, compose, draw, report.
    #[command(
        after_help = "Example:\n  meltlaw develop trial-lab --out first-line\n\nExit status: 0 done; 2 wrong usage; 3 unusable input; 4 done in part (a law or the whole line is missing, and named); 1 anything else."
    )]
    Develop(DevelopArguments),
    /// Reduces logs of current and voltage to rows of a trial table.
    #[command(
        after_help = "Examples:\n  meltlaw reduce logs --sidecar welds.csv --out trials.csv --plots pictures\n  meltlaw reduce w01.csv --columns time=t,current=I,voltage=U --scale current=100 --out trials.csv\n  meltlaw reduce logs --sidecar welds.csv --out trials.csv --resume\n  meltlaw reduce w01.f32 --raw f32 --columns current=2,voltage=3 --record-numbers 3 --sample-rate-hz 100000 --out trials.csv\n\nThe window runs from the first to the last moment the arc burns, less --cut-ends-s at each end. Other recorders' files: export them as CSV, Parquet or NumPy.\n\nExit status: 0 done; 2 wrong usage; 3 no log could be read; 4 some could not, and are named; 1 anything else."
    )]
    Reduce(ReduceArguments),
    /// Says what is wrong or weak in the data, row by row.
    Check(StudyArgument),
    /// Fits the laws and writes them with their diagnostics.
    Fit(FitArguments),
    /// Composes the parameter line from fitted laws.
    Compose(ComposeArguments),
    /// Reads the line at wire feed speeds, or backwards from a current, melting rate or heat input.
    #[command(
        after_help = "Examples:\n  meltlaw at result/line.json 6.5 240in/min\n  meltlaw at result/line.json --current-a 180\n  meltlaw at result/line.json 6.5 --arc-length-mm 5 --drop-to-wire-ratio 1.2"
    )]
    At(AtArguments),
    /// Writes the line for spreadsheets, firmware and PLCs.
    #[command(
        after_help = "Examples:\n  meltlaw export result/line.json --to csv --out line.csv\n  meltlaw export result/line.json --to parquet --out line.parquet\n  meltlaw export result/line.json --to xlsx --out line.xlsx\n  meltlaw export result/line.json --to c-header --out line.h\n  meltlaw export result/line.json --to structured-text --prefix line_g3si1_12 --out line.st\n  meltlaw export result/line.json --to check-table --out check.csv\n\nNo form turns a feed without a setting into a setting: each carries the ranges, the standing and the status codes."
    )]
    Export(ExportArguments),
    /// Do these wires, gases or batches melt and detach alike? Of lines: what changed, and is it beyond error?
    #[command(
        after_help = "Examples:\n  meltlaw compare old-batch/laws.json new-batch/laws.json --same-instruments --margins study.toml --out compared\n  meltlaw compare --batches a.json,b.json,c.json\n  meltlaw compare old/line.json new/line.json --out changes.svg\n\nLaws: the difference in m/min, ms and V is held against a margin wherever both were welded: alike, different, or undecided with the trials that would settle it. Lines: settings are decisions and have no error; what they do has one.\n\nExit status: 0 compared, whatever the verdict; 2 wrong usage; 3 unusable input; 4 a law or a line is missing in a file, and named; 1 anything else."
    )]
    Compare(CompareArguments),
    /// Makes laws for what nobody has welded: another diameter, any batch, more carbon dioxide, beyond the range.
    #[command(
        after_help = "Examples:\n  meltlaw extend thin middle thick --wire-diameter-mm 1.4 --out laws-14.json --report extended\n  meltlaw extend batch-a batch-b batch-c --any-batch --out laws-any.json\n  meltlaw extend study --ctwd-mm 25 --wire-feed-m-min 3,11 --out laws-far.json\n\nEverything that comes out is `extended`: weld the welds that are named before it is used. Two diameters at least, three to tell how far wires scatter about the scaling."
    )]
    Extend(ExtendArguments),
    /// Draws the report again from a result folder.
    Report(ReportArguments),
    /// Writes an invented study to try everything on.
    Demo(DemoArguments),
    /// Finds lines by wire, diameter, gas and feed in a folder.
    #[command(
        after_help = "Examples:\n  meltlaw find archive\n  meltlaw find archive --material carbon-steel --diameter-mm 1.2 --gas argon=82,carbon_dioxide=18 --wire-feed 6.5\n\nNothing is interpolated between wires, gases or distances.\n\nExit status: 0 found; 2 wrong usage; 3 no such folder; 4 no line fits (the nearest are named), or line files cannot be used (and are named); 1 anything else."
    )]
    Find(FindArguments),
    /// Prints the JSON Schema of a file; for trials a Frictionless Table Schema.
    Schema(SchemaArguments),
    /// Says how to cite a result: tool, data by their hashes, methods used, as text and BibTeX.
    #[command(
        after_help = "Examples:\n  meltlaw cite result\n  meltlaw cite result --bibtex > result.bib\n\nOnly methods that this result rests on are named; a source whose details are from memory says so."
    )]
    Cite(CiteArguments),
    /// Prints the completions of a shell.
    #[command(
        after_help = "Examples:\n  bash: meltlaw completions bash > ~/.local/share/bash-completion/completions/meltlaw\n  zsh: meltlaw completions zsh > \"${fpath[1]}/_meltlaw\"\n  fish: meltlaw completions fish > ~/.config/fish/completions/meltlaw.fish"
    )]
    Completions(CompletionsArguments),
    /// Writes the manual pages, one for each command.
    #[command(after_help = "Example:\n  meltlaw man ~/.local/share/man/man1; then man meltlaw-develop")]
    Man(ManArguments),
}

#[derive(Debug, Args)]
pub(crate) struct StudyArgument {
    /// Study file, or its folder.
    pub(crate) study: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct DevelopArguments {
    /// Study file, or its folder.
    pub(crate) study: PathBuf,
    /// Result folder [default: `result` beside the study].
    #[arg(long)]
    pub(crate) out: Option<PathBuf>,
    /// Replaces an existing result folder, if it is one of ours and was not edited.
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct FitArguments {
    /// Study file, or its folder.
    pub(crate) study: PathBuf,
    /// Laws file to write.
    #[arg(long)]
    pub(crate) out: PathBuf,
    /// Replaces an existing file.
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct ComposeArguments {
    /// Laws file.
    pub(crate) laws: PathBuf,
    /// Study file, or its folder: limits of the source, the line asked for, the bench.
    pub(crate) study: PathBuf,
    /// Line file to write.
    #[arg(long)]
    pub(crate) out: PathBuf,
    /// Writes a whole result into this folder too: report, figures, laws, line and tables.
    #[arg(long, value_name = "FOLDER")]
    pub(crate) report: Option<PathBuf>,
    /// Replaces existing files.
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("asked").required(true).multiple(true)))]
pub(crate) struct AtArguments {
    /// Line file.
    pub(crate) line: PathBuf,
    /// Wire feed speeds: `6.5` is m/min; `240in/min` and `100mm/s` work too.
    #[arg(group = "asked", value_parser = feed, allow_negative_numbers = true)]
    pub(crate) wire_feed: Vec<f64>,
    /// The wire feed at which the mean current is this.
    #[arg(long, group = "asked")]
    pub(crate) current_a: Option<f64>,
    /// The wire feed at which so much wire is melted.
    #[arg(long, group = "asked")]
    pub(crate) melting_rate_kg_h: Option<f64>,
    /// The wire feed at which the heat input is this.
    #[arg(long, group = "asked")]
    pub(crate) heat_input_kj_mm: Option<f64>,
    /// Shifts each setting to another arc length; the contact-tip-to-work distance is held.
    #[arg(long)]
    pub(crate) arc_length_mm: Option<f64>,
    /// Shifts each setting to another drop size: drop diameter over wire diameter.
    #[arg(long)]
    pub(crate) drop_to_wire_ratio: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct ExportArguments {
    /// Line file.
    pub(crate) line: PathBuf,
    /// In which form.
    #[arg(long)]
    pub(crate) to: ExportWord,
    /// File to write.
    #[arg(long)]
    pub(crate) out: PathBuf,
    /// Begins every name of a C header, names the function block of structured text [default: synergic_line].
    #[arg(long, value_name = "IDENT")]
    pub(crate) prefix: Option<meltlaw_files::Prefix>,
    /// Replaces an existing file.
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum ExportWord {
    /// Table with a status in each row, safe to look up
    Csv,
    /// The same table with typed columns; units, facts and provenance in its metadata
    Parquet,
    /// Workbook: the line, a look-up at one wire feed, the check table, what to know
    Xlsx,
    /// Tables and an evaluator for C99 and C++, in single precision
    CHeader,
    /// Function block for controllers by IEC 61131-3, in single precision
    StructuredText,
    /// What one new weld should read at each feed, for alarms in production, as CSV
    CheckTable,
}

impl From<ExportWord> for meltlaw_files::ExportFormat {
    fn from(word: ExportWord) -> Self {
        match word {
            ExportWord::Csv => Self::Csv,
            ExportWord::Parquet => Self::Parquet,
            ExportWord::Xlsx => Self::Xlsx,
            ExportWord::CHeader => Self::CHeader(meltlaw_files::Prefix::default()),
            ExportWord::StructuredText => Self::StructuredText(meltlaw_files::Prefix::default()),
            ExportWord::CheckTable => Self::CheckTable,
        }
    }
}

impl ExportWord {
    /// As it is typed.
    pub(crate) fn word(self) -> String {
        self.to_possible_value().map_or_else(String::new, |v| v.get_name().to_owned())
    }

    /// What was written.
    pub(crate) fn what(self) -> &'static str {
        match self {
            Self::Csv => "the nodes and the ends of every range without a setting, one row each",
            Self::Parquet => "the rows of the csv export with typed columns; units, facts and provenance as metadata",
            Self::Xlsx => "the sheets Line, At a feed, Check table and About",
            Self::CHeader => "tables in single precision and functions that answer with a status",
            Self::StructuredText => "a function block in single precision that answers with a status",
            Self::CheckTable => "mean current, voltage and power to expect at each feed, with the band of one new weld",
        }
    }

    /// What to do with it.
    pub(crate) fn next(self, out: &str) -> String {
        match self {
            Self::Csv => format!("open {out}; interpolate only between rows whose status is 0"),
            Self::Parquet => format!("read {out}; interpolate only between rows whose status is 0"),
            Self::Xlsx => format!("open {out}; type a wire feed on the sheet At a feed"),
            Self::CHeader => format!("include {out}; use a setting only where the function returned status 0"),
            Self::StructuredText => format!("import {out}; use a setting only while valid is TRUE"),
            Self::CheckTable => format!("load {out} where readings are watched; alarm on several outside in a row"),
        }
    }
}

#[derive(Debug, Args)]
pub(crate) struct ReportArguments {
    /// Result folder.
    pub(crate) folder: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct DemoArguments {
    /// Folder to write.
    pub(crate) folder: PathBuf,
    /// Replaces the files (and with --develop the result) of an earlier demo.
    #[arg(long)]
    pub(crate) force: bool,
    /// Develops the study at once.
    #[arg(long)]
    pub(crate) develop: bool,
}

#[derive(Debug, Args)]
pub(crate) struct SchemaArguments {
    /// Of which file.
    pub(crate) of: SchemaWord,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum SchemaWord {
    /// laws.json
    Laws,
    /// line.json
    Line,
    /// study.toml
    Study,
    /// Trial tables
    Trials,
}

#[derive(Debug, Args)]
pub(crate) struct CiteArguments {
    /// Result folder.
    pub(crate) folder: PathBuf,
    /// Prints the BibTeX entries alone.
    #[arg(long, conflicts_with = "json")]
    pub(crate) bibtex: bool,
}

#[derive(Debug, Args)]
pub(crate) struct CompletionsArguments {
    /// Of which shell.
    pub(crate) shell: clap_complete::Shell,
}

#[derive(Debug, Args)]
pub(crate) struct ManArguments {
    /// Folder to write; made if it is missing.
    pub(crate) folder: PathBuf,
    /// Replaces existing pages.
    #[arg(long)]
    pub(crate) force: bool,
}

/// A wire feed speed in m/min from text with an optional unit.
fn feed(text: &str) -> Result<f64, String> {
    let trimmed = text.trim();
    let (number, factor) = [("m/min", 1.0), ("mm/s", 0.06), ("in/min", 0.0254)]
        .iter()
        // `mm/s` and `in/min` end in other units' letters: the longest that fits is tried first.
        .filter_map(|(unit, factor)| trimmed.strip_suffix(unit).map(|n| (n.trim_end(), *factor)))
        .min_by_key(|(n, _)| n.len())
        .unwrap_or((trimmed, 1.0));
    let value: f64 = number
        .parse()
        .map_err(|_| format!("'{text}' is not a wire feed speed: write 6.5 (m/min), 240in/min or 100mm/s"))?;
    if value.is_finite() { Ok(value * factor) } else { Err(format!("'{text}' is not a finite number")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn feeds_carry_their_unit() {
        assert_eq!(feed("6.5"), Ok(6.5));
        assert_eq!(feed("240in/min"), Ok(240.0 * 0.0254));
        assert_eq!(feed("100 mm/s"), Ok(6.0));
        assert_eq!(feed("6 m/min"), Ok(6.0));
        assert!(feed("six").is_err());
        assert!(feed("6,5").is_err());
        assert!(feed("inf").is_err());
    }
}

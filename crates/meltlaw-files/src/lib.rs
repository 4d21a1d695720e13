//! The disk, both ways: study files and trial tables in; documents, result folders and the demo out.

pub mod cite;
pub mod demo;
pub mod document;
pub mod export;
pub mod line_folder;
pub mod logs;
mod parquet;
pub mod read;
mod regular_file;
pub mod units;
pub mod write;

pub use cite::{Citation, CiteError, cite, comparison_methods, extension_methods};
pub use document::{Document, DocumentError, LawsDocument, LineDocument, SchemaOf, checksum, schema, sha256_hex};
pub use export::{ExportError, ExportFormat, LARGE_TABLES_BYTES, Prefix, PrefixError, TablesSize, export, tables_size};
pub use line_folder::{DamagedLine, FoundLine, LineFolder, read_line_folder};
pub use logs::{
    LogOptions, LogOutcome, LogRequest, LogTable, NamedLog, NumberKind, Progress, ReducedLog, WhereItStands,
    is_log_column, log_options, log_trials, reduce_log,
};
pub use read::{
    DecimalMark, Fault, Place, ReadError, ReadStudy, Separator, TableRequest, TextEncoding, ThousandsMark,
    read_asked_for, read_study, read_trial_table, spelt_out,
};
pub use write::{
    DATA_PACKAGE_FILE, Inputs, Manifest, ResultFolder, WriteError, data_package, line_csv, may_write, read_listed,
    recover, trials_csv, verify, write_file,
};

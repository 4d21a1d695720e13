//! From a study file and its tables to a study and trials in the contract's units. A study is read
//! whole or not at all; what stands in the way is reported at once, each fault with its place and what
//! to do.

mod delimited;
mod disk;
mod encoding;
mod fault;
mod gauge;
mod grid;
mod header;
mod join;
pub mod limits;
mod line_request;
mod logs;
mod meaning;
mod number;
mod parquet;
pub(crate) mod prior;
mod quiet;
mod request;
mod rows;
mod section;
mod section_values;
mod separator;
mod setup;
mod sheet;
mod source;
mod study;
mod study_file;
mod study_text;
mod table;
mod unit_words;
mod units_row;
mod use_words;
mod wording;
mod workbook_gate;

pub(crate) use disk::read_bytes;
pub use encoding::TextEncoding;
pub use fault::{Fault, Place, ReadError};
pub(crate) use quiet::quietly;
pub use request::{DecimalMark, Separator, TableRequest, ThousandsMark};
pub use study::{ReadStudy, read_asked_for, read_study};
pub use table::read_trial_table;
pub use wording::spelt_out;
pub(crate) use wording::{A_NAME, name_fault, one_line_fault, quoted};

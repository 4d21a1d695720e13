//! From a study file and its tables to a study and trials in the contract's units. A study is read
//! whole or not at all; what stands in the way is reported at once, each fault with its place and what
//! to do.

mod bounds;
mod delimited;
mod disk;
mod fault;
mod grid;
mod header;
mod line_request;
mod logs;
mod number;
mod parquet;
pub(crate) mod prior;
mod quiet;
mod request;
mod rows;
mod section;
mod separator;
mod sheet;
mod study;
mod study_file;
mod study_text;
mod table;
mod wording;
mod zip_directory;

pub use fault::{Fault, Place, ReadError};
pub(crate) use quiet::quietly;
pub use request::{DecimalMark, Separator, TableRequest};
pub use study::{ReadStudy, read_asked_for, read_study};
pub use table::read_trial_table;
pub use wording::spelt_out;

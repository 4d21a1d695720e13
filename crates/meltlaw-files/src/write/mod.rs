//! Results on their way to the disk: whole or not at all, and never over what is not ours.

mod cause;
mod data_package;
mod error;
mod inputs;
mod inspect;
mod leftovers;
mod lock;
mod manifest;
mod place;
mod result_folder;
mod single_file;
pub(crate) mod tables;

pub(crate) use cause::{cause, remedy_for_reading};
pub use data_package::{DATA_PACKAGE_FILE, data_package};
pub use error::WriteError;
pub use inputs::Inputs;
pub(crate) use inputs::same_file;
pub use inspect::{read_listed, verify};
pub use leftovers::recover;
pub(crate) use lock::Lock;
pub use manifest::{MANIFEST_FILE, MANIFEST_FORMAT, Manifest};
pub use result_folder::ResultFolder;
pub use single_file::{may_write, write_file};
pub use tables::{line_csv, trials_csv};

//! Parquet files, opened so that no claim in them is believed before it is looked at: the footer (`footer`), then one page
//! after another (`pages`). Logs and tables are both read this way.

mod arrow_schema;
mod doubles;
mod footer;
mod pages;

pub(crate) use doubles::as_doubles;
pub(crate) use footer::read_footer;
pub(crate) use pages::{ColumnPages, Plain, RawPage};

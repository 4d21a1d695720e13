//! Tables for spreadsheets and scripts: `line.csv` and `trials.csv`.

mod cells;
mod line_columns;
mod line_csv;
mod trials_csv;

pub(crate) use cells::{Table, UNITS_LINE, number, text};
pub use line_csv::line_csv;
pub use trials_csv::trials_csv;

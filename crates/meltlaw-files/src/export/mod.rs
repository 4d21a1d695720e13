//! A line in the forms that other tools load. One format is one file; each carries the same facts, and none
//! turns a feed without a setting into a setting. For controllers (`c_header`, `structured_text`) the line is a table in
//! single precision (`single`), and the evaluator goes with it.

mod ascii;
mod c_header;
mod check_table;
mod csv;
#[cfg(test)]
mod examples;
mod facts;
#[cfg(test)]
mod lookup;
mod parquet;
mod prefix;
mod rows;
mod single;
mod structured_text;
mod units;
mod wrapped;
mod xlsx;

pub(crate) use facts::facts;
pub use prefix::{Prefix, PrefixError};
use thiserror::Error;

use crate::document::LineDocument;

/// A form that a line is exported to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ExportFormat {
    /// A table of the nodes with a status in each row.
    Csv,
    /// The same table with typed columns; units, facts and provenance in the file's metadata.
    Parquet,
    /// A workbook: the line, a look-up at one wire feed, the check table, what to know about it.
    Xlsx,
    /// Tables in single precision and an evaluator for C and C++, under names that begin with the prefix.
    CHeader(Prefix),
    /// A function block of that name for controllers by IEC 61131-3.
    StructuredText(Prefix),
    /// What a new weld should read at each feed, as CSV.
    CheckTable,
}

impl ExportFormat {
    /// The same form under another name; `None` where the form has no names of its own.
    pub fn under_name(self, prefix: Prefix) -> Option<Self> {
        match self {
            Self::CHeader(_) => Some(Self::CHeader(prefix)),
            Self::StructuredText(_) => Some(Self::StructuredText(prefix)),
            Self::Csv | Self::Parquet | Self::Xlsx | Self::CheckTable => None,
        }
    }
}

/// Why a line was not exported.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ExportError {
    /// It holds no setting.
    #[error("the line has no setting at any wire feed, so there is nothing to export: {reason}")]
    NoSetting {
        /// Why there is none, by the line itself.
        reason: String,
    },
    /// Two nodes are one in single precision.
    #[error(
        "the nodes at {lower_m_min} and {upper_m_min} m/min are the same number in single precision, so that no table of \
         a controller holds both; compose the line again with another step_m_min or without a pin beside a node"
    )]
    NodesMerge {
        /// Feed of the lower one.
        lower_m_min: f64,
        /// Feed of the upper one.
        upper_m_min: f64,
    },
    /// A number that is none in single precision.
    #[error(
        "{name} of the node at {wire_feed_m_min} m/min is {found}, which single precision does not hold; needed numbers \
         of welding between about 1e-37 and 1e38"
    )]
    OutsideSinglePrecision {
        /// The number's name.
        name: &'static str,
        /// The node.
        wire_feed_m_min: f64,
        /// The number.
        found: f64,
    },
    /// A range of feeds whose ends are swapped.
    #[error("a range of the line goes from {from_m_min} to {to_m_min} m/min; needed the lower feed first")]
    RangeBackwards {
        /// Its first end.
        from_m_min: f64,
        /// Its second end.
        to_m_min: f64,
    },
    /// The name is taken.
    #[error("the function block cannot be called {0}: a variable inside it is called so; choose another name")]
    NameTaken(Prefix),
    /// It is longer than the format allows.
    #[error("the line has {rows} rows, {format} takes at most {most}; export to csv or parquet instead")]
    TooLong {
        /// Rows found.
        rows: usize,
        /// Rows that the format takes.
        most: usize,
        /// Its name.
        format: &'static str,
    },
    /// The library that writes the format refused: our fault, not the line's.
    #[error(
        "the {format} file could not be made ({cause}); please report it; export to csv works without that library"
    )]
    NotWritten {
        /// Its name.
        format: &'static str,
        /// What the library says.
        cause: String,
    },
}

/// Bytes of tables beyond which an export for controllers is large: as far as an address of 16 bits reaches, and more than
/// many controllers give to one block.
pub const LARGE_TABLES_BYTES: usize = 65_536;

/// What a line takes in a controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TablesSize {
    /// Its nodes.
    pub nodes: usize,
    /// Bytes of its tables.
    pub bytes: usize,
}

/// What the tables of a line take in a format for controllers; `None` for the other formats.
///
/// # Errors
/// As [`export`].
pub fn tables_size(document: &LineDocument, format: &ExportFormat) -> Result<Option<TablesSize>, ExportError> {
    let line = &document.body().line;
    let bytes = match format {
        ExportFormat::CHeader(_) => single::SingleLine::of(line)?.bytes(),
        ExportFormat::StructuredText(_) => structured_text::bytes(document)?,
        _ => return Ok(None),
    };
    Ok(Some(TablesSize { nodes: line.nodes.len(), bytes }))
}

/// The line in another form, as the bytes of one file.
///
/// # Errors
/// [`ExportError::NoSetting`] where the line has no node; [`ExportError::TooLong`] and [`ExportError::NotWritten`] from
/// formats with limits of their own; for controllers the others, where single precision does not hold the line.
pub fn export(document: &LineDocument, format: ExportFormat) -> Result<Vec<u8>, ExportError> {
    let line = &document.body().line;
    if line.nodes.is_empty() {
        let reasons: Vec<&str> = line.unsupported.iter().map(|gap| gap.reason.as_str()).collect();
        let reason = if reasons.is_empty() { "the line gives no reason".to_owned() } else { reasons.join("; ") };
        return Err(ExportError::NoSetting { reason });
    }
    Ok(match format {
        ExportFormat::Csv => csv::line_table(document).into_bytes(),
        ExportFormat::Parquet => parquet::line_table(document)?,
        ExportFormat::Xlsx => xlsx::workbook(document)?,
        ExportFormat::CHeader(prefix) => c_header::c_header(document, &prefix)?.into_bytes(),
        ExportFormat::StructuredText(name) => structured_text::structured_text(document, &name)?.into_bytes(),
        ExportFormat::CheckTable => check_table::check_table(document).into_bytes(),
    })
}

#[cfg(test)]
mod tests {
    use super::examples::{self, changed};
    use super::*;

    /// Every export that is text, comments as running text.
    fn texts(document: &LineDocument) -> Vec<String> {
        let prefix = Prefix::default;
        let formats = [
            ExportFormat::Csv,
            ExportFormat::CheckTable,
            ExportFormat::CHeader(prefix()),
            ExportFormat::StructuredText(prefix()),
        ];
        let text = |format| String::from_utf8(export(document, format).expect("exported")).expect("text");
        formats
            .map(text)
            .map(|text| text.replace("\n * ", " ").split_whitespace().collect::<Vec<_>>().join(" "))
            .to_vec()
    }

    #[test]
    fn every_export_says_that_nobody_welded_what_the_laws_were_carried_to() {
        let carried = changed(|body| body.line.nodes[0].support = "carried".to_owned());
        for text in texts(&carried) {
            let told = "carried: 4 to 6 m/min: the laws were carried to a wire or distance that nobody has welded; weld and \
                        confirm every setting before use";
            assert!(text.contains(told), "{}", &text[..1500]);
        }
        assert!(texts(&changed(|_| {})).iter().all(|text| !text.contains("carried to a wire")));
    }

    #[test]
    fn every_export_says_in_words_where_the_line_must_not_be_used() {
        let contradicted = changed(|body| body.line.standing = vec![examples::standing("contradicted", [5.0, 5.5])]);
        for text in texts(&contradicted) {
            let told = "do not use: confirmation welds contradict the line from 5 to 5.5 m/min";
            assert!(text.contains(told), "{}", &text[..1500]);
        }
    }

    #[test]
    fn a_line_without_a_setting_is_exported_to_nothing() {
        let document = changed(|body| body.line.nodes.clear());
        for format in [ExportFormat::Csv, ExportFormat::Parquet, ExportFormat::Xlsx, ExportFormat::CheckTable] {
            let error = export(&document, format).expect_err("there is no setting");
            assert!(
                matches!(&error, ExportError::NoSetting { reason } if reason.contains("ranges of the trials")),
                "{error}"
            );
        }
    }
}

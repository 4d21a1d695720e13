//! A line in the forms that other tools load. One format is one file; each carries the same [`facts`], and none
//! turns a feed without a setting into a setting.

mod csv;
mod facts;
mod rows;

pub(crate) use facts::facts;
use thiserror::Error;

use crate::document::LineDocument;

/// A form that a line is exported to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportFormat {
    /// A table of the nodes with a status in each row.
    Csv,
}

/// Why a line was not exported.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ExportError {
    /// It holds no setting.
    #[error("the line has no setting at any wire feed, so there is nothing to export: {reason}")]
    NoSetting {
        /// Why there is none, by the line itself.
        reason: String,
    },
}

/// The line in another form, as the bytes of one file.
///
/// # Errors
/// [`ExportError::NoSetting`] where the line has no node.
pub fn export(document: &LineDocument, format: ExportFormat) -> Result<Vec<u8>, ExportError> {
    let line = &document.body().line;
    if line.nodes.is_empty() {
        let reasons: Vec<&str> = line.unsupported.iter().map(|gap| gap.reason.as_str()).collect();
        let reason = if reasons.is_empty() { "the line gives no reason".to_owned() } else { reasons.join("; ") };
        return Err(ExportError::NoSetting { reason });
    }
    Ok(match format {
        ExportFormat::Csv => csv::line_table(document).into_bytes(),
    })
}

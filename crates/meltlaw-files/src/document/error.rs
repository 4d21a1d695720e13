//! Why a document cannot be read or written.

use meltlaw::line_check::Broken;
use thiserror::Error;

use crate::write::{cause, remedy_for_reading};

/// Why a document cannot be read or written. Each message names the file, what was found, what was
/// needed and what to do.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum DocumentError {
    /// The file cannot be read.
    #[error("{file}: cannot be read: {}; {}", cause(source), remedy_for_reading(source))]
    Unreadable {
        /// The file.
        file: String,
        /// What the system says.
        source: std::io::Error,
    },
    /// A folder, a device or a pipe.
    #[error("{file}: {found} was found, a file was needed; {remedy}")]
    NotAFile {
        /// The path.
        file: String,
        /// What it is.
        found: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// Larger than any document of ours.
    #[error("{file}: the file holds {found} bytes, at most {limit} were expected; this is not a laws or line file")]
    TooLarge {
        /// The file.
        file: String,
        /// Its size in bytes.
        found: u64,
        /// Largest size in bytes.
        limit: u64,
    },
    /// Not UTF-8.
    #[error(
        "{file}: byte {offset} is not UTF-8; the file was damaged or saved in another encoding, take the original again"
    )]
    NotUtf8 {
        /// The file.
        file: String,
        /// Place of the first bad byte.
        offset: usize,
    },
    /// Not JSON, or not strictly.
    #[error("{file}: not readable as JSON: {source}; take the original again, it was damaged or edited")]
    NotJson {
        /// The file.
        file: String,
        /// What the parser says, with line and column.
        source: serde_json::Error,
    },
    /// JSON, but another kind of document.
    #[error("{file}: {found} was found, {expected:?} was needed as its format; give the file that `{made_by}` writes")]
    WrongFormat {
        /// The file.
        file: String,
        /// What was found.
        found: String,
        /// The format needed.
        expected: &'static str,
        /// The command that writes such a file.
        made_by: &'static str,
    },
    /// No usable version.
    #[error("{file}: format_version is {found}, a whole number up to {newest} was needed; take the original again")]
    BadVersion {
        /// The file.
        file: String,
        /// What was found.
        found: String,
        /// Newest version known.
        newest: u32,
    },
    /// Written in a form that was never released.
    #[error("{file}: format_version is {found}, written before the first release; develop again")]
    BeforeFirstRelease {
        /// The file.
        file: String,
        /// Its version.
        found: u64,
    },
    /// Written by a later program.
    #[error(
        "{file}: format_version is {found}, this program reads up to {newest}; use the program that wrote it or a newer one"
    )]
    NewerVersion {
        /// The file.
        file: String,
        /// Its version.
        found: u64,
        /// Newest version known.
        newest: u32,
    },
    /// Without checksum.
    #[error(
        "{file}: checksum is {found}, 64 hexadecimal digits were needed; take the original again or make it anew with `{made_by}`"
    )]
    NoChecksum {
        /// The file.
        file: String,
        /// What was found.
        found: String,
        /// The command that writes such a file.
        made_by: &'static str,
    },
    /// Changed since it was written.
    #[error(
        "{file}: the checksum says {stated}, the content gives {computed}: the file was damaged or edited after it was written; take the original again or make it anew with `{made_by}`"
    )]
    WrongChecksum {
        /// The file.
        file: String,
        /// The checksum in the file.
        stated: String,
        /// The checksum of its content.
        computed: String,
        /// The command that writes such a file.
        made_by: &'static str,
    },
    /// The checksum is right but a member is missing, has another type or contradicts another.
    #[error("{file}: {found}; make it anew with `{made_by}`")]
    BadContent {
        /// The file.
        file: String,
        /// What is wrong.
        found: String,
        /// The command that writes such a file.
        made_by: &'static str,
    },
    /// The checksum is right but nodes no longer do what they say.
    #[error(
        "{file}: {}; numbers were changed after the line was composed: do not weld with it, develop the study again",
        broken_words(broken)
    )]
    BrokenIdentities {
        /// The file.
        file: String,
        /// Every identity that does not hold; at least one.
        broken: Vec<Broken>,
    },
    /// A document that no program of ours would read again.
    #[error(
        "{format}: the file would hold {found} bytes, at most {limit} are read again; ask for fewer nodes (a longer [line] step_m_min, fewer pins) or use fewer trials"
    )]
    TooLargeToRead {
        /// The format.
        format: &'static str,
        /// Its size in bytes.
        found: u64,
        /// Largest size in bytes.
        limit: u64,
    },
    /// A number to be written is not finite.
    #[error(
        "{format}: a number that is not finite would be written as null; please report this as a fault of the program"
    )]
    NotFinite {
        /// The format.
        format: &'static str,
    },
}

/// So many broken identities are spelled out; one changed setting breaks about five.
const SPELLED_OUT: usize = 6;

fn broken_words(broken: &[Broken]) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut node = None;
    for b in broken.iter().take(SPELLED_OUT) {
        let at = if node == Some(b.wire_feed_m_min) {
            String::new()
        } else {
            format!("node at {} m/min: ", digits(b.wire_feed_m_min))
        };
        node = Some(b.wire_feed_m_min);
        let needed = format!("{}{}", b.identity.relation(), digits(b.needed));
        words.push(format!("{at}{} is {}, {needed} was needed", b.identity.words(), digits(b.found)));
    }
    if broken.len() > SPELLED_OUT {
        words.push(format!("and {} more", broken.len() - SPELLED_OUT));
    }
    words.join("; ")
}

/// Eight digits, which is what the identities are held to and a little more; whole numbers as they are.
fn digits(value: f64) -> String {
    if !value.is_finite() {
        return "not a number".to_owned();
    }
    let before = if value == 0.0 { 0.0 } else { value.abs().log10().floor() };
    let rounded = format!("{:.*}", (7.0 - before).clamp(0.0, 12.0) as usize, value);
    if rounded.contains('.') { rounded.trim_end_matches('0').trim_end_matches('.').to_owned() } else { rounded }
}

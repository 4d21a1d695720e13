//! What stands around the body of `laws.json` and `line.json`: format, version, cautions, provenance, checksum.

use meltlaw::record::{LawsRecord, LineRecord, Provenance};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::body::Body;
use super::error::DocumentError;
use super::kept_unknown::kept_unknown;
use super::sha256::checksum;
use super::strict::parse_strictly;
use super::texts::unfit_text;
use crate::read::limits::LARGEST_DOCUMENT_BYTES;
use crate::read::spelt_out;

/// `laws.json`.
pub type LawsDocument = Document<LawsRecord>;
/// `line.json`.
pub type LineDocument = Document<LineRecord>;

/// Newest `format_version` that this program reads, and the one it writes.
pub const FORMAT_VERSION: u32 = 2;
/// Oldest `format_version` that this program reads. Version 1 was never released.
const OLDEST_VERSION: u64 = 2;

/// A document as it lies on the disk. It does not change: a new body makes a new document.
#[derive(Debug, Clone, PartialEq)]
pub struct Document<T> {
    envelope: Envelope,
    body: T,
    /// All members as read or written, those that this program does not know too.
    members: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Envelope {
    format: String,
    format_version: u32,
    cautions: Vec<String>,
    provenance: Provenance,
    #[serde(default)]
    checksum: String,
}

impl<T: Body> Document<T> {
    /// A new document with its checksum.
    ///
    /// # Errors
    /// [`DocumentError::NotFinite`] where a number of the body is NaN or infinite, which JSON cannot say;
    /// [`DocumentError::TooLargeToRead`] where no program of ours would read the file.
    pub fn new(body: T, cautions: Vec<String>, provenance: Provenance) -> Result<Self, DocumentError> {
        let not_finite = |_| DocumentError::NotFinite { format: T::FORMAT };
        let mut envelope = Envelope {
            format: T::FORMAT.to_owned(),
            format_version: FORMAT_VERSION,
            cautions,
            provenance,
            checksum: String::new(),
        };
        let mut members = object(&envelope).map_err(not_finite)?;
        members.shift_remove("checksum");
        let body_members = object(&body).map_err(not_finite)?;
        // serde_json writes NaN as null without a word: what reads back must be what was meant.
        let back = serde_json::from_value::<T>(Value::Object(body_members.clone())).map_err(not_finite)?;
        if back != body {
            return Err(DocumentError::NotFinite { format: T::FORMAT });
        }
        members.extend(body_members);
        envelope.checksum = checksum(&members);
        members.insert("checksum".to_owned(), Value::from(envelope.checksum.clone()));
        let found = pretty_bytes(&members);
        if found > LARGEST_DOCUMENT_BYTES {
            return Err(DocumentError::TooLargeToRead { format: T::FORMAT, found, limit: LARGEST_DOCUMENT_BYTES });
        }
        Ok(Self { envelope, body, members })
    }

    /// The document as pretty JSON with a line feed at the end. Members that this program does not know
    /// are written as they were read.
    pub fn to_json(&self) -> String {
        pretty(&self.members)
    }

    /// Reads a document and verifies format, version and checksum, and of a line every identity at every node.
    ///
    /// # Errors
    /// [`DocumentError`], each naming `file_name`.
    pub fn from_json(text: &str, file_name: &str) -> Result<Self, DocumentError> {
        let file = || file_name.to_owned();
        let value = parse_strictly(text).map_err(|source| DocumentError::NotJson { file: file(), source })?;
        let members = of_format::<T>(value, file_name)?;
        known_version(&members, file_name)?;
        right_checksum::<T>(&members, file_name)?;
        let bad = |found: String| DocumentError::BadContent { file: file(), found, made_by: T::MADE_BY };
        let whole = Value::Object(members);
        if let Some(unfit) = unfit_text(&whole) {
            return Err(bad(unfit));
        }
        let envelope = Envelope::deserialize(&whole).map_err(|e| bad(e.to_string()))?;
        let body = T::deserialize(&whole).map_err(|e| bad(e.to_string()))?;
        if envelope.cautions.is_empty() || envelope.cautions.iter().any(|c| c.trim().is_empty()) {
            return Err(bad("cautions are empty, what a reader must know before welding was needed".to_owned()));
        }
        body.consistent().map_err(bad)?;
        let broken = body.broken();
        if !broken.is_empty() {
            return Err(DocumentError::BrokenIdentities { file: file(), broken });
        }
        let Value::Object(members) = whole else { unreachable!("made an object three lines above") };
        Ok(Self { envelope, body, members })
    }

    /// The same document with another body, such as a line with another standing, under a new checksum. What this
    /// program does not know of the members that were read is kept, at every depth (`kept_unknown.rs` says how).
    ///
    /// # Errors
    /// [`DocumentError::NotFinite`] as for [`Document::new`].
    pub fn with_body(&self, body: T, cautions: Vec<String>, provenance: Provenance) -> Result<Self, DocumentError> {
        let known = Self::new(self.body.clone(), self.envelope.cautions.clone(), self.envelope.provenance.clone())?;
        let mut new = Self::new(body, cautions, provenance)?;
        let mut members = Value::Object(std::mem::take(&mut new.members));
        kept_unknown(&Value::Object(self.members.clone()), &Value::Object(known.members), &mut members);
        let Value::Object(mut members) = members else { unreachable!("an object stays one") };
        members.shift_remove("checksum");
        new.envelope.checksum = checksum(&members);
        members.insert("checksum".to_owned(), Value::from(new.envelope.checksum.clone()));
        new.members = members;
        Ok(new)
    }

    /// The body.
    pub const fn body(&self) -> &T {
        &self.body
    }

    /// The body, to make another document from.
    pub fn into_body(self) -> T {
        self.body
    }

    /// `format_version`.
    pub const fn format_version(&self) -> u32 {
        self.envelope.format_version
    }

    /// What a reader must know before welding.
    pub fn cautions(&self) -> &[String] {
        &self.envelope.cautions
    }

    /// The way back to the inputs.
    pub const fn provenance(&self) -> &Provenance {
        &self.envelope.provenance
    }

    /// SHA-256 of the RFC 8785 form without this member.
    pub fn checksum(&self) -> &str {
        &self.envelope.checksum
    }
}

/// Bytes of [`Document::to_json`], without making the text.
fn pretty_bytes(members: &Map<String, Value>) -> u64 {
    struct Counted(u64);
    impl std::io::Write for Counted {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0 += bytes.len() as u64;
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let mut counted = Counted(1);
    serde_json::to_writer_pretty(&mut counted, members).expect("members with string keys can be written");
    counted.0
}

/// Pretty JSON with a line feed at the end.
pub(crate) fn pretty(value: &impl Serialize) -> String {
    let mut text = serde_json::to_string_pretty(value).expect("members with string keys can be written");
    text.push('\n');
    text
}

fn object(value: &impl Serialize) -> Result<Map<String, Value>, serde_json::Error> {
    match serde_json::to_value(value)? {
        Value::Object(members) => Ok(members),
        other => Err(serde::ser::Error::custom(format!("an object was needed, {other} was found"))),
    }
}

fn of_format<T: Body>(value: Value, file_name: &str) -> Result<Map<String, Value>, DocumentError> {
    let wrong = |found: String| DocumentError::WrongFormat {
        file: file_name.to_owned(),
        found,
        expected: T::FORMAT,
        made_by: T::MADE_BY,
    };
    let Value::Object(members) = value else { return Err(wrong("no JSON object".to_owned())) };
    match members.get("format") {
        Some(Value::String(format)) if format == T::FORMAT => Ok(members),
        Some(other) => Err(wrong(shortened(other))),
        None => Err(wrong("no member \"format\"".to_owned())),
    }
}

fn known_version(members: &Map<String, Value>, file_name: &str) -> Result<(), DocumentError> {
    let (file, newest) = (file_name.to_owned(), FORMAT_VERSION);
    let stated = members.get("format_version");
    match stated.and_then(Value::as_u64) {
        Some(version) if (OLDEST_VERSION..=u64::from(newest)).contains(&version) => Ok(()),
        Some(found @ 1..OLDEST_VERSION) => Err(DocumentError::BeforeFirstRelease { file, found }),
        Some(found @ 1..) => Err(DocumentError::NewerVersion { file, found, newest }),
        _ => {
            let found = stated.map_or_else(|| "missing".to_owned(), shortened);
            Err(DocumentError::BadVersion { file, found, newest })
        }
    }
}

fn right_checksum<T: Body>(members: &Map<String, Value>, file_name: &str) -> Result<(), DocumentError> {
    let (file, made_by) = (file_name.to_owned(), T::MADE_BY);
    let stated = match members.get("checksum") {
        Some(Value::String(stated)) if stated.len() == 64 && stated.bytes().all(|b| b.is_ascii_hexdigit()) => stated,
        Some(other) => return Err(DocumentError::NoChecksum { file, found: shortened(other), made_by }),
        None => return Err(DocumentError::NoChecksum { file, found: "missing".to_owned(), made_by }),
    };
    let computed = checksum(members);
    if *stated == computed {
        Ok(())
    } else {
        Err(DocumentError::WrongChecksum { file, stated: stated.clone(), computed, made_by })
    }
}

/// A value for a message: not longer than a line.
fn shortened(value: &Value) -> String {
    let text = spelt_out(&value.to_string());
    if text.chars().count() <= 60 { text } else { text.chars().take(57).chain("...".chars()).collect() }
}

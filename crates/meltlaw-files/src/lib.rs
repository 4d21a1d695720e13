//! The disk, both ways.

pub mod document;
pub mod write;

pub use document::{Document, DocumentError, LawsDocument, LineDocument, SchemaOf, checksum, schema, sha256_hex};
pub use write::{Manifest, ResultFolder, WriteError, line_csv, recover, trials_csv, verify, write_file};

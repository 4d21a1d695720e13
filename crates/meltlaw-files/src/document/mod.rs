//! Laws and lines as files: RFC 8785 checksum, the members around the body, strict loading, and the
//! published schemas.

mod body;
mod canonical;
mod envelope;
mod error;
mod kept_unknown;
mod load;
mod schema;
mod sha256;
mod strict;
#[cfg(test)]
mod tests;
mod texts;

pub use body::Body;
pub use canonical::{canonical, number_text};
pub(crate) use envelope::pretty;
pub use envelope::{Document, FORMAT_VERSION, LawsDocument, LineDocument};
pub use error::DocumentError;
pub use schema::{SchemaOf, schema};
pub(crate) use schema::{description, unit_of};
pub use sha256::{checksum, sha256_hex, sha256_hex_of_reader};
pub use strict::parse_strictly;

//! Comparing results: [`lines`] says what changed between two lines, at which feeds, and whether it is beyond error.
//! Laws of wires, gases and batches are held against margins; they fit in beside.

mod combined;
pub mod laws;
pub mod lines;

pub use combined::ErrorRule;

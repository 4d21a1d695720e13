//! The line backwards: the wire feeds for a mean current, a melting rate or a heat input, of the line's own settings or
//! of all of them shifted. `curve` knows the
//! quantity along the line and finds every feed that gives a value, `interval` how far each answer may be
//! off, `answers` puts them together, `words` says them plainly.

mod answers;
mod curve;
mod interval;
mod words;

pub use answers::{Answer, Backwards, Nearest, RefusedAnswer, ShiftedBackwards, Wanted, feeds_for, feeds_for_shifted};

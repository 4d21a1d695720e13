//! The parameter line itself: the pulse waveform, the nodes of a line, what lies between them, and
//! the codes that firmware and PLC exports use. No allocation, no standard library: the same code
//! answers on a bench PC and in a controller.
#![cfg_attr(not(test), no_std)]

mod codes;
mod drop;
mod number;
mod table;
mod waveform;

pub use codes::{Limit, Standing, Status, Support};
pub use drop::{drop_diameter_mm, drop_frequency_hz};
pub use number::Number;
pub use table::{Evaluated, Place, Refused, StandingSpan, Table, TableFault, TableNode, between, gap_between};
pub use waveform::{Waveform, WaveformError};

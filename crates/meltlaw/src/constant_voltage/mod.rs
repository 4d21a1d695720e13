//! Constant-voltage welds of the study beside the line: `weld` reads them from the trials, `beside` says
//! what pulsing changes at the same wire feed, `compared` one quantity of it with its error.

mod beside;
mod compared;
mod weld;

pub use beside::{BesideConstantVoltage, beside};
pub use compared::Compared;
pub use weld::{ConstantVoltageWeld, Measured, PowerFrom, welds};

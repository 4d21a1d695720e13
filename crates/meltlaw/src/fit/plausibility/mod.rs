//! Coefficients against what physics expects. The bands are wide and partly from memory: they warn, they
//! never judge. A value outside names the slips that would explain it, found by undoing each.

mod arc_voltage;
mod band;
mod burn_off;
mod burn_off_slips;
mod detachment;
mod pulse_width;
mod ripple;

pub use arc_voltage::arc_voltage;
pub use burn_off::{burn_off, burn_off_of_trials, coefficient_bands};
pub use detachment::{counts, detachment};

//! The three laws: formulas with named coefficients, and what a fit leaves of them.

mod fitted;

pub use fitted::*;

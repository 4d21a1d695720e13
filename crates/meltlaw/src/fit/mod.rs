//! From trials to fitted laws. `fit_laws` is the way in; one module per law chooses its trials and fits
//! it, `errors_in_variables` and `ordered_logit` hold the likelihoods, `least_squares` and `newton` the
//! minimisers, `information` what their derivatives tell, `assemble` and `detachment_law` make the record.

pub mod arc_voltage;
pub mod assemble;
pub mod burn_off;
pub mod candidates;
mod careful;
pub mod detachment;
pub mod detachment_law;
pub mod diagnosis;
pub mod errors_in_variables;
mod fit_laws;
pub mod information;
pub mod least_squares;
pub mod linear_model;
pub mod newton;
pub mod ordered_logit;
pub mod plausibility;
pub mod power;
pub mod prior_on_counts;
pub mod prior_pull;
pub mod prior_rows;
pub mod profile;
pub mod reliability;
pub mod resampling;
pub mod scatter;
pub mod selection;
pub mod separation;

pub use fit_laws::{FittedStudy, fit_laws};

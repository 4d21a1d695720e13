//! The virtual bench: an invented process whose laws are known, laboratories that weld trials on it with
//! the errors that a study states, and faults planted in them. Nothing here was measured.
//!
//! `truth` holds the laws that the process follows, `bench` the study of an invented laboratory, `weld` one
//! weld and how it is read, `lab` the trials that a laboratory welds, `kinds` the laboratories of the
//! recovery study with `faults` planted in some, `oracle` what somebody who knows the true errors would
//! state, `new_weld` the next weld on a node, `examine` what the program says of one laboratory held
//! against the truth, `warnings` what it says in warning, `support_score` what its `measured` and `extended` are worth, `score` the sums over many laboratories,
//! `comparing` two wires of a known difference held against one another,
//! `families` wires of several diameters of which one is not welded, `logs` current and voltage of a weld sample by sample.

mod bench;
mod comparing;
mod examine;
mod families;
mod faults;
mod kinds;
mod lab;
mod line_score;
mod logs;
mod new_weld;
mod oracle;
mod score;
mod support_score;
mod truth;
mod warnings;
mod weld;

pub use bench::{study, wire};
pub use comparing::{COMPARED, Difference, Said, Scatter, Setup, compared_pair};
pub use examine::{Examined, LEVELS, Scored, examine};
pub use families::{Breach, Claimed, Family, FamilyScored, extended_family};
pub use faults::{Block, Disturbance, between_blocks, drifting_gain, spoil};
pub use kinds::{Kind, Lab};
pub use lab::{Plan, Size, Welded, trials, weld_all};
pub use logs::{Log, LogTruth};
pub use new_weld::{ErrorsOfOneWeld, new_weld};
pub use oracle::Oracle;
pub use score::{Row, Tally, binomial_limits};
pub use support_score::{Reach, SUPPORTED, SupportScored, SupportTally, examine_support};
pub use truth::Truth;
pub use warnings::warnings;
pub use weld::{Pulse, Setting, TrueWeld};

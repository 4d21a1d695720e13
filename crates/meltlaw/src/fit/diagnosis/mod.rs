//! Finding trouble: what each law's residuals say of its trials, its errors and its form.
//!
//! `working` brings least squares and counted drops to one scale; `outliers`, `robust`, `blocks`, `trends` and
//! `spread` ask one question each; `of_laws` asks them all. Every test gives its effect at the bench first
//! (m/min, V, ms), its probability second, and what to do.

mod blocks;
mod of_laws;
mod outliers;
mod robust;
mod spread;
mod trends;
pub(super) mod working;

pub use blocks::satterthwaite;
pub use of_laws::{Diagnosis, counted_drops, least_squares};
pub use outliers::OUTLIER_FAMILY;

use crate::in_words::probability;
use crate::laws::Reading;
use crate::statistics::mean;

/// Probability below which a test is a warning.
///
/// A study of three laws makes about 25 tests; at this level a clean study carries any warning in one of 25.
pub const WARNS_BELOW: f64 = 0.0015;

/// A reading whose advice is given only where the test is a warning.
fn judged(expected: impl Into<String>, seen: String, p: f64, advice: &str) -> Reading {
    Reading::new(expected, format!("{seen} ({})", probability(p)), if p < WARNS_BELOW { advice } else { "nothing" })
}

/// Names in a row, the first six of many.
fn name_list(names: &[String]) -> String {
    const SHOWN: usize = 6;
    let first = names.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ");
    if names.len() > SHOWN { format!("{first} and {} more", names.len() - SHOWN) } else { first }
}

/// Pearson's correlation; not a number where a side does not vary.
fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let (mx, my) =
        (mean(&pairs.iter().map(|p| p.0).collect::<Vec<_>>()), mean(&pairs.iter().map(|p| p.1).collect::<Vec<_>>()));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in pairs {
        xx += (x - mx) * (x - mx);
        yy += (y - my) * (y - my);
        xy += (x - mx) * (y - my);
    }
    if xx <= 0.0 || yy <= 0.0 { f64::NAN } else { xy / (xx * yy).sqrt() }
}

//! What the study demands, kind by kind.

use meltlaw::virtual_bench::{Kind, Tally};

use crate::table::per_cent;

/// Coverage under which a fault has done harm.
const HARMED_BELOW: f64 = 0.90;
/// Share of harmed laboratories that must be warned.
const WARNED_AT_LEAST: f64 = 0.95;
/// Share of good laboratories that may be warned.
const WARNED_AT_MOST: f64 = 0.05;
/// Width over the oracle's.
const WIDTH_AT_MOST: f64 = 1.10;

/// One sentence per demand, met or not.
pub(crate) fn verdicts(kind: Kind, tally: &Tally) -> Vec<String> {
    let rows = tally.rows();
    let name = kind.name();
    let met = |met: bool| if met { "met" } else { "MISSED" };
    let mut out = Vec::new();
    let outside: Vec<String> = rows
        .iter()
        .filter(|r| r.outside.contains(&true))
        .map(|r| format!("{} {}", r.name, per_cent(r.coverage[1])))
        .collect();
    let words = if outside.is_empty() { "all inside".to_owned() } else { outside.join(", ") };
    out.push(format!("{name}: coverage 95 +- 1 %: {} ({words})", met(outside.is_empty())));
    let wide: Vec<String> = rows
        .iter()
        .filter(|r| r.width_over_oracle > WIDTH_AT_MOST)
        .map(|r| format!("{} {:.2}", r.name, r.width_over_oracle))
        .collect();
    let words = if wide.is_empty() { "none wider".to_owned() } else { wide.join(", ") };
    out.push(format!("{name}: width within 10 % of the oracle: {} ({words})", met(wide.is_empty())));
    let lowest = rows.iter().map(|r| r.coverage[1]).fold(f64::INFINITY, f64::min);
    let warned = tally.warned();
    if kind.has_fault() {
        if lowest < HARMED_BELOW {
            out.push(format!(
                "{name}: coverage falls to {}, labs warned {}: {}",
                per_cent(lowest),
                per_cent(warned),
                met(warned >= WARNED_AT_LEAST)
            ));
        } else {
            out.push(format!(
                "{name}: the intervals hold (lowest coverage {}), labs warned {}",
                per_cent(lowest),
                per_cent(warned)
            ));
        }
    } else {
        out.push(format!("{name}: good labs warned {}: {}", per_cent(warned), met(warned <= WARNED_AT_MOST)));
    }
    let unfitted: Vec<String> = tally
        .unusable()
        .iter()
        .filter(|(law, _)| law != "detachment" || kind.determines_detachment())
        .map(|(law, share)| format!("{law} {}", per_cent(*share)))
        .collect();
    let words = if unfitted.is_empty() { "none".to_owned() } else { unfitted.join(", ") };
    out.push(format!("{name}: laws not fitted: {} ({words})", met(unfitted.is_empty())));
    out
}

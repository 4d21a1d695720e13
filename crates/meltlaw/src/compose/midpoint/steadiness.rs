//! Settings that go on steadily with feed: frequency and background never fall, nothing jumps.
//!
//! The rule alone keeps both wherever its limits move steadily. Where they do not, a feed without a
//! setting is the honest answer: a machine that follows the line must not turn back on the way up.

use meltlaw_line::{Limit, Waveform};

use super::super::{Judged, Refused};

/// Fall that is still rounding: of the frequency by its size, of the background by the pulse's.
const ROUNDING: f64 = 1e-9;

/// Change of a setting per 0.01 m/min, beyond what the feed itself explains, that is too fast to follow:
/// at 3 % the pulse would change by a third over 0.1 m/min.
const FASTEST_PER_HUNDREDTH: f64 = 0.03;

/// Feeds no further apart than this, m/min, are neighbours whose difference tells a jump.
const NEIGHBOURS_M_MIN: f64 = 0.010_001;

/// A feed that has a setting so far, with its place in the list of feeds.
struct Usable {
    index: usize,
    feed: f64,
    wave: Waveform,
    limits: Vec<Limit>,
}

/// Refuses feeds at which settings change too fast to follow, and as few as need be for frequency and
/// background never to fall with rising feed. Pinned feeds are the expert's own: they neither judge nor
/// are judged.
pub(in crate::compose) fn refuse_turns_and_jumps(feeds: &[f64], judged: &mut [Result<Judged, Refused>]) {
    let usable: Vec<Usable> = judged
        .iter()
        .zip(feeds)
        .enumerate()
        .filter_map(|(index, (entry, &feed))| {
            let j = entry.as_ref().ok().filter(|j| j.pin.is_none())?;
            Some(Usable { index, feed, wave: j.composed.wave, limits: j.composed.limits.clone() })
        })
        .collect();
    let mut steady = vec![true; usable.len()];
    for (i, pair) in usable.windows(2).enumerate() {
        if pair[1].feed - pair[0].feed <= NEIGHBOURS_M_MIN && jumps(&pair[0], &pair[1]) {
            steady[i] = false;
            steady[i + 1] = false;
        }
    }
    let calm: Vec<usize> = (0..usable.len()).filter(|&i| steady[i]).collect();
    let upwards = keep(calm.iter().copied(), |last, next| !falls(&usable[last].wave, &usable[next].wave));
    let downwards = keep(calm.iter().rev().copied(), |last, next| !falls(&usable[next].wave, &usable[last].wave));
    let kept = if upwards.len() >= downwards.len() { upwards } else { downwards };
    steady.fill(false);
    kept.into_iter().for_each(|i| steady[i] = true);
    for (i, u) in usable.iter().enumerate().filter(|(i, _)| !steady[*i]) {
        let beside = &usable[i.saturating_sub(1)..(i + 2).min(usable.len())];
        let mut limits: Vec<Limit> = beside.iter().flat_map(|b| b.limits.iter().copied()).collect();
        if limits.is_empty() {
            // Only a law whose pulses melt more than the feed asks for turns back on its own: larger
            // and fewer drops would leave the background something to do.
            limits.push(Limit::DropLarge);
        }
        limits.sort();
        limits.dedup();
        judged[u.index] = Err(Refused { limits, unsteady: true, ..Refused::default() });
    }
}

/// Goes through places and keeps each that may follow the last one kept.
fn keep(places: impl Iterator<Item = usize>, may_follow: impl Fn(usize, usize) -> bool) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    for place in places {
        if kept.last().is_none_or(|&last| may_follow(last, place)) {
            kept.push(place);
        }
    }
    kept
}

fn falls(last: &Waveform, wave: &Waveform) -> bool {
    wave.pulse_frequency_hz < last.pulse_frequency_hz * (1.0 - ROUNDING)
        || wave.background_current_a < last.background_current_a - ROUNDING * wave.pulse_current_a
}

fn jumps(last: &Usable, next: &Usable) -> bool {
    let allowed = FASTEST_PER_HUNDREDTH * ((next.feed - last.feed) / 0.01).max(0.1);
    let ratio = |a: f64, b: f64| (b / a).ln().abs();
    let (a, b) = (&last.wave, &next.wave);
    // At a constant drop the frequency follows the feed, and a background near zero has no logarithm.
    ratio(a.pulse_current_a, b.pulse_current_a) > allowed
        || ratio(a.pulse_time_ms, b.pulse_time_ms) > allowed
        || ratio(a.pulse_frequency_hz, b.pulse_frequency_hz) > allowed + 2.0 * ratio(last.feed, next.feed)
        || (b.background_current_a - a.background_current_a).abs()
            > allowed * b.background_current_a.max(0.1 * b.pulse_current_a)
}

#[cfg(test)]
mod tests {
    use meltlaw_line::Support;

    use super::*;
    use crate::compose::Composed;

    fn setting(frequency: f64, background: f64, pulse: f64) -> Result<Judged, Refused> {
        let wave = Waveform {
            pulse_current_a: pulse,
            pulse_time_ms: 2.0,
            background_current_a: background,
            pulse_frequency_hz: frequency,
            rise_a_per_ms: 600.0,
            fall_a_per_ms: 600.0,
        };
        let composed = Composed {
            wave,
            drop_diameter_mm: 1.2,
            limits: vec![Limit::BackgroundLow],
            prices: Vec::new(),
            off_preferred: 0.0,
        };
        Ok(Judged { composed, support: Support::Covered, pin: None, one_drop: None })
    }

    fn refused(settings: Vec<Result<Judged, Refused>>) -> Vec<bool> {
        let feeds: Vec<f64> = (0..settings.len()).map(|i| 5.0 + 0.01 * i as f64).collect();
        let mut judged = settings;
        refuse_turns_and_jumps(&feeds, &mut judged);
        assert!(judged.iter().filter_map(|j| j.as_ref().err()).all(|r| r.limits == [Limit::BackgroundLow]));
        judged.iter().map(Result::is_err).collect()
    }

    #[test]
    fn a_single_feed_that_stands_out_goes_and_the_others_stay() {
        let rising = |f: f64| setting(f, 80.0, 400.0);
        assert_eq!(refused(vec![rising(60.5), rising(60.0), rising(60.1), rising(60.2)]), [true, false, false, false]);
        assert_eq!(refused(vec![rising(60.0), rising(60.1), rising(60.2), rising(59.9)]), [false, false, false, true]);
    }

    #[test]
    fn both_sides_of_a_jump_go() {
        let pulse = |a: f64| setting(60.0, 80.0, a);
        assert_eq!(refused(vec![pulse(400.0), pulse(401.0), pulse(430.0), pulse(431.0)]), [false, true, true, false]);
    }

    #[test]
    fn a_background_that_trembles_about_zero_does_not_fall() {
        assert_eq!(refused(vec![setting(60.0, 2e-14, 400.0), setting(60.0, -1e-14, 400.0)]), [false, false]);
    }
}

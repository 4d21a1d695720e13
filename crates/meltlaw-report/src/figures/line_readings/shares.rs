//! Counted against fitted shares: how many trials lie further off than counting and the scatter of trials bring.

use meltlaw::laws::Reading;

use crate::count_scatter::{binomial_tails, tails};
use crate::figures::outcomes::Counted;
use crate::numbers::{self, fixed, percent};
use crate::window::Window;
use crate::words;

/// More names than this are told by their number alone.
const NAMED: usize = 6;
/// Clean studies of which one in so many is asked about. (The usual one in twenty.)
const RARE: f64 = 0.05;

/// Reading of the shares.
pub(crate) fn shares(counted: &[Counted<'_>], window: &Window, confidence: f64) -> Reading {
    let outside: Vec<String> =
        counted.iter().filter(|c| lies_outside(c, window, confidence)).map(|c| c.trial.to_owned()).collect();
    let (number, all) = (outside.len(), counted.len());
    let names = if (1..=NAMED).contains(&number) { format!(" ({})", words::listed(&outside)) } else { String::new() };
    let chance = 1.0 - confidence;
    let share = if number == 0 { String::new() } else { format!(", {},", percent(number as f64 / all as f64)) };
    let (how_many, lie) =
        (if number == 0 { "none".to_owned() } else { number.to_string() }, if number < 2 { "lies" } else { "lie" });
    let mut seen = vec![format!(
        "{how_many} of {all} trials{names}{share} {lie} outside the {} band of counting and trial scatter about the curves; chance alone brings at most {}",
        numbers::confidence(confidence),
        percent(chance)
    )];
    if let Some((trial, class, off)) = furthest(counted, window) {
        let outcome = ["no drop", "one drop", "more drops"][class];
        let side = if off > 0.0 { "more" } else { "fewer" };
        seen.push(format!(
            "furthest off: {trial} with {} percentage points {side} pulses with {outcome} than fitted",
            fixed(100.0 * off.abs(), 0)
        ));
    }
    // More than chance brings: so many outside, or more, are rare in a study that follows the law.
    let rare = number > 0 && binomial_tails(number as u64, all as u64, chance)[1] < RARE;
    let action = match rare {
        true if number <= NAMED => {
            format!("look at the records of {} and count their pulses again", words::listed(&outside))
        }
        true => "look at what those trials share (day, coil, background, arc length): the law leaves something out"
            .to_owned(),
        false => "nothing".to_owned(),
    };
    Reading::new(
        "points on their curves but for counting and the scatter of trials; no run of points on one side",
        seen.join("; "),
        action,
    )
}

/// Whether one of the three counts is further off than the confidence allows; the three share what it leaves.
fn lies_outside(trial: &Counted<'_>, window: &Window, confidence: f64) -> bool {
    let Some(shares) = trial.shares else { return false };
    let position = window.position(trial.pulse_current_a, trial.pulse_time_ms);
    let least = (1.0 - confidence) / 6.0;
    shares.iter().enumerate().any(|(class, share)| {
        let count = (share * trial.pulses).round() as u64;
        tails(window, position, class, count, trial.pulses.round() as u64).iter().any(|tail| *tail < least)
    })
}

/// The share that lies furthest from its curve: trial, class and difference.
fn furthest<'a>(counted: &[Counted<'a>], window: &Window) -> Option<(&'a str, usize, f64)> {
    let off = |c: &Counted<'a>| {
        let fitted = window.probabilities(window.position(c.pulse_current_a, c.pulse_time_ms));
        let (trial, shares) = (c.trial, c.shares?);
        (0..3)
            .map(move |class| (trial, class, shares[class] - fitted[class]))
            .max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()))
    };
    counted.iter().filter_map(off).max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()))
}

#[cfg(test)]
mod tests {
    use super::super::tests::ROUND_WINDOW;
    use super::*;

    const WINDOW: Window = Window { trial_scatter: 0.03, ..ROUND_WINDOW };

    /// A trial that gives what is fitted, `off` of its pulses moved from one drop to none.
    fn trial(trial: &'static str, pulse_time_ms: f64, off: f64) -> Counted<'static> {
        let [none, one, more] = WINDOW.probabilities(pulse_time_ms.ln());
        let shares = Some([none + off, one - off, more]);
        Counted { trial, pulse_current_a: 400.0, pulse_time_ms, pulses: 50.0, shares, drops_per_pulse: 1.0 }
    }

    #[test]
    fn counts_as_fitted_lie_inside_and_ask_for_nothing() {
        let trials: Vec<_> = [1.4, 1.75, 2.6, 4.0, 5.0].into_iter().map(|t| trial("A", t, 0.0)).collect();
        let reading = shares(&trials, &WINDOW, 0.95);
        assert!(reading.seen.starts_with("none of 5 trials lies outside the 95\u{a0}% band"), "{reading:?}");
        assert!(reading.seen.contains("at most 5\u{a0}%"), "{reading:?}");
        assert_eq!(reading.action, "nothing");
    }

    #[test]
    fn one_odd_trial_in_forty_is_chance_and_one_in_three_is_looked_at() {
        // In the middle of the window 93 % have one drop; 20 of 50 pulses without a drop are no scatter.
        let mut trials: Vec<_> = (0..39).map(|_| trial("A", 2.6, 0.0)).collect();
        trials.push(trial("odd", 2.6, 0.4));
        let reading = shares(&trials, &WINDOW, 0.95);
        assert!(reading.seen.starts_with("1 of 40 trials (odd), 2\u{a0}%"), "{reading:?}");
        assert!(reading.seen.contains("furthest off: odd with 40 percentage points"), "{reading:?}");
        assert_eq!(reading.action, "nothing");
        let reading = shares(&[trial("A", 2.6, 0.0), trial("odd", 2.6, 0.4), trial("odder", 2.6, 0.5)], &WINDOW, 0.95);
        assert!(reading.action.starts_with("look at the records of odd and odder"), "{reading:?}");
    }
}

//! The detachment map: how the counted trials lie to the window, and where in it the line's pulses lie.

use meltlaw::laws::{FittedLaw, Reading};
use meltlaw::line::Node;

use super::{Range, asked_or_nothing, at};
use crate::figures::outcomes::{Counted, Outcome};
use crate::numbers::{feed, fixed};
use crate::window::Window;
use crate::words;

/// More names than this are told by their number alone.
const NAMED: usize = 6;

/// Reading of the map.
pub(crate) fn map(law: &FittedLaw, counted: &[Counted<'_>], window: Option<&Window>, nodes: &[Node]) -> Reading {
    let number_of = |outcome| counted.iter().filter(|c| c.outcome().0 == outcome).count();
    let [none, one, more] = [Outcome::None, Outcome::One, Outcome::More].map(number_of);
    let mut seen = vec![format!(
        "{} counted trials: {none} mostly without a drop, {one} mostly with one, {more} mostly with more",
        counted.len()
    )];
    let mut todo: Vec<String> = Vec::new();
    for (class, pulses) in
        [(none, "too short or weak to detach a drop"), (more, "long or strong enough for a second drop")]
    {
        if class == 0 {
            todo.push(format!(
                "weld some trials with pulses {pulses}, so that this edge of the window is seen from both sides"
            ));
        }
    }
    if let Some(window) = window {
        let wrong = wrong_side(counted, window);
        match wrong.len() {
            0 => seen.push("every filled point lies on its side of the dashed lines".to_owned()),
            number => {
                let names = if number <= NAMED { format!(": {}", words::listed(&wrong)) } else { String::new() };
                let lie = if number == 1 { "filled point lies" } else { "filled points lie" };
                seen.push(format!("{number} {lie} on the wrong side of a dashed line{names}"));
                todo.push("look at the records of the trials on the wrong side; weld their settings again".to_owned());
            }
        }
        seen.extend(of_the_line(window, nodes, &mut todo));
    } else {
        seen.push("not both thresholds are known, so the window cannot be drawn".to_owned());
        let open = |key| law.coefficients.get(key).filter(|c| c.value.is_none()).and_then(|c| c.reason.as_deref());
        let ended = (!law.ended.usable).then_some(law.ended.reason.as_str());
        let reasons = ["one_drop_from_ms", "more_drops_from_ms"].into_iter().filter_map(open);
        let reason = reasons.chain(ended).map(|r| r.trim_end_matches('.')).find(|r| !r.is_empty());
        let cure =
            reason.unwrap_or("see what the detachment law says: why it could not be fitted, and which trials cure it");
        todo.insert(0, cure.to_owned());
    }
    Reading::new(
        "trials of one kind together: without a drop to the left of the window, with more drops to the right; the line's pulses near the middle",
        seen.join("; "),
        asked_or_nothing(&todo),
    )
}

/// Trials of which at least four pulses in five did what the map expects on another side of a threshold.
fn wrong_side(counted: &[Counted<'_>], window: &Window) -> Vec<String> {
    let wrong = |c: &&Counted<'_>| {
        let s = window.position(c.pulse_current_a, c.pulse_time_ms);
        let (outcome, clear) = c.outcome();
        clear
            && match outcome {
                Outcome::None => s > window.one_drop_from,
                Outcome::One => s < window.one_drop_from || s > window.more_drops_from,
                Outcome::More => s < window.more_drops_from,
            }
    };
    counted.iter().filter(wrong).map(|c| c.trial.to_owned()).collect()
}

/// How far the line's pulses lie from both dashed lines, at their own currents.
fn of_the_line(window: &Window, nodes: &[Node], todo: &mut Vec<String>) -> Option<String> {
    let edge = |n: &Node, s: f64| window.pulse_time_ms(s, n.pulse_current_a);
    let before = |n: &Node| n.pulse_time_ms - edge(n, window.one_drop_from);
    let after = |n: &Node| edge(n, window.more_drops_from) - n.pulse_time_ms;
    let (left, right) = (Range::of(nodes, before)?, Range::of(nodes, after)?);
    let outside: Vec<String> =
        nodes.iter().filter(|n| before(n) < 0.0 || after(n) < 0.0).map(|n| feed(n.wire_feed_m_min)).collect();
    if outside.is_empty() {
        return Some(format!(
            "the line's pulses lie between the dashed lines at every feed, at least {} ms from the left one ({}) and {} ms from the right one ({})",
            fixed(left.low, 2),
            at(left.low_at),
            fixed(right.low, 2),
            at(right.low_at)
        ));
    }
    let feeds = words::listed(&outside);
    todo.insert(0, format!("do not weld the line's pulses at {feeds} m/min before the pulse is composed again"));
    Some(format!("the line's pulses lie outside the dashed lines at {feeds} m/min"))
}

#[cfg(test)]
mod tests {
    use super::super::tests::{ROUND_WINDOW, record};
    use super::*;

    const WINDOW: Window = ROUND_WINDOW;

    fn counted(trial: &'static str, pulse_time_ms: f64, shares: [f64; 3]) -> Counted<'static> {
        let drops_per_pulse = shares[1] + 2.0 * shares[2];
        Counted { trial, pulse_current_a: 400.0, pulse_time_ms, pulses: 50.0, shares: Some(shares), drops_per_pulse }
    }

    fn line(pulse_time_ms: f64) -> Vec<Node> {
        record(&[5.0, 6.0], |n| (n.pulse_current_a, n.pulse_time_ms) = (400.0, pulse_time_ms)).line.nodes
    }

    fn law() -> FittedLaw {
        record(&[5.0], |_| ()).laws.detachment
    }

    fn clean() -> Vec<Counted<'static>> {
        vec![
            counted("A", 1.2, [0.96, 0.04, 0.0]),
            counted("B", 2.6, [0.0, 1.0, 0.0]),
            counted("C", 6.0, [0.0, 0.1, 0.9]),
            // Near the edge and on its wrong side, but the pulses do not agree: nothing to wonder at.
            counted("D", 1.7, [0.45, 0.55, 0.0]),
        ]
    }

    #[test]
    fn trials_on_their_sides_and_a_line_inside_ask_for_nothing() {
        let reading = map(&law(), &clean(), Some(&WINDOW), &line(2.6));
        assert_eq!(
            reading.seen,
            "4 counted trials: 1 mostly without a drop, 2 mostly with one, 1 mostly with more; every filled point lies on its side of \
             the dashed lines; the line's pulses lie between the dashed lines at every feed, at least 0.85 ms \
             from the left one (at 5.0 m/min) and 1.40 ms from the right one (at 5.0 m/min)"
        );
        assert_eq!(reading.action, "nothing");
    }

    #[test]
    fn a_line_outside_the_window_is_not_to_be_welded() {
        let reading = map(&law(), &clean(), Some(&WINDOW), &line(1.5));
        assert!(reading.action.starts_with("do not weld the line's pulses at 5.0 and 6.0 m/min"), "{reading:?}");
    }

    #[test]
    fn a_clear_trial_on_the_wrong_side_is_named_and_looked_at() {
        let mut trials = clean();
        trials.push(counted("odd", 2.6, [0.0, 0.1, 0.9]));
        let reading = map(&law(), &trials, Some(&WINDOW), &[]);
        assert!(reading.seen.contains("1 filled point lies on the wrong side of a dashed line: odd"), "{reading:?}");
        assert!(reading.action.starts_with("look at the records"), "{reading:?}");
        assert!(!reading.seen.contains("the line"), "there is no line");
    }

    #[test]
    fn an_open_threshold_asks_for_the_trial_that_closes_it() {
        let mut law = law();
        let more = law.coefficients.get_mut("more_drops_from_ms").unwrap();
        (more.value, more.reason) = (None, Some("no pulse detached more than one drop; weld 5 ms at 400 A".to_owned()));
        let reading = map(&law, &clean()[..2], None, &line(2.6));
        assert!(
            reading
                .action
                .starts_with("no pulse detached more than one drop; weld 5 ms at 400 A; weld some trials with"),
            "{reading:?}"
        );
        assert!(reading.seen.contains("cannot be drawn"), "{reading:?}");
    }
}

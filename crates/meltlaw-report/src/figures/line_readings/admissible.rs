//! How much room each setting has inside its outline.

use meltlaw::laws::Reading;
use meltlaw::line::Span;

use crate::numbers::{feed, fixed};

/// How far a place lies from the outline around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Room {
    pub(crate) left: f64,
    pub(crate) right: f64,
    pub(crate) below: f64,
    pub(crate) above: f64,
}

/// The room of a place inside one of `stretches`; `None` where it lies in none of them.
///
/// Outlines are straight between the values of the first setting at which they were computed, so a setting that
/// leans on its edge may lie a little outside as drawn: a tenth of the stretch's height and the distance of two such
/// values pass as inside, with no room on that side.
pub(crate) fn room(stretches: &[Vec<&Span>], (x, y): (f64, f64)) -> Option<Room> {
    let rooms = stretches.iter().filter_map(|stretch| Some((miss(stretch, (x, y))?, stretch)));
    let (_, stretch) = rooms.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let (low, high) = ends(stretch, x);
    // Just inside, so that a place on the upper or lower edge does not end its own way across.
    let inset = 1e-6 * (high - low);
    let level = y.clamp(low + inset, (high - inset).max(low + inset));
    let across = |forward: bool| (way(stretch, (x, level), forward) - x).abs();
    let (first, last) = (stretch.first()?.at, stretch.last()?.at);
    Some(Room {
        left: if x > first { across(false) } else { 0.0 },
        right: if x < last { across(true) } else { 0.0 },
        below: (y - low).max(0.0),
        above: (high - y).max(0.0),
    })
}

/// How far outside a stretch a place lies, in heights of the stretch; `None` where that is too far.
fn miss(stretch: &[&Span], (x, y): (f64, f64)) -> Option<f64> {
    let (first, last) = (stretch.first()?.at, stretch.last()?.at);
    let step = if stretch.len() > 1 { (last - first) / (stretch.len() - 1) as f64 } else { 0.0 };
    let height = stretch.iter().map(|s| s.high - s.low).fold(0.0, f64::max);
    let (low, high) = ends(stretch, x);
    let beside = (first - x).max(x - last).max(0.0);
    let over = (low - y).max(y - high).max(0.0);
    let tolerance = 1e-9 * y.abs().max(1.0);
    (beside <= step + 1e-9 * x.abs().max(1.0) && over <= 0.1 * height + tolerance).then(|| over / (height + tolerance))
}

/// Lower and upper edge at a value of the first setting, straight between neighbours.
fn ends(stretch: &[&Span], x: f64) -> (f64, f64) {
    let next = stretch.iter().position(|s| s.at >= x).unwrap_or(stretch.len() - 1);
    let (a, b) = (stretch[next.saturating_sub(1)], stretch[next]);
    let share = if b.at > a.at { ((x - a.at) / (b.at - a.at)).clamp(0.0, 1.0) } else { 1.0 };
    (a.low + share * (b.low - a.low), a.high + share * (b.high - a.high))
}

/// Where a way across at one level leaves the stretch.
fn way(stretch: &[&Span], (x, level): (f64, f64), forward: bool) -> f64 {
    let beyond = |s: &&&Span| if forward { s.at > x } else { s.at < x };
    let mut places: Vec<f64> = stretch.iter().filter(beyond).map(|s| s.at).collect();
    if !forward {
        places.reverse();
    }
    let mut before = x;
    for place in places {
        let (low, high) = ends(stretch, place);
        if !(low..=high).contains(&level) {
            // The edge that was crossed is straight between the two places.
            let (old_low, old_high) = ends(stretch, before);
            let (old, new) = if level < low { (old_low, low) } else { (old_high, high) };
            let share = if new == old { 0.0 } else { ((level - old) / (new - old)).clamp(0.0, 1.0) };
            return before + share * (place - before);
        }
        before = place;
    }
    before
}

/// A setting across or upright: unit, places, and the words for less and more of it.
pub(crate) struct Direction {
    pub(crate) unit: &'static str,
    pub(crate) places: i32,
    pub(crate) less: &'static str,
    pub(crate) more: &'static str,
}

/// Reading of one projection: at each feed the setting, where there is one, and its room.
pub(crate) fn rooms(
    shown: &[(f64, Option<(f64, f64)>, Option<Room>)],
    across: &Direction,
    upright: &Direction,
) -> Reading {
    let mut outside: Vec<String> = Vec::new();
    let told = shown.iter().map(|&(at, place, room)| {
        let at = feed(at);
        let Some((x, y)) = place else { return format!("at {at} m/min the line has no setting") };
        let value = |v: f64, of: &Direction| format!("{} {}", fixed(v, of.places), of.unit);
        let from = format!("at {at} m/min, from {} and {}", value(x, across), value(y, upright));
        let Some(room) = room else {
            outside.push(format!("{at} m/min"));
            return format!("{from}: outside its outline");
        };
        let moved = |by: f64, of: &Direction, word: &str| format!("{} {word}", value(by, of));
        let ways = [
            moved(room.left, across, across.less),
            moved(room.right, across, across.more),
            moved(room.below, upright, upright.less),
            moved(room.above, upright, upright.more),
        ];
        format!("{from}: {}", ways.join(", "))
    });
    let seen = told.collect::<Vec<_>>().join("; ");
    let action = if outside.is_empty() {
        "nothing; to weld another point of an outline, pin it in the study ([[line.pin]]) and compose again, since the other settings move with it".to_owned()
    } else {
        format!(
            "compose again: at {} the setting does not lie inside what was computed",
            crate::words::listed(&outside)
        )
    };
    Reading::new(
        "each large marker well inside the outline of its feed; no room on a side means that the limit written there holds the line",
        seen,
        action,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(at: f64, low: f64, high: f64) -> Span {
        Span { at, low, high, low_limits: Vec::new(), high_limits: Vec::new() }
    }

    #[test]
    fn the_room_is_measured_to_the_outline_as_drawn() {
        // A roof: from (0, 0..0) over (10, 0..4) to (20, 0..0).
        let spans = [span(0.0, 0.0, 0.0), span(10.0, 0.0, 4.0), span(20.0, 0.0, 0.0)];
        let roof = vec![spans.iter().collect::<Vec<_>>()];
        let room = room(&roof, (8.0, 2.0)).unwrap();
        // At height 2 the roof reaches from 5 to 15; at 8 it is 3.2 high.
        for (found, expected) in [room.left, room.right, room.below, room.above].into_iter().zip([3.0, 7.0, 2.0, 1.2]) {
            assert!((found - expected).abs() < 1e-9, "{found}, not {expected}");
        }
    }

    #[test]
    fn a_setting_on_its_edge_has_no_room_there_but_keeps_the_rest() {
        let spans = [span(0.0, 1.0, 4.0), span(10.0, 1.0, 4.0)];
        let flat = vec![spans.iter().collect::<Vec<_>>()];
        let room = room(&flat, (4.0, 4.0)).unwrap();
        assert!(room.above.abs() < 1e-9 && (room.right - 6.0).abs() < 1e-9 && (room.left - 4.0).abs() < 1e-9);
    }

    #[test]
    fn a_setting_far_outside_is_told_and_asks_to_compose_again() {
        let spans = [span(0.0, 1.0, 2.0), span(10.0, 1.0, 2.0)];
        let flat = vec![spans.iter().collect::<Vec<_>>()];
        assert_eq!(room(&flat, (4.0, 9.0)), None);
        assert_eq!(room(&[], (4.0, 9.0)), None);
        let ampere = Direction { unit: "A", places: 0, less: "less", more: "more" };
        let time = Direction { unit: "ms", places: 2, less: "shorter", more: "longer" };
        let reading = rooms(&[(5.0, Some((400.0, 2.5)), None)], &ampere, &time);
        assert!(reading.action.starts_with("compose again: at 5.0 m/min"), "{reading:?}");
        let inside = Room { left: 30.0, right: 41.6, below: 0.304, above: 0.0 };
        let reading = rooms(&[(5.0, Some((400.0, 2.5)), Some(inside))], &ampere, &time);
        assert_eq!(
            reading.seen,
            "at 5.0 m/min, from 400 A and 2.50 ms: 30 A less, 42 A more, 0.30 ms shorter, 0.00 ms longer"
        );
        assert!(reading.action.starts_with("nothing"));
    }

    #[test]
    fn a_single_value_is_a_stretch_without_width() {
        let spans = [span(5.0, 1.0, 2.0)];
        let point = vec![spans.iter().collect::<Vec<_>>()];
        let room = room(&point, (5.0, 1.5)).unwrap();
        assert_eq!((room.left, room.right), (0.0, 0.0));
        assert!((room.below - 0.5).abs() < 1e-12);
    }
}

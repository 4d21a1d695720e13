//! The drop: how far it lies from the one asked for and from its limits.

use meltlaw::laws::Reading;
use meltlaw::record::LineRecord;

use super::{Range, at, binding, feeds, lifted};
use crate::figures::feed_view::FeedView;
use crate::numbers::{fixed, percent};
use crate::words;

/// A drop so far off in diameter is off by a seventh in volume, which shows on film. (Our choice.)
const OFF: f64 = 0.05;

/// Drop diameter.
pub(crate) fn diameter(view: &FeedView<'_>, record: &LineRecord) -> Reading {
    let wire = record.wire.diameter_mm;
    let Some(range) = Range::of(view.nodes, |n| n.drop_diameter_mm) else { return Reading::new("", "", "nothing") };
    let times = Range { low: range.low / wire, high: range.high / wire, ..range };
    let ratio = times.between(2, "times").replace("between ", "").replace(" and ", " to ");
    let mut seen = vec![format!("{}, {ratio} the wire", range.between(2, "mm"))];
    let Some(request) = &record.request else {
        return Reading::new(
            "drops of one size, about as thick as the wire or a little thicker",
            seen.remove(0),
            "nothing",
        );
    };
    let target = request.drop_to_wire_ratio * wire;
    let [lowest, highest] = request.drop_to_wire_limits.map(|ratio| ratio * wire);
    seen.push(format!(
        "{} mm above the smallest allowed ({} mm) and {} mm below the largest ({} mm)",
        fixed((range.low - lowest).max(0.0), 2),
        fixed(lowest, 2),
        fixed((highest - range.high).max(0.0), 2),
        fixed(highest, 2)
    ));
    let off = |n: &meltlaw::line::Node| (n.drop_diameter_mm / target - 1.0).abs();
    let worst = Range::of(view.nodes, off).map_or(range.low_at, |r| r.high_at);
    let worst = view.nodes.iter().find(|n| n.wire_feed_m_min == worst);
    let mut action = "nothing".to_owned();
    if let Some(node) = worst.filter(|n| off(n) > OFF) {
        let side = if node.drop_diameter_mm < target { "smaller" } else { "larger" };
        let where_off = feeds(view, |n| off(n) > OFF).unwrap_or_default();
        let limits: Vec<&str> =
            node.limits.iter().filter(|l| !l.starts_with("data_")).map(|l| words::limit(l).0).collect();
        let why = if limits.is_empty() { String::new() } else { format!(", where {}", limits.join(" and ")) };
        seen.push(format!(
            "gives way {where_off} (more than {} off the {} mm asked for), most {}: {} {side}{why}",
            percent(OFF),
            fixed(target, 2),
            at(node.wire_feed_m_min),
            percent(off(node))
        ));
        action = format!(
            "nothing, if drops {side} than asked for suit the weld there; else move the limit that holds them or ask for another drop"
        );
    } else {
        seen.push(format!("nowhere more than {} off the {} mm asked for", percent(OFF), fixed(target, 2)));
    }
    let reached = binding(view, &["drop_small", "drop_large"]);
    if let Some(cure) = lifted(view, &["drop_small", "drop_large"]) {
        action = format!("decide whether larger or smaller drops would do: {cure}");
    }
    seen.extend(reached);
    let expected = format!("close to {} mm, the drop asked for, at all feeds, and inside the limits", fixed(target, 2));
    Reading::new(expected, seen.join("; "), action)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{record, request};
    use super::*;

    fn reading(drop_mm: impl Fn(f64) -> f64, limits: &[&str]) -> Reading {
        let mut record = record(&[4.0, 5.0, 6.0], |n| {
            n.drop_diameter_mm = drop_mm(n.wire_feed_m_min);
            if n.wire_feed_m_min > 5.5 {
                n.limits = limits.iter().map(|l| (*l).to_owned()).collect();
            }
        });
        record.wire.diameter_mm = 1.2;
        record.request = Some(request());
        diameter(&FeedView::of(&record).unwrap(), &record)
    }

    #[test]
    fn drops_as_asked_for_ask_for_nothing() {
        let reading = reading(|_| 1.32, &[]);
        // 1.32/1.2 = 1.10; 1.32 − 0.96 = 0.36; 1.68 − 1.32 = 0.36.
        assert_eq!(
            reading.seen,
            "1.32 mm, 1.10 times the wire; 0.36 mm above the smallest allowed (0.96 mm) and 0.36 mm below the largest (1.68 mm); \
             nowhere more than 5\u{a0}% off the 1.32 mm asked for"
        );
        assert_eq!(reading.action, "nothing");
    }

    #[test]
    fn where_the_drop_gives_way_the_limit_that_holds_it_is_named() {
        let reading = reading(|feed| if feed > 5.5 { 1.18 } else { 1.32 }, &["background_high"]);
        assert!(reading.seen.contains("gives way at 6.0 m/min"), "{reading:?}");
        assert!(reading.seen.contains("11\u{a0}% smaller, where the background current reaches"), "{reading:?}");
        assert!(reading.action.starts_with("nothing, if drops smaller"), "{reading:?}");
    }

    #[test]
    fn a_drop_at_its_limit_asks_for_a_decision() {
        let reading = reading(|feed| if feed > 5.5 { 0.96 } else { 1.32 }, &["drop_small"]);
        assert!(reading.seen.contains("0.00 mm above the smallest allowed"), "{reading:?}");
        assert!(reading.action.starts_with("decide whether"), "{reading:?}");
    }

    #[test]
    fn without_a_request_nothing_is_measured_against_it() {
        let mut record = record(&[4.0], |_| ());
        record.request = None;
        let reading = diameter(&FeedView::of(&record).unwrap(), &record);
        assert!(!reading.seen.contains("asked for") && !reading.seen.contains("allowed"), "{reading:?}");
    }
}

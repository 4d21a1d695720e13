//! Voltage, one drop per pulse and melting rate: how sure each is, against what the study asks.

use meltlaw::laws::Reading;
use meltlaw::line::Node;
use meltlaw::record::LineRecord;

use super::{Range, at, binding, feeds, slopes};
use crate::figures::feed_view::FeedView;
use crate::numbers::{self, feed, fixed, significant};
use crate::words;

/// Mean voltage and its two bands.
pub(crate) fn voltage(view: &FeedView<'_>, confidence: &str) -> Reading {
    let half = |[low, high]: [f64; 2]| (high - low) / 2.0;
    let mut seen = Vec::new();
    if let Some(mean) = Range::of(view.nodes, |n| half(n.voltage_mean_v_interval)) {
        seen.push(format!("the mean is known to {}", plus_minus(&mean, confidence)));
    }
    if let Some(next) = Range::of(view.nodes, |n| half(n.next_weld.voltage_mean_v)) {
        seen.push(format!("one new weld should read within {}", plus_minus(&next, confidence)));
    }
    let slopes = slopes(view, |n| n.voltage_mean_v);
    let falling = slopes.iter().flatten().find(|s| s.slope < 0.0);
    let mut action =
        "nothing now; if a new weld reads outside the outer band, look at its arc length and at the voltmeter first"
            .to_owned();
    if let Some(fall) = falling {
        let stretch = format!("from {} to {} m/min", feed(fall.from_m_min), feed(fall.to_m_min));
        seen.push(format!("the mean falls with rising feed {stretch}"));
        action = format!(
            "weld at {} and {} m/min with one arc length and compare: the voltage should not fall as the feed rises",
            feed(fall.from_m_min),
            feed(fall.to_m_min)
        );
    } else if slopes.iter().any(|s| !s.is_empty()) {
        seen.push("the mean rises throughout".to_owned());
    }
    Reading::new(
        "rises evenly with the feed; a new weld with the same arc length reads inside the outer band",
        seen.join("; "),
        action,
    )
}

/// `± 0.12 V at 4.75 m/min to ± 0.19 V at 9.81 m/min`, once where both print alike.
fn plus_minus(half: &Range, confidence: &str) -> String {
    let [low, high] = [half.low, half.high].map(|v| significant(v, 2));
    if low == high {
        return format!("± {low} V ({confidence})");
    }
    let [best, worst] = [half.low_at, half.high_at].map(at);
    format!("± {low} V at best ({best}) and ± {high} V at worst ({worst}), {confidence} each")
}

/// Probability of one drop per pulse.
pub(crate) fn one_drop(view: &FeedView<'_>, record: &LineRecord, confidence: &str) -> Reading {
    let percent = |share: f64| format!("{} %", fixed(100.0 * share, 1));
    let floor = record.request.as_ref().map(|r| r.one_drop_floor);
    let bound = |n: &Node| n.one_drop_probability.interval[0];
    let Some(lowest) = Range::of(view.nodes, bound) else { return Reading::new("", "", "nothing") };
    let mut seen = Vec::new();
    let even = lowest.low == lowest.high;
    let place = if even { String::new() } else { format!(" lowest {}:", at(lowest.low_at)) };
    let edge = format!("lower edge of the {confidence} band{place} {}", percent(lowest.low));
    let cure = words::limit("one_drop_low").1;
    let mut action = "nothing".to_owned();
    let expected = if let Some(floor) = floor {
        let room = 100.0 * (lowest.low - floor);
        let stated = numbers::confidence(floor);
        let side = if room < 0.0 { "below" } else { "above" };
        seen.push(format!("{edge}, {} percentage points {side} the floor of {stated}", fixed(room.abs(), 1)));
        // The ends come from so many draws; twice their standard error is what another seed may bring.
        let node = view.nodes.iter().find(|n| n.wire_feed_m_min == lowest.low_at);
        let scatter = node.and_then(|n| n.one_drop_probability.interval_error).map(|e| 200.0 * e);
        if let Some(below) = feeds(view, |n| bound(n) < floor) {
            seen.push(format!("below the floor {below}"));
            action = format!("do not use the line {below}; weld {cure}");
        } else if let Some(scatter) = scatter.filter(|s| *s > room) {
            let scatter = significant(scatter, 2);
            seen.push(format!("another seed may move that edge by {scatter} points, more than there is room"));
            action = "raise [numerics] draws and compose again before the floor is taken as kept".to_owned();
        }
        format!("the lower edge of the band above the floor of {stated} at every feed, with room")
    } else {
        seen.push(format!("{edge}; the study states no floor"));
        "the lower edge of the band high and even along the line".to_owned()
    };
    if !even {
        seen.push(format!("highest {}: {}", at(lowest.high_at), percent(lowest.high)));
    }
    let gaps: Vec<String> = record
        .line
        .unsupported
        .iter()
        .filter(|u| u.limits.iter().any(|l| l == "one_drop_low"))
        .map(|u| format!("from {} to {} m/min", feed(u.wire_feed_m_min[0]), feed(u.wire_feed_m_min[1])))
        .collect();
    if !gaps.is_empty() {
        let gaps = words::listed(&gaps);
        seen.push(format!("no setting is sure enough {gaps}"));
        if action == "nothing" {
            action = format!("weld {cure}, if the feeds {gaps} are needed");
        }
    }
    seen.extend(binding(view, &["one_drop_low"]));
    Reading::new(expected, seen.join("; "), action)
}

/// Error of the melting rate.
pub(crate) fn melting(view: &FeedView<'_>, record: &LineRecord) -> Reading {
    let limit = record.request.as_ref().map(|r| r.extended_melting_rate_relative_se);
    let error = |n: &Node| n.melting_rate_relative_se;
    let Some(any) = Range::of(view.nodes, |n| 100.0 * error(n)) else { return Reading::new("", "", "nothing") };
    let smallest_largest = |r: &Range| {
        let [low, high] = [r.low, r.high].map(|v| significant(v, 2));
        if low == high {
            return format!("{low} %");
        }
        format!("smallest {} with {low} %, largest {} with {high} %", at(r.low_at), at(r.high_at))
    };
    let mut seen = vec![format!("on any instruments {}", smallest_largest(&any))];
    if let Some(same) = Range::of(view.nodes, |n| 100.0 * n.melting_rate_relative_se_same_bench) {
        seen.push(format!("on those of the trials {}", smallest_largest(&same)));
    }
    let cure = words::limit("melting_rate_uncertain").1;
    let mut action = "nothing".to_owned();
    if let Some(limit) = limit {
        let over = feeds(view, |n| error(n) > limit);
        seen.push(match &over {
            Some(feeds) => format!("above the study's limit of {} % {feeds}", significant(100.0 * limit, 2)),
            None => format!("the study allows {} %", significant(100.0 * limit, 2)),
        });
        if let Some(feeds) = over {
            action = format!("weld more burn-off trials {feeds}");
        }
    }
    let gap = record.line.unsupported.iter().find(|u| u.limits.iter().any(|l| l == "melting_rate_uncertain"));
    if let Some(gap) = gap {
        let [from, to] = gap.wire_feed_m_min.map(feed);
        seen.push(format!("not known well enough from {from} to {to} m/min"));
        if action == "nothing" {
            action = format!("weld {cure}, if the feeds from {from} to {to} m/min are needed");
        }
    }
    let expected = match limit {
        Some(limit) => format!(
            "below the study's limit of {} % at every feed, smallest where trials are many",
            significant(100.0 * limit, 2)
        ),
        None => "small and even along the line, smallest where trials are many".to_owned(),
    };
    Reading::new(expected, seen.join("; "), action)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{record, request};
    use super::*;
    use meltlaw::line::Unsupported;

    fn with_bounds(bounds: [f64; 3], error: Option<f64>) -> LineRecord {
        let mut record = record(&[4.0, 5.0, 6.0], |n| {
            n.one_drop_probability.interval = [bounds[n.wire_feed_m_min as usize - 4], 0.95];
            n.one_drop_probability.interval_error = error;
        });
        record.request = Some(request());
        record
    }

    fn read(record: &LineRecord) -> Reading {
        one_drop(&FeedView::of(record).unwrap(), record, "95 %")
    }

    #[test]
    fn a_bound_below_the_floor_is_not_to_be_used_and_asks_for_trials() {
        let reading = read(&with_bounds([0.85, 0.90, 0.78], None));
        assert!(
            reading.seen.starts_with(
                "lower edge of the 95 % band lowest at 6.0 m/min: 78.0 %, 2.0 percentage points below the floor of 80"
            ),
            "{reading:?}"
        );
        assert!(reading.seen.contains("highest at 5.0 m/min: 90.0 %"), "{reading:?}");
        assert!(reading.action.starts_with("do not use the line at 6.0 m/min; weld"), "{reading:?}");
    }

    #[test]
    fn room_that_another_seed_may_take_asks_for_draws_and_more_room_for_nothing() {
        // 0.2 points of room against 2·0.15 points.
        assert!(read(&with_bounds([0.85, 0.90, 0.802], Some(0.0015))).action.starts_with("raise [numerics] draws"));
        assert_eq!(read(&with_bounds([0.85, 0.90, 0.81], Some(0.0015))).action, "nothing");
        let mut unasked = with_bounds([0.2, 0.2, 0.2], None);
        unasked.request = None;
        assert_eq!(read(&unasked).action, "nothing", "no floor is stated");
    }

    #[test]
    fn feeds_lost_to_the_floor_ask_for_trials_though_every_node_keeps_it() {
        let mut record = with_bounds([0.85, 0.90, 0.85], None);
        record.line.unsupported = vec![Unsupported {
            wire_feed_m_min: [6.5, 7.5],
            limits: vec!["one_drop_low".to_owned()],
            reason: String::new(),
        }];
        let reading = read(&record);
        assert!(
            reading.action.contains("both thresholds, if the feeds from 6.5 to 7.5 m/min are needed"),
            "{reading:?}"
        );
    }

    #[test]
    fn an_error_over_the_limit_asks_for_trials_there() {
        let mut record = record(&[4.0, 5.0], |n| {
            n.melting_rate_relative_se = if n.wire_feed_m_min > 4.5 { 0.024 } else { 0.008 };
            n.melting_rate_relative_se_same_bench = 0.003;
        });
        record.request = Some(request());
        let reading = melting(&FeedView::of(&record).unwrap(), &record);
        assert!(
            reading
                .seen
                .starts_with("on any instruments smallest at 4.0 m/min with 0.80 %, largest at 5.0 m/min with 2.4 %")
        );
        assert_eq!(reading.action, "weld more burn-off trials at 5.0 m/min");
        record.request = None;
        assert_eq!(melting(&FeedView::of(&record).unwrap(), &record).action, "nothing");
    }

    #[test]
    fn both_half_widths_of_the_voltage_are_told_and_a_fall_is_asked_about() {
        let mut record = record(&[4.0, 5.0], |n| {
            n.voltage_mean_v = 20.0 + n.wire_feed_m_min;
            n.voltage_mean_v_interval = [23.9, 24.1];
            n.next_weld.voltage_mean_v = if n.wire_feed_m_min > 4.5 { [23.0, 25.0] } else { [23.6, 24.4] };
        });
        let reading = voltage(&FeedView::of(&record).unwrap(), "95 %");
        assert!(reading.seen.starts_with(
            "the mean is known to ± 0.10 V (95 %); one new weld should read within ± 0.40 V at best (at 4.0 m/min) and ± 1.0 V at worst"
        ), "{reading:?}");
        assert!(reading.action.starts_with("nothing"));
        record.line.nodes[1].voltage_mean_v = 23.0;
        assert!(voltage(&FeedView::of(&record).unwrap(), "95 %").action.starts_with("weld at 4.0 and 5.0 m/min"));
    }
}

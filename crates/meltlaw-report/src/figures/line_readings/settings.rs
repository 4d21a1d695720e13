//! Pulse frequency and pulse time: do they run evenly, and which limit holds them?

use meltlaw::laws::Reading;
use meltlaw::record::LineRecord;

use super::{Range, Slope, at, binding, lifted, slopes, steepest};
use crate::figures::feed_view::FeedView;
use crate::numbers::{feed, fixed};
use crate::words;

const OF_FREQUENCY: [&str; 5] = ["frequency_low", "frequency_high", "pulse_duty_low", "pulse_duty_high", "slopes"];
const OF_PULSE_TIME: [&str; 5] = ["pulse_time_low", "pulse_time_high", "pulse_duty_low", "pulse_duty_high", "slopes"];

/// Pulse frequency.
pub(crate) fn frequency(view: &FeedView<'_>, record: &LineRecord) -> Reading {
    let slopes = slopes(view, |n| n.pulse_frequency_hz);
    let mut seen = Vec::new();
    if let Some(range) = Range::of(view.nodes, |n| n.pulse_frequency_hz) {
        seen.push(format!("{}{}", range.between(0, "Hz"), of_source(record.source.pulse_frequency_hz, 0, "Hz")));
    }
    let falling: Vec<&Slope> = slopes.iter().flatten().filter(|s| s.slope < 0.0).collect();
    if let Some(first) = falling.first() {
        let stretches =
            if falling.len() == 1 { "one stretch".to_owned() } else { format!("{} stretches", falling.len()) };
        let (from, to) = (feed(first.from_m_min), feed(first.to_m_min));
        seen.push(format!("falls with rising feed over {stretches} between nodes, first from {from} to {to} m/min"));
    } else if slopes.iter().any(|s| !s.is_empty()) {
        seen.push("rises throughout".to_owned());
    }
    seen.extend(bend(view, &slopes));
    seen.extend(binding(view, &OF_FREQUENCY));
    let action = match falling.first() {
        Some(first) => format!(
            "weld {} and {} m/min before the line is released: the frequency turns back between them",
            feed(first.from_m_min),
            feed(first.to_m_min)
        ),
        None => only_for_more(view, &OF_FREQUENCY),
    };
    Reading::new(
        "rises with the wire feed, since each pulse carries one drop; bends only where a limit takes hold",
        seen.join("; "),
        action,
    )
}

/// Where the slope changes most from one step to the next, and what binds there.
fn bend(view: &FeedView<'_>, slopes: &[Vec<Slope>]) -> Option<String> {
    let pairs = slopes.iter().flat_map(|run| run.windows(2));
    let [before, after] =
        pairs.max_by(|a, b| (a[1].slope - a[0].slope).abs().total_cmp(&(b[1].slope - b[0].slope).abs()))?
    else {
        return None;
    };
    let [old, new] = [before.slope, after.slope].map(|s| fixed(s, if s.abs() < 10.0 { 1 } else { 0 }));
    if old == new {
        return None;
    }
    // A limit may take hold at the node of the bend or anywhere in the steps beside it.
    let beside = view.nodes.iter().filter(|n| (before.from_m_min..=after.to_m_min).contains(&n.wire_feed_m_min));
    let mut limits: Vec<&str> = beside
        .flat_map(|n| &n.limits)
        .map(|l| if l.starts_with("data_") { "the trials end" } else { words::limit(l).0 })
        .collect();
    limits.sort_unstable();
    limits.dedup();
    let there = if limits.is_empty() { "no limit binds".to_owned() } else { limits.join(" and ") };
    Some(format!(
        "bends most {}, from {old} to {new} Hz per m/min; {there} thereabouts",
        at(f64::midpoint(before.to_m_min, after.from_m_min))
    ))
}

/// Pulse time.
pub(crate) fn pulse_time(view: &FeedView<'_>, record: &LineRecord) -> Reading {
    let mut seen = Vec::new();
    if let Some(range) = Range::of(view.nodes, |n| n.pulse_time_ms) {
        let ends = if range.is_constant() {
            String::new()
        } else {
            format!(", shortest {} and longest {}", at(range.low_at), at(range.high_at))
        };
        seen.push(format!("{}{ends}{}", range.between(2, "ms"), of_source(record.source.pulse_time_ms, 2, "ms")));
    }
    seen.extend(steepest(view, "ms", |n| n.pulse_time_ms));
    let (times, currents) = (slopes(view, |n| n.pulse_time_ms), slopes(view, |n| n.pulse_current_a));
    let steps = || times.iter().flatten().zip(currents.iter().flatten());
    // Rounding of the composed numbers must not pass for a common course.
    let together = steps().filter(|(t, i)| t.slope * i.slope > 0.0 && t.slope.abs() > 1e-3 && i.slope.abs() > 1e-3);
    let mut action = only_for_more(view, &OF_PULSE_TIME);
    match together.map(|(t, _)| t).collect::<Vec<_>>().as_slice() {
        [] if steps().next().is_some() => seen.push("never rises or falls together with the pulse current".to_owned()),
        [] => {}
        [first, ..] => {
            let stretch = format!("from {} to {} m/min", feed(first.from_m_min), feed(first.to_m_min));
            seen.push(format!(
                "moves the same way as the pulse current {stretch}, so the pulse leaves its place in the window there"
            ));
            action =
                format!("look {stretch} at the share of pulses with one drop: it must stay above what is asked for");
        }
    }
    seen.extend(binding(view, &OF_PULSE_TIME));
    Reading::new(
        "long enough to detach a drop and too short for a second: falls where the pulse current rises, without steps",
        seen.join("; "),
        action,
    )
}

/// `, of the source's 45 to 230 Hz`; nothing where the study states no limit.
fn of_source(limits: Option<[f64; 2]>, places: i32, unit: &str) -> String {
    limits.map_or(String::new(), |[low, high]| {
        format!(", of the source's {} to {} {unit}", fixed(low, places), fixed(high, places))
    })
}

/// Nothing, or what a limit that binds would need if more feeds were wanted.
fn only_for_more(view: &FeedView<'_>, limits: &[&str]) -> String {
    match lifted(view, limits) {
        Some(cures) => format!("nothing, unless more range is wanted where the limit binds: {cures}"),
        None => "nothing".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::record;
    use super::*;

    #[test]
    fn a_frequency_that_turns_back_asks_to_weld_both_sides_and_its_bend_names_the_limit() {
        let hertz = |feed: f64| if feed < 6.0 { 20.0 * feed } else { 120.0 + 50.0 * (feed - 6.0) };
        let mut record = record(&[4.0, 5.0, 6.0, 7.0], |n| {
            n.pulse_frequency_hz = hertz(n.wire_feed_m_min);
            if n.wire_feed_m_min >= 6.0 {
                n.limits = vec!["background_high".to_owned()];
            }
        });
        record.source.pulse_frequency_hz = Some([45.0, 230.0]);
        let reading = frequency(&FeedView::of(&record).unwrap(), &record);
        assert_eq!(
            reading.seen,
            "between 80 and 170 Hz, of the source's 45 to 230 Hz; rises throughout; bends most at 6.0 m/min, from 20 to 50 Hz per m/min; \
             the background current reaches the source's highest thereabouts"
        );
        assert_eq!(reading.action, "nothing");
        record.line.nodes[3].pulse_frequency_hz = 110.0;
        let reading = frequency(&FeedView::of(&record).unwrap(), &record);
        assert!(reading.action.starts_with("weld 6.0 and 7.0 m/min before the line is released"), "{reading:?}");
    }

    #[test]
    fn a_pulse_time_that_rises_with_the_current_leaves_the_window_and_is_asked_about() {
        let record = record(&[4.0, 5.0], |n| {
            n.pulse_current_a = 380.0 + n.wire_feed_m_min;
            n.pulse_time_ms = 2.0 + 0.1 * n.wire_feed_m_min;
        });
        let reading = pulse_time(&FeedView::of(&record).unwrap(), &record);
        assert!(reading.action.starts_with("look from 4.0 to 5.0 m/min"), "{reading:?}");
    }

    #[test]
    fn one_node_alone_has_values_and_no_slopes() {
        let record = record(&[5.0], |_| ());
        let view = FeedView::of(&record).unwrap();
        let currents = super::super::currents::currents(&view, &record, "95 %");
        for reading in [currents, frequency(&view, &record), pulse_time(&view, &record)] {
            assert!(!reading.seen.contains("per m/min") && !reading.seen.contains("throughout"), "{reading:?}");
            assert!(reading.seen.bytes().any(|b| b.is_ascii_digit()), "{reading:?}");
        }
    }
}

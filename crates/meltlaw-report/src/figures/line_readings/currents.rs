//! Pulse and background current: are they on their sides of the transition, and has the background room?

use meltlaw::laws::Reading;
use meltlaw::line::Node;
use meltlaw::record::LineRecord;

use super::{Range, at, binding, feeds, steepest};
use crate::figures::feed_view::FeedView;
use crate::numbers::{fixed, significant};

/// Pulse and background current.
pub(crate) fn currents(view: &FeedView<'_>, record: &LineRecord, confidence: &str) -> Reading {
    let band = record.transition_current.as_ref().map(|t| t.band_a).filter(|b| b.iter().all(|v| v.is_finite()));
    let expected = format!(
        "pulse and background far apart and without steps, so that the arc does not jump as the feed is turned{}",
        if band.is_some() { "; the pulse above the transition band, the background below it" } else { "" }
    );
    let mut seen = Vec::new();
    let mut todo = Vec::new();
    if let Some(pulse) = Range::of(view.nodes, |n| n.pulse_current_a) {
        let course = steepest(view, "A", |n| n.pulse_current_a).map_or(String::new(), |s| format!(", {s}"));
        seen.push(format!("pulse current {}{course}", pulse.between(0, "A")));
    }
    if let Some(background) = Range::of(view.nodes, |n| n.background_current_a) {
        let held = |limit: &str, end: &str| {
            let feeds = feeds(view, |n| n.limits.iter().any(|l| l == limit))?;
            Some(format!(", at the source's {end} {feeds}"))
        };
        let ends: String =
            [held("background_low", "lowest"), held("background_high", "highest")].into_iter().flatten().collect();
        seen.push(format!("background {}{ends}", background.between(0, "A")));
    }
    seen.extend(binding(view, &["current_low", "current_high"]));
    let half = |n: &Node| {
        let [low, high] = n.balancing_background_current_a_interval;
        (high - low) / 2.0
    };
    if let Some(widest) = Range::of(view.nodes, half) {
        seen.push(format!(
            "to hold the arc length the background may have to move by up to {} A either way ({confidence}), most {}",
            significant(widest.high, 2),
            at(widest.high_at)
        ));
    }
    if let Some([low, high]) = band {
        let limits = format!("{} to {} A", fixed(low, 0), fixed(high, 0));
        // NaN counts as on the wrong side, as it does for the remarks on nodes.
        let pulse = feeds(view, |n| !(n.pulse_current_a > high));
        let background = feeds(view, |n| !(n.background_current_a < low));
        if pulse.is_none() && background.is_none() {
            seen.push(format!("both on their side of the transition band ({limits}) at every feed"));
        }
        if let Some(feeds) = pulse {
            seen.push(format!("the pulse does not exceed the transition band of {limits} {feeds}"));
            todo.push(format!(
                "look at the transfer on high-speed video {feeds}: large drops may fall there instead of one a pulse"
            ));
        }
        if let Some(feeds) = background {
            seen.push(format!("the background does not stay below the transition band of {limits} {feeds}"));
            todo.push(format!(
                "look at the transfer on high-speed video {feeds}: drops may leave between the pulses too"
            ));
        }
    }
    let action = if todo.is_empty() { trimming(view, record) } else { todo.join("; ") };
    Reading::new(expected, seen.join("; "), action)
}

/// Nothing now; where the source may not have the background that holds the arc length, what holds it instead.
fn trimming(view: &FeedView<'_>, record: &LineRecord) -> String {
    let Some([lowest, highest]) = record.source.background_current_a else { return "nothing".to_owned() };
    let [short, long] = [
        (|n: &Node, highest: f64| n.balancing_background_current_a_interval[1] > highest) as fn(&Node, f64) -> bool,
        |n, lowest| n.balancing_background_current_a_interval[0] < lowest,
    ];
    let ways = [
        (short, highest, "short", "frequency_high", "more pulse frequency", "less wire feed"),
        (long, lowest, "long", "frequency_low", "less pulse frequency", "more wire feed"),
    ];
    let told = ways.into_iter().filter_map(|(beyond, end, arc, limit, by_frequency, by_feed)| {
        let feeds = feeds(view, |n| beyond(n, end))?;
        // Where the frequency has no room either, the wire feed is what is left.
        let held = view.nodes.iter().any(|n| beyond(n, end) && n.limits.iter().any(|l| l == limit));
        let by = if held { by_feed } else { by_frequency };
        let end = fixed(end, 0);
        Some(format!(
            "if the arc gets too {arc} {feeds}, give it a little {by}: the source's background ends at {end} A"
        ))
    });
    let told: Vec<String> = told.collect();
    if told.is_empty() { "nothing".to_owned() } else { format!("nothing now; {}", told.join("; ")) }
}

#[cfg(test)]
mod tests {
    use super::super::tests::record;
    use super::*;
    use meltlaw::transition_current::TransitionCurrent;

    fn transition(band_a: [f64; 2]) -> TransitionCurrent {
        TransitionCurrent {
            table_a: band_a,
            band_a,
            row: "steel".to_owned(),
            source: "table".to_owned(),
            differs: None,
        }
    }

    #[test]
    fn a_pulse_inside_the_transition_band_asks_for_film_and_one_outside_for_nothing() {
        let mut record = record(&[4.0, 5.0, 6.0], |n| {
            n.pulse_current_a = 300.0 + 10.0 * n.wire_feed_m_min;
            n.background_current_a = 60.0;
            n.balancing_background_current_a_interval = [58.0, 62.0];
        });
        record.source.background_current_a = Some([25.0, 170.0]);
        record.transition_current = Some(transition([190.0, 345.0]));
        let reading = currents(&FeedView::of(&record).unwrap(), &record, "95 %");
        assert!(
            reading.seen.contains("does not exceed the transition band of 190 to 345 A at 4.0 m/min"),
            "{reading:?}"
        );
        assert!(reading.action.starts_with("look at the transfer on high-speed video at 4.0 m/min"), "{reading:?}");

        record.transition_current = Some(transition([190.0, 288.0]));
        let reading = currents(&FeedView::of(&record).unwrap(), &record, "95 %");
        assert!(
            reading
                .seen
                .contains("pulse current between 340 and 360 A, changes fastest near 4.5 m/min, by +10 A per m/min")
        );
        assert_eq!(reading.action, "nothing");
        assert!(!currents(&FeedView::of(&record).unwrap(), &record, "95 %").seen.contains("NaN"));
    }

    #[test]
    fn a_background_that_the_source_may_have_to_exceed_is_told_with_the_way_out() {
        let mut record = record(&[4.0, 5.0], |n| {
            n.background_current_a = 170.0;
            n.balancing_background_current_a_interval = [165.0, if n.wire_feed_m_min > 4.5 { 175.0 } else { 169.0 }];
        });
        record.source.background_current_a = Some([25.0, 170.0]);
        let reading = currents(&FeedView::of(&record).unwrap(), &record, "95 %");
        let way_out = "nothing now; if the arc gets too short at 5.0 m/min, give it a little more pulse frequency";
        assert!(reading.action.starts_with(way_out), "{reading:?}");
        record.line.nodes[1].limits = vec!["frequency_high".to_owned()];
        let reading = currents(&FeedView::of(&record).unwrap(), &record, "95 %");
        assert!(reading.action.contains("give it a little less wire feed"), "there is no more frequency: {reading:?}");
        record.source.background_current_a = None;
        assert_eq!(currents(&FeedView::of(&record).unwrap(), &record, "95 %").action, "nothing", "no limit is stated");
    }
}

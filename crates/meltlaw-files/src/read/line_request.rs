//! `[line]` of the study file: from which to which feed, how dense, within which limits, and the
//! points an expert pins.

use std::collections::BTreeSet;

use meltlaw::ranges::{
    DROP_RATIO, INSIDE_ONE, MULTIPLE, PULSE_CURRENT_A, PULSE_FREQUENCY_HZ, PULSE_TIME_MS, STEP_M_MIN,
    TRAVEL_SPEED_MM_S, WIRE_FEED_M_MIN,
};
use meltlaw::study::{ComposingRule, LineRequest, Pin, Weights};

use super::limits::{MOST_NODES, MOST_PINS};
use super::section::Section;

/// Settings are worked out at least this close to each other, however long the step.
const WIDEST_M_MIN: f64 = 0.25;

pub(crate) fn read_line(section: Section<'_>) -> Option<LineRequest> {
    let wire_feed_m_min = section.required_range("wire_feed_m_min", &WIRE_FEED_M_MIN);
    let step_m_min = section.number_or("step_m_min", &STEP_M_MIN, 0.5);
    let drop_to_wire_ratio = section.number_or("drop_to_wire_ratio", &DROP_RATIO, 1.1);
    let drop_to_wire_limits = section.range_or("drop_to_wire_limits", &DROP_RATIO, [0.8, 1.4]);
    let line = LineRequest {
        wire_feed_m_min: wire_feed_m_min.unwrap_or([f64::NAN; 2]),
        step_m_min,
        drop_to_wire_ratio,
        drop_to_wire_limits,
        interpolation_tolerance: section.number_or("interpolation_tolerance", &INSIDE_ONE, 0.002),
        one_drop_floor: section.number_or("one_drop_floor", &INSIDE_ONE, 0.8),
        extended_by: section.number_or("extended_by", &MULTIPLE, 0.15),
        extended_melting_rate_relative_se: section.number_or(
            "extended_melting_rate_relative_se",
            &INSIDE_ONE,
            LineRequest::USUAL_MELTING_RATE_RELATIVE_SE,
        ),
        travel_speed_mm_s: section.number("travel_speed_mm_s", &TRAVEL_SPEED_MM_S),
        pins: read_pins(&section, wire_feed_m_min),
        composing: read_rule(&section),
        weights: read_weights(&section),
    };
    check_density(&section, &line);
    check_drop_size(&section, &line);
    section.finish();
    wire_feed_m_min.map(|_| line)
}

fn read_rule(section: &Section<'_>) -> ComposingRule {
    const RULES: [ComposingRule; 2] = [ComposingRule::Optimised, ComposingRule::Midpoint];
    let word = section.word_or_first("composing", &RULES.map(ComposingRule::word));
    RULES.into_iter().find(|r| r.word() == word).unwrap_or_default()
}

fn read_weights(line: &Section<'_>) -> Weights {
    let usual = Weights::default();
    let section = line.section("weights");
    let weights = Weights {
        one_drop: section.number_or("one_drop", &MULTIPLE, usual.one_drop),
        drop_size: section.number_or("drop_size", &MULTIPLE, usual.drop_size),
        pulse_current: section.number_or("pulse_current", &MULTIPLE, usual.pulse_current),
        smoothness: section.number_or("smoothness", &MULTIPLE, usual.smoothness),
    };
    section.finish();
    weights
}

/// Nodes are settled together, so that their number decides the time, and all of them stand in one file.
fn check_density(section: &Section<'_>, line: &LineRequest) {
    let [low, high] = line.wire_feed_m_min;
    let on_grid = ((high - low) / line.step_m_min.min(WIDEST_M_MIN) + 1e-9).floor() + 1.0;
    let nodes = on_grid + line.pins.len() as f64;
    if nodes > MOST_NODES as f64 {
        let at = section.find("step_m_min").map_or(section.line(), |f| f.line);
        let found = format!(
            "a line of {nodes} nodes: {on_grid} at {} m/min from {low} to {high} m/min, {} pinned",
            line.step_m_min.min(WIDEST_M_MIN),
            line.pins.len()
        );
        let action = "take a longer step, a shorter line or fewer pins";
        section.fault("step_m_min", at, found, format!("at most {MOST_NODES} nodes, pins among them"), action);
    }
}

fn check_drop_size(section: &Section<'_>, line: &LineRequest) {
    let [low, high] = line.drop_to_wire_limits;
    if !(low..=high).contains(&line.drop_to_wire_ratio) {
        let stated = if section.states("drop_to_wire_ratio") { "drop_to_wire_ratio" } else { "drop_to_wire_limits" };
        let at = section.find(stated).map_or(section.line(), |f| f.line);
        let found = format!("the ratio {} with limits [{low}, {high}]", line.drop_to_wire_ratio);
        section.fault(stated, at, found, "a ratio inside its limits", "correct one of the two");
    }
}

fn read_pins(line: &Section<'_>, range: Option<[f64; 2]>) -> Vec<Pin> {
    let sections = line.sections("pin");
    if sections.len() > MOST_PINS {
        let at = sections[0].line();
        let needed = format!("at most {MOST_PINS}");
        line.fault("pin", at, format!("{} pins", sections.len()), needed, "pin only the feeds that must be kept");
        return Vec::new();
    }
    let mut feeds = BTreeSet::new();
    let mut pins: Vec<Pin> = sections.into_iter().map(|section| read_pin(section, range, &mut feeds)).collect();
    pins.sort_by(|a, b| a.wire_feed_m_min.total_cmp(&b.wire_feed_m_min));
    pins
}

/// One pin; `feeds` are those pinned before, by their bits.
fn read_pin(section: Section<'_>, range: Option<[f64; 2]>, feeds: &mut BTreeSet<u64>) -> Pin {
    let feed = section.required_number("wire_feed_m_min", &WIRE_FEED_M_MIN);
    let pin = Pin {
        wire_feed_m_min: feed.unwrap_or(f64::NAN),
        pulse_current_a: section.number("pulse_current_a", &PULSE_CURRENT_A),
        pulse_time_ms: section.number("pulse_time_ms", &PULSE_TIME_MS),
        pulse_frequency_hz: section.number("pulse_frequency_hz", &PULSE_FREQUENCY_HZ),
    };
    let at = section.line();
    if !["pulse_current_a", "pulse_time_ms", "pulse_frequency_hz"].into_iter().any(|key| section.states(key)) {
        let needed = "pulse_current_a, pulse_time_ms or pulse_frequency_hz";
        section.fault("wire_feed_m_min", at, "nothing pinned", needed, "state one or remove the pin");
    }
    if let (Some(feed), Some([low, high])) = (feed, range) {
        if !(low..=high).contains(&feed) {
            let needed = format!("a feed inside the line, {low} to {high} m/min");
            section.fault("wire_feed_m_min", at, feed.to_string(), needed, "move the pin or widen the line");
        }
        if !feeds.insert(feed.to_bits()) {
            let found = format!("{feed} a second time");
            section.fault("wire_feed_m_min", at, found, "one pin for each feed", "join the pins");
        }
    }
    section.finish();
    pin
}

//! The line over wire feed: what to set.

use meltlaw::laws::Reading;
use meltlaw::line::Node;
use meltlaw::record::LineRecord;

use super::Drawn;
use super::feed_view::FeedView;
use super::line_effects::{melting, one_drop, voltage};
use super::line_readings::{self, aloud, drop, settings};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number};
use crate::marks::{Align, Frame, Panel, Place, Shape, Stroke};
use crate::numbers;

/// The figures of the line, none where it has no node.
pub(crate) fn draw(record: &LineRecord) -> Vec<Drawn> {
    let Some(view) = FeedView::of(record) else { return Vec::new() };
    let confidence = numbers::confidence(record.confidence);
    vec![
        currents(&view, record, &confidence),
        frequency(&view, record),
        pulse_time(&view, record),
        drop_diameter(&view, record),
        voltage(&view, &confidence),
        one_drop(&view, record, &confidence),
        melting(&view, record),
    ]
}

pub(crate) fn table(view: &FeedView<'_>, header: &[&str], row: impl Fn(&Node) -> Vec<f64>) -> String {
    let rows = view.nodes.iter().map(|node| {
        let mut cells = vec![number(node.wire_feed_m_min)];
        cells.extend(row(node).into_iter().map(number));
        cells.extend([node.support.clone(), node.pinned.join(" ")]);
        cells
    });
    let header: Vec<&str> = ["wire_feed_m_min"].iter().chain(header).chain(&["support", "pinned"]).copied().collect();
    csv(&header, rows)
}

/// The values at both ends of the line, for the text alternative.
pub(crate) fn course(view: &FeedView<'_>, what: &str, unit: &str, places: i32, value: impl Fn(&Node) -> f64) -> String {
    match (view.nodes.first(), view.nodes.last()) {
        (Some(only), _) if view.nodes.len() == 1 => format!(
            "{what} is {} {unit} at {} m/min.",
            numbers::fixed(value(only), places),
            numbers::feed(only.wire_feed_m_min)
        ),
        (Some(first), Some(last)) => format!(
            "{what} goes from {} {unit} at {} m/min to {} {unit} at {} m/min.",
            numbers::fixed(value(first), places),
            numbers::feed(first.wire_feed_m_min),
            numbers::fixed(value(last), places),
            numbers::feed(last.wire_feed_m_min),
        ),
        _ => String::new(),
    }
}

fn currents(view: &FeedView<'_>, record: &LineRecord, confidence: &str) -> Drawn {
    let all = view.nodes.iter().flat_map(|n| {
        let [low, high] = n.balancing_background_current_a_interval;
        [n.pulse_current_a, n.current_mean_a, low, high]
    });
    let (mut figure, panel) = view.figure(Axis::around("current (A)", all, 0.06).starting_at_zero_if_near());
    let transition = record.transition_current.as_ref().map(|t| t.band_a);
    if let Some([low, high]) = transition {
        let (from, to) = view.ends();
        figure.band(&panel, &[(from, low), (to, low)], &[(from, high), (to, high)], Colour::Plum, 0.13);
        let middle = panel.place(from, f64::midpoint(low, high)).1;
        if middle > panel.frame.top + 8.0 && middle < panel.frame.bottom - 8.0 {
            figure.label((panel.frame.left + 6.0, middle), "transition", Align::Start, Colour::Plum);
        }
    }
    view.band(&mut figure, &panel, |n| n.balancing_background_current_a_interval, Colour::Sea, 0.3);
    view.series(
        &mut figure,
        &panel,
        |n| n.background_current_a,
        Shape::Square,
        Stroke::dashed(Colour::Sea, 2.0, 7.0, 3.0),
    );
    view.series(
        &mut figure,
        &panel,
        |n| n.current_mean_a,
        Shape::Triangle,
        Stroke::dashed(Colour::Rust, 2.0, 2.5, 2.5),
    );
    view.series(&mut figure, &panel, |n| n.pulse_current_a, Shape::Circle, Stroke::solid(Colour::Deep, 2.2));
    view.ring_pinned(&mut figure, &panel, |n| n.pulse_current_a, &["pulse_current_a"]);
    view.name(&mut figure, &panel, |n| n.pulse_current_a, "pulse", Colour::Deep, false);
    view.name(&mut figure, &panel, |n| n.current_mean_a, "mean", Colour::Rust, true);
    view.name(&mut figure, &panel, |n| n.background_current_a, "background", Colour::Sea, false);
    let words = [
        course(view, "The pulse current", "A", 0, |n| n.pulse_current_a),
        course(view, "The background current", "A", 0, |n| n.background_current_a),
        course(view, "The mean current", "A", 0, |n| n.current_mean_a),
    ]
    .join(" ");
    let reading = line_readings::currents::currents(view, record, confidence);
    Drawn {
        name: "line_currents",
        title: "Currents".to_owned(),
        caption: format!(
            "Pulse current (circles) and background current (squares) are set, the mean current (triangles) follows. The band about the \
             background is how far it may have to move to hold the arc length ({confidence} interval).{}",
            if transition.is_some() {
                " The wide band is the transition current: the pulse belongs above it, the background below."
            } else {
                ""
            }
        ),
        svg: figure.svg("line_currents", "Pulse, mean and background current over wire feed", &aloud(&words, &reading)),
        reading,
        csv: table(
            view,
            &[
                "pulse_current_a",
                "background_current_a",
                "background_current_a_low",
                "background_current_a_high",
                "current_mean_a",
            ],
            |n| {
                let [low, high] = n.balancing_background_current_a_interval;
                vec![n.pulse_current_a, n.background_current_a, low, high, n.current_mean_a]
            },
        ),
    }
}

struct Single {
    name: &'static str,
    title: &'static str,
    label: &'static str,
    caption: String,
    column: &'static str,
    unit: &'static str,
    places: i32,
    reading: Reading,
}

fn single(view: &FeedView<'_>, what: Single, from_zero: bool, value: impl Fn(&Node) -> f64 + Copy) -> Drawn {
    let axis = Axis::around(what.label, view.nodes.iter().map(value), 0.08);
    let (mut figure, panel) = view.figure(if from_zero { axis.starting_at_zero_if_near() } else { axis });
    view.series(&mut figure, &panel, value, Shape::Circle, Stroke::solid(Colour::Deep, 2.2));
    view.ring_pinned(&mut figure, &panel, value, &[what.column]);
    let words = course(view, &format!("The {}", what.title.to_lowercase()), what.unit, what.places, value);
    Drawn {
        name: what.name,
        title: what.title.to_owned(),
        caption: what.caption,
        svg: figure.svg(what.name, &format!("{} over wire feed", what.title), &aloud(&words, &what.reading)),
        reading: what.reading,
        csv: table(view, &[what.column], |n| vec![value(n)]),
    }
}

fn frequency(view: &FeedView<'_>, record: &LineRecord) -> Drawn {
    let what = Single {
        name: "line_frequency",
        title: "Pulse frequency",
        label: "pulse frequency (Hz)",
        caption: "Pulses in a second. Each carries one drop, so more wire needs more pulses; where a limit takes hold the drop \
                  changes instead, and the curve bends."
            .to_owned(),
        column: "pulse_frequency_hz",
        unit: "Hz",
        places: 0,
        reading: settings::frequency(view, record),
    };
    single(view, what, true, |n| n.pulse_frequency_hz)
}

fn pulse_time(view: &FeedView<'_>, record: &LineRecord) -> Drawn {
    let what = Single {
        name: "line_pulse_time",
        title: "Pulse time",
        label: "pulse time (ms)",
        caption: "Width of the pulse at half its height. A stronger pulse detaches its drop sooner, so the time falls where the \
                  pulse current rises."
            .to_owned(),
        column: "pulse_time_ms",
        unit: "ms",
        places: 2,
        reading: settings::pulse_time(view, record),
    };
    single(view, what, false, |n| n.pulse_time_ms)
}

fn drop_diameter(view: &FeedView<'_>, record: &LineRecord) -> Drawn {
    let wire = record.wire.diameter_mm;
    let limits = record.request.as_ref().map(|r| r.drop_to_wire_limits.map(|ratio| ratio * wire));
    let all = view.nodes.iter().map(|n| n.drop_diameter_mm).chain(limits.into_iter().flatten()).chain([wire]);
    let (mut figure, panel) = view.figure(Axis::around("drop diameter (mm)", all, 0.08));
    let (from, to) = view.ends();
    for limit in limits.into_iter().flatten() {
        figure.curve(&panel, &[(from, limit), (to, limit)], Stroke::dashed(Colour::Plum, 1.6, 5.0, 3.0));
    }
    figure.curve(&panel, &[(from, wire), (to, wire)], Stroke::solid(Colour::Soft, 1.2));
    let right = panel.frame.right - 4.0;
    let (at, align) = clear_of_the_drops(view, &panel, wire);
    figure.label(at, "wire diameter", align, Colour::Soft);
    if let Some([low, high]) = limits {
        figure.label((right, panel.place(to, low).1 - 9.0), "smallest allowed", Align::End, Colour::Plum);
        figure.label((right, panel.place(to, high).1 + 9.0), "largest allowed", Align::End, Colour::Plum);
    }
    view.series(&mut figure, &panel, |n| n.drop_diameter_mm, Shape::Circle, Stroke::solid(Colour::Deep, 2.2));
    // One drop a pulse: the frequency fixes the drop.
    view.ring_pinned(&mut figure, &panel, |n| n.drop_diameter_mm, &["pulse_frequency_hz"]);
    let reading = drop::diameter(view, record);
    Drawn {
        name: "line_drop",
        title: "Drop diameter".to_owned(),
        caption: "The drop that one pulse carries when all melted wire leaves in single drops, beside the wire's own diameter. It \
                  gives way first where the source reaches a limit."
            .to_owned(),
        svg: figure.svg(
            "line_drop",
            "Drop diameter over wire feed",
            &aloud(&course(view, "The drop diameter", "mm", 2, |n| n.drop_diameter_mm), &reading),
        ),
        reading,
        csv: table(view, &["drop_diameter_mm"], |n| vec![n.drop_diameter_mm]),
    }
}

/// The end of the wire's line, above or below it, that lies furthest from the drops.
fn clear_of_the_drops(view: &FeedView<'_>, panel: &Panel, wire_mm: f64) -> (Place, Align) {
    const WIDTH: f64 = 100.0;
    let drops: Vec<Place> = view.nodes.iter().map(|n| panel.place(n.wire_feed_m_min, n.drop_diameter_mm)).collect();
    let line = panel.place(view.ends().0, wire_mm).1;
    let room = |from: f64, y: f64| {
        let near = drops.iter().filter(|(x, _)| (from - 10.0..from + WIDTH + 10.0).contains(x));
        near.map(|(_, other)| (other - y).abs()).fold(f64::INFINITY, f64::min)
    };
    let Frame { left, right, .. } = panel.frame;
    let ends = [(right - 4.0, right - WIDTH, Align::End), (left + 4.0, left, Align::Start)];
    let mut best = ((right - 4.0, line + 9.0), Align::End);
    let mut most = f64::NEG_INFINITY;
    for (x, from, align) in ends {
        for y in [line + 9.0, line - 9.0] {
            if room(from, y) > most {
                (most, best) = (room(from, y), ((x, y), align));
            }
        }
    }
    best
}

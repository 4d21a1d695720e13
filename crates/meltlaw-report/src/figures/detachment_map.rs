//! The detachment map: pulse current against pulse time, the one-drop window, the trials, the line.

use meltlaw::laws::FittedLaw;
use meltlaw::line::Node;
use meltlaw::trials::Trials;

use super::Drawn;
use super::line_readings::{aloud, map};
use super::outcomes::{Counted, Outcome};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Panel, Shape, Stroke};
use crate::numbers;
use crate::window::Window;

const FRAME: Frame = Frame { left: 52.0, top: 84.0, right: 546.0, bottom: 424.0 };
const LEVELS: [(f64, f64); 3] = [(0.5, 0.10), (0.8, 0.14), (0.9, 0.20)];

/// The map; `None` where no trial was counted.
pub(crate) fn draw(law: &FittedLaw, trials: &Trials, nodes: &[Node]) -> Option<Drawn> {
    let counted = Counted::of(law, trials);
    if counted.is_empty() {
        return None;
    }
    let window = Window::of(law);
    let times = counted.iter().map(|c| c.pulse_time_ms).chain(nodes.iter().map(|n| n.pulse_time_ms));
    let currents = counted.iter().map(|c| c.pulse_current_a).chain(nodes.iter().map(|n| n.pulse_current_a));
    let mut figure = Figure::new(560.0, 470.0);
    let x = Axis::around_log("pulse time (ms, equal ratios equally far apart)", times, 1.08);
    let panel = figure.panel(FRAME, x, Axis::around_log("pulse current (A)", currents, 1.04));
    if let Some(window) = window {
        contours(&mut figure, &panel, &window);
    }
    let most_pulses = counted.iter().map(|c| c.pulses).fold(0.0, f64::max);
    for trial in &counted {
        let (outcome, clear) = trial.outcome();
        figure.point(
            &panel,
            trial.pulse_time_ms,
            trial.pulse_current_a,
            outcome.marker(trial.radius(most_pulses), clear),
        );
    }
    path(&mut figure, &panel, nodes);
    legend(&mut figure, !nodes.is_empty());

    let rows = counted.iter().map(|c| {
        let [none, one, more] = c.shares.map_or([None; 3], |s| s.map(Some));
        let mut row = vec![text(c.trial)];
        row.extend([c.pulse_time_ms, c.pulse_current_a, c.pulses, c.drops_per_pulse].map(number));
        row.extend([none, one, more].map(number));
        row
    });
    let header = [
        "trial",
        "pulse_time_ms",
        "pulse_current_a",
        "pulses",
        "drops_per_pulse",
        "share_without_drop",
        "share_with_one_drop",
        "share_with_more_drops",
    ];
    let reading = map::map(law, &counted, window.as_ref(), nodes);
    Some(Drawn {
        name: "detachment_map",
        title: "Detachment map".to_owned(),
        caption: caption(window.as_ref()),
        svg: figure.svg(
            "detachment_map",
            "Pulse current against pulse time with the one-drop window",
            &aloud(&words(window.as_ref()), &reading),
        ),
        reading,
        csv: csv(&header, rows),
    })
}

fn contours(figure: &mut Figure, panel: &Panel, window: &Window) {
    // Lines of equal position are straight on logarithmic axes, so two ends would do; a few more keep the
    // clipped corners true.
    let currents: Vec<f64> =
        (0..=12).map(|n| panel.y.low * (panel.y.high / panel.y.low).powf(f64::from(n) / 12.0)).collect();
    let along = |s: f64| -> Vec<(f64, f64)> { currents.iter().map(|&i| (window.pulse_time_ms(s, i), i)).collect() };
    let reached: Vec<_> =
        LEVELS.iter().filter_map(|&(level, opacity)| Some((level, opacity, window.at_least(level)?))).collect();
    for (_, opacity, [low, high]) in &reached {
        figure.band(panel, &along(*low), &along(*high), Colour::Sand, *opacity * 2.2);
    }
    // The ends of 50 % nearly are the thresholds, which are drawn below; their names stand above the panel,
    // where no trial can lie under them.
    let mut named: Vec<f64> = Vec::new();
    for (level, _, ends) in reached.iter().filter(|(level, ..)| *level > 0.5).rev() {
        for end in ends {
            figure.curve(panel, &along(*end), Stroke::solid(Colour::Soft, 0.9));
            let (x, y) = panel.place(window.pulse_time_ms(*end, panel.y.high), panel.y.high);
            let room = (panel.frame.left + 80.0..panel.frame.right).contains(&x)
                && named.iter().all(|other| (other - x).abs() > 30.0);
            if room {
                figure.text((x, y - 8.0), format!("{:.0} %", level * 100.0), Align::Middle, Colour::Ink, 11.0);
                named.push(x);
            }
        }
    }
    for threshold in [window.one_drop_from, window.more_drops_from] {
        figure.curve(panel, &along(threshold), Stroke::dashed(Colour::Plum, 2.0, 7.0, 4.0));
    }
    let near_edge = |current: f64, height: f64| {
        current * (panel.y.low / panel.y.high).powf(height / (panel.frame.bottom - panel.frame.top))
    };
    let (low, high) = (near_edge(panel.y.low, -12.0), near_edge(panel.y.high, 12.0));
    let (x, y) = panel.place(window.pulse_time_ms(window.one_drop_from, low), low);
    if (panel.frame.left + 170.0..panel.frame.right).contains(&x) {
        figure.label((x - 8.0, y), "half detach a drop", Align::End, Colour::Plum);
    }
    let (x, y) = panel.place(window.pulse_time_ms(window.more_drops_from, high), high);
    if (panel.frame.left..panel.frame.right - 190.0).contains(&x) {
        figure.label((x + 8.0, y), "half detach more than one", Align::Start, Colour::Plum);
    }
}

fn path(figure: &mut Figure, panel: &Panel, nodes: &[Node]) {
    let points: Vec<_> = nodes.iter().map(|n| (n.pulse_time_ms, n.pulse_current_a)).collect();
    figure.curve(panel, &points, Stroke::solid(Colour::Ink, 2.2));
    for (time, current) in &points {
        figure.point(panel, *time, *current, line_marker());
    }
    for (node, (time, current)) in nodes.iter().zip(&points) {
        if node.pinned.iter().any(|p| p != "pulse_frequency_hz") {
            figure.ring(panel.place(*time, *current), 9.0, Stroke::solid(Colour::Ink, 1.6));
        }
    }
}

fn line_marker() -> Marker {
    Marker { shape: Shape::Square, radius: 5.5, colour: Colour::Ink, filled: true }
}

fn legend(figure: &mut Figure, with_line: bool) {
    let mut x = 16.0;
    for (outcome, name) in Outcome::ALL {
        figure.marker((x, 14.0), outcome.marker(5.5, true));
        figure.text((x + 11.0, 14.0), name, Align::Start, Colour::Ink, 12.0);
        x += 30.0 + 7.0 * name.len() as f64;
    }
    if with_line {
        figure.marker((x, 14.0), line_marker());
        figure.text((x + 11.0, 14.0), "the composed line", Align::Start, Colour::Ink, 12.0);
    }
    figure.marker((16.0, 36.0), Outcome::One.marker(5.5, false));
    figure.text(
        (27.0, 36.0),
        "hollow: fewer than 4 pulses in 5 agree; larger: more pulses counted",
        Align::Start,
        Colour::Ink,
        12.0,
    );
}

fn caption(window: Option<&Window>) -> String {
    let Some(window) = window else {
        return "Counted trials by what most of their pulses did. The window cannot be drawn: its thresholds are not both known."
            .to_owned();
    };
    let middle = f64::midpoint(window.one_drop_from, window.more_drops_from);
    let best = numbers::percent(window.probabilities(middle)[1]);
    format!(
        "Shaded, darker for more: at least 50, 80 and 90 % of the pulses detach exactly one drop, as far as each is reached (best: {best}). \
         Trials with mostly one drop should lie between the dashed lines, the others outside; the line should run down the middle."
    )
}

/// Where the window lies; the trials are told by the reading.
fn words(window: Option<&Window>) -> String {
    window.map_or(String::new(), |w| {
        format!(
            "At {} A half of the pulses detach a drop from {} ms and more than one from {} ms.",
            numbers::fixed(w.reference_current_a, 0),
            numbers::fixed(w.one_drop_from.exp(), 2),
            numbers::fixed(w.more_drops_from.exp(), 2)
        )
    })
}

//! The line over wire feed: what it does and how sure that is.

use meltlaw::line::Node;
use meltlaw::record::LineRecord;

use super::Drawn;
use super::feed_view::FeedView;
use super::line_readings::{aloud, effects};
use super::line_settings::{course, table};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::marks::{Align, Shape, Stroke};

/// Mean voltage with the interval of the mean and of one new weld.
pub(crate) fn voltage(view: &FeedView<'_>, confidence: &str) -> Drawn {
    let all = view.nodes.iter().flat_map(|n| n.voltage_mean_v_interval.into_iter().chain(n.next_weld.voltage_mean_v));
    let (mut figure, panel) = view.figure(Axis::around("mean voltage (V)", all, 0.06));
    view.band(&mut figure, &panel, |n| n.next_weld.voltage_mean_v, Colour::Rust, 0.22);
    view.band(&mut figure, &panel, |n| n.voltage_mean_v_interval, Colour::Deep, 0.4);
    view.series(&mut figure, &panel, |n| n.voltage_mean_v, Shape::Circle, Stroke::solid(Colour::Deep, 2.0));
    view.ring_pinned(&mut figure, &panel, |n| n.voltage_mean_v, &[]);
    let name = |figure: &mut _, value: fn(&Node) -> f64, text, colour, above| {
        view.name(figure, &panel, value, text, colour, above)
    };
    name(&mut figure, |n| n.next_weld.voltage_mean_v[0], "one weld", Colour::Rust, false);
    name(&mut figure, |n| n.next_weld.voltage_mean_v[1], "mean of many", Colour::Deep, true);
    let reading = effects::voltage(view, confidence);
    Drawn {
        name: "line_voltage",
        title: "Mean voltage".to_owned(),
        caption: format!(
            "Between contact tip and work. Inner band: how well the mean is known. Outer band: where one new weld at the \
             same arc length should read ({confidence} each)."
        ),
        svg: figure.svg(
            "line_voltage",
            "Mean voltage over wire feed with both bands",
            &aloud(&course(view, "The mean voltage", "V", 1, |n| n.voltage_mean_v), &reading),
        ),
        reading,
        csv: table(
            view,
            &[
                "voltage_mean_v",
                "voltage_mean_v_low",
                "voltage_mean_v_high",
                "next_weld_voltage_v_low",
                "next_weld_voltage_v_high",
            ],
            |n| {
                let ([low, high], [next_low, next_high]) = (n.voltage_mean_v_interval, n.next_weld.voltage_mean_v);
                vec![n.voltage_mean_v, low, high, next_low, next_high]
            },
        ),
    }
}

/// Probability of one drop per pulse with its interval and the floor.
pub(crate) fn one_drop(view: &FeedView<'_>, record: &LineRecord, confidence: &str) -> Drawn {
    let floor = record.request.as_ref().map(|r| r.one_drop_floor);
    let lowest = view.nodes.iter().map(|n| n.one_drop_probability.interval[0]).chain(floor).fold(1.0, f64::min);
    let (mut figure, panel) =
        view.figure(Axis::between("pulses with one drop (%)", (100.0 * lowest - 6.0).max(0.0), 100.0));
    if let Some(floor) = floor {
        let (from, to) = view.ends();
        figure.curve(
            &panel,
            &[(from, 100.0 * floor), (to, 100.0 * floor)],
            Stroke::dashed(Colour::Plum, 1.8, 5.0, 3.0),
        );
        let at = (panel.frame.left + 5.0, panel.place(from, 100.0 * floor).1 + 10.0);
        figure.label(at, "floor", Align::Start, Colour::Plum);
    }
    view.band(&mut figure, &panel, |n| n.one_drop_probability.interval.map(|p| 100.0 * p), Colour::Deep, 0.25);
    view.series(
        &mut figure,
        &panel,
        |n| 100.0 * n.one_drop_probability.value,
        Shape::Circle,
        Stroke::solid(Colour::Deep, 2.2),
    );
    view.ring_pinned(&mut figure, &panel, |n| 100.0 * n.one_drop_probability.value, &[]);
    let reading = effects::one_drop(view, record, confidence);
    Drawn {
        name: "line_one_drop",
        title: "One drop per pulse".to_owned(),
        caption: format!(
            "Share of pulses that should detach exactly one drop, with its {confidence} interval.{}",
            if floor.is_some() {
                " Where the band's lower edge would fall below the floor there is no setting."
            } else {
                ""
            }
        ),
        svg: figure.svg(
            "line_one_drop",
            "Probability of one drop per pulse over wire feed",
            &aloud(
                &course(view, "The probability of one drop", "%", 1, |n| 100.0 * n.one_drop_probability.value),
                &reading,
            ),
        ),
        reading,
        csv: table(view, &["one_drop_probability", "one_drop_probability_low", "one_drop_probability_high"], |n| {
            let [low, high] = n.one_drop_probability.interval;
            vec![n.one_drop_probability.value, low, high]
        }),
    }
}

/// How well the melting rate is known.
pub(crate) fn melting(view: &FeedView<'_>, record: &LineRecord) -> Drawn {
    let largest = view.nodes.iter().map(|n| 100.0 * n.melting_rate_relative_se).fold(1e-6, f64::max);
    let (mut figure, panel) = view.figure(Axis::between("error of the melting rate (%)", 0.0, 1.15 * largest));
    view.series(
        &mut figure,
        &panel,
        |n| 100.0 * n.melting_rate_relative_se_same_bench,
        Shape::Square,
        Stroke::dashed(Colour::Sea, 2.0, 7.0, 3.0),
    );
    view.series(
        &mut figure,
        &panel,
        |n| 100.0 * n.melting_rate_relative_se,
        Shape::Circle,
        Stroke::solid(Colour::Deep, 2.2),
    );
    // Below its curve, unless that runs along the axis.
    let middle = view.nodes[view.nodes.len() / 2].melting_rate_relative_se_same_bench;
    let low = 100.0 * middle < 0.2 * largest;
    view.name(
        &mut figure,
        &panel,
        |n| 100.0 * n.melting_rate_relative_se_same_bench,
        "same instruments",
        Colour::Sea,
        low,
    );
    view.name(&mut figure, &panel, |n| 100.0 * n.melting_rate_relative_se, "any instruments", Colour::Deep, false);
    view.ring_pinned(&mut figure, &panel, |n| 100.0 * n.melting_rate_relative_se, &[]);
    let reading = effects::melting(view, record);
    Drawn {
        name: "line_melting_error",
        title: "How well the melting rate is known".to_owned(),
        caption: "Standard error of the wire that a setting melts, as a share of it. Where the line runs on the instruments of the \
                  trials (squares) their common errors cancel; on any others (circles) they count."
            .to_owned(),
        svg: figure.svg(
            "line_melting_error",
            "Relative standard error of the melting rate over wire feed",
            &aloud(
                &course(view, "The error of the melting rate", "%", 2, |n| 100.0 * n.melting_rate_relative_se),
                &reading,
            ),
        ),
        reading,
        csv: table(
            view,
            &["melting_rate_kg_h", "melting_rate_relative_se", "melting_rate_relative_se_same_bench"],
            |n| vec![n.melting_rate_kg_h, n.melting_rate_relative_se, n.melting_rate_relative_se_same_bench],
        ),
    }
}

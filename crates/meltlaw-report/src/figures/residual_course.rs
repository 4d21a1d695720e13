//! What the law leaves of each trial, in the order of welding or along the age of the contact tip: where a
//! drift shows.

use meltlaw::trials::Column;

use super::Drawn;
use super::diagnosed::{Diagnosed, Point, by_law, ring, shortened, write_names};
use super::law_readings::{course, described};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Place, Shape, Stroke};
use crate::numbers::{fixed, signed};
use crate::words;

const SIZE: (f64, f64) = (560.0, 330.0);
const FRAME: Frame = Frame { left: 52.0, top: 46.0, right: 546.0, bottom: 284.0 };
/// So many points make a trend worth drawing; the drift test asks for as many.
const FEWEST: usize = 5;

/// Residuals by run order, by the order of the rows where no run order is noted.
pub(crate) fn by_order(seen: &Diagnosed<'_>) -> Option<Drawn> {
    let noted = seen.points.iter().filter(|p| p.read(Column::RunOrder).is_some()).count();
    let by_run = noted >= FEWEST.min(seen.points.len());
    let (label, across): (&'static str, fn(&Point<'_>) -> Option<f64>) = if by_run {
        ("run order", |p| p.read(Column::RunOrder))
    } else {
        ("row among the trials used (no run order is noted)", |p| Some(p.place as f64))
    };
    let name = by_law(seen.name, ["burn_off_in_order", "detachment_in_order", "arc_voltage_in_order"]);
    let order = Order {
        name,
        words: if by_run { "in the order of welding" } else { "in the order of the rows" },
        label,
        column: if by_run { "run_order" } else { "row" },
        test: "drift",
        across,
    };
    draw(seen, &order)
}

/// Residuals by arc time on the contact tip, where it is noted and differs.
pub(crate) fn by_tip(seen: &Diagnosed<'_>) -> Option<Drawn> {
    let mut minutes: Vec<f64> = seen.points.iter().filter_map(|p| p.read(Column::TipMinutes)).collect();
    minutes.sort_by(f64::total_cmp);
    minutes.dedup();
    if minutes.len() < FEWEST {
        return None;
    }
    let name = by_law(seen.name, ["burn_off_tip_wear", "detachment_tip_wear", "arc_voltage_tip_wear"]);
    let order = Order {
        name,
        words: "by age of the contact tip",
        label: "arc time on the contact tip (min)",
        column: "tip_minutes",
        test: "tip_wear",
        across: |p| p.read(Column::TipMinutes),
    };
    draw(seen, &order)
}

/// What the trials are put in order by.
struct Order {
    /// Name of the figure.
    name: &'static str,
    words: &'static str,
    label: &'static str,
    /// Column of the data.
    column: &'static str,
    /// The test that judges a trend in this order.
    test: &'static str,
    across: fn(&Point<'_>) -> Option<f64>,
}

fn draw(seen: &Diagnosed<'_>, order: &Order) -> Option<Drawn> {
    let points: Vec<(&Point<'_>, f64, f64)> = seen
        .points
        .iter()
        .filter_map(|p| Some((p, (order.across)(p)?, p.diagnostic.studentised_residual?)))
        .filter(|(_, x, t)| x.is_finite() && t.is_finite())
        .collect();
    if points.len() < 2 {
        return None;
    }
    let limit = seen.outlier_limit();
    let most = points.iter().map(|(.., t)| t.abs()).fold(limit.unwrap_or(3.0), f64::max);
    // One gross error must not press all others flat: what lies far out is drawn at the edge with its number.
    let edge = 1.12 * most.min(2.2 * limit.unwrap_or(most));
    let mut figure = Figure::new(SIZE.0, SIZE.1);
    let x = Axis::around(order.label, points.iter().map(|p| p.1), 0.03);
    let (from, to) = (x.low, x.high);
    let panel = figure.panel(FRAME, x, Axis::between("residual (its own standard errors)", -edge, edge));
    seen.legend(&mut figure, 270.0, FRAME.right, 13.0);
    let level = |at: f64| [(from, at), (to, at)];
    figure.curve(&panel, &level(0.0), Stroke::solid(Colour::Soft, 1.4));
    for at in limit.iter().flat_map(|l| [-l, *l]) {
        figure.curve(&panel, &level(at), Stroke::dashed(Colour::Rust, 1.6, 7.0, 4.0));
    }
    let trend = trend(&points.iter().map(|&(_, x, t)| (x, t)).collect::<Vec<_>>());
    if let Some((slope, level)) = trend {
        let ends = [from, to].map(|x| (x, level + slope * x));
        figure.curve(&panel, &ends, Stroke::solid(Colour::Sand, 3.0));
    }
    let mut places: Vec<Place> = Vec::new();
    let mut named: Vec<(Place, String)> = Vec::new();
    for (point, x, t) in &points {
        let at = panel.place(*x, t.clamp(-edge, edge));
        if t.abs() > edge {
            let shape = if *t > 0.0 { Shape::Triangle } else { Shape::TriangleDown };
            figure.marker(at, Marker { shape, radius: 5.0, colour: Colour::Rust, filled: true });
        } else {
            figure.marker(at, seen.marker(point));
        }
        if point.stands_out() || limit.is_some_and(|l| t.abs() > l) {
            ring(&mut figure, at);
            let name = shortened(point.trial(), 12);
            named.push((at, if t.abs() > edge { format!("{name}: {}", signed(*t, 0)) } else { name }));
        }
        places.push(at);
    }
    write_names(&mut figure, FRAME, &places, &named);
    if let Some(limit) = limit {
        let at = panel.place(to, limit);
        figure.label((at.0 - 3.0, at.1 - 10.0), "limit", Align::End, Colour::Rust);
    }
    let limits = limit.map_or(String::new(), |l| {
        format!(
            " Dashed: ± {}; of a thousand clean sets of {} trials two have a point beyond.",
            fixed(l, 1),
            points.len()
        )
    });
    let title = format!("{}: what it leaves {}", words::capital(words::law(seen.name)), order.words);
    let caption = format!(
        "Each point is a trial: measured less what the others predict, in standard errors of that difference.{}{limits}{}",
        if trend.is_some() { " The broad line is their trend, which single trials cannot tilt." } else { "" },
        seen.blocks_in_words()
    );
    let residuals: Vec<(&Point<'_>, f64)> = points.iter().map(|(p, _, t)| (*p, *t)).collect();
    let reading = course::reading(
        seen,
        &course::Course {
            test: order.test,
            steps: (order.test == "drift").then_some(seen.factor.levels()),
            residuals: &residuals,
            rise: trend.map(|(slope, _)| slope * points_span(&points)),
        },
    );
    let rows = points.iter().map(|(p, x, t)| {
        vec![
            text(p.trial()),
            number(*x),
            text(p.level(seen.factor).unwrap_or("")),
            number(*t),
            number(limit),
            text(&p.diagnostic.flags.join("; ")),
        ]
    });
    let data = csv(&["trial", order.column, seen.factor.name(), "studentised_residual", "limit", "flags"], rows);
    let drawn = format!(
        "{} points, one for each trial, {}: residuals from {} to {} standard errors.",
        points.len(),
        order.words,
        signed(points.iter().map(|p| p.2).fold(f64::INFINITY, f64::min), 1),
        signed(points.iter().map(|p| p.2).fold(f64::NEG_INFINITY, f64::max), 1)
    );
    let svg = figure.svg(order.name, &title, &described(&drawn, &reading));
    Some(Drawn { name: order.name, title, caption, reading, svg, csv: data })
}

fn points_span(points: &[(&Point<'_>, f64, f64)]) -> f64 {
    let (low, high) =
        points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| (low.min(p.1), high.max(p.1)));
    high - low
}

/// Slope and level of a trend that single trials cannot tilt: the median slope between each trial of the
/// first half and its partner in the second.
///
/// # Source
/// H. Theil, "A rank-invariant method of linear and polynomial regression analysis", 1950: the incomplete
/// method.
fn trend(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    if points.len() < FEWEST {
        return None;
    }
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = sorted.len() / 2;
    let later = &sorted[sorted.len() - half..];
    let slopes = sorted[..half]
        .iter()
        .zip(later)
        .filter(|(a, b)| b.0 > a.0)
        .map(|(a, b)| (b.1 - a.1) / (b.0 - a.0))
        .collect::<Vec<f64>>();
    let slope = median(slopes)?;
    Some((slope, median(sorted.iter().map(|(x, y)| y - slope * x).collect())?))
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() {
        0 => None,
        n if n % 2 == 1 => Some(values[middle]),
        _ => Some(f64::midpoint(values[middle - 1], values[middle])),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_gross_trial_does_not_tilt_the_trend() {
        // y = 0.5·x but for the last, which lies at 100: slopes 0.5, 0.5 and (100 − 1)/3 = 33; their median is 0.5.
        let points = [(0.0, 0.0), (1.0, 0.5), (2.0, 1.0), (3.0, 1.5), (4.0, 2.0), (5.0, 100.0)];
        let (slope, level) = trend(&points).unwrap();
        assert!((slope - 0.5).abs() < 1e-12 && level.abs() < 1e-12, "{slope} {level}");
    }

    #[test]
    fn a_trend_needs_five_trials_and_two_places() {
        assert_eq!(trend(&[(0.0, 1.0), (1.0, 2.0)]), None);
        assert_eq!(trend(&[(1.0, 1.0); 6]), None);
    }
}

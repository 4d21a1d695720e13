//! How much each trial may say against how much it disagrees: a trial that does both moves the law.

use super::Drawn;
use super::diagnosed::{Diagnosed, Point, by_law, ring, shortened, write_names};
use super::law_readings::{described, leverage};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Panel, Place, Shape, Stroke};
use crate::numbers::{fixed, signed, significant};
use crate::words;

const SIZE: (f64, f64) = (560.0, 330.0);
const FRAME: Frame = Frame { left: 52.0, top: 46.0, right: 546.0, bottom: 284.0 };
/// Cook's distances that are drawn: worth a look, and moving the law by about its own error.
const CONTOURS: [f64; 2] = [0.5, 1.0];

/// Leverage against studentised residual with contours of Cook's distance.
pub(crate) fn draw(seen: &Diagnosed<'_>) -> Option<Drawn> {
    let points: Vec<(&Point<'_>, f64, f64)> = seen
        .points
        .iter()
        .filter_map(|p| Some((p, p.diagnostic.leverage?, p.diagnostic.studentised_residual?)))
        .filter(|(_, h, t)| h.is_finite() && t.is_finite())
        .collect();
    if points.len() < 2 {
        return None;
    }
    let name = by_law(seen.name, ["burn_off_leverage", "detachment_leverage", "arc_voltage_leverage"]);
    let limit = seen.outlier_limit().unwrap_or(3.0);
    let most = points.iter().map(|p| p.2.abs()).fold(limit, f64::max);
    let edge = 1.12 * most.min(2.2 * limit);
    let furthest = points.iter().map(|p| p.1).fold(0.05, f64::max);
    let mut figure = Figure::new(SIZE.0, SIZE.1);
    let x = Axis::between("leverage (share of a trial in its own fitted value)", 0.0, (1.12 * furthest).min(1.0));
    let panel = figure.panel(FRAME, x, Axis::between("residual (its own standard errors)", -edge, edge));
    seen.legend(&mut figure, 270.0, FRAME.right, 13.0);
    let ends = [(0.0, 0.0), (panel.x.high, 0.0)];
    figure.curve(&panel, &ends, Stroke::solid(Colour::Soft, 1.4));
    // The detachment law's distance counts classes of drops and does not follow from these two numbers.
    let with_contours = seen.name != "detachment";
    let shown = if with_contours { contours(&mut figure, &panel, seen, edge) } else { 0 };
    let mut places: Vec<Place> = Vec::new();
    for (point, h, t) in &points {
        let at = panel.place(*h, t.clamp(-edge, edge));
        if t.abs() > edge {
            let shape = if *t > 0.0 { Shape::Triangle } else { Shape::TriangleDown };
            figure.marker(at, Marker { shape, radius: 5.0, colour: Colour::Rust, filled: true });
        } else {
            figure.marker(at, seen.marker(point));
        }
        places.push(at);
    }
    let named: Vec<(Place, String)> = worth_naming(&points)
        .into_iter()
        .map(|place| {
            let (point, _, t) = points[place];
            if point.stands_out() {
                ring(&mut figure, places[place]);
            }
            let name = shortened(point.trial(), 12);
            (places[place], if t.abs() > edge { format!("{name}: {}", signed(t, 0)) } else { name })
        })
        .collect();
    write_names(&mut figure, FRAME, &places, &named);
    let title = format!("{}: which trials could pull it", words::capital(words::law(seen.name)));
    let lines = match (with_contours, shown) {
        (true, 0) => " The lines of Cook’s distance 0.5 and 1, where a trial pulls hard, lie outside the picture.",
        (true, _) => {
            " Beyond the dashed lines a trial moves the law by about half its error (Cook’s distance 0.5) or by its error (1)."
        }
        (false, _) => " Cook’s distance of 1 would mean: leaving this trial out moves the law by its own error.",
    };
    let caption = format!(
        "To the right a trial has much say because few others lie near it; far up or down it disagrees. Only both together pull the law.{lines}"
    );
    let rows = points.iter().map(|(p, h, t)| {
        vec![
            text(p.trial()),
            number(*h),
            number(*t),
            number(p.diagnostic.cooks_distance),
            text(&p.diagnostic.flags.join("; ")),
        ]
    });
    let data = csv(&["trial", "leverage", "studentised_residual", "cooks_distance", "flags"], rows);
    let reading = leverage::reading(seen, &points);
    let drawn = format!(
        "{} points, one for each trial: leverage across up to {}, residual upright in standard errors.",
        points.len(),
        significant(furthest, 2)
    );
    let svg = figure.svg(name, &title, &described(&drawn, &reading));
    Some(Drawn { name, title, caption, reading, svg, csv: data })
}

/// Places of trials that stand out, then of the three with the largest Cook's distance.
fn worth_naming(points: &[(&Point<'_>, f64, f64)]) -> Vec<usize> {
    let mut places: Vec<usize> = (0..points.len()).collect();
    let distance = |place: usize| points[place].0.diagnostic.cooks_distance.unwrap_or(0.0);
    places.sort_by(|a, b| {
        let out = |place: usize| points[place].0.stands_out();
        out(*b).cmp(&out(*a)).then(distance(*b).total_cmp(&distance(*a)))
    });
    let flagged = places.iter().filter(|p| points[**p].0.stands_out()).count();
    places.truncate((flagged + 3).min(12));
    places
}

/// The contours of Cook's distance that cross the panel; how many do.
///
/// ```text
/// D = r²·h / (p·(1 − h)),   t² = r²·(ν − 1)/(ν − r²)
/// ```
///
/// with the internal residual r, the external t, leverage h, p coefficients and ν degrees of freedom.
fn contours(figure: &mut Figure, panel: &Panel, seen: &Diagnosed<'_>, edge: f64) -> usize {
    let degrees = seen.law.degrees_of_freedom as f64;
    let coefficients = seen.law.coefficient_order.len() as f64;
    let mut shown = 0;
    for distance in CONTOURS {
        let curve: Vec<(f64, f64)> = (1..=80)
            .map(|n| panel.x.high * f64::from(n) / 80.0)
            .filter_map(|h| Some((h, residual_at(distance, h, coefficients, degrees)?)))
            .filter(|(_, t)| *t < 4.0 * edge)
            .collect();
        if !curve.iter().any(|(_, t)| *t < edge) {
            continue;
        }
        shown += 1;
        let below: Vec<(f64, f64)> = curve.iter().map(|(h, t)| (*h, -t)).collect();
        let stroke = Stroke::dashed(Colour::Rust, if distance < 1.0 { 1.2 } else { 1.8 }, 6.0, 4.0);
        figure.curve(panel, &curve, stroke);
        figure.curve(panel, &below, stroke);
        if let Some((h, t)) = curve.last() {
            let (x, y) = panel.place(*h, *t);
            figure.label((x - 2.0, y.max(panel.frame.top + 9.0)), &fixed(distance, 1), Align::End, Colour::Rust);
        }
    }
    shown
}

/// The studentised residual at which Cook's distance is reached; `None` where no finite one reaches it.
fn residual_at(distance: f64, leverage: f64, coefficients: f64, degrees: f64) -> Option<f64> {
    let squared = distance * coefficients * (1.0 - leverage) / leverage;
    let t = (squared * (degrees - 1.0) / (degrees - squared)).sqrt();
    (degrees > 1.0 && squared < degrees && t.is_finite()).then_some(t)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_contour_lies_where_the_distance_is_reached() {
        // h = 0.2, p = 2, ν = 38: r² = 0.5·2·0.8/0.2 = 4, t = √(4·37/34) = 2.0864.
        let t = residual_at(0.5, 0.2, 2.0, 38.0).unwrap();
        assert!((t - (148.0f64 / 34.0).sqrt()).abs() < 1e-12);
        // Back: r² = t²·ν/(ν − 1 + t²), D = r²·h/(p·(1 − h)).
        let squared = t * t * 38.0 / (37.0 + t * t);
        assert!((squared * 0.2 / (2.0 * 0.8) - 0.5).abs() < 1e-12);
        assert_eq!(residual_at(1.0, 0.01, 2.0, 38.0), None);
    }
}

//! Where the studies lie on the scaling and what it gives at the target; each study predicted from the others.

use meltlaw::extend::{Extension, LeftOut, Trait};
use meltlaw::laws::Reading;

use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::figures::Drawn;
use crate::marks::{Align, Frame, Marker, Shape, Stroke};

const WIDTH: f64 = 560.0;
const PANEL: f64 = 208.0;
const ROW: f64 = 232.0;

/// Coefficients that are looked at, with a factor that makes them easy to read.
const LOOKED_AT: [(&str, f64, &str); 4] = [
    ("alpha_mm_per_a_s", 1.0, "alpha (mm/(A s))"),
    ("beta_per_a2_s", 1e5, "beta (1e-5/(A² s))"),
    ("one_drop_from_ms", 1.0, "one drop from (ms)"),
    ("more_drops_from_ms", 1.0, "second drop from (ms)"),
];

/// Coefficients over the wire diameter, or study by study where the diameter is one.
pub(super) fn carried(e: &Extension) -> Option<Drawn> {
    let traits: Vec<(&Trait, f64, &str)> = LOOKED_AT
        .iter()
        .filter_map(|(name, by, label)| Some((e.traits.iter().find(|t| t.name == *name)?, *by, *label)))
        .collect();
    if traits.is_empty() {
        return None;
    }
    let rows = traits.len().div_ceil(2) as f64;
    let mut figure = Figure::new(WIDTH, ROW * rows + 48.0);
    figure.marker((20.0, 14.0), base_marker());
    figure.text((32.0, 14.0), "a study, with its own interval", Align::Start, Colour::Ink, 12.5);
    figure.marker((270.0, 14.0), target_marker());
    figure.text((282.0, 14.0), target_words(e), Align::Start, Colour::Ink, 12.5);
    let along = |place: usize| across(e, place);
    let places: Vec<f64> = (0..=e.rests_on.len()).map(along).collect();
    for (place, (t, by, label)) in traits.iter().enumerate() {
        let left = 56.0 + (place % 2) as f64 * 282.0;
        let top = 80.0 + (place / 2) as f64 * ROW;
        let frame = Frame { left, top, right: left + PANEL, bottom: top + ROW - 80.0 };
        let values =
            t.bases.iter().chain([&t.at_target]).flat_map(|b| [b.interval[0], b.interval[1], b.pooled]).map(|v| by * v);
        figure.text((left - 48.0, top - 15.0), *label, Align::Start, Colour::Ink, 12.5);
        let panel = figure.panel(
            frame,
            Axis::around(axis_label(e), places.iter().copied(), 0.08),
            Axis::around("", values, 0.08),
        );
        let mut pooled: Vec<(f64, f64)> = t.bases.iter().enumerate().map(|(i, b)| (along(i), by * b.pooled)).collect();
        pooled.push((along(e.rests_on.len()), by * t.at_target.value));
        pooled.sort_by(|a, b| a.0.total_cmp(&b.0));
        figure.curve(&panel, &pooled, Stroke::dashed(Colour::Soft, 1.6, 6.0, 4.0));
        for (i, b) in t.bases.iter().enumerate() {
            upright(&mut figure, &panel, along(i), b.interval.map(|v| by * v), Colour::Deep);
            figure.point(&panel, along(i), by * b.value, base_marker());
        }
        let at = along(e.rests_on.len());
        upright(&mut figure, &panel, at, t.at_target.interval.map(|v| by * v), Colour::Rust);
        figure.point(&panel, at, by * t.at_target.value, target_marker());
    }
    let cells = e.traits.iter().flat_map(|t| {
        let base = t
            .bases
            .iter()
            .enumerate()
            .map(|(i, b)| (e.rests_on.get(i).map_or(String::new(), |r| text(&r.file)), along(i), b));
        base.chain([("target".to_owned(), along(e.rests_on.len()), &t.at_target)])
            .map(|(who, x, b)| {
                let mut cells = vec![t.law.clone(), t.name.clone(), t.unit.clone(), who];
                cells.extend([x, b.value, b.interval[0], b.interval[1], b.pooled].map(number));
                cells
            })
            .collect::<Vec<_>>()
    });
    let odd: Vec<&str> = e.tests.values().filter(|t| t.warns).map(|t| t.reading.seen.as_str()).collect();
    let seen = if odd.is_empty() {
        "no study stands off the dashed line by more than studies usually scatter".to_owned()
    } else {
        odd.join("; ")
    };
    let action = if odd.is_empty() {
        "nothing"
    } else {
        "check the diameter, the material and the instruments of the study that stands off"
    };
    Some(Drawn {
        name: "carried",
        title: "What was carried".to_owned(),
        caption: "Dashed: the pooled law with its scaling.".to_owned(),
        reading: Reading::new(
            "every study lies on the dashed line within its interval and a few per cent",
            seen.clone(),
            action,
        ),
        svg: figure.svg("carried", "Coefficients of the studies and at the target", &seen),
        csv: csv(
            &["law", "coefficient", "unit", "study", "across", "value", "value_low", "value_high", "pooled"],
            cells,
        ),
    })
}

fn base_marker() -> Marker {
    Marker { shape: Shape::Circle, radius: 4.0, colour: Colour::Deep, filled: true }
}

fn target_marker() -> Marker {
    Marker { shape: Shape::Triangle, radius: 4.6, colour: Colour::Rust, filled: false }
}

/// What the studies lie along: diameter, carbon dioxide, else their number.
fn across(e: &Extension, place: usize) -> f64 {
    let base = e.rests_on.get(place);
    if let Some(target) = e.target.wire_diameter_mm {
        base.map_or(target, |b| b.wire_diameter_mm)
    } else if let Some(target) = e.target.carbon_dioxide_per_cent {
        base.map_or(target, |b| b.carbon_dioxide_per_cent.unwrap_or(f64::NAN))
    } else {
        (place + 1) as f64
    }
}

fn target_words(e: &Extension) -> &'static str {
    let one_wire = e.target.wire_diameter_mm.is_none() && e.target.carbon_dioxide_per_cent.is_none();
    if one_wire { "the target: any batch" } else { "the target: nobody welded it" }
}

fn axis_label(e: &Extension) -> &'static str {
    if e.target.wire_diameter_mm.is_some() {
        "wire diameter (mm)"
    } else if e.target.carbon_dioxide_per_cent.is_some() {
        "carbon dioxide (%)"
    } else {
        "batch; the last stands for any other"
    }
}

fn upright(figure: &mut Figure, panel: &crate::marks::Panel, x: f64, [low, high]: [f64; 2], colour: Colour) {
    figure.curve(panel, &[(x, low), (x, high)], Stroke::solid(colour, 1.8));
}

/// Found against predicted, in per cent of the prediction or in volts.
pub(super) fn left_out(e: &Extension) -> Option<Drawn> {
    if e.left_out.is_empty() {
        return None;
    }
    let off = |l: &LeftOut, v: f64| if l.unit == "V" { v - l.predicted } else { 100.0 * (v / l.predicted - 1.0) };
    let mut quantities: Vec<&str> = e.left_out.iter().map(|l| l.quantity.as_str()).collect();
    quantities.sort_unstable();
    quantities.dedup();
    quantities.reverse();
    let rows_of = |q: &str| e.left_out.iter().filter(|l| l.quantity == q).count() as f64;
    let height: f64 = quantities.iter().map(|q| 74.0 + 22.0 * rows_of(q)).sum();
    let mut figure = Figure::new(WIDTH, height);
    let mut top = 0.0;
    for q in &quantities {
        let of: Vec<&LeftOut> = e.left_out.iter().filter(|l| l.quantity == *q).collect();
        let unit = if of.iter().all(|l| l.unit == "V") { "V" } else { "%" };
        let frame =
            Frame { left: 210.0, top: top + 30.0, right: WIDTH - 20.0, bottom: top + 30.0 + 22.0 * of.len() as f64 };
        figure.text(
            (8.0, top + 14.0),
            format!("{}: found against predicted from the others ({unit})", crate::laws_comparison::words(q)),
            Align::Start,
            Colour::Ink,
            13.0,
        );
        let values = of.iter().flat_map(|l| [off(l, l.interval[0]), off(l, l.interval[1]), off(l, l.found), 0.0]);
        let panel = figure.panel_across(frame, Axis::around("", values, 0.06), of.len() as f64);
        for (place, l) in of.iter().enumerate() {
            let row = place as f64 + 0.5;
            let (_, y) = panel.place(panel.x.low, row);
            let name: String = l.study.chars().take(28).collect();
            figure.text((202.0, y), name, Align::End, Colour::Ink, 12.0);
            figure.curve(
                &panel,
                &[(off(l, l.interval[0]), row), (off(l, l.interval[1]), row)],
                Stroke::solid(Colour::Sea, 5.0),
            );
            let marker = if l.inside {
                Marker { shape: Shape::Circle, radius: 4.4, colour: Colour::Deep, filled: true }
            } else {
                Marker { shape: Shape::Square, radius: 4.8, colour: Colour::Plum, filled: true }
            };
            figure.point(&panel, off(l, l.found), row, marker);
        }
        top += 74.0 + 22.0 * of.len() as f64;
    }
    let inside = e.left_out.iter().filter(|l| l.inside).count();
    let seen = format!("{inside} of {} values lie inside", e.left_out.len());
    let rows = e.left_out.iter().map(|l| {
        let mut cells = vec![text(&l.study), l.law.clone(), l.quantity.clone(), l.unit.clone()];
        cells.extend([l.predicted, l.interval[0], l.interval[1], l.found].map(number));
        cells.push(if l.inside { "yes" } else { "no" }.to_owned());
        cells
    });
    Some(Drawn {
        name: "left_out",
        title: "Each study predicted from the others".to_owned(),
        caption: "Bars: the interval in which the value that a study's own trials find should lie. Circles: found, inside; squares: found, outside.".to_owned(),
        reading: Reading::new(
            "about nineteen of twenty values lie inside",
            seen.clone(),
            if inside * 5 >= e.left_out.len() * 4 { "nothing" } else { "do not trust the intervals before it is found out why" },
        ),
        svg: figure.svg("left_out", "Each study predicted from the others", &seen),
        csv: csv(&["study", "law", "quantity", "unit", "predicted", "predicted_low", "predicted_high", "found", "inside"], rows),
    })
}

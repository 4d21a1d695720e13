//! How far batches of one specification lie off their mean, with the spread that is estimated or bounded.

use meltlaw::compare::laws::{BatchSpread, LawsComparison};
use meltlaw::laws::Reading;

use super::labels::end;
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::figures::Drawn;
use crate::marks::{Align, Frame, Marker, Shape};

const WIDTH: f64 = 560.0;
const ROW: f64 = 22.0;
const HEAD: f64 = 30.0;
const FOOT: f64 = 40.0;

fn factor(s: &BatchSpread) -> (f64, &'static str) {
    if s.unit == "V" { (1.0, "V") } else { (100.0, "%") }
}

pub(super) fn draw(c: &LawsComparison) -> Option<Drawn> {
    let spreads: Vec<&BatchSpread> = c.batch_spread.iter().filter(|s| !s.batches_off.is_empty()).collect();
    if spreads.is_empty() {
        return None;
    }
    let height = |s: &BatchSpread| HEAD + FOOT + ROW * s.batches_off.len() as f64;
    let mut figure = Figure::new(WIDTH, spreads.iter().map(|s| height(s)).sum());
    let mut top = 0.0;
    for s in &spreads {
        let (by, unit) = factor(s);
        let rows = s.batches_off.len() as f64;
        let frame = Frame { left: 250.0, top: top + HEAD, right: WIDTH - 20.0, bottom: top + HEAD + ROW * rows };
        let spread = s.standard_deviation.or(s.interval[1]).unwrap_or(0.0) * by;
        let values = s.batches_off.iter().map(|(_, off)| by * off).chain([spread, -spread]);
        figure.text(
            (8.0, top + 14.0),
            format!("{} off the mean of {} batches ({unit})", words(&s.quantity), s.batches),
            Align::Start,
            Colour::Ink,
            13.0,
        );
        let panel = figure.panel_across(frame, Axis::around("", values, 0.08), rows);
        figure.upright(&panel, -spread, spread, Colour::Sea, 0.2);
        for (place, (name, off)) in s.batches_off.iter().enumerate() {
            let row = place as f64 + 0.5;
            let (_, y) = panel.place(panel.x.low, row);
            figure.text((242.0, y), end(name, 35), Align::End, Colour::Ink, 12.0);
            figure.point(
                &panel,
                by * off,
                row,
                Marker { shape: Shape::Circle, radius: 4.0, colour: Colour::Deep, filled: true },
            );
        }
        top += height(s);
    }
    let rows = spreads.iter().flat_map(|s| {
        s.batches_off.iter().map(|(name, off)| {
            vec![
                text(&s.wire),
                s.quantity.clone(),
                s.unit.clone(),
                text(name),
                number(*off),
                number(s.standard_deviation),
                number(s.interval[0]),
                number(s.interval[1]),
            ]
        })
    });
    let seen: Vec<String> = spreads.iter().map(|s| s.reading.seen.clone()).collect();
    let action = spreads.first().map_or(String::new(), |s| s.reading.action.clone());
    Some(Drawn {
        name: "batches",
        title: "Batches".to_owned(),
        caption: "Circles: each batch off their mean. Shaded: one standard deviation between batches; of two batches its upper bound.".to_owned(),
        reading: Reading::new("batches lie within a margin of each other", seen.join("; "), action),
        svg: figure.svg("batches", "Batches off their mean", &seen.join("; ")),
        csv: csv(&["wire", "quantity", "unit", "batch", "off_the_mean", "standard_deviation", "standard_deviation_low", "standard_deviation_high"], rows),
    })
}

pub(crate) fn words(quantity: &str) -> &'static str {
    match quantity {
        "wire_feed_m_min" => "wire feed",
        "one_drop_from_ms" => "pulse time for a drop",
        "more_drops_from_ms" => "pulse time for a second drop",
        _ => "voltage",
    }
}

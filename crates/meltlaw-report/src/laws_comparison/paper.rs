//! A figure for a column of a paper: burn-off curves above, their difference with band and margins below; black on white,
//! told apart by line and not by colour, no title.

use meltlaw::compare::laws::{Band, BandPlace, LawsComparison};

use super::bands::named;
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Stroke};

/// 85 mm at 96 pixels an inch.
const WIDTH: f64 = 321.0;
const HEIGHT: f64 = 400.0;

/// Strokes of the other wires, the first being solid.
const DASHES: [(f64, f64); 4] = [(7.0, 3.0), (3.0, 2.5), (10.0, 3.0), (1.5, 2.5)];

pub(super) fn draw(c: &LawsComparison) -> Option<(String, String)> {
    let bands: Vec<&Band> = c.bands.iter().filter(|b| b.law == "burn_off").take(DASHES.len()).collect();
    let longest = bands.iter().max_by_key(|b| b.along.len())?;
    let mut figure = Figure::new(WIDTH, HEIGHT);
    let across = |label: &str| {
        Axis::around(label, bands.iter().flat_map(|b| b.along.iter().filter_map(|p| p.at.current_mean_a)), 0.02)
    };
    let frame = |top: f64, bottom: f64| Frame { left: 44.0, top, right: WIDTH - 10.0, bottom };
    let stroke = |place: usize| Stroke::dashed(Colour::Ink, 1.4, DASHES[place].0, DASHES[place].1);
    let line = |band: &Band, of: &dyn Fn(&BandPlace) -> f64| -> Vec<(f64, f64)> {
        band.along.iter().filter_map(|p| Some((p.at.current_mean_a?, of(p)))).collect()
    };
    let feeds = bands.iter().flat_map(|b| b.along.iter().flat_map(|p| [p.first, p.second]));
    let panel = figure.panel(frame(28.0, 185.0), across(""), Axis::around("wire feed (m/min)", feeds, 0.05));
    figure.curve(&panel, &line(longest, &|p| p.first), Stroke::solid(Colour::Ink, 1.4));
    for (place, band) in bands.iter().enumerate() {
        figure.curve(&panel, &line(band, &|p| p.second), stroke(place));
    }
    let names = c.wires.first().map(|w| w.name.as_str()).into_iter().chain(bands.iter().map(|b| b.wire.as_str()));
    for (place, name) in names.enumerate() {
        let y = 40.0 + 14.0 * place as f64;
        let style = if place == 0 { Stroke::solid(Colour::Ink, 1.4) } else { stroke(place - 1) };
        figure.stroke(&[(52.0, y), (76.0, y)], style);
        let name = named(name);
        let short: String = name.chars().skip(name.chars().count().saturating_sub(26)).collect();
        figure.text((81.0, y), short, Align::Start, Colour::Ink, 10.5);
    }
    let per_cent = |p: &BandPlace, v: f64| 100.0 * v / p.first;
    let values = bands.iter().flat_map(|b| {
        b.along.iter().flat_map(|p| {
            [per_cent(p, p.interval[0]), per_cent(p, p.interval[1]), per_cent(p, p.margin), -per_cent(p, p.margin)]
        })
    });
    let panel = figure.panel(
        frame(226.0, HEIGHT - 44.0),
        across("mean current (A)"),
        Axis::around("difference in wire feed (%)", values, 0.06),
    );
    for (place, band) in bands.iter().enumerate() {
        let ends = [0, 1].map(|end| line(band, &|p| per_cent(p, p.interval[end])));
        figure.band(&panel, &ends[0], &ends[1], Colour::Soft, 0.22);
        figure.curve(&panel, &line(band, &|p| per_cent(p, p.difference)), stroke(place));
    }
    for sign in [1.0, -1.0] {
        figure.curve(&panel, &line(longest, &|p| sign * per_cent(p, p.margin)), Stroke::solid(Colour::Ink, 0.8));
    }
    let words =
        "Burn-off curves above; below the difference from the first wire with its simultaneous band and the margins.";
    let rows = bands.iter().flat_map(|b| {
        b.along.iter().map(|p| {
            let mut cells = vec![text(&b.wire), number(p.at.current_mean_a), number(p.at.extension_rms_squared_mm_a2)];
            cells.extend(
                [
                    p.first,
                    p.second,
                    per_cent(p, p.difference),
                    per_cent(p, p.interval[0]),
                    per_cent(p, p.interval[1]),
                    per_cent(p, p.margin),
                ]
                .map(number),
            );
            cells
        })
    });
    let header = [
        "wire",
        "current_mean_a",
        "extension_rms_squared_mm_a2",
        "first_wire_feed_m_min",
        "second_wire_feed_m_min",
        "difference_per_cent",
        "difference_low_per_cent",
        "difference_high_per_cent",
        "margin_per_cent",
    ];
    Some((figure.svg("paper_burn_off", "Burn-off curves and their difference", words), csv(&header, rows)))
}

//! Figures for a column of a paper: burn-off curves above, their difference with band and margins below; black on white,
//! told apart by line and not by colour, no title. Lines tell four wires from the first: of more there are further figures
//! on the same axes, so that they can stand side by side.

use meltlaw::compare::laws::{Band, BandPlace, LawsComparison};

use super::labels::Labels;
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Stroke};
use crate::numbers::significant;

/// 85 mm at 96 pixels an inch.
const WIDTH: f64 = 321.0;
const HEIGHT: f64 = 424.0;
/// Letters of a name in the legend.
const LABEL: usize = 40;

/// Strokes of the other wires, the first being solid.
const DASHES: [(f64, f64); 4] = [(7.0, 3.0), (3.0, 2.5), (10.0, 3.0), (1.5, 2.5)];

/// Path, SVG and CSV of each figure; none where no two wires could be compared.
pub(super) fn draw(c: &LawsComparison) -> Vec<(String, String, String)> {
    let bands: Vec<&Band> = c.bands.iter().filter(|b| b.law == "burn_off").collect();
    if bands.is_empty() {
        return Vec::new();
    }
    let parts: Vec<&[&Band]> = bands.chunks(DASHES.len()).collect();
    let axes = Axes::of(&bands);
    let data = data(&parts);
    let drawn = |(place, part): (usize, &&[&Band])| {
        let name = name(place);
        let svg = figure(c, part, &axes).svg(&name, "Burn-off curves and their difference", &words(place, &parts));
        (format!("figures/{name}"), svg, data.clone())
    };
    parts.iter().enumerate().map(drawn).collect()
}

fn name(place: usize) -> String {
    if place == 0 { "paper_burn_off".to_owned() } else { format!("paper_burn_off_{}", place + 1) }
}

/// What a figure shows, and where the wires are that it does not.
fn words(place: usize, parts: &[&[&Band]]) -> String {
    let mut words =
        "Burn-off curves above; below the difference from the first wire with its simultaneous band and the margins."
            .to_owned();
    if parts.len() > 1 {
        words.push_str(&format!(
            " Figure {} of {} on the same axes: lines tell the first wire and {} others apart; the data hold all.",
            place + 1,
            parts.len(),
            parts[place].len()
        ));
    }
    words
}

/// Axes that all figures share.
struct Axes {
    across: Axis,
    feed: Axis,
    difference: Axis,
    /// The heat in the extension at which the curves are read, in words.
    extension: String,
}

fn per_cent(p: &BandPlace, v: f64) -> f64 {
    100.0 * v / p.first
}

impl Axes {
    fn of(bands: &[&Band]) -> Self {
        let places = || bands.iter().flat_map(|b| &b.along);
        let heats = || places().filter_map(|p| p.at.extension_rms_squared_mm_a2);
        let [low, high] = [heats().fold(f64::INFINITY, f64::min), heats().fold(0.0, f64::max)];
        let values = places().flat_map(|p| [p.interval[0], p.interval[1], p.margin, -p.margin].map(|v| per_cent(p, v)));
        Self {
            across: Axis::around("mean current (A)", places().filter_map(|p| p.at.current_mean_a), 0.02),
            feed: Axis::around("wire feed (m/min)", places().flat_map(|p| [p.first, p.second]), 0.05),
            difference: Axis::around("difference in wire feed (%)", values, 0.06),
            extension: format!(
                "extension × RMS²: {} to {} × 10⁵ mm A², as the trials had it",
                significant(low / 1e5, 2),
                significant(high / 1e5, 2)
            ),
        }
    }
}

fn line(band: &Band, of: &dyn Fn(&BandPlace) -> f64) -> Vec<(f64, f64)> {
    band.along.iter().filter_map(|p| Some((p.at.current_mean_a?, of(p)))).collect()
}

fn figure(c: &LawsComparison, bands: &[&Band], axes: &Axes) -> Figure {
    let mut figure = Figure::new(WIDTH, HEIGHT);
    let labels = Labels::new(c, LABEL);
    let frame = |top: f64, bottom: f64| Frame { left: 44.0, top, right: WIDTH - 10.0, bottom };
    let first = Stroke::solid(Colour::Ink, 1.4);
    let stroke = |place: usize| Stroke::dashed(Colour::Ink, 1.4, DASHES[place].0, DASHES[place].1);
    let longest = bands.iter().max_by_key(|b| b.along.len());
    let panel =
        figure.panel(frame(28.0, 190.0), Axis { label: String::new(), ..axes.across.clone() }, axes.feed.clone());
    if let Some(longest) = longest {
        figure.curve(&panel, &line(longest, &|p| p.first), first);
    }
    for (place, band) in bands.iter().enumerate() {
        figure.curve(&panel, &line(band, &|p| p.second), stroke(place));
    }
    let names = c.wires.first().map(|w| w.name.as_str()).into_iter().chain(bands.iter().map(|b| b.wire.as_str()));
    for (place, name) in names.enumerate() {
        let y = 40.0 + 14.0 * place as f64;
        let style = if place == 0 { first } else { stroke(place - 1) };
        figure.stroke(&[(52.0, y), (76.0, y)], style);
        figure.text((81.0, y), labels.of(name), Align::Start, Colour::Ink, 10.5);
    }
    let panel = figure.panel(frame(232.0, HEIGHT - 62.0), axes.across.clone(), axes.difference.clone());
    for (place, band) in bands.iter().enumerate() {
        let ends = [0, 1].map(|end| line(band, &|p| per_cent(p, p.interval[end])));
        figure.band(&panel, &ends[0], &ends[1], Colour::Soft, 0.22);
        figure.curve(&panel, &line(band, &|p| per_cent(p, p.difference)), stroke(place));
    }
    for (sign, word, off) in [(1.0, "+ margin", -6.0), (-1.0, "− margin", 6.0)] {
        let margin = longest.map_or_else(Vec::new, |b| line(b, &|p| sign * per_cent(p, p.margin)));
        figure.curve(&panel, &margin, Stroke::solid(Colour::Ink, 0.8));
        if let Some((_, last)) = margin.last() {
            let (x, y) = panel.place(panel.x.high, *last);
            figure.text((x - 3.0, y + off), word, Align::End, Colour::Ink, 9.5);
        }
    }
    figure.text((44.0, HEIGHT - 12.0), axes.extension.clone(), Align::Start, Colour::Ink, 9.5);
    figure
}

const HEADER: [&str; 10] = [
    "wire",
    "current_mean_a",
    "extension_rms_squared_mm_a2",
    "first_wire_feed_m_min",
    "second_wire_feed_m_min",
    "difference_per_cent",
    "difference_low_per_cent",
    "difference_high_per_cent",
    "margin_per_cent",
    "figure",
];

/// Every wire, with the figure that shows it.
fn data(parts: &[&[&Band]]) -> String {
    let rows = parts.iter().enumerate().flat_map(|(place, part)| {
        part.iter().flat_map(move |b| {
            b.along.iter().map(move |p| {
                let mut cells =
                    vec![text(&b.wire), number(p.at.current_mean_a), number(p.at.extension_rms_squared_mm_a2)];
                cells.extend([p.first, p.second].map(number));
                cells.extend([p.difference, p.interval[0], p.interval[1], p.margin].map(|v| number(per_cent(p, v))));
                cells.push(name(place));
                cells
            })
        })
    });
    csv(&HEADER, rows)
}

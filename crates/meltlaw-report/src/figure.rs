//! A figure: marks collected on a canvas in CSS pixels, written as SVG by plotters.
//!
//! plotters' SVG knows whole pixels only, so everything is drawn ten times as large and the root element
//! scales it back; curves then have no steps. `mark.rs` draws the single marks; no other file speaks to plotters.

use plotters::prelude::*;

use crate::axis::Axis;
use crate::clip;
use crate::colours::Colour;
use crate::mark::{Mark, SCALE, large, printable};
use crate::marks::{Align, Frame, Marker, Panel, Place, Shape, Stroke};
use crate::slim;

/// A canvas with marks, drawn in the order in which they were added.
pub(crate) struct Figure {
    width: f64,
    height: f64,
    marks: Vec<Mark>,
}

impl Figure {
    pub(crate) fn new(width: f64, height: f64) -> Self {
        Self { width, height, marks: Vec::new() }
    }

    /// A panel with grid lines, tick texts and the names of both axes; the upright axis is named above
    /// its end, where it reads without turning the head.
    pub(crate) fn panel(&mut self, frame: Frame, x: Axis, y: Axis) -> Panel {
        let panel = Panel { frame, x, y };
        let grid = Stroke::solid(Colour::Grid, 1.0);
        let across = ticks(&panel.x, ((frame.right - frame.left) / 42.0) as usize);
        let upright = ticks(&panel.y, ((frame.bottom - frame.top) / 36.0) as usize);
        // Lines first, then texts: neighbours of one kind are written as one.
        for (value, _) in &across {
            let (at, _) = panel.place(*value, panel.y.low);
            self.stroke(&[(at, frame.top), (at, frame.bottom)], grid);
        }
        for (value, _) in &upright {
            let (_, at) = panel.place(panel.x.low, *value);
            self.stroke(&[(frame.left, at), (frame.right, at)], grid);
        }
        self.stroke(&[(frame.left, frame.bottom), (frame.right, frame.bottom)], Stroke::solid(Colour::Soft, 1.2));
        for (value, text) in across {
            let (at, _) = panel.place(value, panel.y.low);
            self.text((at, frame.bottom + 13.0), text, Align::Middle, Colour::Soft, 12.0);
        }
        for (value, text) in upright {
            let (_, at) = panel.place(panel.x.low, value);
            self.text((frame.left - 7.0, at), text, Align::End, Colour::Soft, 12.0);
        }
        if !panel.x.label.is_empty() {
            let middle = f64::midpoint(frame.left, frame.right);
            self.text((middle, frame.bottom + 31.0), panel.x.label.clone(), Align::Middle, Colour::Ink, 12.5);
        }
        if !panel.y.label.is_empty() {
            self.text((8.0, frame.top - 15.0), panel.y.label.clone(), Align::Start, Colour::Ink, 12.5);
        }
        panel
    }

    /// A panel of so many rows, counted from the top, with the quantity across: row `n` lies between `n` and
    /// `n + 1`. What the rows are is written beside it by who asks.
    pub(crate) fn panel_across(&mut self, frame: Frame, x: Axis, rows: f64) -> Panel {
        let panel = Panel { frame, x, y: Axis::between("", rows, 0.0) };
        let across = ticks(&panel.x, ((frame.right - frame.left) / 42.0) as usize);
        for (value, _) in &across {
            let (at, _) = panel.place(*value, 0.0);
            self.stroke(&[(at, frame.top), (at, frame.bottom)], Stroke::solid(Colour::Grid, 1.0));
        }
        for (value, text) in across {
            let (at, _) = panel.place(value, 0.0);
            self.text((at, frame.bottom + 13.0), text, Align::Middle, Colour::Soft, 12.0);
        }
        self.stroke(&[(frame.left, frame.bottom), (frame.right, frame.bottom)], Stroke::solid(Colour::Soft, 1.2));
        if (panel.x.low..=panel.x.high).contains(&0.0) {
            let (zero, _) = panel.place(0.0, 0.0);
            self.stroke(&[(zero, frame.top), (zero, frame.bottom)], Stroke::solid(Colour::Soft, 1.4));
        }
        panel
    }

    /// A curve through values, cut off at the panel's edges.
    pub(crate) fn curve(&mut self, panel: &Panel, points: &[(f64, f64)], stroke: Stroke) {
        for piece in clip::line(&panel.places(points), panel.frame) {
            self.stroke(&piece, stroke);
        }
    }

    /// The area between two curves, cut off at the panel's edges.
    pub(crate) fn band(
        &mut self,
        panel: &Panel,
        lower: &[(f64, f64)],
        upper: &[(f64, f64)],
        colour: Colour,
        opacity: f64,
    ) {
        let around: Vec<_> = lower.iter().chain(upper.iter().rev()).copied().collect();
        let points = clip::area(&panel.places(&around), panel.frame);
        if points.len() > 2 {
            self.marks.push(Mark::Area { points, colour, opacity });
        }
    }

    /// An area of the panel over its whole height.
    pub(crate) fn upright(&mut self, panel: &Panel, from: f64, to: f64, colour: Colour, opacity: f64) {
        let (low, high) = (panel.y.low, panel.y.high);
        self.band(panel, &[(from, low), (to, low)], &[(from, high), (to, high)], colour, opacity);
    }

    /// Slanted lines over the panel's whole height: what must not be used, in print too.
    pub(crate) fn hatch(&mut self, panel: &Panel, from: f64, to: f64, stroke: Stroke) {
        let Frame { top, bottom, .. } = panel.frame;
        let left = panel.place(from, panel.y.low).0.max(panel.frame.left);
        let right = panel.place(to, panel.y.low).0.min(panel.frame.right);
        if right <= left {
            return;
        }
        let mut start = left - (bottom - top);
        while start < right {
            let slanted = [(start, bottom), (start + bottom - top, top)];
            for piece in clip::line(&slanted, Frame { left, top, right, bottom }) {
                self.stroke(&piece, stroke);
            }
            start += 8.0;
        }
    }

    /// A point at values; left out where it lies outside the panel.
    pub(crate) fn point(&mut self, panel: &Panel, x: f64, y: f64, marker: Marker) {
        let (px, py) = panel.place(x, y);
        let Frame { left, top, right, bottom } = panel.frame;
        if (left - 0.5..=right + 0.5).contains(&px) && (top - 0.5..=bottom + 0.5).contains(&py) {
            self.marker((px, py), marker);
        }
    }

    /// A point at a place on the canvas.
    pub(crate) fn marker(&mut self, at: Place, marker: Marker) {
        let r = marker.radius;
        let inside = if marker.filled { marker.colour } else { Colour::Paper };
        let edge = if marker.filled { Colour::Paper } else { marker.colour };
        let width = if marker.filled { 0.8 } else { 1.6 };
        let corners: Vec<Place> = match marker.shape {
            Shape::Circle => {
                self.marks.push(Mark::Circle { at, radius: r, inside: Some(inside), edge, width });
                return;
            }
            Shape::Square => [(-0.88, -0.88), (0.88, -0.88), (0.88, 0.88), (-0.88, 0.88), (-0.88, -0.88)]
                .map(|(x, y)| (at.0 + r * x, at.1 + r * y))
                .to_vec(),
            Shape::Triangle | Shape::TriangleDown => {
                let up = if marker.shape == Shape::Triangle { 1.0 } else { -1.0 };
                [(0.0, -1.15), (1.05, 0.75), (-1.05, 0.75), (0.0, -1.15)]
                    .map(|(x, y)| (at.0 + r * x, at.1 + up * r * y))
                    .to_vec()
            }
        };
        self.marks.push(Mark::Area { points: corners.clone(), colour: inside, opacity: 1.0 });
        self.marks.push(Mark::Line { points: corners, colour: edge, width, dash: None });
    }

    /// A ring around a point.
    pub(crate) fn ring(&mut self, at: Place, radius: f64, stroke: Stroke) {
        self.marks.push(Mark::Circle { at, radius, inside: None, edge: stroke.colour, width: stroke.width });
    }

    /// A line on the canvas.
    pub(crate) fn stroke(&mut self, points: &[Place], stroke: Stroke) {
        if points.len() > 1 {
            let Stroke { colour, width, dash } = stroke;
            self.marks.push(Mark::Line { points: points.to_vec(), colour, width, dash });
        }
    }

    /// A text, its middle height at the place.
    pub(crate) fn text(&mut self, at: Place, text: impl Into<String>, align: Align, colour: Colour, size: f64) {
        self.marks.push(Mark::Text { at, text: text.into(), align, colour, size, bold: false });
    }

    /// A bold text on a ground of its own, so that lines behind do not cross it.
    pub(crate) fn label(&mut self, at: Place, text: &str, align: Align, colour: Colour) {
        let size = 12.0;
        // Width by the usual mean of 0.58 em a letter for bold sans serif; the ground may be a little off.
        let width = 0.58 * size * text.chars().count() as f64 + 4.0;
        let left = match align {
            Align::Start => at.0 - 2.0,
            Align::Middle => at.0 - width / 2.0,
            Align::End => at.0 - width + 2.0,
        };
        let (top, bottom) = (at.1 - 7.5, at.1 + 7.5);
        let points = vec![(left, top), (left + width, top), (left + width, bottom), (left, bottom)];
        self.marks.push(Mark::Area { points, colour: Colour::Paper, opacity: 0.8 });
        self.marks.push(Mark::Text { at, text: text.to_owned(), align, colour, size, bold: true });
    }

    /// The figure as a stand-alone SVG file with title and description.
    pub(crate) fn svg(&self, name: &str, title: &str, description: &str) -> String {
        let size = ((self.width * SCALE) as u32, (self.height * SCALE) as u32);
        let mut text = String::new();
        {
            let root = SVGBackend::with_string(&mut text, size).into_drawing_area();
            let written = root
                .fill(&Colour::Paper.rgb())
                .and_then(|()| self.marks.iter().try_for_each(|mark| mark.draw(&root)))
                .and_then(|()| root.present());
            written.expect("writing to a string does not fail");
        }
        let body = text.split_once('>').map_or("", |(_, body)| body);
        let body = slim::slim(body, &self.dashes());
        let (title, description) = (escaped(title), escaped(description));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" width=\"{}\" height=\"{}\" {} role=\"img\" \
             aria-labelledby=\"{name}-title {name}-words\"><title id=\"{name}-title\">{title}</title>\
             <desc id=\"{name}-words\">{description}</desc>\n{body}</svg>\n",
            size.0,
            size.1,
            self.width,
            self.height,
            slim::ROOT
        )
    }

    /// Dash and gap of each line, drawn as large as the line.
    fn dashes(&self) -> Vec<Option<(i32, i32)>> {
        let of = |mark: &Mark| match mark {
            Mark::Line { dash, .. } => Some(dash.map(large)),
            _ => None,
        };
        self.marks.iter().filter_map(of).collect()
    }
}

/// About so many ticks; a small panel gets a few more rather than a single one, which says nothing.
fn ticks(axis: &Axis, about: usize) -> Vec<(f64, String)> {
    let mut ticks = axis.ticks(about);
    for more in 1..=3 {
        if ticks.len() >= 2 {
            break;
        }
        ticks = axis.ticks(about + more);
    }
    ticks
}

fn escaped(text: &str) -> String {
    printable(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_is_drawn_at_ten_times_and_carries_its_text_alternative() {
        let mut figure = Figure::new(400.0, 260.0);
        let frame = Frame { left: 50.0, top: 30.0, right: 390.0, bottom: 220.0 };
        let panel = figure.panel(frame, Axis::between("x (m/min)", 0.0, 10.0), Axis::between("y (A)", 0.0, 1.0));
        figure.curve(&panel, &[(0.0, 0.0), (10.0, 1.0)], Stroke::solid(Colour::Deep, 2.0));
        let svg = figure.svg("trial", "a <title>", "quotes \" and </desc>");
        assert!(svg.contains("viewBox=\"0 0 4000 2600\""));
        assert!(svg.contains("width=\"400\" height=\"260\"") && !svg.contains("style="));
        assert!(svg.contains("stroke-width=\"20\" d=\"M500 2200l3400-1900\""), "{svg}");
        assert!(svg.contains("<title id=\"trial-title\">a &lt;title&gt;</title>"));
        assert!(!svg.contains("</desc></desc>"));
    }

    #[test]
    fn a_dashed_line_carries_its_dashes_and_a_solid_one_none() {
        let mut figure = Figure::new(100.0, 100.0);
        figure.stroke(&[(0.0, 0.0), (90.0, 0.0)], Stroke::solid(Colour::Deep, 2.0));
        figure.stroke(&[(0.0, 9.0), (90.0, 9.0)], Stroke::dashed(Colour::Deep, 2.0, 6.5, 3.0));
        let svg = figure.svg("t", "t", "t");
        assert!(svg.contains("stroke-dasharray=\"65 30\" d=\"M0 90h900\""), "{svg}");
        assert_eq!(svg.matches("dasharray").count(), 1);
    }

    #[test]
    fn markup_and_control_characters_in_texts_stay_texts() {
        let mut figure = Figure::new(100.0, 100.0);
        figure.text((10.0, 10.0), "</text><script>alert(1)</script>\u{1}", Align::Start, Colour::Ink, 12.0);
        let svg = figure.svg("t", "t", "t");
        assert!(!svg.contains("<script") && svg.contains("&lt;script&gt;") && !svg.contains('\u{1}'));
    }
}

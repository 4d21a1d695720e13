//! A single mark of a figure and how plotters draws it.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::colours::Colour;
use crate::marks::{Align, Place};

/// How much larger than shown everything is drawn.
pub(crate) const SCALE: f64 = 10.0;
/// plotters divides font sizes by this on writing.
const FONT_FACTOR: f64 = 1.24;

/// One thing on a canvas, in CSS pixels.
pub(crate) enum Mark {
    Line {
        points: Vec<Place>,
        colour: Colour,
        width: f64,
        /// Lengths of dash and gap.
        dash: Option<(f64, f64)>,
    },
    Area {
        points: Vec<Place>,
        colour: Colour,
        opacity: f64,
    },
    /// A circle of its own kind: a fifth of the bytes of one made of corners.
    Circle {
        at: Place,
        radius: f64,
        inside: Option<Colour>,
        edge: Colour,
        width: f64,
    },
    Text {
        at: Place,
        text: String,
        align: Align,
        colour: Colour,
        size: f64,
        bold: bool,
    },
}

impl Mark {
    /// Draws it with plotters; a line is one element, which dashes rely on.
    pub(crate) fn draw(
        &self,
        root: &DrawingArea<SVGBackend<'_>, plotters::coord::Shift>,
    ) -> Result<(), DrawingAreaErrorKind<std::io::Error>> {
        let scaled = |points: &[Place]| -> Vec<(i32, i32)> { points.iter().copied().map(large).collect() };
        match self {
            Self::Line { points, colour, width, .. } => {
                root.draw(&PathElement::new(scaled(points), colour.rgb().stroke_width((width * SCALE) as u32)))
            }
            Self::Area { points, colour, opacity } => {
                root.draw(&plotters::element::Polygon::new(scaled(points), colour.rgb().mix(*opacity).filled()))
            }
            Self::Circle { at, radius, inside, edge, width } => {
                let (at, radius) = (large(*at), (radius * SCALE).round() as i32);
                if let Some(inside) = inside {
                    root.draw(&Circle::new(at, radius, inside.rgb().filled()))?;
                }
                root.draw(&Circle::new(at, radius, edge.rgb().stroke_width((width * SCALE) as u32)))
            }
            Self::Text { at, text, align, colour, size, bold } => {
                let across = match align {
                    Align::Start => HPos::Left,
                    Align::Middle => HPos::Center,
                    Align::End => HPos::Right,
                };
                let weight = if *bold { FontStyle::Bold } else { FontStyle::Normal };
                let style = FontDesc::new(FontFamily::SansSerif, size * SCALE * FONT_FACTOR, weight)
                    .color(&colour.rgb())
                    .pos(Pos::new(across, VPos::Center));
                root.draw(&Text::new(printable(text), large(*at), style))
            }
        }
    }
}

/// As plotters gets it: whole numbers, ten to a pixel.
pub(crate) fn large((x, y): Place) -> (i32, i32) {
    ((x * SCALE).round() as i32, (y * SCALE).round() as i32)
}

/// Without the control characters that XML does not allow.
pub(crate) fn printable(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).collect()
}

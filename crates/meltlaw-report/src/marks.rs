//! What figures are made of: places, panels with axes, strokes, markers.

use crate::axis::Axis;
use crate::colours::Colour;

/// A place on the canvas, CSS pixels from the top left.
pub(crate) type Place = (f64, f64);

/// How a line is drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stroke {
    pub(crate) colour: Colour,
    pub(crate) width: f64,
    /// Lengths of dash and gap; none for a solid line.
    pub(crate) dash: Option<(f64, f64)>,
}

impl Stroke {
    pub(crate) const fn solid(colour: Colour, width: f64) -> Self {
        Self { colour, width, dash: None }
    }

    pub(crate) const fn dashed(colour: Colour, width: f64, dash: f64, gap: f64) -> Self {
        Self { colour, width, dash: Some((dash, gap)) }
    }
}

/// Shape of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    Circle,
    Square,
    Triangle,
    TriangleDown,
}

/// How a point is drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Marker {
    pub(crate) shape: Shape,
    pub(crate) radius: f64,
    pub(crate) colour: Colour,
    pub(crate) filled: bool,
}

/// Which end of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    Start,
    Middle,
    End,
}

/// The rectangle of a panel, in CSS pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
}

/// A rectangle with axes.
#[derive(Debug, Clone)]
pub(crate) struct Panel {
    pub(crate) frame: Frame,
    pub(crate) x: Axis,
    pub(crate) y: Axis,
}

impl Panel {
    /// Where a pair of values lies on the canvas.
    pub(crate) fn place(&self, x: f64, y: f64) -> Place {
        let Frame { left, top, right, bottom } = self.frame;
        (left + self.x.share(x) * (right - left), bottom - self.y.share(y) * (bottom - top))
    }

    /// The same for many, those left out that lie nowhere.
    pub(crate) fn places(&self, points: &[(f64, f64)]) -> Vec<Place> {
        points.iter().map(|&(x, y)| self.place(x, y)).filter(|(x, y)| x.is_finite() && y.is_finite()).collect()
    }
}

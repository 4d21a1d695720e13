//! What all figures over wire feed share: the axis, the ground that marks support, and series of nodes.

use meltlaw::line::Node;
use meltlaw::record::LineRecord;
use serde::Serialize;

use crate::axis::Axis;
use crate::colours::Colour;
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Panel, Shape, Stroke};
use crate::spans::{self, Span, Support};

/// The size of one figure over wire feed.
pub(crate) const SIZE: (f64, f64) = (400.0, 276.0);
const FRAME: Frame = Frame { left: 52.0, top: 50.0, right: 386.0, bottom: 232.0 };

/// Where wire feeds lie on every figure of this kind, for whoever marks one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(crate) struct FeedScale {
    from_m_min: f64,
    to_m_min: f64,
    /// Left, top, right and bottom edge in units of the drawing.
    edges: [f64; 4],
}

/// The line seen along its wire feed.
pub(crate) struct FeedView<'a> {
    pub(crate) nodes: &'a [Node],
    runs: Vec<(usize, usize)>,
    spans: Vec<Span>,
    unsupported: Vec<[f64; 2]>,
    asked_m_min: [f64; 2],
    from_m_min: f64,
    to_m_min: f64,
}

impl<'a> FeedView<'a> {
    /// `None` where the line has no node.
    pub(crate) fn of(record: &'a LineRecord) -> Option<Self> {
        let nodes = record.line.nodes.as_slice();
        let (first, last) = (nodes.first()?.wire_feed_m_min, nodes.last()?.wire_feed_m_min);
        let asked = record.request.as_ref().map(|r| r.wire_feed_m_min);
        let unsupported: Vec<[f64; 2]> = record.line.unsupported.iter().map(|u| u.wire_feed_m_min).collect();
        let ends = unsupported.iter().chain(asked.iter()).flatten().copied();
        let (from, to) = ends.fold((first, last), |(low, high), v| (low.min(v), high.max(v)));
        let room = (0.03 * (to - from)).max(0.1);
        Some(Self {
            nodes,
            runs: spans::runs(&record.line),
            spans: spans::spans(&record.line),
            unsupported,
            asked_m_min: [from, to],
            from_m_min: from - room,
            to_m_min: to + room,
        })
    }

    /// Where wire feeds lie.
    pub(crate) fn scale(&self) -> FeedScale {
        let edges = [FRAME.left, FRAME.top, FRAME.right, FRAME.bottom].map(|edge| 10.0 * edge);
        FeedScale { from_m_min: self.from_m_min, to_m_min: self.to_m_min, edges }
    }

    /// First and last feed that was asked for or has a setting.
    pub(crate) fn asked(&self) -> [f64; 2] {
        self.asked_m_min
    }

    /// A figure with its panel and the ground: hatched where there is no setting, tinted where the line
    /// is extended.
    pub(crate) fn figure(&self, y: Axis) -> (Figure, Panel) {
        let mut figure = Figure::new(SIZE.0, SIZE.1);
        let panel = figure.panel(FRAME, Axis::between("wire feed (m/min)", self.from_m_min, self.to_m_min), y);
        for span in self.spans.iter().filter(|s| s.support != Support::Covered) {
            figure.upright(&panel, span.from_m_min, span.to_m_min, Colour::Sand, 0.28);
        }
        for &[from, to] in &self.unsupported {
            figure.hatch(&panel, from, to, Stroke::solid(Colour::Soft, 0.7));
        }
        self.legend(&mut figure);
        (figure, panel)
    }

    /// Rings around the values of nodes at which the study fixes one of `settings` (any, where none is named),
    /// with what they mean.
    pub(crate) fn ring_pinned(
        &self,
        figure: &mut Figure,
        panel: &Panel,
        value: impl Fn(&Node) -> f64,
        settings: &[&str],
    ) {
        let ringed = |n: &&Node| n.pinned.iter().any(|p| settings.is_empty() || settings.contains(&p.as_str()));
        let mut any = false;
        for node in self.nodes.iter().filter(ringed) {
            figure.ring(panel.place(node.wire_feed_m_min, value(node)), 7.0, Stroke::solid(Colour::Ink, 1.6));
            any = true;
        }
        if any {
            let right = self.legend_end();
            figure.text((right, 11.0), "pinned", Align::End, Colour::Soft, 11.5);
            figure.ring((right - 49.0, 11.0), 5.5, Stroke::solid(Colour::Ink, 1.6));
        }
    }

    /// How far the legend of the grounds reaches to the left.
    fn legend_end(&self) -> f64 {
        let hatched = if self.unsupported.is_empty() { 0.0 } else { 96.0 };
        let tinted = if self.spans.iter().any(|s| s.support != Support::Covered) { 91.0 } else { 0.0 };
        FRAME.right - hatched - tinted
    }

    /// What the grounds mean, above the panel at the right; only those that occur.
    fn legend(&self, figure: &mut Figure) {
        let mut right = FRAME.right;
        if !self.unsupported.is_empty() {
            figure.text((right, 11.0), "no setting", Align::End, Colour::Soft, 11.5);
            let swatch = Frame { left: right - 80.0, top: 5.0, right: right - 64.0, bottom: 17.0 };
            let ground = Panel { frame: swatch, x: Axis::between("", 0.0, 1.0), y: Axis::between("", 0.0, 1.0) };
            figure.hatch(&ground, 0.0, 1.0, Stroke::solid(Colour::Soft, 0.7));
            right -= 96.0;
        }
        if self.spans.iter().any(|s| s.support != Support::Covered) {
            let carried = self.spans.iter().any(|s| s.support == Support::Carried);
            figure.text((right, 11.0), if carried { "carried" } else { "extended" }, Align::End, Colour::Soft, 11.5);
            let swatch = Frame { left: right - 75.0, top: 5.0, right: right - 59.0, bottom: 17.0 };
            let ground = Panel { frame: swatch, x: Axis::between("", 0.0, 1.0), y: Axis::between("", 0.0, 1.0) };
            figure.upright(&ground, 0.0, 1.0, Colour::Sand, 0.45);
        }
    }

    /// A value along the line: joined where settings exist between the nodes, nodes as points, hollow
    /// where extended or carried.
    pub(crate) fn series(
        &self,
        figure: &mut Figure,
        panel: &Panel,
        value: impl Fn(&Node) -> f64,
        shape: Shape,
        stroke: Stroke,
    ) {
        for &(first, last) in &self.runs {
            let points: Vec<_> = self.nodes[first..=last].iter().map(|n| (n.wire_feed_m_min, value(n))).collect();
            figure.curve(panel, &points, stroke);
        }
        for node in self.nodes {
            let marker = Marker { shape, radius: 3.4, colour: stroke.colour, filled: node.support == "covered" };
            figure.point(panel, node.wire_feed_m_min, value(node), marker);
        }
    }

    /// A band between two values along the line.
    pub(crate) fn band(
        &self,
        figure: &mut Figure,
        panel: &Panel,
        ends: impl Fn(&Node) -> [f64; 2],
        colour: Colour,
        opacity: f64,
    ) {
        for &(first, last) in &self.runs {
            let nodes = &self.nodes[first..=last];
            let side =
                |end: usize| -> Vec<(f64, f64)> { nodes.iter().map(|n| (n.wire_feed_m_min, ends(n)[end])).collect() };
            if nodes.len() > 1 {
                figure.band(panel, &side(0), &side(1), colour, opacity);
            } else {
                let [low, high] = ends(&nodes[0]);
                figure.curve(
                    panel,
                    &[(nodes[0].wire_feed_m_min, low), (nodes[0].wire_feed_m_min, high)],
                    Stroke::solid(colour, 2.0),
                );
            }
        }
    }

    /// A name beside a series, above or below the middle of its longest run.
    pub(crate) fn name(
        &self,
        figure: &mut Figure,
        panel: &Panel,
        value: impl Fn(&Node) -> f64,
        name: &str,
        colour: Colour,
        above: bool,
    ) {
        let (first, last) = self.runs.iter().copied().max_by_key(|(first, last)| last - first).unwrap_or((0, 0));
        let node = &self.nodes[usize::midpoint(first, last)];
        let (x, y) = panel.place(node.wire_feed_m_min, value(node));
        let y = if above { y - 13.0 } else { y + 13.0 };
        // Above a rising line there is room to the left, below it to the right.
        let rising = value(&self.nodes[last]) >= value(&self.nodes[first]);
        let width = 7.2 * name.chars().count() as f64;
        let (align, x) = match rising == above {
            true => (Align::End, x.max(panel.frame.left + width)),
            false => (Align::Start, x.min(panel.frame.right - width)),
        };
        figure.label((x, y.clamp(panel.frame.top + 8.0, panel.frame.bottom - 8.0)), name, align, colour);
    }

    /// From the lowest to the highest feed of the axis.
    pub(crate) fn ends(&self) -> (f64, f64) {
        (self.from_m_min, self.to_m_min)
    }

    /// Feeds of the runs of nodes.
    pub(crate) fn run_nodes(&self) -> impl Iterator<Item = &'a [Node]> + '_ {
        self.runs.iter().map(|&(first, last)| &self.nodes[first..=last])
    }
}

//! Lines against the first, drawn: both over wire feed at the left, their differences with error at the right.

mod table;

use meltlaw::compare::lines::{Consequence, LineComparison, MELTED};
use meltlaw::line::Node;
use meltlaw::record::LineRecord;

use crate::axis::Axis;
use crate::colours::Colour;
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Panel, Shape, Stroke};
use crate::numbers::{confidence, feed, signed};
use crate::spans::runs;

/// A line held against the first.
#[derive(Debug, Clone, Copy)]
pub struct ComparedLines<'a> {
    /// The first line.
    pub first: &'a LineRecord,
    /// The other.
    pub second: &'a LineRecord,
    /// What the first is called.
    pub first_name: &'a str,
    /// What the other is called.
    pub second_name: &'a str,
    /// What the comparison says.
    pub comparison: &'a LineComparison,
}

/// The drawing with what stands around it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComparisonFigure {
    /// What to see in it.
    pub caption: String,
    /// A file that opens alone.
    pub svg: String,
    /// Its numbers in full.
    pub csv: String,
}

const WIDTH: f64 = 820.0;
/// Above the panels of a pair: who is who.
const HEAD: f64 = 66.0;
const ROW: f64 = 236.0;
const LEFT: f64 = 56.0;
const SECOND_COLUMN: f64 = 470.0;
const PANEL_WIDTH: f64 = 336.0;

/// A row of panels.
struct Row {
    label: &'static str,
    value: fn(&Node) -> f64,
    interval: Option<fn(&Node) -> [f64; 2]>,
    /// Quantity whose difference stands beside, its label, and from the file's unit to what is printed.
    quantity: &'static str,
    change: &'static str,
    factor: fn(&Consequence) -> f64,
    from_zero: bool,
}

const ROWS: [Row; 4] = [
    Row {
        label: "pulse current (A), set",
        value: |n| n.pulse_current_a,
        interval: None,
        quantity: MELTED,
        change: "wire melted at equal current, change (%)",
        factor: |c| 100.0 / c.first,
        from_zero: true,
    },
    Row {
        label: "background current (A)",
        value: |n| n.background_current_a,
        interval: Some(|n| n.balancing_background_current_a_interval),
        quantity: "background_current_a",
        change: "background current, change (A)",
        factor: |_| 1.0,
        from_zero: true,
    },
    Row {
        label: "voltage, tip to work (V)",
        value: |n| n.voltage_mean_v,
        interval: Some(|n| n.voltage_mean_v_interval),
        quantity: "voltage_mean_v",
        change: "voltage, change (V)",
        factor: |_| 1.0,
        from_zero: false,
    },
    Row {
        label: "one drop per pulse (%)",
        value: |n| 100.0 * n.one_drop_probability.value,
        interval: Some(|n| n.one_drop_probability.interval.map(|end| 100.0 * end)),
        quantity: "one_drop_probability",
        change: "one drop per pulse, change (points)",
        factor: |_| 100.0,
        from_zero: false,
    },
];

const FIRST: (Colour, Shape) = (Colour::Deep, Shape::Circle);
const SECOND: (Colour, Shape) = (Colour::Rust, Shape::Triangle);

/// Draws lines against the first, one below the other; `None` where none of them has a node.
pub fn draw_comparison(pairs: &[ComparedLines<'_>]) -> Option<ComparisonFigure> {
    let drawn: Vec<&ComparedLines<'_>> =
        pairs.iter().filter(|p| !(p.first.line.nodes.is_empty() && p.second.line.nodes.is_empty())).collect();
    if drawn.is_empty() {
        return None;
    }
    let block = HEAD + ROW * ROWS.len() as f64;
    let mut figure = Figure::new(WIDTH, block * drawn.len() as f64);
    for (place, pair) in drawn.iter().enumerate() {
        pair_of_lines(&mut figure, pair, block * place as f64);
    }
    let words: Vec<String> = drawn.iter().map(|p| aloud(p)).collect();
    Some(ComparisonFigure {
        caption: caption(drawn[0].comparison),
        svg: figure.svg("line_comparison", "Lines against the first over wire feed", &words.join(" ")),
        csv: table::table(&drawn),
    })
}

fn caption(comparison: &LineComparison) -> String {
    format!(
        "left the lines, each with its own interval: the first solid with circles, the other dashed with triangles; right the \
         other minus the first with the error of the difference, {} for all feeds of a panel together: filled squares are \
         beyond error, hollow circles are not. Hatched: no feed with a setting in both",
        confidence(comparison.confidence)
    )
}

/// Text alternative of a pair.
fn aloud(pair: &ComparedLines<'_>) -> String {
    let told: Vec<String> = ROWS
        .iter()
        .filter_map(|row| {
            let largest = pair
                .comparison
                .of(row.quantity)
                .iter()
                .max_by(|a, b| a.difference.abs().total_cmp(&b.difference.abs()))?;
            let beyond = pair.comparison.of(row.quantity).iter().filter(|c| c.differs_from_zero == Some(true)).count();
            Some(format!(
                "{}: at most {} at {} m/min, beyond error at {beyond} of {} feeds",
                row.change,
                signed((row.factor)(largest) * largest.difference, 3),
                feed(largest.at.wire_feed_m_min),
                pair.comparison.feeds_together
            ))
        })
        .collect();
    let told = if told.is_empty() { "no feed has a setting in both".to_owned() } else { told.join("; ") };
    format!("{} against {}: {told}.", pair.second_name, pair.first_name)
}

fn pair_of_lines(figure: &mut Figure, pair: &ComparedLines<'_>, top: f64) {
    for (place, name, (colour, shape), dashed, line) in
        [(0.0, pair.first_name, FIRST, false, "first"), (1.0, pair.second_name, SECOND, true, "other")]
    {
        let y = top + 14.0 + 17.0 * place;
        figure.stroke(&[(14.0, y), (50.0, y)], stroke(colour, dashed));
        figure.marker((32.0, y), Marker { shape, radius: 3.4, colour, filled: true });
        figure.text((58.0, y), format!("{line}: {}", short(name)), Align::Start, Colour::Ink, 12.5);
    }
    for (place, beyond, words) in [(0.0, true, "beyond error"), (1.0, false, "within error")] {
        let y = top + 14.0 + 17.0 * place;
        figure.marker((WIDTH - 112.0, y), change_marker(beyond));
        figure.text((WIDTH - 100.0, y), words, Align::Start, Colour::Ink, 12.5);
    }
    let nodes = pair.first.line.nodes.iter().chain(&pair.second.line.nodes).map(|n| n.wire_feed_m_min);
    let across = Axis::around("wire feed (m/min)", nodes, 0.03);
    for (place, row) in ROWS.iter().enumerate() {
        let top = top + HEAD + ROW * place as f64;
        let frame = |left: f64| Frame { left, top, right: left + PANEL_WIDTH, bottom: top + ROW - 66.0 };
        both_lines(figure, pair, row, frame(LEFT), across.clone());
        // The name of an upright axis stands at the left edge of the canvas: that of the second column is a text of its own.
        figure.text((SECOND_COLUMN - 44.0, top - 15.0), row.change, Align::Start, Colour::Ink, 12.5);
        difference(figure, pair.comparison, row, frame(SECOND_COLUMN), across.clone());
    }
}

/// A name that fits in a line of the canvas, its end kept: paths differ there.
fn short(name: &str) -> String {
    const MOST: usize = 85;
    let long = name.chars().count();
    if long <= MOST { name.to_owned() } else { format!("…{}", name.chars().skip(long - MOST).collect::<String>()) }
}

fn stroke(colour: Colour, dashed: bool) -> Stroke {
    if dashed { Stroke::dashed(colour, 2.0, 7.0, 3.0) } else { Stroke::solid(colour, 2.2) }
}

fn both_lines(figure: &mut Figure, pair: &ComparedLines<'_>, row: &Row, frame: Frame, across: Axis) {
    let ends = |n: &Node| row.interval.map_or([(row.value)(n); 2], |of| of(n));
    let all = pair.first.line.nodes.iter().chain(&pair.second.line.nodes);
    let values = all.flat_map(|n| [(row.value)(n)].into_iter().chain(ends(n)));
    // The axis is named above its own panel, not at the edge of the canvas.
    figure.text((frame.left - 44.0, frame.top - 15.0), row.label, Align::Start, Colour::Ink, 12.5);
    let axis = Axis::around("", values, 0.06);
    let panel = figure.panel(frame, across, if row.from_zero { axis.starting_at_zero_if_near() } else { axis });
    hatched(figure, &panel, pair.comparison);
    for (record, (colour, shape), dashed) in [(pair.first, FIRST, false), (pair.second, SECOND, true)] {
        for (first, last) in runs(&record.line) {
            let nodes = &record.line.nodes[first..=last];
            let side =
                |end: usize| -> Vec<(f64, f64)> { nodes.iter().map(|n| (n.wire_feed_m_min, ends(n)[end])).collect() };
            if row.interval.is_some() {
                figure.band(&panel, &side(0), &side(1), colour, 0.16);
            }
            let points: Vec<(f64, f64)> = nodes.iter().map(|n| (n.wire_feed_m_min, (row.value)(n))).collect();
            figure.curve(&panel, &points, stroke(colour, dashed));
        }
        for n in &record.line.nodes {
            let marker = Marker { shape, radius: 3.0, colour, filled: n.support == "covered" };
            figure.point(&panel, n.wire_feed_m_min, (row.value)(n), marker);
        }
    }
}

fn difference(figure: &mut Figure, comparison: &LineComparison, row: &Row, frame: Frame, across: Axis) {
    let found = comparison.of(row.quantity);
    let ends = |c: &Consequence| c.interval.map(|ends| ends.map(|end| (row.factor)(c) * end));
    let values = found.iter().flat_map(|c| {
        let [low, high] = ends(c).unwrap_or([(row.factor)(c) * c.difference; 2]);
        [low, high, 0.0]
    });
    let panel = figure.panel(frame, across, Axis::around("", values, 0.08));
    hatched(figure, &panel, comparison);
    if found.is_empty() {
        let middle = (f64::midpoint(frame.left, frame.right), f64::midpoint(frame.top, frame.bottom));
        figure.label(middle, "cannot be told from these files", Align::Middle, Colour::Soft);
        return;
    }
    for [low, high] in &comparison.common_m_min {
        let inside: Vec<&Consequence> =
            found.iter().filter(|c| (*low..=*high).contains(&c.at.wire_feed_m_min)).collect();
        let side = |end: usize| -> Vec<(f64, f64)> {
            inside.iter().filter_map(|c| Some((c.at.wire_feed_m_min, ends(c)?[end]))).collect()
        };
        figure.band(&panel, &side(0), &side(1), Colour::Sea, 0.22);
        let points: Vec<(f64, f64)> =
            inside.iter().map(|c| (c.at.wire_feed_m_min, (row.factor)(c) * c.difference)).collect();
        figure.curve(&panel, &points, Stroke::solid(Colour::Sea, 1.8));
    }
    let (from, to) = (panel.x.low, panel.x.high);
    figure.curve(&panel, &[(from, 0.0), (to, 0.0)], Stroke::solid(Colour::Ink, 1.2));
    for c in found {
        let marker = change_marker(c.differs_from_zero == Some(true));
        figure.point(&panel, c.at.wire_feed_m_min, (row.factor)(c) * c.difference, marker);
    }
}

fn change_marker(beyond: bool) -> Marker {
    match beyond {
        true => Marker { shape: Shape::Square, radius: 4.0, colour: Colour::Plum, filled: true },
        false => Marker { shape: Shape::Circle, radius: 3.0, colour: Colour::Sea, filled: false },
    }
}

/// Feeds that only one of the lines has, or neither.
fn hatched(figure: &mut Figure, panel: &Panel, comparison: &LineComparison) {
    let mut from = panel.x.low;
    let mut common = comparison.common_m_min.clone();
    common.sort_by(|a, b| a[0].total_cmp(&b[0]));
    for [low, high] in common {
        if low > from {
            figure.hatch(panel, from, low, Stroke::solid(Colour::Soft, 0.6));
        }
        from = from.max(high);
    }
    if from < panel.x.high {
        figure.hatch(panel, from, panel.x.high, Stroke::solid(Colour::Soft, 0.6));
    }
}

#[cfg(test)]
mod tests;

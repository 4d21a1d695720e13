//! What else would do: at a few feeds the region of pulses, and of frequency and background, that the study's
//! conditions allow, with the chosen path through them.

use meltlaw::line::{Admissible, Line, Node, Span};

use super::Drawn;
use super::line_readings::admissible::{Direction, room, rooms};
use super::line_readings::aloud;
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Panel, Place, Shape, Stroke};
use crate::numbers;
use crate::words;

const FRAME: Frame = Frame { left: 52.0, top: 84.0, right: 546.0, bottom: 424.0 };

/// Colour, outline and marker of the lowest, the middle and the highest feed: each differs in all three.
const LOOKS: [(Colour, Option<(f64, f64)>, Shape); 3] = [
    (Colour::Sea, None, Shape::Circle),
    (Colour::Rust, Some((9.0, 4.0)), Shape::Square),
    (Colour::Deep, Some((3.0, 3.0)), Shape::Triangle),
];

/// Labels keep this far apart, in pixels across and upright.
const APART: (f64, f64) = (110.0, 17.0);

/// One projection: what is drawn and what it is called.
struct Projection {
    name: &'static str,
    title: &'static str,
    across: &'static str,
    upright: &'static str,
    columns: [&'static str; 4],
    spans: fn(&Admissible) -> &[Span],
    place: fn(&Node) -> (f64, f64),
    /// How a move across and upright is told.
    moves: [Direction; 2],
}

const PROJECTIONS: [Projection; 2] = [
    Projection {
        name: "admissible_pulses",
        title: "Pulses that would do",
        across: "pulse current (A)",
        upright: "pulse time (ms)",
        columns: ["wire_feed_m_min", "pulse_current_a", "pulse_time_ms_low", "pulse_time_ms_high"],
        spans: |a| &a.pulse_time_ms_by_pulse_current_a,
        place: |n| (n.pulse_current_a, n.pulse_time_ms),
        moves: [
            Direction { unit: "A", places: 0, less: "less", more: "more" },
            Direction { unit: "ms", places: 2, less: "shorter", more: "longer" },
        ],
    },
    Projection {
        name: "admissible_backgrounds",
        title: "Frequencies and backgrounds that would do",
        across: "pulse frequency (Hz)",
        upright: "background current (A)",
        columns: ["wire_feed_m_min", "pulse_frequency_hz", "background_current_a_low", "background_current_a_high"],
        spans: |a| &a.background_current_a_by_pulse_frequency_hz,
        place: |n| (n.pulse_frequency_hz, n.background_current_a),
        moves: [
            Direction { unit: "Hz", places: 0, less: "less", more: "more" },
            Direction { unit: "A", places: 0, less: "less", more: "more" },
        ],
    },
];

/// Both projections; nothing for a line without regions.
pub(crate) fn draw(line: &Line) -> Vec<Drawn> {
    let last = line.admissible.len().saturating_sub(1);
    let shown: Vec<(&Admissible, _)> = match line.admissible.len() {
        0 => return Vec::new(),
        1 => vec![(&line.admissible[0], LOOKS[0])],
        2 => vec![(&line.admissible[0], LOOKS[0]), (&line.admissible[1], LOOKS[2])],
        _ => [0, last / 2, last].into_iter().zip(LOOKS).map(|(i, look)| (&line.admissible[i], look)).collect(),
    };
    PROJECTIONS.iter().map(|projection| projection.draw(line, &shown)).collect()
}

type Look = (Colour, Option<(f64, f64)>, Shape);

impl Projection {
    fn draw(&self, line: &Line, shown: &[(&Admissible, Look)]) -> Drawn {
        let spans = || shown.iter().flat_map(|(a, _)| (self.spans)(a));
        let path: Vec<(f64, f64)> = line.nodes.iter().map(self.place).collect();
        let across = spans().map(|s| s.at).chain(path.iter().map(|p| p.0));
        let upright = spans().flat_map(|s| [s.low, s.high]).chain(path.iter().map(|p| p.1));
        let mut figure = Figure::new(560.0, 470.0);
        let panel =
            figure.panel(FRAME, Axis::around(self.across, across, 0.05), Axis::around(self.upright, upright, 0.07));
        for (admissible, look) in shown {
            for stretch in stretches((self.spans)(admissible)) {
                area(&mut figure, &panel, &stretch, *look);
            }
        }
        figure.curve(&panel, &path, Stroke::solid(Colour::Ink, 2.0));
        for &(x, y) in &path {
            figure.point(&panel, x, y, Marker { shape: Shape::Circle, radius: 2.4, colour: Colour::Ink, filled: true });
        }
        let mut taken: Vec<Place> = Vec::new();
        for (admissible, (colour, _, shape)) in shown {
            if let Some(node) = line.nodes.iter().find(|n| n.wire_feed_m_min == admissible.wire_feed_m_min) {
                let (x, y) = (self.place)(node);
                figure.point(&panel, x, y, Marker { shape: *shape, radius: 7.0, colour: *colour, filled: true });
                taken.push(panel.place(x, y));
            }
        }
        for (admissible, (colour, ..)) in shown {
            name_limits(&mut figure, &panel, (self.spans)(admissible), *colour, &mut taken);
        }
        legend(&mut figure, shown);
        let rows = line.admissible.iter().flat_map(|a| {
            (self.spans)(a).iter().map(|s| {
                let mut row: Vec<String> = [a.wire_feed_m_min, s.at, s.low, s.high].map(number).to_vec();
                row.extend([s.low_limits.join(" "), s.high_limits.join(" ")]);
                row
            })
        });
        let header: Vec<&str> = self.columns.into_iter().chain(["ends_below_by", "ends_above_by"]).collect();
        let at = |a: &Admissible| {
            let node = line.nodes.iter().find(|n| n.wire_feed_m_min == a.wire_feed_m_min);
            let place = node.map(self.place);
            (a.wire_feed_m_min, place, place.and_then(|place| room(&stretches((self.spans)(a)), place)))
        };
        let shown_rooms: Vec<_> = shown.iter().map(|(a, _)| at(a)).collect();
        let reading = rooms(&shown_rooms, &self.moves[0], &self.moves[1]);
        Drawn {
            name: self.name,
            title: self.title.to_owned(),
            caption: "Inside an outline at least one choice of the other settings melts the feed, detaches one drop as surely as \
                      asked, and keeps all limits. Large markers: the line's own setting at that feed; the black line: its path \
                      over all feeds. Written at the edges: what ends the region there."
                .to_owned(),
            svg: figure.svg(self.name, self.title, &aloud(&self.words(shown), &reading)),
            reading,
            csv: csv(&header, rows),
        }
    }

    fn words(&self, shown: &[(&Admissible, Look)]) -> String {
        let each = shown.iter().map(|(a, _)| {
            let spans = (self.spans)(a);
            let feed = numbers::feed(a.wire_feed_m_min);
            let (Some(first), Some(last)) = (spans.first(), spans.last()) else {
                return format!("At {feed} m/min nothing else would do.");
            };
            let low = spans.iter().map(|s| s.low).fold(f64::INFINITY, f64::min);
            let high = spans.iter().map(|s| s.high).fold(f64::NEG_INFINITY, f64::max);
            let figures = |v: f64| numbers::significant(v, 3);
            let (across, upright) = (self.across, self.upright);
            format!(
                "At {feed} m/min: {across} {} to {}, {upright} {} to {}.",
                figures(first.at),
                figures(last.at),
                figures(low),
                figures(high)
            )
        });
        each.collect::<Vec<_>>().join(" ")
    }
}

/// Spans that hang together from one value of the first setting to the next.
fn stretches(spans: &[Span]) -> Vec<Vec<&Span>> {
    let mut stretches: Vec<Vec<&Span>> = Vec::new();
    let mut before = f64::NAN;
    let mut here = f64::NAN;
    for span in spans {
        if span.at != here {
            (before, here) = (here, span.at);
        }
        let joined = stretches
            .iter_mut()
            .find(|s| s.last().is_some_and(|l| l.at == before && l.low <= span.high && span.low <= l.high));
        match joined {
            Some(stretch) => stretch.push(span),
            None => stretches.push(vec![span]),
        }
    }
    stretches
}

fn area(figure: &mut Figure, panel: &Panel, stretch: &[&Span], (colour, dash, shape): Look) {
    let low: Vec<_> = stretch.iter().map(|s| (s.at, s.low)).collect();
    let high: Vec<_> = stretch.iter().map(|s| (s.at, s.high)).collect();
    figure.band(panel, &low, &high, colour, 0.16);
    let mut around = low;
    around.extend(high.into_iter().rev());
    around.push(around[0]);
    figure.curve(panel, &around, Stroke { colour, width: 2.0, dash });
    if shape == Shape::Triangle {
        // The highest feed is hatched upright, so that it stays apart where regions lie on each other.
        for span in stretch.iter().step_by(2) {
            figure.curve(panel, &[(span.at, span.low), (span.at, span.high)], Stroke::solid(colour, 0.6));
        }
    }
}

/// Each limit once a region: in the middle of its longest run along the lower and the upper edge, where there is room.
fn name_limits(figure: &mut Figure, panel: &Panel, spans: &[Span], colour: Colour, taken: &mut Vec<Place>) {
    type Edge = (fn(&Span) -> &[String], fn(&Span) -> f64, f64);
    let edges: [Edge; 2] = [(|s| &s.low_limits, |s| s.low, 11.0), (|s| &s.high_limits, |s| s.high, -11.0)];
    for (limits, value, off) in edges {
        let mut runs: Vec<(&str, usize, usize)> = Vec::new();
        for (i, span) in spans.iter().enumerate() {
            for limit in limits(span) {
                match runs.iter_mut().find(|r| r.0 == limit && r.2 + 1 == i) {
                    Some(run) => run.2 = i,
                    None => runs.push((limit, i, i)),
                }
            }
        }
        runs.sort_by_key(|r| std::cmp::Reverse(r.2 - r.1));
        let mut named: Vec<&str> = Vec::new();
        for (limit, from, to) in runs {
            let middle = &spans[usize::midpoint(from, to)];
            let (x, y) = panel.place(middle.at, value(middle));
            let text = words::limit_in_short(limit);
            let half = 0.29 * 12.0 * text.chars().count() as f64;
            let x = x.clamp(panel.frame.left + half, panel.frame.right - half);
            let y = (y + off).clamp(panel.frame.top + 9.0, panel.frame.bottom - 9.0);
            let free = taken.iter().all(|t| (t.0 - x).abs() > APART.0 || (t.1 - y).abs() > APART.1);
            if free && !named.contains(&limit) && to > from {
                figure.label((x, y), &text, Align::Middle, colour);
                taken.push((x, y));
                named.push(limit);
            }
        }
    }
}

fn legend(figure: &mut Figure, shown: &[(&Admissible, Look)]) {
    let mut x = 14.0;
    for (admissible, (colour, dash, shape)) in shown {
        figure.stroke(&[(x, 16.0), (x + 34.0, 16.0)], Stroke { colour: *colour, width: 2.0, dash: *dash });
        figure.marker((x + 17.0, 16.0), Marker { shape: *shape, radius: 6.0, colour: *colour, filled: true });
        let text = format!("{} m/min", numbers::feed(admissible.wire_feed_m_min));
        figure.text((x + 41.0, 16.0), text.clone(), Align::Start, Colour::Ink, 12.0);
        x += 60.0 + 7.0 * text.chars().count() as f64;
    }
    figure.stroke(&[(14.0, 40.0), (48.0, 40.0)], Stroke::solid(Colour::Ink, 2.0));
    figure.marker((31.0, 40.0), Marker { shape: Shape::Circle, radius: 2.4, colour: Colour::Ink, filled: true });
    figure.text((55.0, 40.0), "the composed line, all nodes", Align::Start, Colour::Ink, 12.0);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(at: f64, low: f64, high: f64) -> Span {
        Span { at, low, high, low_limits: vec!["one_drop_low".to_owned()], high_limits: vec!["drop_small".to_owned()] }
    }

    #[test]
    fn spans_of_neighbouring_values_hang_together_where_they_overlap() {
        let spans =
            [span(1.0, 0.0, 1.0), span(1.0, 2.0, 3.0), span(2.0, 0.5, 1.5), span(3.0, 0.5, 1.5), span(3.0, 2.0, 3.0)];
        let lengths: Vec<usize> = stretches(&spans).iter().map(Vec::len).collect();
        assert_eq!(lengths, [3, 1, 1]);
    }
}

//! The range at a glance: one bar over wire feed, covered, extended, carried or without a setting.

use meltlaw::laws::Reading;
use meltlaw::record::LineRecord;

use super::Drawn;
use super::feed_view::FeedView;
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number};
use crate::figure::Figure;
use crate::html::to_confirm;
use crate::marks::{Align, Frame, Marker, Shape, Stroke};
use crate::numbers::feed;
use crate::spans::{self, Support};
use crate::words;

const SIZE: (f64, f64) = (480.0, 118.0);
const FRAME: Frame = Frame { left: 14.0, top: 34.0, right: 466.0, bottom: 76.0 };

/// `None` where the line has no node.
pub(crate) fn draw(record: &LineRecord) -> Option<Drawn> {
    let nodes = &record.line.nodes;
    let gaps = record.line.unsupported.iter().map(|u| u.wire_feed_m_min);
    let refused = record.line.refused().map(|range| range.wire_feed_m_min);
    let gaps: Vec<[f64; 2]> = gaps.chain(refused).collect();
    let [from, to] = FeedView::of(record)?.asked();
    let room = (0.02 * (to - from)).max(0.1);
    let mut figure = Figure::new(SIZE.0, SIZE.1);
    let panel = figure.panel_across(FRAME, Axis::between("", from - room, to + room), 1.0);
    for &[low, high] in &gaps {
        figure.hatch(&panel, low, high, Stroke::solid(Colour::Soft, 0.7));
    }
    let spans = spans::spans(&record.line);
    let mut free_from = f64::NEG_INFINITY;
    for span in &spans {
        // Rows count from the top: a low bar begins half-way down.
        let (colour, top) = match span.support {
            Support::Covered => (Colour::Deep, 0.0),
            Support::Extended => (Colour::Sand, 0.5),
            Support::Carried => (Colour::Sand, 0.75),
        };
        let (from, to) = (span.from_m_min, span.to_m_min);
        figure.band(&panel, &[(from, 1.0), (to, 1.0)], &[(from, top), (to, top)], colour, 1.0);
        let (left, right) = (panel.place(span.from_m_min, 0.0).0, panel.place(span.to_m_min, 0.0).0);
        // A word only where it has room above its own bar.
        let middle = f64::midpoint(left, right);
        if middle - 30.0 > free_from && right - left > 30.0 {
            figure.text((middle, FRAME.top - 9.0), span.support.word(), Align::Middle, Colour::Ink, 12.0);
            free_from = middle + 30.0;
        }
    }
    let confirm = to_confirm(nodes);
    for node in &confirm {
        let marker = Marker { shape: Shape::Triangle, radius: 6.0, colour: Colour::Paper, filled: true };
        figure.point(&panel, node.wire_feed_m_min, 0.75, marker);
    }
    figure.text(
        (f64::midpoint(FRAME.left, FRAME.right), FRAME.bottom + 31.0),
        "wire feed (m/min)",
        Align::Middle,
        Colour::Ink,
        12.5,
    );
    let ranges = |support: Support| {
        let of: Vec<String> = spans
            .iter()
            .filter(|s| s.support == support)
            .map(|s| format!("{} to {}", feed(s.from_m_min), feed(s.to_m_min)))
            .collect();
        if of.is_empty() { "nowhere".to_owned() } else { format!("{} m/min", words::listed(&of)) }
    };
    let seen = format!(
        "covered by trials {}; extended {}; carried {}; of {} to {} m/min that were asked for",
        ranges(Support::Covered),
        ranges(Support::Extended),
        ranges(Support::Carried),
        feed(from),
        feed(to)
    );
    let welds = words::listed(&confirm.iter().map(|n| feed(n.wire_feed_m_min)).collect::<Vec<_>>());
    let bars = spans.iter().map(|s| vec![number(s.from_m_min), number(s.to_m_min), s.support.word().to_owned()]);
    let none = gaps.iter().map(|[low, high]| vec![number(*low), number(*high), "no setting".to_owned()]);
    Some(Drawn {
        name: "range",
        title: "Where the line may be trusted".to_owned(),
        caption: "High bar: inside the ranges of the trials. Half bar: a little beyond them. Quarter bar: carried to what nobody welded. Hatched: no setting. Triangles: the settings to \
                  confirm first."
            .to_owned(),
        reading: Reading::new(
            "one high bar over the feeds that the work needs, with low ends or none",
            seen.clone(),
            format!("weld {welds} m/min to confirm before use; set nothing by this line where the ground is hatched"),
        ),
        svg: figure.svg("range", "Ranges of wire feed by support", &seen),
        csv: csv(&["from_m_min", "to_m_min", "support"], bars.chain(none)),
    })
}

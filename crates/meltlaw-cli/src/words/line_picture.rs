//! The line as a picture: its currents over wire feed, the feeds asked for, what the trials carry.

use meltlaw::line::Node;
use meltlaw::line_at::at;
use meltlaw::line_spans::{Support, support_of};
use meltlaw::record::LineRecord;
use meltlaw_report::numbers::feed;

use crate::plot::{Axis, Plot, Stroke};
use crate::screen::Screen;
use crate::told::Told;

const ROWS: usize = 10;
/// Letters for the names of the curves and of the axis across.
const MARGIN: usize = 18;

/// Name, how it is drawn, which number of a node.
const CURVES: [(&str, Stroke, fn(&Node) -> f64); 3] = [
    ("pulse", Stroke::Solid, |n| n.pulse_current_a),
    ("mean", Stroke::Dashed, |n| n.current_mean_a),
    ("background", Stroke::Dotted, |n| n.background_current_a),
];

/// The picture in lines, with the feeds asked for and the settings that were found there (shifted ones beside
/// the curves); none where the screen takes none or the line has no node.
pub(crate) fn line_picture(record: &LineRecord, asked: &[f64], found: &[Node], screen: Screen) -> Vec<String> {
    if screen.plots { picture(record, asked, found, screen).unwrap_or_default() } else { Vec::new() }
}

fn picture(record: &LineRecord, asked: &[f64], found: &[Node], screen: Screen) -> Option<Vec<String>> {
    let nodes = &record.line.nodes;
    let highest = CURVES.iter().flat_map(|(_, _, of)| nodes.iter().map(of)).fold(0.0, f64::max);
    let y = Axis::between("current, A", 0.0, 1.05 * highest, 4)?;
    let mut plot = Plot::new(feeds(record)?, y, screen.width, MARGIN, ROWS)?;
    for (name, stroke, of) in CURVES {
        for stretch in stretches(record) {
            let points: Vec<(f64, f64)> = stretch.iter().map(|n| (n.wire_feed_m_min, of(n))).collect();
            plot.curve(&points, stroke);
        }
        plot.beside(of(nodes.last()?), &format!(" {name}"));
    }
    for node in found {
        CURVES.iter().for_each(|(_, _, of)| plot.mark(node.wire_feed_m_min, of(node), '●'));
    }
    asked.iter().for_each(|wire_feed| plot.upright(*wire_feed));
    let arrows: Vec<(f64, String)> = asked.iter().map(|f| (*f, feed(*f))).collect();
    plot.arrows(&arrows);
    let supports = std::cell::Cell::new([false; 4]);
    plot.strip("support", |wire_feed| {
        let (place, letter) = match at(record, wire_feed) {
            Ok(node) => match support_of(&node) {
                Support::Covered => (0, '█'),
                Support::Extended => (1, '▒'),
                Support::Carried => (2, '░'),
            },
            Err(_) => (3, '·'),
        };
        let mut seen = supports.get();
        seen[place] = true;
        supports.set(seen);
        letter
    });
    let mut lines = plot.lines();
    let legend: Vec<&str> = ["█ covered", "▒ extended", "░ carried", "· no setting"]
        .into_iter()
        .zip(supports.get())
        .filter_map(|(words, seen)| seen.then_some(words))
        .chain((!asked.is_empty()).then_some("▲ ● asked for"))
        .collect();
    lines.extend(Told::new("    ", legend.join("   ")).laid_out(screen));
    Some(lines)
}

/// The feeds asked for in the study, or else those that the line tells of.
fn feeds(record: &LineRecord) -> Option<Axis> {
    const NAME: &str = "wire feed, m/min";
    let stated = record.request.as_ref().and_then(|r| {
        let [low, high] = r.wire_feed_m_min;
        Axis::between(NAME, low, high, 6)
    });
    stated.or_else(|| Axis::around(NAME, record.line.nodes.iter().map(|n| n.wire_feed_m_min), 6))
}

/// The nodes between gaps.
fn stretches(record: &LineRecord) -> Vec<&[Node]> {
    let gap = |a: &Node, b: &Node| {
        record.line.unsupported.iter().any(|gap| gap.lies_between(a.wire_feed_m_min, b.wire_feed_m_min))
    };
    record.line.nodes.chunk_by(|a, b| !gap(a, b)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record() -> LineRecord {
        let text = include_str!("../../../../datasets/worked_example/line.json");
        meltlaw_files::LineDocument::from_json(text, "line.json").unwrap().body().clone()
    }

    const SCREEN: Screen = Screen { width: 80, styled: false, plots: true };

    #[test]
    fn a_line_without_nodes_and_odd_feeds_have_no_picture_that_fails() {
        let mut record = record();
        let found = at(&record, 6.0).unwrap();
        let lines = picture(&record, &[f64::NAN, -1.0, 1e9, 6.0], &[found], SCREEN).unwrap();
        assert_eq!(lines.concat().matches('●').count(), 4, "three curves and the legend: {lines:#?}");
        record.line.nodes.iter_mut().for_each(|n| n.current_mean_a = f64::NAN);
        assert!(picture(&record, &[6.0], &[], SCREEN).is_some());
        record.request = None;
        record.line.nodes.truncate(1);
        assert!(picture(&record, &[6.0], &[], SCREEN).is_some());
        record.line.nodes.clear();
        assert!(picture(&record, &[6.0], &[], SCREEN).is_none());
    }

    #[test]
    fn a_gap_has_no_curve_and_says_so() {
        let mut record = record();
        let [a, b] = [record.line.nodes[1].wire_feed_m_min, record.line.nodes[2].wire_feed_m_min];
        record.line.unsupported.push(meltlaw::line::Unsupported {
            wire_feed_m_min: [a + 0.01, b - 0.01],
            limits: vec!["slopes".to_owned()],
            reason: "slopes".to_owned(),
        });
        assert_eq!(stretches(&record).len(), 2);
        let lines = picture(&record, &[6.0], &[], SCREEN).unwrap();
        assert!(lines.iter().any(|l| l.contains("█·") || l.contains("▒·")), "{lines:#?}");
        assert!(lines.last().unwrap().contains("· no setting"));
        assert!(lines.iter().all(|l| l.chars().count() <= 80), "{lines:#?}");
    }

    #[test]
    fn carried_and_contradicted_feeds_are_told_apart_from_covered_ones() {
        let mut record = record();
        record.line.nodes.iter_mut().for_each(|node| node.support = "carried".to_owned());
        record.line.standing = vec![meltlaw::line::StandingRange {
            state: "contradicted".to_owned(),
            wire_feed_m_min: [6.0, 8.0],
            rule: None,
            evidence: None,
            date: None,
            by: None,
        }];
        let legend = picture(&record, &[], &[], SCREEN).unwrap().pop().unwrap();
        assert!(legend.contains("░ carried   · no setting") && !legend.contains("covered"), "{legend}");
    }

    #[test]
    fn a_screen_without_plots_gets_none() {
        assert!(line_picture(&record(), &[6.0], &[], Screen::PIPE).is_empty());
    }
}

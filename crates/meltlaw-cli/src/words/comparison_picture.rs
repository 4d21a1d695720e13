//! A change as a picture: of the quantity that says most, over wire feed, with its error, and what changed where.

use std::cell::Cell;

use meltlaw::compare::lines::{Consequence, LineComparison, SettingVerdict};
use meltlaw_report::ComparedLines;

use super::comparison_table::{scaled, shown};
use crate::plot::{Axis, Plot, Stroke};
use crate::screen::Screen;
use crate::told::Told;

const ROWS: usize = 9;
/// Letters for the names of the curves and of the axis across.
const MARGIN: usize = 18;
/// Drawn where nothing is beyond error.
const USUAL: &str = "background_current_a";

/// Letters of the row beneath, with their words.
const STATES: [(char, &str); 4] =
    [('!', "something beyond error"), ('*', "set differently"), ('=', "alike"), ('·', "not in both")];

/// The picture in lines; none where the screen takes none, no feed has both lines or nothing differs.
pub(crate) fn comparison_picture(pair: &ComparedLines<'_>, screen: Screen) -> Vec<String> {
    if screen.plots { picture(pair, screen).unwrap_or_default() } else { Vec::new() }
}

fn picture(pair: &ComparedLines<'_>, screen: Screen) -> Option<Vec<String>> {
    let c = pair.comparison;
    let beyond = c.comparisons.iter().find(|x| x.differs_from_zero == Some(true));
    let quantity = beyond.map_or(USUAL, |x| x.quantity.as_str());
    let found = c.of(quantity);
    if found.iter().all(|x| x.difference == 0.0) {
        return None;
    }
    let ends = |x: &Consequence| x.interval.map(|ends| ends.map(|end| scaled(x, end)));
    let change = |x: &Consequence| scaled(x, x.difference);
    let nodes = pair.first.line.nodes.iter().chain(&pair.second.line.nodes).map(|n| n.wire_feed_m_min);
    let (name, unit, ..) = shown(quantity);
    let values = found.iter().flat_map(|x| ends(x).unwrap_or([change(x); 2]).into_iter().chain([0.0]));
    let y = Axis::around(&format!("change of {name}, {unit}"), values, 4)?;
    let mut plot = Plot::new(Axis::around("wire feed, m/min", nodes, 6)?, y, screen.width, MARGIN, ROWS)?;
    for [low, high] in &c.common_m_min {
        let inside: Vec<&Consequence> =
            found.iter().filter(|x| (*low..=*high).contains(&x.at.wire_feed_m_min)).collect();
        for end in [0, 1] {
            let side: Vec<(f64, f64)> =
                inside.iter().filter_map(|x| Some((x.at.wire_feed_m_min, ends(x)?[end]))).collect();
            plot.curve(&side, Stroke::Dotted);
        }
        let points: Vec<(f64, f64)> = inside.iter().map(|x| (x.at.wire_feed_m_min, change(x))).collect();
        plot.curve(&points, Stroke::Solid);
    }
    plot.level(0.0);
    let last = found.last()?;
    plot.beside(change(last), " change");
    if let Some([low, high]) = ends(last) {
        plot.beside(low, " error");
        plot.beside(high, " error");
    }
    plot.beside(0.0, " no change");
    let anything_beyond = c.beyond_error();
    let seen = Cell::new([false; STATES.len()]);
    plot.strip("changes", |wire_feed| {
        let state = state(c, &anything_beyond, wire_feed);
        let mut all = seen.get();
        all[state] = true;
        seen.set(all);
        STATES[state].0
    });
    let mut lines = plot.lines();
    let legend = STATES.iter().zip(seen.get()).filter(|(_, seen)| *seen);
    let legend: Vec<String> = legend.map(|((letter, words), _)| format!("{letter} {words}")).collect();
    lines.extend(Told::new("    ", legend.join("   ")).laid_out(screen));
    Some(lines)
}

/// Place among [`STATES`] of a feed, by the nearest feed that was looked at.
fn state(c: &LineComparison, anything_beyond: &[bool], wire_feed: f64) -> usize {
    let away = |place: &usize| (c.feeds[*place].wire_feed_m_min - wire_feed).abs();
    let nearest = (0..c.feeds.len()).min_by(|a, b| away(a).total_cmp(&away(b)));
    let inside = c.common_m_min.iter().any(|[low, high]| (*low..=*high).contains(&wire_feed));
    let Some(place) = nearest.filter(|_| inside) else { return 3 };
    let set = c.feeds[place].settings.iter().any(|s| s.verdict == SettingVerdict::SetDifferently);
    match (anything_beyond[place], set) {
        (true, _) => 0,
        (false, true) => 1,
        (false, false) => 2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use meltlaw::compare::lines::{LineWithOrigin, compare_lines};
    use meltlaw::record::LineRecord;
    use meltlaw_files::LineDocument;

    const SCREEN: Screen = Screen { width: 60, styled: false, plots: true };

    fn drawn(change: impl Fn(&mut LineRecord)) -> Option<Vec<String>> {
        let text = include_str!("../../../../datasets/worked_example/line.json");
        let document = LineDocument::from_json(text, "line.json").unwrap();
        let (first, mut second) = (document.body().clone(), document.body().clone());
        change(&mut second);
        let with = |record| LineWithOrigin { record, provenance: document.provenance() };
        let comparison = compare_lines(with(&first), with(&second));
        let pair = ComparedLines {
            first: &first,
            second: &second,
            first_name: "a",
            second_name: "b",
            comparison: &comparison,
        };
        picture(&pair, SCREEN)
    }

    #[test]
    fn a_change_beyond_error_is_drawn_and_marked_by_letters() {
        let lines = drawn(|line| {
            for n in &mut line.line.nodes {
                n.voltage_mean_v += 9.0;
                n.voltage_mean_v_interval = n.voltage_mean_v_interval.map(|end| end + 9.0);
            }
        })
        .unwrap();
        assert!(lines[0].contains("change of voltage, V"), "{lines:#?}");
        assert!(lines.iter().any(|l| l.contains("!!!!")) && lines.last().unwrap().contains("! something beyond error"));
        assert!(lines.iter().all(|l| l.chars().count() <= 60), "{lines:#?}");
    }

    #[test]
    fn nothing_to_show_is_not_drawn() {
        assert_eq!(drawn(|_| {}), None);
        assert_eq!(drawn(|line| line.line.nodes.clear()), None);
        // A single common feed and numbers that are none draw something or nothing, and do not fail.
        drawn(|line| line.line.nodes.truncate(1));
        drawn(|line| line.line.nodes.iter_mut().for_each(|n| n.background_current_a = f64::NAN));
    }
}

//! The trials as a picture: wire feed over mean current, the rows that a finding names or that stand out in a law marked.

use std::collections::BTreeMap;

use meltlaw::checks::{Finding, Severity};
use meltlaw::laws::Laws;
use meltlaw::trials::{Column, Trials};

use crate::plot::{Axis, Plot};
use crate::screen::Screen;
use crate::told::Told;

const ROWS: usize = 12;
/// Letters that the name of the axis across may need beyond it.
const MARGIN: usize = 18;
/// Marked trials are named where they are so few.
const NAMED: usize = 6;

/// How a trial is marked, the stronger the greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Mark {
    Noted,
    NotUsed,
    Named,
}

impl Mark {
    const ALL: [Self; 3] = [Self::Named, Self::NotUsed, Self::Noted];

    fn letter(self) -> char {
        match self {
            Self::Noted => '+',
            Self::NotUsed => '○',
            Self::Named => '✕',
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Noted => "in a note",
            Self::NotUsed => "left out",
            Self::Named => "named above",
        }
    }
}

/// The picture in lines; none where the screen takes none or fewer than two trials have both readings.
pub(crate) fn trial_picture(trials: &Trials, findings: &[Finding], laws: Option<&Laws>, screen: Screen) -> Vec<String> {
    if screen.plots { picture(trials, &marks(trials, findings, laws), screen).unwrap_or_default() } else { Vec::new() }
}

fn marks<'a>(trials: &'a Trials, findings: &'a [Finding], laws: Option<&'a Laws>) -> BTreeMap<&'a str, Mark> {
    let unused = trials.rows.iter().filter(|t| !t.use_it).map(|t| (t.name.as_str(), Mark::NotUsed));
    let found = findings.iter().flat_map(|f| {
        let mark = if f.severity == Severity::Note { Mark::Noted } else { Mark::Named };
        f.rows.iter().map(move |row| (row.trial.as_str(), mark))
    });
    let told = laws.into_iter().flat_map(Laws::by_name).flat_map(|(_, law)| {
        law.diagnostics.iter().filter(|d| !d.flags.is_empty()).map(|d| (d.trial.as_str(), Mark::Named))
    });
    let mut marks = BTreeMap::new();
    for (trial, mark) in unused.chain(found).chain(told) {
        marks.entry(trial).and_modify(|m: &mut Mark| *m = (*m).max(mark)).or_insert(mark);
    }
    marks
}

fn picture(trials: &Trials, marks: &BTreeMap<&str, Mark>, screen: Screen) -> Option<Vec<String>> {
    let places: Vec<(f64, f64, Option<(Mark, &str)>)> = trials
        .rows
        .iter()
        .filter_map(|t| {
            let (x, y) = (t.get(Column::CurrentMean)?, t.get(Column::WireFeed)?);
            let mark = marks.get(t.name.as_str()).map(|m| (*m, t.name.as_str()));
            (x.is_finite() && y.is_finite()).then_some((x, y, mark))
        })
        .collect();
    if places.len() < 2 {
        return None;
    }
    let x = Axis::around("mean current, A", places.iter().map(|p| p.0), 5)?;
    let y = Axis::around("wire feed, m/min", places.iter().map(|p| p.1), 4)?;
    let mut plot = Plot::new(x, y, screen.width, MARGIN, ROWS)?;
    places.iter().for_each(|(x, y, _)| plot.dot(*x, *y));
    let mut marked: Vec<(Mark, f64, f64, &str)> =
        places.iter().filter_map(|(x, y, mark)| mark.map(|(m, name)| (m, *x, *y, name))).collect();
    // The strongest is drawn last, over the others, and named first.
    marked.sort_by_key(|m| m.0);
    marked.iter().for_each(|(mark, x, y, _)| plot.mark(*x, *y, mark.letter()));
    let named: Vec<_> = marked.iter().rev().filter(|m| m.0 > Mark::Noted).collect();
    if named.len() <= NAMED {
        named.iter().for_each(|(_, x, y, name)| plot.word_beside(*x, *y, name));
    }
    let mut lines = plot.lines();
    let mut legend = vec!["⠂ a trial".to_owned()];
    legend.extend(
        Mark::ALL
            .into_iter()
            .filter(|mark| marked.iter().any(|m| m.0 == *mark))
            .map(|mark| format!("{} {}", mark.letter(), mark.words())),
    );
    let without = trials.rows.len() - places.len();
    if without > 0 {
        legend.push(format!("{without} without mean current or wire feed not shown"));
    }
    lines.extend(Told::new("    ", legend.join("   ")).laid_out(screen));
    Some(lines)
}

#[cfg(test)]
mod tests {
    use super::*;
    use meltlaw::trials::Trial;

    const SCREEN: Screen = Screen { width: 80, styled: false, plots: true };
    const NARROW: Screen = Screen { width: 60, ..SCREEN };

    fn trials(readings: &[(f64, f64)]) -> Trials {
        let rows = readings
            .iter()
            .enumerate()
            .map(|(i, (current, feed))| {
                let mut trial = Trial::new(format!("T{i}"), 0, i + 2);
                trial.set(Column::CurrentMean, Some(*current));
                trial.set(Column::WireFeed, Some(*feed));
                trial
            })
            .collect();
        Trials { rows, ..Trials::default() }
    }

    #[test]
    fn rows_that_a_finding_names_are_marked_and_named() {
        let mut trials = trials(&[(100.0, 3.0), (150.0, 4.0), (200.0, 5.0), (250.0, 60.0)]);
        trials.rows[1].use_it = false;
        let marks = BTreeMap::from([("T3", Mark::Named), ("T1", Mark::NotUsed), ("T0", Mark::Noted)]);
        let text = picture(&trials, &marks, SCREEN).unwrap().join("\n");
        assert!(text.contains("T3✕") || text.contains("✕T3"), "{text}");
        assert!(text.contains('○') && text.contains('+') && !text.contains("T0"), "{text}");
        assert!(text.ends_with("✕ named above   ○ left out   + in a note"), "{text}");
    }

    #[test]
    fn odd_readings_never_fail() {
        let none = BTreeMap::new();
        assert!(picture(&trials(&[]), &none, SCREEN).is_none());
        assert!(picture(&trials(&[(f64::NAN, 3.0), (f64::INFINITY, 4.0)]), &none, SCREEN).is_none());
        assert!(picture(&trials(&[(200.0, 5.0)]), &none, SCREEN).is_none(), "one trial says nothing");
        let two = picture(&trials(&[(200.0, 5.0), (200.0, 5.0)]), &none, SCREEN).unwrap();
        assert!(two.iter().all(|l| l.chars().count() <= 80), "{two:#?}");
        assert!(picture(&trials(&[(200.0, 5.0), (200.0, 5.0), (f64::NAN, 5.0)]), &none, NARROW).is_some());
        let far = picture(&trials(&[(0.0, 0.0), (-1e300, 1e300)]), &none, NARROW);
        assert!(far.is_none(), "numbers of 300 digits leave no room");
    }

    #[test]
    fn the_stronger_mark_holds() {
        let mut trials = trials(&[(100.0, 3.0)]);
        trials.rows[0].use_it = false;
        assert_eq!(marks(&trials, &[], None)["T0"], Mark::NotUsed);
        assert!(Mark::Named > Mark::NotUsed && Mark::NotUsed > Mark::Noted);
    }
}

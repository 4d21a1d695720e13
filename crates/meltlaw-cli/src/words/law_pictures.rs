//! Each law as a picture: what every trial measured beyond what the law says, over what the law says. A law of
//! the right form leaves points evenly about zero; a bend, a fan or a far point is seen at once.

use meltlaw::laws::{FittedLaw, Laws};

use super::laws::trade_unit;
use crate::plot::{Axis, Plot, next_to_each_other};
use crate::screen::Screen;

const ROWS: usize = 8;
/// Fewer letters for each of three pictures, and they stand one below the other.
const LEAST_WIDE: usize = 24;
/// A single picture need not be wider.
const MOST_WIDE: usize = 56;
/// Blank letters between pictures.
const BETWEEN: usize = 2;
/// Trials that stand out are named where they are so few.
const NAMED: usize = 4;

/// The pictures in lines; none where the screen takes none or no law has trials to show.
pub(crate) fn law_pictures(laws: &Laws, screen: Screen) -> Vec<String> {
    if !screen.plots {
        return Vec::new();
    }
    let beside = screen.width / 3;
    let wide = if beside >= LEAST_WIDE { beside } else { MOST_WIDE.min(screen.width) };
    let drawn: Vec<(Vec<String>, bool)> =
        laws.by_name().into_iter().filter_map(|(name, law)| picture(name, law, wide - BETWEEN)).collect();
    if drawn.is_empty() {
        return Vec::new();
    }
    let stands_out = drawn.iter().any(|(_, out)| *out);
    let pictures: Vec<Vec<String>> = drawn.into_iter().map(|(picture, _)| picture).collect();
    let mut lines = vec!["measured minus fitted (up) over fitted (across)".to_owned()];
    lines.extend(if beside >= LEAST_WIDE { next_to_each_other(&pictures, wide) } else { pictures.concat() });
    let out = if stands_out { "   ✕ stands out" } else { "" };
    lines.push(format!("  ⠂ a trial{out}"));
    lines.push("  evenly about 0, without a bend or a fan: the law fits".to_owned());
    lines
}

/// One law's, and whether a trial stands out in it.
fn picture(name: &str, law: &FittedLaw, wide: usize) -> Option<(Vec<String>, bool)> {
    let (factor, unit) = trade_unit(law);
    let points: Vec<(f64, f64, Option<&str>)> = law
        .diagnostics
        .iter()
        .map(|d| {
            let out = (!d.flags.is_empty()).then_some(d.trial.as_str());
            (factor * d.fitted, factor * d.residual, out)
        })
        .filter(|(x, y, _)| x.is_finite() && y.is_finite())
        .collect();
    let farthest = points.iter().map(|p| p.1.abs()).fold(0.0, f64::max);
    let title = format!("{}, {}", name.replace('_', " "), unit.replace(" per ", "/"));
    // A file of another program may tell no unit.
    let title = title.trim_end_matches(", ");
    let x = Axis::around("", points.iter().map(|p| p.0), 3)?;
    let y = Axis::between(title, -1.1 * farthest, 1.1 * farthest, 3)?;
    let mut plot = Plot::new(x, y, wide, 0, ROWS)?;
    points.iter().for_each(|(x, y, _)| plot.dot(*x, *y));
    plot.level(0.0);
    let out: Vec<(f64, f64, &str)> = points.iter().filter_map(|(x, y, out)| Some((*x, *y, (*out)?))).collect();
    out.iter().for_each(|(x, y, _)| plot.mark(*x, *y, '✕'));
    if out.len() <= NAMED {
        out.iter().for_each(|(x, y, trial)| plot.word_beside(*x, *y, trial));
    }
    Some((plot.lines(), !out.is_empty()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn law() -> FittedLaw {
        let text = include_str!("../../../../datasets/worked_example/laws.json");
        let document: serde_json::Value = serde_json::from_str(text).unwrap();
        let law: FittedLaw = serde_json::from_value(document["laws"]["burn_off"].clone()).unwrap();
        FittedLaw { residual_unit: "mm/s".to_owned(), ..law }
    }

    #[test]
    fn a_trial_that_stands_out_has_a_letter_and_its_name() {
        let mut law = law();
        law.diagnostics[3].flags = vec!["far off".to_owned()];
        law.diagnostics[3].residual = 20.0;
        let trial = law.diagnostics[3].trial.clone();
        let (lines, out) = picture("burn_off", &law, 50).unwrap();
        let text = lines.join("\n");
        assert!(out && text.contains('✕') && text.contains(&trial), "{text}");
        assert!(lines[0].ends_with("burn off, m/min"));
    }

    #[test]
    fn one_trial_equal_values_and_lost_numbers_never_fail() {
        let mut law = law();
        law.diagnostics.truncate(1);
        assert!(picture("burn_off", &law, 50).is_some());
        law.diagnostics[0].residual = 0.0;
        assert!(picture("burn_off", &law, 50).is_none(), "nothing to see where the law meets its only trial");
        law.diagnostics[0].residual = f64::NAN;
        assert!(picture("burn_off", &law, 50).is_none());
        law.diagnostics.clear();
        assert!(picture("burn_off", &law, 50).is_none());
    }
}

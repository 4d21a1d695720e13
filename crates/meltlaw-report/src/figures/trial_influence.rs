//! The trials whose omission would move the law most: what each coefficient would do without them.

use meltlaw::laws::{FittedLaw, TrialDiagnostic};

use super::Drawn;
use super::diagnosed::{by_law, shortened};
use super::law_readings::{described, influence};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Stroke};
use crate::words;

const WIDTH: f64 = 560.0;
const ROW: f64 = 21.0;
const LEFT: f64 = 96.0;
const TOP: f64 = 42.0;
/// Trials shown.
const SHOWN: usize = 10;

/// A trial with the change of each coefficient in that coefficient's standard errors.
pub(crate) struct Moved<'a> {
    pub(crate) trial: &'a str,
    /// In the law's order; 0 where a coefficient's change is not known.
    pub(crate) by: Vec<f64>,
}

impl Moved<'_> {
    /// Coefficient and change of the largest, in standard errors.
    pub(crate) fn largest(&self) -> (usize, f64) {
        let largest = self.by.iter().copied().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        largest.unwrap_or((0, 0.0))
    }
}

/// The coefficients that have a standard error, and the trials by how far they would move the law.
pub(crate) fn moved(law: &FittedLaw) -> (Vec<&str>, Vec<Moved<'_>>) {
    let errors: Vec<(&str, f64)> = law
        .coefficient_order
        .iter()
        .filter_map(|key| Some((key.as_str(), law.coefficients.get(key)?.standard_error?)))
        .filter(|(_, error)| error.is_finite() && *error > 0.0)
        .collect();
    let of = |d: &TrialDiagnostic| -> Vec<f64> {
        errors
            .iter()
            .map(|(key, error)| d.without_it.get(*key).map_or(0.0, |change| change / error))
            .map(|change| if change.is_finite() { change } else { 0.0 })
            .collect()
    };
    let mut trials: Vec<Moved<'_>> = law
        .diagnostics
        .iter()
        .filter(|d| !d.without_it.is_empty())
        .map(|d| Moved { trial: &d.trial, by: of(d) })
        .collect();
    trials.sort_by(|a, b| b.largest().1.abs().total_cmp(&a.largest().1.abs()).then(a.trial.cmp(b.trial)));
    (errors.into_iter().map(|(key, _)| key).collect(), trials)
}

/// Bars for the ten trials that would move the law most; nothing where it is not known.
pub(crate) fn draw(name: &str, law: &FittedLaw) -> Option<Drawn> {
    let (coefficients, all) = moved(law);
    let shown = &all[..all.len().min(SHOWN)];
    shown.first().filter(|m| m.largest().1 != 0.0)?;
    let figure_name = by_law(name, ["burn_off_influence", "detachment_influence", "arc_voltage_influence"]);
    let height = ROW * shown.len() as f64;
    let mut figure = Figure::new(WIDTH, TOP + height + 46.0);
    let width = (WIDTH - 10.0 - LEFT) / coefficients.len() as f64;
    // One scale for all, so that bars compare; a tenth of a standard error at least, or noise would look large.
    let reach = round_up(shown.iter().map(|m| m.largest().1.abs()).fold(0.1, f64::max));
    // Narrow panels keep their end numbers away from those of their neighbours.
    let room = if coefficients.len() > 3 { 1.2 } else { 1.1 };
    for (place, key) in coefficients.iter().enumerate() {
        let left = LEFT + place as f64 * width;
        let frame = Frame { left: left + 8.0, top: TOP, right: left + width - 8.0, bottom: TOP + height };
        let panel = figure.panel_across(frame, Axis::between("", -room * reach, room * reach), shown.len() as f64);
        let (symbol, _) = words::coefficient(key);
        let label = if symbol.is_empty() { shortened(&words::plain(key), 12) } else { symbol.to_owned() };
        figure.text((f64::midpoint(frame.left, frame.right), TOP - 12.0), label, Align::Middle, Colour::Ink, 13.0);
        for (row, trial) in shown.iter().enumerate() {
            let (y, change) = (row as f64 + 0.5, trial.by[place]);
            let colour = if change < 0.0 { Colour::Rust } else { Colour::Deep };
            let (lower, upper) = (y - 0.3, y + 0.3);
            figure.band(&panel, &[(0.0, lower), (change, lower)], &[(0.0, upper), (change, upper)], colour, 0.9);
        }
    }
    for (row, trial) in shown.iter().enumerate() {
        let at = TOP + (row as f64 + 0.5) * ROW;
        figure.text((LEFT - 6.0, at), shortened(trial.trial, 11), Align::End, Colour::Ink, 12.0);
    }
    let middle = f64::midpoint(LEFT, WIDTH - 10.0);
    figure.text(
        (middle, TOP + height + 32.0),
        "change without the trial (standard errors of the coefficient)",
        Align::Middle,
        Colour::Ink,
        12.0,
    );
    figure.stroke(&[(LEFT, TOP), (LEFT, TOP + height)], Stroke::solid(Colour::Grid, 1.0));
    let title = format!("{}: what it would be without a trial", words::capital(words::law(name)));
    let caption = format!(
        "How far each coefficient would move without a trial, in standard errors of the coefficient, for the {} trials that move the law most. Bars to \
         the right mean that it would be larger.",
        shown.len()
    );
    let reading = influence::reading(law, &coefficients, &all);
    let drawn = format!(
        "{} rows of bars, one row for each trial, a bar for each of {}.",
        shown.len(),
        words::listed(&coefficients.iter().map(|key| words::coefficient(key).0).map(str::to_owned).collect::<Vec<_>>())
    );
    // A coefficient such as `intercept_v` would lend the change its unit.
    let heads: Vec<String> = coefficients.iter().map(|c| format!("{c}_change_in_standard_errors")).collect();
    let header: Vec<&str> = ["trial"].into_iter().chain(heads.iter().map(String::as_str)).collect();
    let data =
        csv(&header, all.iter().map(|m| [text(m.trial)].into_iter().chain(m.by.iter().map(|v| number(*v))).collect()));
    let svg = figure.svg(figure_name, &title, &described(&drawn, &reading));
    Some(Drawn { name: figure_name, title, caption, reading, svg, csv: data })
}

/// The next of 1, 2 and 5 times a power of ten, so that a narrow panel has a number at both ends.
fn round_up(value: f64) -> f64 {
    let power = 10f64.powf(value.log10().floor());
    [1.0, 2.0, 5.0].into_iter().map(|m| m * power).find(|v| *v >= value * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_change_counts_whatever_its_sign() {
        let moved = Moved { trial: "B01", by: vec![0.2, -0.9, 0.5] };
        assert_eq!(moved.largest(), (1, -0.9));
        assert_eq!(Moved { trial: "B02", by: vec![] }.largest(), (0, 0.0));
    }

    #[test]
    fn scales_end_at_round_numbers() {
        for (value, end) in [(0.1, 0.1), (0.13, 0.2), (0.45, 0.5), (0.8, 1.0), (1.3, 2.0)] {
            assert!((round_up(value) - end).abs() < 1e-12, "{value}");
        }
    }
}

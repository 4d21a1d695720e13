//! Measured against fitted, with the residuals below: burn-off and arc voltage.

use meltlaw::laws::{FittedLaw, TrialDiagnostic};

use super::law_readings::{described, fit};
use super::{Drawn, diagnosed::shortened};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Shape, Stroke};
use crate::numbers;

const SIZE: (f64, f64) = (560.0, 380.0);
const FRAME: Frame = Frame { left: 58.0, top: 34.0, right: 546.0, bottom: 334.0 };

/// A quantity as both figures show it.
pub(super) struct What {
    /// Names of the two figures.
    names: [&'static str; 2],
    title: &'static str,
    quantity: &'static str,
    /// Unit of the trade.
    pub(super) unit: &'static str,
    /// From the law's unit to the one shown.
    pub(super) factor: f64,
    /// What the law reads.
    from: &'static str,
    /// The residual's label, and the residual of a trial in it.
    residual_label: &'static str,
    pub(super) residual: fn(&TrialDiagnostic) -> f64,
    pub(super) residual_unit: &'static str,
    /// Columns of the data: fitted, measured, residual.
    columns: [&'static str; 3],
}

/// Wire feed, residuals in per cent of the fitted feed.
pub(crate) fn burn_off(law: &FittedLaw) -> Vec<Drawn> {
    draw(
        law,
        &What {
            names: ["burn_off", "burn_off_residuals"],
            title: "Burn-off",
            quantity: "wire feed",
            unit: "m/min",
            factor: 0.06, // mm/s to m/min, exact
            from: "current and extension",
            residual_label: "measured − fitted (% of fitted)",
            residual: |d| 100.0 * d.residual / d.fitted,
            residual_unit: "%",
            columns: ["fitted_m_min", "measured_m_min", "residual_percent"],
        },
    )
}

/// Voltage, residuals in volts.
pub(crate) fn arc_voltage(law: &FittedLaw) -> Vec<Drawn> {
    draw(
        law,
        &What {
            names: ["arc_voltage", "arc_voltage_residuals"],
            title: "Arc voltage",
            quantity: "mean voltage",
            unit: "V",
            factor: 1.0,
            from: "current, arc length and extension",
            residual_label: "measured − fitted (V)",
            residual: |d| d.residual,
            residual_unit: "V",
            columns: ["fitted_v", "measured_v", "residual_v"],
        },
    )
}

fn draw(law: &FittedLaw, what: &What) -> Vec<Drawn> {
    let usable =
        |d: &&TrialDiagnostic| d.fitted.is_finite() && d.residual.is_finite() && (what.residual)(d).is_finite();
    let trials: Vec<&TrialDiagnostic> = law.diagnostics.iter().filter(usable).collect();
    if trials.is_empty() {
        return Vec::new();
    }
    vec![against(&trials, law, what), residuals(&trials, law, what)]
}

impl What {
    fn fitted(&self, trial: &TrialDiagnostic) -> f64 {
        self.factor * trial.fitted
    }

    fn measured(&self, trial: &TrialDiagnostic) -> f64 {
        self.factor * (trial.fitted + trial.residual)
    }

    fn label(&self, which: &str) -> String {
        format!("{which} {} ({})", self.quantity, self.unit)
    }

    fn data(&self, trials: &[&TrialDiagnostic]) -> String {
        let [fitted, measured, residual] = self.columns;
        let header =
            ["trial", fitted, measured, residual, "studentised_residual", "leverage", "cooks_distance", "flags"];
        let rows = trials.iter().map(|d| {
            let mut row = vec![text(&d.trial)];
            row.extend([self.fitted(d), self.measured(d), (self.residual)(d)].map(number));
            row.extend([d.studentised_residual, d.leverage, d.cooks_distance].map(number));
            row.push(text(&d.flags.join("; ")));
            row
        });
        csv(&header, rows)
    }
}

fn against(trials: &[&TrialDiagnostic], law: &FittedLaw, what: &What) -> Drawn {
    let both = || trials.iter().flat_map(|d| [what.fitted(d), what.measured(d)]);
    let mut figure = Figure::new(SIZE.0, SIZE.1);
    let x = Axis::around(&what.label("fitted"), both(), 0.05);
    let (low, high) = (x.low, x.high);
    let panel = figure.panel(FRAME, x, Axis::around(&what.label("measured"), both(), 0.05));
    figure.curve(&panel, &[(low, low), (high, high)], Stroke::solid(Colour::Soft, 1.4));
    for d in trials {
        figure.point(&panel, what.fitted(d), what.measured(d), marker(d));
    }
    let title = format!("{}: measured against fitted", what.title);
    let reading = fit::against(law, trials, what);
    let drawn = format!(
        "{} points, one for each trial: fitted {} across and measured upright, both from {} to {} {}, with the line on which both agree.",
        trials.len(),
        what.quantity,
        numbers::fixed(low, 1),
        numbers::fixed(high, 1),
        what.unit
    );
    Drawn {
        name: what.names[0],
        svg: figure.svg(what.names[0], &title, &described(&drawn, &reading)),
        title,
        caption: format!(
            "Each point is a trial: the {} that was measured against the one that the law gives at the trial’s {}. On the line both agree.",
            what.quantity, what.from
        ),
        reading,
        csv: what.data(trials),
    }
}

fn residuals(trials: &[&TrialDiagnostic], law: &FittedLaw, what: &What) -> Drawn {
    let squares: f64 = trials.iter().map(|d| (what.residual)(d).powi(2)).sum();
    // Without a degree of freedom there is no spread, and a band of it would mean nothing.
    let spread = (squares / law.degrees_of_freedom as f64).sqrt();
    let banded = law.degrees_of_freedom > 0 && spread.is_finite();
    let reach = trials.iter().map(|d| (what.residual)(d).abs()).fold(0.0, f64::max);
    let largest = if banded { reach.max(2.0 * spread) } else { reach };
    let mut figure = Figure::new(SIZE.0, SIZE.1);
    let x = Axis::around(&what.label("fitted"), trials.iter().map(|d| what.fitted(d)), 0.05);
    let (low, high) = (x.low, x.high);
    let panel = figure.panel(FRAME, x, Axis::around(what.residual_label, [-largest, largest], 0.08));
    let level = |at: f64| [(low, at), (high, at)];
    if banded {
        figure.band(&panel, &level(-2.0 * spread), &level(2.0 * spread), Colour::Sand, 0.25);
    }
    figure.curve(&panel, &level(0.0), Stroke::solid(Colour::Soft, 1.4));
    for d in trials {
        figure.point(&panel, what.fitted(d), (what.residual)(d), marker(d));
    }
    name_flagged(&mut figure, &panel, trials, what);
    let band = if banded {
        format!(" The band is twice their spread of {} {}.", numbers::significant(spread, 2), what.residual_unit)
    } else {
        String::new()
    };
    let flagged = match trials.iter().filter(|d| !d.flags.is_empty()).count() {
        0 => "",
        1 => " The trial that stands out is a triangle with its name.",
        _ => " Trials that stand out are triangles with their names.",
    };
    let title = format!("{}: what the law leaves", what.title);
    let caption = format!(
        "Each point is a trial: measured less fitted {}, in {}, along the fitted {}.{band}{flagged}",
        what.quantity,
        if what.residual_unit == "%" { "per cent of the fitted" } else { "volts" },
        what.quantity
    );
    let reading = fit::residuals(law, trials, what, spread);
    let drawn = format!(
        "{} points, one for each trial: measured less fitted {} upright, in {}, from {} to {} {} fitted.{band}",
        trials.len(),
        what.quantity,
        what.residual_unit,
        numbers::fixed(low, 1),
        numbers::fixed(high, 1),
        what.unit
    );
    Drawn {
        name: what.names[1],
        svg: figure.svg(what.names[1], &title, &described(&drawn, &reading)),
        title,
        caption,
        reading,
        csv: what.data(trials),
    }
}

fn marker(trial: &TrialDiagnostic) -> Marker {
    if trial.flags.is_empty() {
        Marker { shape: Shape::Circle, radius: 3.8, colour: Colour::Deep, filled: true }
    } else {
        Marker { shape: Shape::Triangle, radius: 5.0, colour: Colour::Rust, filled: true }
    }
}

/// The names of trials that stand out, as far as they fit: the rest is in the table.
fn name_flagged(figure: &mut Figure, lower: &crate::marks::Panel, trials: &[&TrialDiagnostic], what: &What) {
    for d in trials.iter().filter(|d| !d.flags.is_empty()).take(6) {
        let (x, y) = lower.place(what.factor * d.fitted, (what.residual)(d));
        let name = shortened(&d.trial, 12);
        let right = x < f64::midpoint(lower.frame.left, lower.frame.right);
        let (align, shift) = if right { (Align::Start, 8.0) } else { (Align::End, -8.0) };
        figure.text((x + shift, y), name, align, Colour::Ink, 11.0);
    }
}

//! Counted shares against the fitted ones, all trials moved to the reference current.

use meltlaw::laws::FittedLaw;
use meltlaw::trials::Trials;

use super::Drawn;
use super::line_readings::{aloud, shares};
use super::outcomes::{Counted, Outcome};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Stroke};
use crate::numbers;
use crate::window::Window;

const FRAME: Frame = Frame { left: 52.0, top: 62.0, right: 546.0, bottom: 424.0 };

/// The shares; `None` without counts by class or without a window.
pub(crate) fn draw(law: &FittedLaw, trials: &Trials, confidence: f64) -> Option<Drawn> {
    let window = Window::of(law)?;
    let counted: Vec<Counted<'_>> = Counted::of(law, trials).into_iter().filter(|c| c.shares.is_some()).collect();
    if counted.is_empty() {
        return None;
    }
    let time = |c: &Counted<'_>| window.position(c.pulse_current_a, c.pulse_time_ms).exp();
    let reference = numbers::fixed(window.reference_current_a, 0);
    let x = Axis::around_log(
        &format!("pulse time that would do the same at {reference} A (ms)"),
        counted.iter().map(time),
        1.1,
    );
    let mut figure = Figure::new(560.0, 470.0);
    let panel = figure.panel(FRAME, x, Axis::between("share of pulses (%)", 0.0, 100.0));
    let strokes = [
        Stroke::dashed(Colour::Sea, 2.2, 7.0, 3.0),
        Stroke::solid(Colour::Deep, 2.2),
        Stroke::dashed(Colour::Rust, 2.2, 2.5, 2.5),
    ];
    for (class, stroke) in strokes.into_iter().enumerate() {
        let curve: Vec<_> = (0..=160)
            .map(|n| panel.x.low * (panel.x.high / panel.x.low).powf(f64::from(n) / 160.0))
            .map(|t| (t, 100.0 * window.probabilities(t.ln())[class]))
            .collect();
        figure.curve(&panel, &curve, stroke);
    }
    for trial in &counted {
        for ((outcome, _), share) in Outcome::ALL.into_iter().zip(trial.shares.into_iter().flatten()) {
            figure.point(&panel, time(trial), 100.0 * share, outcome.marker(4.0, true));
        }
    }
    for (place, (outcome, name)) in
        [(Outcome::None, "no drop"), (Outcome::One, "one drop"), (Outcome::More, "more drops")].into_iter().enumerate()
    {
        let left = 16.0 + 170.0 * place as f64;
        figure.stroke(&[(left - 4.0, 14.0), (left + 34.0, 14.0)], strokes[place]);
        figure.marker((left + 15.0, 14.0), outcome.marker(4.5, true));
        figure.text((left + 42.0, 14.0), name, Align::Start, Colour::Ink, 12.0);
    }
    let rows = counted.iter().map(|c| {
        let mut row = vec![text(c.trial), number(time(c))];
        row.extend(c.shares.into_iter().flatten().map(number));
        row.extend(window.probabilities(time(c).ln()).map(number));
        row
    });
    let header = [
        "trial",
        "pulse_time_at_reference_ms",
        "share_without_drop",
        "share_with_one_drop",
        "share_with_more_drops",
        "fitted_without_drop",
        "fitted_with_one_drop",
        "fitted_with_more_drops",
    ];
    let reading = shares::shares(&counted, &window, confidence);
    Some(Drawn {
        name: "detachment_shares",
        title: "Counted against fitted".to_owned(),
        caption: format!(
            "Every trial gives three points, one for each outcome, all moved to {reference} A by the law; the curves are the fitted \
             shares. Points should follow them with no more scatter than counting and the scatter of trials bring."
        ),
        svg: figure.svg(
            "detachment_shares",
            "Shares of pulses with no, one and more drops over pulse time",
            &aloud(&format!("{} counted trials with the fitted shares as curves.", counted.len()), &reading),
        ),
        reading,
        csv: csv(&header, rows),
    })
}

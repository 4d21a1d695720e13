//! Differences with their bands and margins, one panel a wire; and the burn-off curves themselves.

use meltlaw::compare::laws::{Band, BandPlace, LawsComparison, Verdict};
use meltlaw::laws::Reading;

use super::labels::Labels;
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::figures::Drawn;
use crate::marks::{Align, Frame, Panel, Stroke};
use crate::numbers::confidence;

const WIDTH: f64 = 560.0;
const ROW: f64 = 230.0;
const HEAD: f64 = 24.0;
/// Letters of a wire's name above its panel.
const LABEL: usize = 60;

/// How a difference is drawn.
struct Shown {
    /// Value and unit to what is printed: per cent of the first wire's value, or as it is.
    per_cent: bool,
    across: fn(&BandPlace) -> Option<f64>,
    across_label: &'static str,
    label: &'static str,
}

/// Wire feed at equal current and extension.
pub(super) fn burn_off(c: &LawsComparison) -> Option<Drawn> {
    let shown = Shown {
        per_cent: true,
        across: |p| p.at.current_mean_a,
        across_label: "mean current (A), extension as the trials had it",
        label: "wire feed against the first (%)",
    };
    draw(c, &["wire_feed_m_min"], &shown, "burn_off_difference", "Melting, difference")
}

/// Pulse time of both thresholds at equal pulse current.
pub(super) fn detachment(c: &LawsComparison) -> Option<Drawn> {
    let shown = Shown {
        per_cent: true,
        across: |p| p.at.pulse_current_a,
        across_label: "pulse current (A)",
        label: "pulse time against the first (%)",
    };
    draw(c, &["one_drop_from_ms", "more_drops_from_ms"], &shown, "detachment_difference", "Detachment, difference")
}

/// Voltage at equal current, arc length and extension.
pub(super) fn voltage(c: &LawsComparison) -> Option<Drawn> {
    let shown = Shown {
        per_cent: false,
        across: |p| p.at.current_mean_a,
        across_label: "mean current (A), arc length and extension in the middle",
        label: "voltage against the first (V)",
    };
    draw(c, &["voltage_mean_v"], &shown, "voltage_difference", "Voltage, difference")
}

fn of(shown: &Shown, p: &BandPlace, value: f64) -> f64 {
    if shown.per_cent { 100.0 * value / p.first } else { value }
}

fn draw(c: &LawsComparison, quantities: &[&str], shown: &Shown, name: &'static str, title: &str) -> Option<Drawn> {
    let bands: Vec<&Band> = c.bands.iter().filter(|b| quantities.contains(&b.quantity.as_str())).collect();
    if bands.is_empty() {
        return None;
    }
    let mut figure = Figure::new(WIDTH, (HEAD + ROW) * bands.len() as f64);
    let labels = Labels::new(c, LABEL);
    for (place, band) in bands.iter().enumerate() {
        panel(&mut figure, band, &labels.of(&band.wire), shown, (HEAD + ROW) * place as f64);
    }
    let statements: Vec<_> = c.comparisons.iter().filter(|s| quantities.contains(&s.quantity.as_str())).collect();
    let seen: Vec<String> = statements.iter().map(|s| s.reading.seen.clone()).collect();
    let undecided = statements.iter().filter(|s| s.verdict == Verdict::Undecided).map(|s| s.settle.clone()).next();
    let different = statements.iter().any(|s| s.verdict == Verdict::Different);
    let action = match (different, undecided) {
        (true, _) => "compose a line of its own for the wire that is different".to_owned(),
        (false, Some(settle)) => settle,
        (false, None) => "nothing: one law serves all within the margin".to_owned(),
    };
    let rows = bands.iter().flat_map(|b| {
        b.along.iter().map(|p| {
            let mut cells = vec![text(&b.wire), b.quantity.clone(), b.unit.clone()];
            cells.extend(
                [
                    p.at.current_mean_a,
                    p.at.extension_rms_squared_mm_a2,
                    p.at.pulse_current_a,
                    p.at.arc_length_mm,
                    p.at.extension_mm,
                ]
                .map(number),
            );
            cells.extend([p.first, p.second, p.difference, p.interval[0], p.interval[1], p.margin].map(number));
            cells
        })
    });
    let header = [
        "wire",
        "quantity",
        "unit",
        "current_mean_a",
        "extension_rms_squared_mm_a2",
        "pulse_current_a",
        "arc_length_mm",
        "extension_mm",
        "first",
        "second",
        "difference",
        "difference_low",
        "difference_high",
        "margin",
    ];
    Some(Drawn {
        name,
        title: title.to_owned(),
        caption: format!(
            "Solid: difference from the first wire. Shaded: the band that holds at {} everywhere at once. Dashed: the margins.",
            confidence(c.confidence)
        ),
        reading: Reading::new("the band lies between the dashed lines everywhere", seen.join("; "), action),
        svg: figure.svg(name, title, &seen.join("; ")),
        csv: csv(&header, rows),
    })
}

fn panel(figure: &mut Figure, band: &Band, label: &str, shown: &Shown, top: f64) {
    let frame = Frame { left: 56.0, top: top + HEAD + 32.0, right: WIDTH - 88.0, bottom: top + HEAD + ROW - 52.0 };
    let across = band.along.iter().filter_map(|p| (shown.across)(p));
    let values = band.along.iter().flat_map(|p| {
        [of(shown, p, p.interval[0]), of(shown, p, p.interval[1]), of(shown, p, p.margin), -of(shown, p, p.margin)]
    });
    figure.text((8.0, top + HEAD - 8.0), format!("{label}{}", threshold(band)), Align::Start, Colour::Ink, 13.0);
    let panel =
        figure.panel(frame, Axis::around(shown.across_label, across, 0.02), Axis::around(shown.label, values, 0.08));
    let side = |of_place: &dyn Fn(&BandPlace) -> f64| -> Vec<(f64, f64)> {
        band.along.iter().filter_map(|p| Some(((shown.across)(p)?, of_place(p)))).collect()
    };
    let ends = [0, 1].map(|end| side(&|p| of(shown, p, p.interval[end])));
    figure.band(&panel, &ends[0], &ends[1], Colour::Sea, 0.25);
    for sign in [1.0, -1.0] {
        let margin = side(&|p| sign * of(shown, p, p.margin));
        figure.curve(&panel, &margin, Stroke::dashed(Colour::Rust, 1.8, 7.0, 4.0));
        beside(figure, &panel, margin.last(), if sign > 0.0 { "+ margin" } else { "− margin" }, Colour::Rust);
    }
    figure.curve(&panel, &[(panel.x.low, 0.0), (panel.x.high, 0.0)], Stroke::solid(Colour::Soft, 1.2));
    let curve = side(&|p| of(shown, p, p.difference));
    figure.curve(&panel, &curve, Stroke::solid(Colour::Deep, 2.4));
    beside(figure, &panel, curve.last(), "difference", Colour::Deep);
}

/// A word at the right end of a curve.
fn beside(figure: &mut Figure, panel: &Panel, last: Option<&(f64, f64)>, word: &str, colour: Colour) {
    if let Some((_, y)) = last {
        let (_, at) = panel.place(panel.x.high, y.clamp(panel.y.low, panel.y.high));
        figure.text((panel.frame.right + 5.0, at), word, Align::Start, colour, 12.0);
    }
}

fn threshold(band: &Band) -> &'static str {
    match band.quantity.as_str() {
        "one_drop_from_ms" => ", one drop from",
        "more_drops_from_ms" => ", second drop from",
        _ => "",
    }
}

/// The burn-off curves of the first wire and each other, along the middle of where both were welded.
pub(super) fn curves(c: &LawsComparison) -> Option<Drawn> {
    let bands: Vec<&Band> = c.bands.iter().filter(|b| b.law == "burn_off").collect();
    let first = c.wires.first()?;
    if bands.is_empty() {
        return None;
    }
    let mut figure = Figure::new(WIDTH, (HEAD + ROW) * bands.len() as f64);
    let labels = Labels::new(c, LABEL / 2);
    for (place, band) in bands.iter().enumerate() {
        let top = (HEAD + ROW) * place as f64;
        let frame = Frame { left: 56.0, top: top + HEAD + 32.0, right: WIDTH - 88.0, bottom: top + HEAD + ROW - 52.0 };
        figure.text(
            (8.0, top + HEAD - 8.0),
            format!("first: {}; other: {}", labels.of(&first.name), labels.of(&band.wire)),
            Align::Start,
            Colour::Ink,
            13.0,
        );
        let across = band.along.iter().filter_map(|p| p.at.current_mean_a);
        let values = band.along.iter().flat_map(|p| [p.first, p.second]);
        let panel = figure.panel(
            frame,
            Axis::around("mean current (A), extension as the trials had it", across, 0.02),
            Axis::around("wire feed (m/min)", values, 0.06),
        );
        let second_ends_higher = band.along.last().is_some_and(|p| p.second > p.first);
        for (of, colour, dashed, word) in [
            ((|p: &BandPlace| p.first) as fn(&BandPlace) -> f64, Colour::Deep, false, "first"),
            (|p: &BandPlace| p.second, Colour::Rust, true, "other"),
        ] {
            let points: Vec<(f64, f64)> =
                band.along.iter().filter_map(|p| Some((p.at.current_mean_a?, of(p)))).collect();
            let stroke = if dashed { Stroke::dashed(colour, 2.2, 8.0, 4.0) } else { Stroke::solid(colour, 2.4) };
            figure.curve(&panel, &points, stroke);
            // Curves that nearly meet have their words apart, the higher one's above.
            let up = if dashed == second_ends_higher { -7.0 } else { 7.0 };
            if let Some((_, y)) = points.last() {
                let (_, at) = panel.place(panel.x.high, *y);
                figure.text((panel.frame.right + 5.0, at + up), word, Align::Start, colour, 12.0);
            }
        }
    }
    let rows = bands.iter().flat_map(|b| {
        b.along.iter().map(|p| {
            let mut cells = vec![text(&b.wire)];
            cells.extend(
                [p.at.current_mean_a, p.at.extension_rms_squared_mm_a2, Some(p.first), Some(p.second)].map(number),
            );
            cells
        })
    });
    let seen = "the curves differ by what the next figure shows".to_owned();
    Some(Drawn {
        name: "burn_off_curves",
        title: "Burn-off curves".to_owned(),
        caption:
            "Wire feed that melts, along the middle of where both wires were welded: solid the first, dashed the other."
                .to_owned(),
        reading: Reading::new(
            "both curves rise with the current and lie close together",
            seen,
            "nothing: read the difference",
        ),
        svg: figure.svg(
            "burn_off_curves",
            "Burn-off curves",
            "Wire feed over mean current of the first wire and each other.",
        ),
        csv: csv(
            &[
                "wire",
                "current_mean_a",
                "extension_rms_squared_mm_a2",
                "first_wire_feed_m_min",
                "second_wire_feed_m_min",
            ],
            rows,
        ),
    })
}

//! The forms of a law beside each other: how well each fits and how well each foretells left-out welds,
//! both against the form used.

use meltlaw::laws::{Candidate, FittedLaw};

use super::Drawn;
use super::diagnosed::{by_law, shortened};
use super::law_readings::{described, forms};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Panel, Shape, Stroke};
use crate::numbers::{places_for, signed};
use crate::words;

const WIDTH: f64 = 560.0;
const ROW: f64 = 30.0;
const LEFT: f64 = 176.0;
const TOP: f64 = 40.0;

/// How a form compares with the one used: by the corrected Akaike criterion, and by the mean log density of
/// left-out trials; both larger where this form is better.
pub(crate) fn gains(law: &FittedLaw, form: &Candidate) -> [Option<f64>; 2] {
    let used = law.candidates.iter().find(|c| c.form == law.form);
    let finite = |v: f64| v.is_finite().then_some(v);
    [
        used.and_then(|u| finite(u.aicc? - form.aicc?)),
        used.and_then(|u| finite(form.leave_one_out_log_density? - u.leave_one_out_log_density?)),
    ]
}

/// A row for each form; nothing where there is none to compare.
pub(crate) fn draw(name: &str, law: &FittedLaw) -> Option<Drawn> {
    let rows: Vec<(&Candidate, [Option<f64>; 2])> =
        law.candidates.iter().map(|c| (c, gains(law, c))).filter(|(_, g)| g.iter().any(Option::is_some)).collect();
    // Without a fit there is no form in use to compare with.
    if rows.len() < 2 || law.coefficients.is_empty() {
        return None;
    }
    let figure_name = by_law(name, ["burn_off_forms", "detachment_forms", "arc_voltage_forms"]);
    let height = ROW * rows.len() as f64;
    let mut figure = Figure::new(WIDTH, TOP + height + 48.0);
    let middle = LEFT + (WIDTH - 14.0 - LEFT) / 2.0;
    let frames = [
        Frame { left: LEFT, top: TOP, right: middle - 16.0, bottom: TOP + height },
        Frame { left: middle + 16.0, top: TOP, right: WIDTH - 14.0, bottom: TOP + height },
    ];
    let names = ["gain in AICc", "gain for a left-out weld"];
    for (which, frame) in frames.into_iter().enumerate() {
        column(&mut figure, frame, &rows, which, names[which], &law.form);
    }
    for (place, (candidate, _)) in rows.iter().enumerate() {
        let at = TOP + (place as f64 + 0.5) * ROW;
        let used = candidate.form == law.form;
        let label = shortened(&words::form(&candidate.form), 25);
        let label = if used { format!("{label} ●") } else { label };
        figure.text((LEFT - 10.0, at), label, Align::End, Colour::Ink, 12.0);
    }
    let title = format!("{}: other forms", words::capital(words::law(name)));
    let caption = "Zero is the form used (●); a form to the right does better, to the left worse. Left: how well it fits, charged for each coefficient (AICc; \
                   less than 2 is no difference). Right: how probable each weld was from all others (0.1 means 10 % more probable)."
        .to_owned();
    let reading = forms::reading(law, &rows);
    let drawn = format!("{} rows, one for each form, with its gain in AICc and for a left-out weld.", rows.len());
    let data = rows.iter().map(|(c, g)| {
        vec![text(&c.form), number(c.aicc), number(g[0]), number(c.leave_one_out_log_density), number(g[1])]
    });
    let csv = csv(&["form", "aicc", "aicc_gain", "leave_one_out_log_density", "log_density_gain"], data);
    let svg = figure.svg(figure_name, &title, &described(&drawn, &reading));
    Some(Drawn { name: figure_name, title, caption, reading, svg, csv })
}

fn column(
    figure: &mut Figure,
    frame: Frame,
    rows: &[(&Candidate, [Option<f64>; 2])],
    which: usize,
    name: &str,
    used: &str,
) {
    let values = rows.iter().filter_map(|(_, g)| g[which]);
    // At least ± 2 in AICc and ± 2 % in density: what is no difference must not look like one.
    let least = [2.0, 0.02][which];
    let x = Axis::around("", values.chain([-least, least]), 0.08);
    let panel: Panel = figure.panel_across(frame, x, rows.len() as f64);
    figure.text(
        (f64::midpoint(frame.left, frame.right), frame.bottom + 31.0),
        format!("{name} →"),
        Align::Middle,
        Colour::Ink,
        12.0,
    );
    for (place, (candidate, gains)) in rows.iter().enumerate() {
        let Some(gain) = gains[which] else { continue };
        let y = place as f64 + 0.5;
        figure.curve(&panel, &[(0.0, y), (gain, y)], Stroke::solid(Colour::Sea, 3.0));
        let marker = if candidate.form == used {
            Marker { shape: Shape::Circle, radius: 5.0, colour: Colour::Deep, filled: true }
        } else {
            Marker { shape: Shape::Square, radius: 4.6, colour: Colour::Sea, filled: true }
        };
        figure.point(&panel, gain, y, marker);
        if candidate.form != used {
            let (px, py) = panel.place(gain, y);
            let right = px < f64::midpoint(frame.left, frame.right);
            let (align, shift) = if right { (Align::Start, 9.0) } else { (Align::End, -9.0) };
            // Above the bar where the bar itself runs on that side.
            let lifted = if right == (gain < 0.0) { py - 9.0 } else { py };
            figure.text(
                (px + shift, lifted),
                signed(gain, places_for(gain.abs()).clamp(0, 4)),
                align,
                Colour::Soft,
                11.0,
            );
        }
    }
}

//! Joint confidence regions of α and β: of every wire above, of the differences from the first below.

use meltlaw::compare::laws::{LawsComparison, Region};
use meltlaw::laws::Reading;

use super::labels::Labels;
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::figures::Drawn;
use crate::marks::{Align, Frame, Marker, Shape, Stroke};
use crate::numbers::confidence;

const WIDTH: f64 = 560.0;
const PANEL: f64 = 440.0;
const ROW: f64 = 300.0;
/// β in hundred-thousandths reads as a number.
const BETA: f64 = 1e5;

const LOOKS: [(Colour, Shape); 4] = [
    (Colour::Deep, Shape::Circle),
    (Colour::Rust, Shape::Triangle),
    (Colour::Sea, Shape::Square),
    (Colour::Plum, Shape::TriangleDown),
];

const DASHES: [Option<(f64, f64)>; 3] = [None, Some((8.0, 4.0)), Some((3.0, 3.0))];
/// Wires that colours, shapes and dashes tell apart; looks repeat beyond.
const TOLD_APART: usize = LOOKS.len() * DASHES.len();

/// How a wire's rim and centre are drawn, alike in both panels and in the legend.
fn look(wire: usize) -> (Stroke, Marker) {
    let (colour, shape) = LOOKS[wire % LOOKS.len()];
    let stroke = Stroke { colour, width: 2.0, dash: DASHES[wire % DASHES.len()] };
    (stroke, Marker { shape, radius: 4.0, colour, filled: true })
}

pub(super) fn draw(c: &LawsComparison) -> Option<Drawn> {
    let of = |difference: bool| c.regions.iter().filter(|r| r.of_difference == difference).collect::<Vec<&Region>>();
    let (own, off) = (of(false), of(true));
    let first = own.first()?;
    let labels = Labels::new(c, 60);
    let look_of = |wire: &str| look(c.wires.iter().position(|w| w.name == wire).unwrap_or(0));
    let legend = 18.0 * own.len() as f64 + 14.0;
    let panels = 1.0 + f64::from(u8::from(!off.is_empty()));
    let mut figure = Figure::new(WIDTH, legend + ROW * panels);
    for (place, region) in own.iter().enumerate() {
        let y = 14.0 + 18.0 * place as f64;
        let (stroke, marker) = look_of(&region.wire);
        figure.stroke(&[(6.0, y), (40.0, y)], stroke);
        figure.marker((23.0, y), marker);
        figure.text((48.0, y), labels.of(&region.wire), Align::Start, Colour::Ink, 12.5);
    }
    for (column, regions) in [&own, &off].into_iter().enumerate() {
        if regions.is_empty() {
            continue;
        }
        let (left, top) = (60.0, legend + ROW * column as f64);
        let frame = Frame { left, top: top + 34.0, right: left + PANEL, bottom: top + ROW - 46.0 };
        let points = || regions.iter().flat_map(|r| &r.rim);
        let zero = (column == 1).then_some(0.0);
        let across = Axis::around(
            if column == 0 { "alpha (mm/(A s))" } else { "alpha, difference (mm/(A s))" },
            points().map(|p| p[0]).chain(zero),
            0.06,
        );
        let upright = Axis::around("", points().map(|p| BETA * p[1]).chain(zero), 0.06);
        let label = if column == 0 { "beta (1e-5/(A² s))" } else { "beta, difference (1e-5/(A² s))" };
        figure.text((left - 48.0, top + 18.0), label, Align::Start, Colour::Ink, 12.5);
        let panel = figure.panel(frame, across, upright);
        if column == 1 {
            figure.curve(&panel, &[(panel.x.low, 0.0), (panel.x.high, 0.0)], Stroke::solid(Colour::Soft, 1.2));
            figure.curve(&panel, &[(0.0, panel.y.low), (0.0, panel.y.high)], Stroke::solid(Colour::Soft, 1.2));
        }
        for region in regions {
            let (stroke, marker) = look_of(&region.wire);
            let rim: Vec<(f64, f64)> = region.rim.iter().map(|p| (p[0], BETA * p[1])).collect();
            figure.curve(&panel, &rim, stroke);
            figure.point(&panel, region.centre[0], BETA * region.centre[1], marker);
        }
    }
    let rows = c.regions.iter().flat_map(|r| {
        r.rim.iter().map(|p| {
            let kind = if r.of_difference { "difference" } else { "wire" };
            vec![text(&r.wire), kind.to_owned(), number(p[0]), number(p[1])]
        })
    });
    let outside: Vec<String> = off.iter().filter(|r| !holds_zero(r)).map(|r| r.wire.clone()).collect();
    let seen = if off.is_empty() {
        "there is no difference to look at".to_owned()
    } else if outside.is_empty() {
        "no region of a difference leaves zero out".to_owned()
    } else {
        format!("zero lies outside for {}", outside.join(", "))
    };
    Some(Drawn {
        name: "coefficients",
        title: "Alpha and beta together".to_owned(),
        caption: format!(
            "Each rim holds both coefficients at once at {}. Above the wires, below their differences from the first, with zero marked. The rims lie slanted since the estimates lean on each other.{}",
            confidence(first.confidence),
            repeated(own.len())
        ),
        reading: Reading::new(
            "zero lies inside the region of every difference",
            seen,
            "nothing by this alone: coefficients may differ where feeds do not; the verdicts are read off the feeds",
        ),
        svg: figure.svg(
            "coefficients",
            "Joint confidence regions of alpha and beta",
            "Rims of the joint regions of alpha and beta of every wire, and of the differences from the first.",
        ),
        csv: csv(&["wire", "of", "alpha_mm_per_a_s", "beta_per_a2_s"], rows),
    })
}

/// What a reader must know where there are more wires than looks.
fn repeated(wires: usize) -> String {
    if wires <= TOLD_APART {
        return String::new();
    }
    format!(
        " {wires} wires are drawn and {TOLD_APART} looks tell them apart: wire {} looks like the first again, and so on; the data name each.",
        TOLD_APART + 1
    )
}

/// Whether zero lies within a closed rim: the rim turns once around it.
fn holds_zero(region: &Region) -> bool {
    let scale = [0, 1].map(|i| region.rim.iter().map(|p| p[i].abs()).fold(f64::MIN_POSITIVE, f64::max));
    let turn: f64 = region
        .rim
        .windows(2)
        .map(|w| {
            let [a, b] = [w[0], w[1]].map(|p| [p[0] / scale[0], p[1] / scale[1]]);
            (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1])
        })
        .sum();
    turn.abs() > 3.0
}

//! How fast the likelihood falls off around each coefficient: a straight line where the usual interval is
//! right, a bend where it is not.

use meltlaw::laws::{Coefficient, FittedLaw, Profile};
use meltlaw::statistics::student_t_quantile;

use super::Drawn;
use super::diagnosed::{by_law, shortened};
use super::law_readings::{described, profiles};
use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number, text};
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Shape, Stroke};
use crate::numbers;
use crate::words;

const WIDTH: f64 = 560.0;
const ROW: f64 = 176.0;
/// Above the panels: what is drawn.
const TOP: f64 = 22.0;

/// Small multiples, one for each coefficient with a profile.
pub(crate) fn draw(name: &str, law: &FittedLaw, confidence: f64) -> Option<Drawn> {
    let drawable: Vec<(&Profile, Option<&Coefficient>)> = law
        .profiles
        .iter()
        .filter(|p| places(p).len() > 1)
        .map(|p| (p, law.coefficients.get(&p.coefficient)))
        .collect();
    if drawable.is_empty() {
        return None;
    }
    let figure_name = by_law(name, ["burn_off_profiles", "detachment_profiles", "arc_voltage_profiles"]);
    let across = drawable.len().clamp(1, 3);
    let rows = drawable.len().div_ceil(across);
    let mut figure = Figure::new(WIDTH, TOP + ROW * rows as f64);
    let key = [
        (Stroke::solid(Colour::Deep, 2.4), "profile (standard errors)"),
        (STRAIGHT, "if straight"),
        (LEVEL, "ends of the interval"),
    ];
    let mut at = 52.0;
    for (stroke, words) in key {
        figure.stroke(&[(at, 10.0), (at + 26.0, 10.0)], stroke);
        figure.text((at + 32.0, 10.0), words, Align::Start, Colour::Soft, 11.5);
        at += 50.0 + 6.4 * words.chars().count() as f64;
    }
    let width = (WIDTH - 14.0) / across as f64;
    for (place, (profile, coefficient)) in drawable.iter().enumerate() {
        let left = (place % across) as f64 * width;
        let top = TOP + (place / across) as f64 * ROW;
        let frame = Frame { left: left + 46.0, top: top + 30.0, right: left + width - 4.0, bottom: top + ROW - 28.0 };
        panel(&mut figure, frame, profile, *coefficient, law.degrees_of_freedom, confidence);
    }
    let title = format!("{}: how sharply each coefficient is known", words::capital(words::law(name)));
    let caption = format!(
        "Each panel holds one coefficient at other values; upright is how much worse the trials then fit, in standard errors. On the dashed straight \
         line estimate ± standard errors is right. Points mark where the {} interval ends.",
        numbers::confidence(confidence)
    );
    let shown: Vec<&Profile> = drawable.iter().map(|(p, _)| *p).collect();
    let reading = profiles::reading(&shown, places);
    let drawn = match drawable.len() {
        1 => "One panel with a curve.".to_owned(),
        n => format!("{n} panels with a curve each, one for each coefficient."),
    };
    let data = drawable.iter().flat_map(|(p, _)| {
        places(p).into_iter().map(|(x, y)| vec![text(&p.coefficient), text(&p.unit), number(x), number(y)])
    });
    let csv = csv(&["coefficient", "unit", "value", "signed_root"], data);
    let svg = figure.svg(figure_name, &title, &described(&drawn, &reading));
    Some(Drawn { name: figure_name, title, caption, reading, svg, csv })
}

const STRAIGHT: Stroke = Stroke::dashed(Colour::Soft, 1.6, 6.0, 4.0);
const LEVEL: Stroke = Stroke::dashed(Colour::Rust, 1.6, 2.0, 3.0);

fn panel(
    figure: &mut Figure,
    frame: Frame,
    profile: &Profile,
    coefficient: Option<&Coefficient>,
    degrees: usize,
    confidence: f64,
) {
    let points = places(profile);
    let level = level(profile, degrees, confidence);
    let power = numbers::rounded(points[points.len() / 2].0, points[points.len() - 1].0 - points[0].0).power;
    let scale = 10f64.powi(-power);
    let height = points.iter().map(|p| p.1.abs()).fold(level, f64::max).clamp(1.0, 1.8 * level.max(1.0));
    let (symbol, _) = words::coefficient(&profile.coefficient);
    let symbol = if symbol.is_empty() { words::plain(&profile.coefficient) } else { symbol.to_owned() };
    let unit = [(power != 0).then(|| numbers::power_of_ten(power)), Some(words::unit(&profile.unit))];
    let unit = unit.into_iter().flatten().filter(|u| !u.is_empty()).collect::<Vec<_>>().join(" ");
    let label = if unit.is_empty() { symbol } else { format!("{symbol} ({unit})") };
    let x = Axis::around("", points.iter().map(|p| p.0 * scale), 0.04);
    let (from, to) = (x.low, x.high);
    // The upright axis is the same everywhere and named in the caption; above stands the coefficient.
    let panel = figure.panel(frame, x, Axis::between("", -height * 1.05, height * 1.05));
    figure.text((frame.left, frame.top - 12.0), shortened(&label, 26), Align::Start, Colour::Ink, 12.5);
    figure.curve(&panel, &[(from, 0.0), (to, 0.0)], Stroke::solid(Colour::Soft, 1.0));
    for at in [-level, level] {
        figure.curve(&panel, &[(from, at), (to, at)], LEVEL);
    }
    let known = coefficient.and_then(|c| Some((c.value? * scale, c.standard_error? * scale)));
    if let Some((value, error)) = known.filter(|(v, e)| v.is_finite() && *e > 0.0) {
        figure.curve(&panel, &[from, to].map(|x| (x, (x - value) / error)), STRAIGHT);
    }
    let scaled: Vec<(f64, f64)> = points.iter().map(|(x, y)| (x * scale, *y)).collect();
    figure.curve(&panel, &scaled, Stroke::solid(Colour::Deep, 2.4));
    for (bound, sign) in profile.interval.iter().zip([-1.0, 1.0]) {
        if let Some(bound) = bound {
            let marker = Marker { shape: Shape::Circle, radius: 3.2, colour: Colour::Rust, filled: true };
            figure.point(&panel, bound * scale, root_at(&points, *bound).unwrap_or(sign * level), marker);
        }
    }
}

/// Values and roots that can be drawn.
fn places(profile: &Profile) -> Vec<(f64, f64)> {
    profile
        .values
        .iter()
        .zip(&profile.signed_root)
        .map(|(x, y)| (*x, *y))
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .collect()
}

/// The root at which the interval ends: read off the curve at its bounds, else Student's t.
fn level(profile: &Profile, degrees: usize, confidence: f64) -> f64 {
    let points = places(profile);
    let read = profile.interval.iter().flatten().filter_map(|b| root_at(&points, *b)).map(f64::abs).fold(0.0, f64::max);
    let t = student_t_quantile(f64::midpoint(1.0, confidence), degrees.max(1) as f64);
    if read > 0.0 { read } else { t }
}

fn root_at(points: &[(f64, f64)], value: f64) -> Option<f64> {
    points.windows(2).find(|w| w[0].0 <= value && value <= w[1].0 && w[1].0 > w[0].0).map(|w| {
        let share = (value - w[0].0) / (w[1].0 - w[0].0);
        w[0].1 + share * (w[1].1 - w[0].1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn straight(interval: [Option<f64>; 2]) -> Profile {
        // Estimate 2, standard error 0.5: root = (x − 2)/0.5.
        let values: Vec<f64> = (0..=8).map(|n| f64::from(n) * 0.5).collect();
        let signed_root = values.iter().map(|x| (x - 2.0) / 0.5).collect();
        Profile {
            coefficient: "exponent".to_owned(),
            unit: "1".to_owned(),
            values,
            signed_root,
            interval,
            reason: None,
        }
    }

    #[test]
    fn the_level_is_read_off_the_curve_at_the_bounds() {
        // Bounds 1 and 3 lie two standard errors away.
        assert!((level(&straight([Some(1.0), Some(3.0)]), 38, 0.95) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn without_bounds_the_level_is_students_t() {
        // t(0.975, 10) = 2.228 139, the density integrated by Simpson's rule.
        assert!((level(&straight([None, None]), 10, 0.95) - 2.228).abs() < 1e-3);
    }
}

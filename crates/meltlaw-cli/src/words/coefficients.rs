//! The coefficients of a law as a table: value and error rounded together, the interval to the same power of
//! ten, which stands with the unit.

use meltlaw::laws::{Coefficient, FittedLaw};
use meltlaw_report::numbers::{confidence, fixed, places_for, power_of_ten, rounded, significant};

use crate::told::{Told, Tone};

/// A row before it is aligned: name, value, error, low end, joining word, high end, unit.
type Row = [String; 7];

/// A table with a head, and a line for each coefficient that was stated beforehand. Where the screen is too
/// narrow for it, the intervals stand below their values.
pub(super) fn lines(law: &FittedLaw, level: f64, width: usize) -> Vec<Told> {
    let known: Vec<(&str, &Coefficient)> =
        law.coefficient_order.iter().filter_map(|key| Some((key.as_str(), law.coefficients.get(key)?))).collect();
    if known.is_empty() {
        return Vec::new();
    }
    let rows: Vec<Row> = known.iter().map(|(key, c)| row(key, c)).collect();
    let wide: Vec<usize> =
        (0..7).map(|column| rows.iter().map(|r| r[column].chars().count()).max().unwrap_or(0)).collect();
    let level = confidence(level);
    let value = |[name, value, error, ..]: &Row| {
        format!("  {name:<n$}  {value:>v$} {error:<e$}", n = wide[0], v = wide[1], e = wide[2])
    };
    let range = |[_, _, _, low, to, high, _]: &Row| {
        format!("{low:>l$} {to:<t$} {high:<h$}", l = wide[3], t = wide[4], h = wide[5])
    };
    let over_range = format!("{level} interval");
    let values_wide = 2 + wide[0] + 2 + wide[1] + 1 + wide[2];
    let range_wide = (wide[3] + 1 + wide[4] + 1 + wide[5]).max(over_range.chars().count());
    let one_line = values_wide + 3 + range_wide + 3 + wide[6].max(4) <= width;
    let mut lines = Vec::new();
    if one_line {
        let plus_minus = 2 + wide[0] + 2 + wide[1] + 1;
        let head = format!("{:plus_minus$}{:<e$}   {over_range:<range_wide$}   unit", "", "± se", e = wide[2]);
        lines.push(Told::line(head));
        lines.extend(rows.iter().map(|r| Told::line(format!("{}   {:<range_wide$}   {}", value(r), range(r), r[6]))));
    } else {
        for r in &rows {
            lines.push(Told::line(format!("{} {}", value(r), r[6])));
            lines.push(Told::line(format!(
                "      {level} {}",
                range(r).split_whitespace().collect::<Vec<_>>().join(" ")
            )));
        }
    }
    lines.extend(known.iter().filter_map(|(key, c)| stated(key, c)));
    lines
}

fn row(key: &str, c: &Coefficient) -> Row {
    let error = c.standard_error_with_calibration.filter(|e| e.is_finite() && *e > 0.0);
    let (value, error, power) = match (c.value, error) {
        (Some(value), Some(error)) => {
            let r = rounded(value, error);
            (r.value, format!("± {}", r.error), r.power)
        }
        (Some(value), None) => (significant(value, 4), String::new(), 0),
        (None, _) => ("–".to_owned(), String::new(), 0),
    };
    let factor = 10f64.powi(-power);
    let places = match c.interval {
        [Some(low), Some(high)] => places_for(factor * (high - low) / 2.0),
        [end, other] => end.or(other).map_or(0, |e| places_for(factor * e.abs()) + 1),
    };
    let end = |v: f64| fixed(factor * v, places);
    let [low, to, high] = match c.interval {
        [Some(low), Some(high)] => [end(low), "to".to_owned(), end(high)],
        [Some(low), None] => ["above".to_owned(), String::new(), end(low)],
        [None, Some(high)] => ["below".to_owned(), String::new(), end(high)],
        [None, None] => ["open".to_owned(), String::new(), String::new()],
    };
    let unit = match (power, c.unit.as_str()) {
        (0, unit) => unit.to_owned(),
        (power, "1") => power_of_ten(power),
        (power, unit) => match unit.strip_prefix("1/") {
            Some(below) => format!("{}/{below}", power_of_ten(power)),
            None => format!("{} {unit}", power_of_ten(power)),
        },
    };
    [key.to_owned(), value, error, low, to, high, unit]
}

/// What was stated of a coefficient beforehand, and how it pulls.
fn stated(key: &str, c: &Coefficient) -> Option<Told> {
    let p = c.prior.as_ref()?;
    let text = format!(
        "{key} {} ± {} ({}): {} – {}",
        significant(p.mean, 4),
        significant(p.standard_deviation, 2),
        p.source,
        p.reading.seen,
        p.reading.action
    );
    Some(Told::new("  stated beforehand: ", text).toned(Tone::Plain))
}

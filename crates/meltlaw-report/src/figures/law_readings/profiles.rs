//! Profiles: whether each coefficient is held from both sides, and how even the two sides are.

use meltlaw::laws::{Profile, Reading};

use super::super::diagnosed::shortened;
use crate::numbers::{fixed, percent, places_for};
use crate::words;

/// Longer over shorter side from which ± one number misleads.
const UNEVEN: f64 = 1.2;

/// The reading of the profiles drawn; `places` gives the points of one.
pub(in crate::figures) fn reading(drawn: &[&Profile], places: impl Fn(&Profile) -> Vec<(f64, f64)>) -> Reading {
    let expected = "each curve lies on the dashed straight line and crosses the dotted levels on both sides";
    let open: Vec<&&Profile> = drawn.iter().filter(|p| p.interval.contains(&None)).collect();
    let closed = drawn.len() - open.len();
    let mut parts = vec![match (closed, drawn.len()) {
        (c, n) if c == n && n == 1 => "the coefficient is held from both sides".to_owned(),
        (c, n) if c == n => format!("all {n} coefficients are held from both sides"),
        (c, n) => format!("{c} of {n} coefficients are held from both sides"),
    }];
    let sides = drawn.iter().filter_map(|p| Some((*p, sides(p, &places(p))?)));
    let uneven = sides.map(|(p, [down, up])| (p, down, up, (up / down).max(down / up)));
    let most = uneven.max_by(|a, b| a.3.total_cmp(&b.3));
    parts.extend(most.map(|(p, down, up, ratio)| {
        let unit = match words::unit(&p.unit) {
            none if none.is_empty() => none,
            unit => format!(" {unit}"),
        };
        let places = places_for(down.min(up)).clamp(0, 9);
        let [longer, shorter] = if up > down { ["upwards", "downwards"] } else { ["downwards", "upwards"] };
        format!(
            "least even is {}: the interval reaches {}{unit} {longer} and {}{unit} {shorter}, {} more",
            name(p),
            fixed(down.max(up), places),
            fixed(down.min(up), places),
            percent(ratio - 1.0)
        )
    }));
    parts.extend(open.iter().map(|p| {
        let reason = p.reason.as_deref().map_or(String::new(), |r| format!(" ({r})"));
        format!("{} is open on {}{reason}", name(p), open_side(p))
    }));
    let action = if !open.is_empty() {
        let names: Vec<String> = open.iter().map(|p| name(p)).collect();
        // The cure stands in the reason; profiles of one law share it mostly.
        let mut cures: Vec<&str> = open.iter().filter_map(|p| p.reason.as_deref()).collect();
        cures.dedup();
        let cure = if cures.is_empty() {
            "the record names no trial that would close it".to_owned()
        } else {
            cures.join("; ")
        };
        format!("quote no ± for {}: {cure}", words::listed(&names))
    } else if most.is_some_and(|m| m.3 > UNEVEN) {
        "nothing; but quote the interval with its two ends and not ± one number".to_owned()
    } else {
        "nothing".to_owned()
    };
    Reading::new(expected, parts.join("; "), action)
}

fn name(profile: &Profile) -> String {
    match words::coefficient(&profile.coefficient) {
        ("", _) => shortened(&words::plain(&profile.coefficient), 40),
        (symbol, _) => symbol.to_owned(),
    }
}

fn open_side(profile: &Profile) -> &'static str {
    match profile.interval {
        [None, None] => "both sides",
        [None, _] => "the lower side",
        _ => "the upper side",
    }
}

/// From the estimate, where the root is zero, down and up to the ends of the interval.
fn sides(profile: &Profile, places: &[(f64, f64)]) -> Option<[f64; 2]> {
    let estimate = places.windows(2).find(|w| w[0].1 <= 0.0 && w[1].1 >= 0.0 && w[1].1 > w[0].1).map(|w| {
        let share = -w[0].1 / (w[1].1 - w[0].1);
        w[0].0 + share * (w[1].0 - w[0].0)
    })?;
    let [down, up] = [estimate - profile.interval[0]?, profile.interval[1]? - estimate];
    (down > 0.0 && up > 0.0 && down.is_finite() && up.is_finite()).then_some([down, up])
}

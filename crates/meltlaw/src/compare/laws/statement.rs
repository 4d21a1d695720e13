//! The verdict of one quantity of one wire, with the place that decides it.
//!
//! `alike` is shown and not assumed: both ends of the interval must lie inside the margin, which is two one-sided tests at
//! every place at once.
//!
//! # Source
//! D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657–680.

use super::known::Known;
use super::settle::{Settled, trials_to_settle};
use super::spots::{Quantity, Spot};
use super::{Band, BandPlace, CONFIDENCE, LawStatement, Verdict, words};
use crate::study::Margins;

/// What a statement is about.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked<'a> {
    pub(super) law: &'static str,
    pub(super) quantity: Quantity,
    /// Of the first wire and of the other.
    pub(super) names: [&'a str; 2],
    /// Standard errors that the band is wide.
    pub(super) critical: f64,
    pub(super) margins: &'a Margins,
    pub(super) known: [&'a Known; 2],
}

/// The interval of a spot's difference of sums.
fn interval(spot: &Spot, critical: f64) -> [f64; 2] {
    let (d, w) = (spot.difference(), critical * spot.standard_error());
    // Laws without any error are compared by their values.
    if w.is_finite() { [d - w, d + w] } else { [d, d] }
}

/// How far an interval lies outside the limits, in half widths between them; not positive inside and across.
fn outside(spot: &Spot, critical: f64) -> f64 {
    let ([low, high], limits) = (interval(spot, critical), spot.limits);
    let half = half_width(limits);
    ((low - limits[1]) / half).max((limits[0] - high) / half)
}

/// How near an interval's farther end comes to leaving the limits; above one it leaves them.
fn reach(spot: &Spot, critical: f64) -> f64 {
    let [low, high] = interval(spot, critical);
    let middle = (spot.limits[0] + spot.limits[1]) / 2.0;
    let middle = if middle.is_finite() { middle } else { 0.0 };
    let half = half_width(spot.limits);
    ((high - middle) / half).max((middle - low) / half)
}

fn half_width([low, high]: [f64; 2]) -> f64 {
    if low.is_finite() { (high - low) / 2.0 } else { high }
}

/// The verdict over all spots of a quantity, `spots` not empty.
fn verdict(spots: &[Spot], critical: f64) -> Verdict {
    if spots.iter().any(|s| outside(s, critical) > 0.0) {
        Verdict::Different
    } else if spots.iter().all(|s| {
        let [low, high] = interval(s, critical);
        low >= s.limits[0] && high <= s.limits[1]
    }) {
        Verdict::Alike
    } else {
        Verdict::Undecided
    }
}

/// Judges a quantity.
pub(super) fn statement(asked: &Asked<'_>, spots: &[Spot]) -> LawStatement {
    let Some(first) = spots.first() else {
        return not_made(asked.law, asked.quantity, asked.names[1], "there is no place to compare at");
    };
    let verdict = verdict(spots, asked.critical);
    let measure =
        |s: &Spot| if verdict == Verdict::Different { outside(s, asked.critical) } else { reach(s, asked.critical) };
    let deciding = spots.iter().fold(first, |best, s| if measure(s) > measure(best) { s } else { best });
    let place = band_place(asked, deciding);
    let settled = (verdict == Verdict::Undecided).then(|| {
        let [a, b] = asked.known;
        trials_to_settle(spots, asked.critical, [a.degrees, b.degrees], [a.trials, b.trials], CONFIDENCE)
    });
    let relative = (asked.quantity != Quantity::Voltage).then(|| {
        let per_cent = spots.iter().map(|s| {
            let first = asked.quantity.value(s.sums[0]);
            100.0 * asked.quantity.difference(s.sums[0], s.difference()) / first
        });
        crate::statistics::range(per_cent)
    });
    let total = deciding.standard_error().powi(2);
    let share = |v: f64| if total > 0.0 { v / total } else { 0.0 };
    let budget = vec![
        (format!("trials of {}", asked.names[0]), share(deciding.variances[0])),
        (format!("trials of {}", asked.names[1]), share(deciding.variances[1])),
        ("instruments".to_owned(), share(deciding.calibration_variance)),
    ];
    LawStatement {
        wire: asked.names[1].to_owned(),
        law: asked.law.to_owned(),
        quantity: asked.quantity.name().to_owned(),
        unit: asked.quantity.unit().to_owned(),
        at: Some(place.at),
        first: Some(place.first),
        difference: Some(place.difference),
        interval: Some(place.interval),
        margin: Some(place.margin),
        range_per_cent: relative,
        verdict,
        differs_from_zero: Some(spots.iter().any(|s| {
            let [low, high] = interval(s, asked.critical);
            low > 0.0 || high < 0.0
        })),
        trials_to_settle: match settled {
            Some(Settled::By(more)) => Some(more),
            _ => None,
        },
        settle: words::settle(asked, settled, &place),
        reason: match settled {
            None => Some("trials_to_settle: it is settled".to_owned()),
            Some(Settled::By(_)) => None,
            Some(_) => Some("trials_to_settle: trials alone will not settle it; see settle".to_owned()),
        },
        budget,
        reading: words::statement(asked, verdict, &place, settled),
    }
}

/// A statement that cannot be made.
pub(super) fn not_made(law: &str, quantity: Quantity, wire: &str, reason: &str) -> LawStatement {
    LawStatement {
        wire: wire.to_owned(),
        law: law.to_owned(),
        quantity: quantity.name().to_owned(),
        unit: quantity.unit().to_owned(),
        at: None,
        first: None,
        difference: None,
        interval: None,
        margin: None,
        range_per_cent: None,
        verdict: Verdict::Undecided,
        differs_from_zero: None,
        trials_to_settle: None,
        settle: reason.to_owned(),
        reason: Some(reason.to_owned()),
        budget: Vec::new(),
        reading: crate::laws::Reading::new(
            words::expected(quantity),
            format!("not compared: {reason}"),
            "weld what is named, then compare again",
        ),
    }
}

fn band_place(asked: &Asked<'_>, spot: &Spot) -> BandPlace {
    let q = asked.quantity;
    let of = |d: f64| q.difference(spot.sums[0], d);
    BandPlace {
        at: spot.at,
        first: q.value(spot.sums[0]),
        second: q.value(spot.sums[1]),
        difference: of(spot.difference()),
        interval: interval(spot, asked.critical).map(of),
        margin: q.margin(asked.margins, spot.sums[0]),
    }
}

/// The difference over the common range.
pub(super) fn band(asked: &Asked<'_>, spots: &[Spot]) -> Band {
    let places =
        |chosen: &dyn Fn(&Spot) -> bool| spots.iter().filter(|s| chosen(s)).map(|s| band_place(asked, s)).collect();
    Band {
        wire: asked.names[1].to_owned(),
        law: asked.law.to_owned(),
        quantity: asked.quantity.name().to_owned(),
        unit: asked.quantity.unit().to_owned(),
        critical: asked.critical,
        along: places(&|s| s.along),
        places: places(&|_| true),
    }
}

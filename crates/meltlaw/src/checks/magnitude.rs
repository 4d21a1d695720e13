//! Whether a column looks as if it were in another unit: the median lies outside a window that holds
//! every usual weld, and one unit factor brings it back.

use super::rows::{cell, finding, in_rows, median, quantity, values};
use super::{Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// Another unit that the reading may be in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slip {
    /// What to multiply the reading by to mend it.
    pub(super) factor: f64,
    /// The unit that the values look like.
    pub(super) unit: &'static str,
    /// What to do about it in the file.
    pub(super) mend: &'static str,
}

/// A column with its usual range and the slips that people make in it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Usual<'a> {
    /// The column.
    pub(super) column: Column,
    /// Where usual values lie.
    pub(super) window: [f64; 2],
    /// Slips to try.
    pub(super) slips: &'a [Slip],
    /// Whether single rows that are a slip away from the others are judged too.
    pub(super) single_rows: bool,
}

/// How far a mended single row may lie from the median of the others, as a factor.
const ALIKE_FACTOR: f64 = 4.0;

fn inside(value: f64, [low, high]: [f64; 2]) -> bool {
    (low..=high).contains(&value)
}

/// The slips that bring a value back into the window, the one nearest its middle first.
pub(super) fn slips_that_mend(value: f64, window: [f64; 2], slips: &[Slip]) -> Vec<&Slip> {
    let middle = (window[0] * window[1]).sqrt();
    let distance = |slip: &Slip| (value * slip.factor / middle).ln().abs();
    let mut mending: Vec<&Slip> = slips.iter().filter(|s| inside(value * s.factor, window)).collect();
    mending.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
    mending
}

/// `ms (do this), or s (do that)`.
pub(super) fn options(mending: &[&Slip]) -> (String, String) {
    let units: Vec<&str> = mending.iter().map(|s| s.unit).collect();
    let mends: Vec<&str> = mending.iter().map(|s| s.mend).collect();
    (units.join(" or "), mends.join("; or "))
}

/// Judges one column.
pub(super) fn judge(check: &str, trials: &Trials, usual: &Usual<'_>) -> Vec<Finding> {
    let &Usual { column, window, slips, single_rows } = usual;
    let middle = median(&values(trials, column));
    // Values that are not positive have checks of their own.
    if middle.is_nan() || middle <= 0.0 {
        return Vec::new();
    }
    let rows_where = |bad: &dyn Fn(f64) -> bool| -> Vec<RowReference> {
        trials.used().filter(|t| t.get(column).is_some_and(bad)).map(|t| cell(trials, t, column)).collect()
    };
    let expected =
        format!("{} between {} and {}", column.name(), quantity(window[0], column), quantity(window[1], column));
    if !inside(middle, window) {
        let rows = rows_where(&|v| v > 0.0 && !inside(v, window));
        let mending = slips_that_mend(middle, window, slips);
        let seen = format!("median {} {}", quantity(middle, column), in_rows(&rows));
        return vec![if mending.is_empty() {
            let action = format!("check the unit and the instrument of {}", column.name());
            finding(check, Severity::Warning, rows, Reading::new(expected, seen, action))
        } else {
            let (units, mends) = options(&mending);
            let reading = Reading::new(expected, format!("{seen}: looks like {units}"), mends);
            finding(check, Severity::Stop, rows, reading)
        }];
    }
    if !single_rows {
        return Vec::new();
    }
    let alike = [middle / ALIKE_FACTOR, middle * ALIKE_FACTOR];
    let slipped = |v: f64| v > 0.0 && !inside(v, window) && slips.iter().any(|s| inside(v * s.factor, alike));
    let rows = rows_where(&slipped);
    if rows.is_empty() {
        return Vec::new();
    }
    let seen = format!("another unit than in the other rows {}", in_rows(&rows));
    let action =
        format!("correct these cells of {} to {}, or set use = no and say why in note", column.name(), column.unit());
    vec![finding(check, Severity::Stop, rows, Reading::new(expected, seen, action))]
}

/// Whether one of these columns is in another unit throughout. Checks that compare it with others stay
/// silent then: the unit is the one thing to mend, and a hundred contradictions would bury it.
pub(super) fn in_another_unit(study: &Study, trials: &Trials, columns: &[Column]) -> bool {
    let used = trials.used().count();
    [super::current_magnitude::CHECK, super::time_magnitude::CHECK, super::voltage_magnitude::CHECK]
        .iter()
        .flat_map(|check| (check.look)(study, trials))
        .filter(|f| f.severity == Severity::Stop && 2 * f.rows.len() > used)
        .any(|f| f.rows.iter().any(|r| columns.iter().any(|c| r.column.as_deref() == Some(c.name()))))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SLIPS: &[Slip] = &[
        Slip { factor: 25.4, unit: "inches", mend: "rename the column ctwd_in" },
        Slip { factor: 10.0, unit: "centimetres", mend: "multiply by 10" },
    ];

    #[test]
    fn the_likelier_unit_comes_first() {
        // 0.7 in = 17.8 mm, near √(8·40) = 17.9; 0.7 cm = 7 mm is outside.
        assert_eq!(options(&slips_that_mend(0.7, [8.0, 40.0], SLIPS)).0, "inches");
        // 1.5 in = 38.1 mm, 1.5 cm = 15 mm.
        assert_eq!(options(&slips_that_mend(1.5, [8.0, 40.0], SLIPS)).0, "centimetres or inches");
        assert!(slips_that_mend(100.0, [8.0, 40.0], SLIPS).is_empty());
    }
}

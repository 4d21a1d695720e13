//! What the checks share: references to rows and cells, numbers as people write them, and how finely
//! a column was read.

use std::collections::BTreeSet;

use super::{Finding, RowReference, Severity};
use crate::laws::Reading;
use crate::trials::{Column, Trial, Trials};

/// How many stated errors a contradiction of redundant columns must exceed.
pub(super) const CONTRADICTION_ERRORS: f64 = 4.0;

/// Floor of every comparison of redundant columns, relative. A value converted from another unit or
/// averaged by an instrument has no last digit to judge its rounding by; half a per cent is what two
/// careful readings of one quantity may differ by (common practice).
pub(super) const READING_FLOOR_RELATIVE: f64 = 0.005;

/// A finding.
pub(super) fn finding(check: &str, severity: Severity, rows: Vec<RowReference>, reading: Reading) -> Finding {
    Finding { check: check.to_owned(), severity, rows, reading }
}

/// A finding where there are rows, none where there are none.
pub(super) fn finding_if_any(
    check: &str,
    severity: Severity,
    rows: Vec<RowReference>,
    reading: impl FnOnce(&str) -> Reading,
) -> Vec<Finding> {
    if rows.is_empty() {
        return Vec::new();
    }
    let concerned = in_rows(&rows);
    vec![finding(check, severity, rows, reading(&concerned))]
}

/// A whole row.
pub(super) fn row(trials: &Trials, trial: &Trial) -> RowReference {
    let file = trials.sources.get(trial.source).map(|source| source.file.clone()).unwrap_or_default();
    RowReference { file, row: trial.row, trial: trial.name.clone(), column: None, found: None }
}

/// One cell and what stands in it.
pub(super) fn cell(trials: &Trials, trial: &Trial, column: Column) -> RowReference {
    let found = trial.get(column).map_or_else(|| "blank".to_owned(), |value| quantity(value, column));
    cell_saying(trials, trial, column, found)
}

/// One cell with words of its own beside the value.
pub(super) fn cell_saying(trials: &Trials, trial: &Trial, column: Column, found: String) -> RowReference {
    RowReference { column: Some(column.name().to_owned()), found: Some(found), ..row(trials, trial) }
}

/// Cells of a column in used rows whose value the rule dislikes.
pub(super) fn cells_where(trials: &Trials, column: Column, bad: impl Fn(f64) -> bool) -> Vec<RowReference> {
    trials.used().filter(|t| t.get(column).is_some_and(&bad)).map(|t| cell(trials, t, column)).collect()
}

/// `in 1 row (B03)`, `in 12 rows (B01, B02, B03, …)`.
pub(super) fn in_rows(rows: &[RowReference]) -> String {
    let mut met = BTreeSet::new();
    let names: Vec<&str> = rows.iter().filter(|r| met.insert((&r.file, r.row))).map(|r| r.trial.as_str()).collect();
    let shown = names.iter().take(3).copied().collect::<Vec<_>>().join(", ");
    let more = if names.len() > 3 { ", …" } else { "" };
    format!("in {} ({shown}{more})", counted(names.len(), "row"))
}

/// `1 row`, `3 rows`.
pub(super) fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// A value with its column's unit.
pub(super) fn quantity(value: f64, column: Column) -> String {
    match column.unit() {
        "1" => number(value),
        unit => format!("{} {unit}", number(value)),
    }
}

/// Five significant digits, no trailing zeros.
pub(super) fn number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let exponent = value.abs().log10().floor();
    if !(-5.0..7.0).contains(&exponent) {
        return format!("{value:.4e}");
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 0..=9 just before")]
    let decimals = (4.0 - exponent).clamp(0.0, 9.0) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Half a unit of the last digit that the column carries, over all rows: 0.05 for 132.4, 0.5 for 132.
pub(super) fn half_unit(trials: &Trials, column: Column) -> f64 {
    let whole = |scale: f64| {
        trials.rows.iter().filter_map(|t| t.get(column)).all(|v| {
            let scaled = v * scale;
            (scaled - scaled.round()).abs() <= 1e-6 * scaled.abs().max(1.0)
        })
    };
    [1.0, 10.0, 100.0, 1000.0].into_iter().find(|&scale| whole(scale)).map_or(0.5e-4, |scale| 0.5 / scale)
}

/// Values of a column in used rows.
pub(super) fn values(trials: &Trials, column: Column) -> Vec<f64> {
    trials.used().filter_map(|t| t.get(column)).collect()
}

/// Median; NaN of nothing.
pub(super) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match sorted.len() {
        0 => f64::NAN,
        n if n % 2 == 1 => sorted[middle],
        _ => f64::midpoint(sorted[middle - 1], sorted[middle]),
    }
}

/// Standard deviation as the median distance from the median would have it for a normal sample.
///
/// The factor is 1/Φ⁻¹(3/4).
pub(super) fn robust_sd(values: &[f64]) -> f64 {
    let middle = median(values);
    1.482_602_218_505_602 * median(&values.iter().map(|v| (v - middle).abs()).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        assert_eq!(number(132.4), "132.4");
        assert_eq!(number(150.0), "150");
        assert_eq!(number(0.1324), "0.1324");
        assert_eq!(number(-3.98), "-3.98");
        assert_eq!(number(123_456.0), "123456");
        assert_eq!(number(1.5e-7), "1.5000e-7");
    }

    #[test]
    fn the_last_digit_of_a_column_tells_its_rounding() {
        let mut trials = Trials::default();
        trials.rows.push(Trial::new("a", 0, 2).with(Column::CurrentMean, 132.0).with(Column::WireFeed, 5.123_456));
        trials.rows.push(Trial::new("b", 0, 3).with(Column::CurrentMean, 132.4).with(Column::WireFeed, 5.1));
        assert_eq!(half_unit(&trials, Column::CurrentMean), 0.05);
        assert_eq!(half_unit(&trials, Column::WireFeed), 0.5e-4);
    }

    #[test]
    fn a_row_with_two_bad_cells_counts_once() {
        let trial = Trial::new("B03", 0, 4).with(Column::CurrentMean, -1.0).with(Column::CurrentRms, -1.0);
        let trials = Trials { rows: vec![trial.clone(), Trial::new("B04", 0, 5)], ..Trials::default() };
        let rows = [Column::CurrentMean, Column::CurrentRms].map(|c| cell(&trials, &trial, c));
        assert_eq!(in_rows(&rows), "in 1 row (B03)");
    }

    #[test]
    fn a_robust_spread_ignores_one_wild_value() {
        // Median 3, distances 2 1 0 1 97, their median 1.
        assert!((robust_sd(&[1.0, 2.0, 3.0, 4.0, 100.0]) - 1.4826).abs() < 1e-4);
        assert!(median(&[]).is_nan());
    }
}

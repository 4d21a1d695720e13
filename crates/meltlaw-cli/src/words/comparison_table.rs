//! The changes between two lines by feed, in columns with marks.

use meltlaw::compare::lines::{Consequence, LineComparison, MELTED, SettingVerdict};
use meltlaw_report::numbers::{feed, signed};
use meltlaw_report::setting::QUANTITIES;

use crate::told::Told;

/// Mark of what was set differently.
pub(super) const SET: char = '*';
/// Mark of what lies beyond error.
pub(super) const BEYOND: char = '!';

/// Rows shown; of more feeds the ends and some between.
const ROWS_SHOWN: usize = 12;

/// Name, unit, factor and places as everywhere.
pub(super) fn shown(quantity: &str) -> (&str, &str, f64, i32) {
    match QUANTITIES.iter().find(|q| q.key == quantity) {
        Some(q) if q.key == "one_drop_probability" => (q.name, "points", q.factor, q.places),
        Some(q) if q.key == "voltage_mean_v" => ("voltage", q.unit, q.factor, q.places),
        Some(q) => (q.name, q.unit, q.factor, q.places),
        None if quantity == MELTED => ("melting", "%", 100.0, 1),
        None => (quantity, "", 1.0, 3),
    }
}

/// Head, unit, quantity; settings first.
const COLUMNS: [(&str, &str, &str); 8] = [
    ("Ip", "A", "pulse_current_a"),
    ("tp", "ms", "pulse_time_ms"),
    ("f", "Hz", "pulse_frequency_hz"),
    ("Ib", "A", "background_current_a"),
    ("melts", "%", MELTED),
    ("mean", "A", "current_mean_a"),
    ("volts", "V", "voltage_mean_v"),
    ("1 drop", "points", "one_drop_probability"),
];

/// Changes by feed. Narrow screens leave out the last columns.
pub(super) fn table(c: &LineComparison, width: usize) -> Vec<Told> {
    let columns = &COLUMNS[..COLUMNS.len().min(width.saturating_sub(7) / 8)];
    let head = |of: fn(&(&'static str, &'static str, &'static str)) -> &'static str| -> String {
        columns.iter().map(|column| format!(" {:>6} ", of(column))).collect()
    };
    let mut lines = vec![format!("  {:>5}{}", "feed", head(|x| x.0)), format!("  {:>5}{}", "m/min", head(|x| x.1))];
    let rows = rows_shown(c.feeds.len());
    for &row in &rows {
        let at = &c.feeds[row];
        let cells: String = columns.iter().map(|(_, _, quantity)| cell(c, row, quantity)).collect();
        lines.push(format!("  {:>5}{cells}", feed(at.wire_feed_m_min)).trim_end().to_owned());
    }
    if rows.len() < c.feeds.len() {
        lines.push(format!("  … {} of {} feeds; all with --json", rows.len(), c.feeds.len()));
    }
    lines.push(format!(
        "  the other minus the first; {BEYOND} beyond error, {SET} set differently (a decision, without error)"
    ));
    lines.into_iter().map(Told::line).collect()
}

fn rows_shown(count: usize) -> Vec<usize> {
    if count <= ROWS_SHOWN {
        return (0..count).collect();
    }
    (0..ROWS_SHOWN).map(|k| k * (count - 1) / (ROWS_SHOWN - 1)).collect()
}

/// From the file's unit to what is shown; melting relative to the first line's.
pub(super) fn scaled(x: &Consequence, value: f64) -> f64 {
    let (_, _, factor, _) = shown(&x.quantity);
    if x.quantity == MELTED { factor * value / x.first } else { factor * value }
}

fn cell(c: &LineComparison, place: usize, quantity: &str) -> String {
    let (_, _, factor, places) = shown(quantity);
    let setting = c.feeds[place].settings.iter().find(|s| s.quantity == quantity);
    let measured = c.of(quantity).get(place);
    let Some(difference) = measured.map(|x| scaled(x, x.difference)).or(setting.map(|s| factor * s.difference)) else {
        return format!(" {:>6} ", "");
    };
    let mark = if measured.is_some_and(|x| x.differs_from_zero == Some(true)) {
        BEYOND
    } else if setting.is_some_and(|s| s.verdict == SettingVerdict::SetDifferently) {
        SET
    } else {
        ' '
    };
    format!(" {:>6}{mark}", signed(difference, places))
}

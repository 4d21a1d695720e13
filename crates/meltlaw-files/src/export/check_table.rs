//! What one new weld should read at each feed, for alarms in production: mean current, mean voltage and mean power, each
//! with the band in which a good weld's reading lies.

use meltlaw::node_columns::{NODE_COLUMNS, NodeColumn};

use super::csv::opening;
use super::rows::{LineRow, line_rows};
use crate::document::{LineDocument, number_text};
use crate::write::tables::{number, text};

/// The columns of numbers, by their names in the line: each reading as expected, then the band of one new weld.
pub(super) const CHECK_COLUMNS: [&str; 10] = [
    "wire_feed_m_min",
    "current_mean_a",
    "next_weld_current_mean_a_low",
    "next_weld_current_mean_a_high",
    "voltage_mean_v",
    "next_weld_voltage_mean_v_low",
    "next_weld_voltage_mean_v_high",
    "power_mean_w",
    "next_weld_power_mean_w_low",
    "next_weld_power_mean_w_high",
];

/// Those columns with their numbers.
pub(super) fn check_columns() -> impl Iterator<Item = &'static NodeColumn> {
    CHECK_COLUMNS.iter().map(|name| {
        NODE_COLUMNS.iter().find(|(column, _)| column == name).expect("each is a column of a node: tested below")
    })
}

/// How the bands are meant.
pub(super) fn meaning(document: &LineDocument) -> Vec<String> {
    let confidence = 100.0 * document.body().confidence;
    let outside = 100.0 - confidence;
    vec![
        "expected: current_mean_a, voltage_mean_v, power_mean_w; band of one new weld at kept arc length, read by \
         instruments such as those of the trials: next_weld_…_low to next_weld_…_high"
            .to_owned(),
        format!(
            "of good welds about {} in 100 read outside each band: one reading outside asks for a look, several in a row \
             for a stop. Where support is extended or carried the bands rest on fewer trials, or on none of this wire",
            // The complement of 0.95 is not 0.05 to the last bit.
            number_text((outside * 1e9).round() / 1e9)
        ),
        format!(
            "between two rows with status 0 every number is linear in wire feed; the mean current by this rule is within \
             {} A of what the settings give",
            number_text(largest_current_error_a(document))
        ),
    ]
}

/// Comment lines with the facts, then the rows.
pub(super) fn check_table(document: &LineDocument) -> String {
    let mut table = opening(document);
    for line in meaning(document) {
        table.comment(&line);
    }
    let mut header = vec!["status".to_owned()];
    header.extend(CHECK_COLUMNS.map(str::to_owned));
    header.extend(["support", "standing", "reason"].map(str::to_owned));
    table.row(header);
    for row in line_rows(&document.body().line) {
        table.row(cells(&row));
    }
    table.into_csv()
}

fn cells(row: &LineRow<'_>) -> Vec<String> {
    let mut cells = vec![row.status.code().to_string()];
    cells.extend(check_columns().map(|column| number(row.number(column))));
    cells.extend([row.support_word().to_owned(), row.standing_word().to_owned(), text(&row.reason)]);
    cells
}

/// How far the mean current between rows, which is computed from the settings, lies from the straight line at most;
/// rounded up to 0.1 A. Mean current is a polynomial of third degree in the feed there, so it is looked for at points.
fn largest_current_error_a(document: &LineDocument) -> f64 {
    let rows = line_rows(&document.body().line);
    let mut largest: f64 = 0.0;
    for pair in rows.windows(2) {
        let (Some(low), Some(high)) = (pair[0].node, pair[1].node) else { continue };
        for weight in (1..16).map(|i| f64::from(i) / 16.0) {
            let feed = meltlaw_line::between(low.wire_feed_m_min, high.wire_feed_m_min, weight);
            if let Ok(there) = meltlaw::line_at::at(document.body(), feed) {
                let straight = meltlaw_line::between(low.current_mean_a, high.current_mean_a, weight);
                largest = largest.max((there.current_mean_a - straight).abs());
            }
        }
    }
    (largest * 10.0).ceil() / 10.0
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::super::examples::{changed, eventful, read, standing_words};
    use super::*;

    #[test]
    fn the_bands_are_those_of_the_next_weld_and_hold_what_is_expected() {
        let document = changed(|_| {});
        let rows = read(&check_table(&document));
        let nodes = &document.body().line.nodes;
        let with_setting: Vec<_> = rows.iter().filter(|row| row["status"] == "0").collect();
        assert_eq!(with_setting.len(), nodes.len());
        for (row, node) in with_setting.iter().zip(nodes) {
            let of = |name: &str| row[name].parse::<f64>().unwrap();
            assert_eq!(of("next_weld_power_mean_w_high").to_bits(), node.next_weld.power_mean_w[1].to_bits());
            assert_eq!(of("voltage_mean_v").to_bits(), node.voltage_mean_v.to_bits());
            for reading in ["current_mean_a", "voltage_mean_v", "power_mean_w"] {
                let [low, high] = ["low", "high"].map(|end| of(&format!("next_weld_{reading}_{end}")));
                assert!(low < of(reading) && of(reading) < high, "{reading}");
            }
            assert_eq!((row["support"].as_str(), row["standing"].as_str()), (node.support.as_str(), "proposed"));
        }
    }

    #[test]
    fn feeds_without_a_setting_expect_nothing_and_say_why() {
        for row in read(&check_table(&eventful())).iter().filter(|row| row["status"] != "0") {
            assert!(CHECK_COLUMNS[1..].iter().all(|name| row[*name].is_empty()));
            assert!(!row["reason"].is_empty());
        }
    }

    #[test]
    fn facts_travel_and_the_bands_are_explained() {
        let document = eventful();
        let csv = check_table(&document);
        for words in
            standing_words().iter().map(String::as_str).chain([document.checksum(), "about 5 in 100 read outside"])
        {
            assert!(csv.contains(words), "{words}");
        }
    }

    #[test]
    fn what_a_straight_line_costs_the_mean_current_is_no_more_than_is_said() {
        let document = changed(|_| {});
        let said = largest_current_error_a(&document);
        let nodes = &document.body().line.nodes;
        for weight in (0..=1000).map(|i| f64::from(i) / 1000.0) {
            let straight = meltlaw_line::between(nodes[0].current_mean_a, nodes[1].current_mean_a, weight);
            let feed = meltlaw_line::between(nodes[0].wire_feed_m_min, nodes[1].wire_feed_m_min, weight);
            let there = meltlaw::line_at::at(document.body(), feed).unwrap().current_mean_a;
            assert!((there - straight).abs() <= said, "{feed} m/min: {there} against {straight}, {said} said");
        }
    }
}

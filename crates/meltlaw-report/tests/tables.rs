//! Every table of the page as a spreadsheet takes it: one value a cell, numbers that are read as numbers.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use std::collections::BTreeMap;

use meltlaw::laws::{PriorPull, Reading};
use meltlaw::line::{Drift, DriftRange, Influence};
use meltlaw::study::Assumed;
use sample::Sample;

/// A cell: whether it is of words, and what it says.
#[derive(Debug, Clone, PartialEq)]
struct Cell {
    words: bool,
    says: String,
}

#[derive(Debug)]
struct Table {
    caption: String,
    heads: Vec<Cell>,
    rows: Vec<Vec<Cell>>,
    /// What follows up to the next heading.
    after: String,
}

/// The tables of a page; knows no more of HTML than the page uses.
fn tables(page: &str) -> Vec<Table> {
    let part = |text: &str, name: &str| -> String {
        let start = text.find(&format!("<{name}>")).unwrap() + name.len() + 2;
        text[start..text.find(&format!("</{name}>")).unwrap()].to_owned()
    };
    let of = |rest: &str| {
        let (table, after) = rest.split_once("</table>").unwrap();
        let head_rows = rows(&part(table, "thead"));
        assert_eq!(head_rows.len(), 1, "one row of heads to filter by: {table:.200}");
        Table {
            caption: part(table, "caption"),
            heads: head_rows[0].clone(),
            rows: rows(&part(table, "tbody")),
            after: after[..after.find("<h").unwrap_or(after.len())].to_owned(),
        }
    };
    page.match_indices("<table>").map(|(at, _)| of(&page[at..])).collect()
}

fn rows(text: &str) -> Vec<Vec<Cell>> {
    text.split("</tr>").filter(|row| row.contains("<tr")).map(cells).collect()
}

fn cells(row: &str) -> Vec<Cell> {
    assert!(!row.contains("colspan") && !row.contains("rowspan"), "{row}");
    // A line break splits the row on pasting.
    assert!(!row.contains("<br"), "{row}");
    row.split("</t")
        .filter_map(|cell| cell.split_once("<th").filter(|_| !cell.contains("<td")).or_else(|| cell.split_once("<td")))
        .map(|(_, cell)| {
            let (attributes, inner) = cell.split_once('>').unwrap();
            let class = attributes.split_once("class=\"").map_or("", |(_, c)| c.split('"').next().unwrap());
            Cell { words: class.split(' ').any(|c| c == "text"), says: without_tags(inner) }
        })
        .collect()
}

fn without_tags(inner: &str) -> String {
    inner.split('<').enumerate().map(|(n, p)| if n == 0 { p } else { p.split_once('>').unwrap().1 }).collect()
}

fn is_number_or_nothing(says: &str) -> bool {
    says.is_empty() || says.is_ascii() && says.trim() == says && says.parse::<f64>().is_ok_and(f64::is_finite)
}

fn check(sample: &Sample) -> Vec<String> {
    let page = sample.draw().html;
    let tables = tables(&page);
    for Table { caption, heads, rows, after } in &tables {
        let names: Vec<&str> = heads.iter().map(|h| h.says.as_str()).collect();
        let by_name: BTreeMap<&str, usize> = names.iter().enumerate().map(|(n, name)| (*name, n)).collect();
        assert_eq!(by_name.len(), names.len(), "{caption}: a head stands twice: {names:?}");
        assert!(names.iter().all(|n| !n.is_empty()), "{caption}: a column without a head");
        for row in rows {
            assert_eq!(row.len(), heads.len(), "{caption}: {row:?}");
            for (cell, head) in row.iter().zip(heads) {
                assert_eq!(cell.words, head.words, "{caption}, {}: {cell:?} is not of its column's kind", head.says);
                assert!(cell.words || is_number_or_nothing(&cell.says), "{caption}, {}: {cell:?}", head.says);
            }
        }
        if heads.iter().any(|h| !h.words) {
            assert!(after.contains("<a download="), "{caption}: no data beside it");
        }
    }
    assert!(!page.contains(" style=\""), "an element brings its own style");
    tables.into_iter().map(|t| t.caption).collect()
}

/// Everything that has a table, in one result.
fn full() -> Sample {
    let mut sample = Sample::with_heat();
    let composed = Sample::composed();
    sample.line.line.composing = composed.line.line.composing;
    for (node, other) in sample.line.line.nodes.iter_mut().zip(composed.line.line.nodes) {
        (node.cost, node.limits, node.pinned) = (other.cost, other.limits, other.pinned);
        let range = |low: f64, high: f64| DriftRange {
            low,
            fails_below: "one_drop_low".to_owned(),
            high,
            fails_above: "arc_short".to_owned(),
        };
        node.drift = Some(Drift {
            pulse_current_a: range(380.0, 460.0),
            pulse_time_ms: range(2.0, 2.9),
            pulse_frequency_hz: range(80.0, 120.0),
            background_current_a: range(40.0, 90.0),
            wire_feed_m_min: range(5.8, 6.2),
        });
    }
    sample.laws = Sample::diagnosed().laws;
    sample.laws.assumed = vec![Assumed {
        key: "bench.arc_length_mm".to_owned(),
        value: "4".to_owned(),
        source: "mean of the trials".to_owned(),
    }];
    let alpha = sample.laws.laws.burn_off.coefficients.get_mut("alpha_mm_per_a_s").unwrap();
    alpha.prior = Some(PriorPull {
        mean: 0.31,
        standard_deviation: 0.02,
        source: "an earlier campaign".to_owned(),
        without: Some(0.306),
        without_standard_error: Some(0.005),
        share: 0.06,
        distance: Some(-0.2),
        reading: Reading::new("within 2.5", "-0.2", "nothing"),
        reason: None,
    });
    sample.line.line.influence = vec![Influence {
        trial: "B06".to_owned(),
        law: "burn_off".to_owned(),
        quantity: "wire feed melted".to_owned(),
        unit: "m/min".to_owned(),
        changes: vec![-0.011; 3],
        largest: -0.011,
        at_wire_feed_m_min: 8.0,
        standard_errors: Some(-0.4),
    }];
    sample
}

#[test]
fn every_table_of_a_full_report_pastes_cleanly_and_carries_its_data() {
    let captions = check(&full());
    for begins in [
        "Settings to confirm",
        "What to set",
        "What it does",
        "What each feed melts",
        "What goes into each millimetre",
        "V1 at 6.0 m/min",
        "Changes with",
        "What limits each node most",
        "Coefficients of the burn-off law",
        "Knowledge stated",
        "Trials against the detachment law",
        "Drift of single settings",
        "What fails first",
        "What is weighed",
        "This line beside the midpoint rule",
        "What each node gave up",
        "The five most surprising welds",
        "Trials that move the line most",
        "Forms tried beside",
        "What another form would do",
        "Fit and refit",
        "Trials left out",
        "Defaults used",
        "Measured and extended ranges",
        "What it was made from",
    ] {
        assert!(captions.iter().any(|c| c.starts_with(begins)), "no table ‘{begins}’ among {captions:?}");
    }
}

#[test]
fn tables_with_gaps_negative_and_missing_numbers_paste_cleanly_too() {
    let mut sample = full();
    for law in [&mut sample.laws.laws.burn_off, &mut sample.laws.laws.detachment, &mut sample.laws.laws.arc_voltage] {
        for c in law.coefficients.values_mut() {
            (c.value, c.standard_error, c.standard_error_with_calibration) = (c.value.map(|v| -1e-5 * v), None, None);
            c.interval = [None, Some(-1e9)];
        }
        law.diagnostics[0].studentised_residual = Some(f64::INFINITY);
        law.diagnostics[1].leverage = None;
        law.diagnostics[2].surprise = Some(0.0);
        law.candidates[0].aicc = None;
        law.candidates[1].line_effect.as_mut().unwrap().value = -1.3e-7;
        law.candidates[1].reason = Some("the fit did not converge".to_owned());
    }
    let quantity = &mut sample.line.beside_constant_voltage[0].quantities[0];
    (quantity.interval, quantity.standard_error, quantity.reason) = (None, None, Some("no error stated".to_owned()));
    for node in &mut sample.line.line.nodes {
        (node.cost, node.power_mean_w_interval, node.heat_input_kj_mm_interval) = (None, None, None);
    }
    check(&sample);
    for sample in [Sample::worked_example(), Sample::dense(), Sample::diagnosed(), Sample::without_burn_off()] {
        check(&sample);
    }
}

#[test]
fn the_reader_of_tables_sees_what_it_must() {
    // So that the tests above cannot pass on tables they do not read.
    let page = "<table><caption>c</caption><thead><tr><th scope=\"col\">a <span>A</span></th><th class=\"text\">b</th></tr></thead>\
        <tbody><tr><th scope=\"row\">1</th><td class=\"text unit\">x<i>y</i></td></tr></tbody></table><p>after</p><h3>";
    let [table] = &tables(page)[..] else { panic!() };
    let cell = |words: bool, says: &str| Cell { words, says: says.to_owned() };
    assert_eq!(table.heads, [cell(false, "a A"), cell(true, "b")]);
    assert_eq!(table.rows, [vec![cell(false, "1"), cell(true, "xy")]]);
    assert_eq!(table.after, "<p>after</p>");
    for not in ["−1", "1 to 2", "5 %", "5.4 × 10⁻⁵", "6.0*", "–", "unknown", " 1"] {
        assert!(!is_number_or_nothing(not), "{not}");
    }
    assert!(["", "-1.5", "1e-5", "240"].iter().all(|n| is_number_or_nothing(n)));
}

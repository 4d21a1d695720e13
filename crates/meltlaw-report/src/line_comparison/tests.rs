use super::*;
use meltlaw::compare::lines::{LineWithOrigin, compare_lines};
use meltlaw::record::{Provenance, StudyReference};

fn record() -> LineRecord {
    serde_json::from_str(include_str!("../../../../datasets/worked_example/line.json")).unwrap()
}

fn compared(first: &LineRecord, second: &LineRecord) -> LineComparison {
    let study = StudyReference { file: String::new(), sha256: String::new() };
    let whence = Provenance { tool: String::new(), study, inputs: Vec::new(), seed: 1, draws: 1 };
    let with = |record| LineWithOrigin { record, provenance: &whence };
    compare_lines(with(first), with(second))
}

fn drawn(first: &LineRecord, second: &LineRecord, name: &str) -> Option<ComparisonFigure> {
    let comparison = compared(first, second);
    let pair = ComparedLines { first, second, first_name: "a.json", second_name: name, comparison: &comparison };
    draw_comparison(&[pair])
}

#[test]
fn a_shift_is_drawn_beyond_error_and_stands_in_the_table() {
    let first = record();
    let mut second = first.clone();
    for n in &mut second.line.nodes {
        n.voltage_mean_v += 3.0;
        n.voltage_mean_v_interval = n.voltage_mean_v_interval.map(|end| end + 3.0);
    }
    let figure = drawn(&first, &second, "b.json").unwrap();
    assert!(
        figure.svg.contains("<desc") && figure.svg.contains("voltage, change (V): at most +3.000 at"),
        "{}",
        figure.svg
    );
    let rows: Vec<&str> = figure.csv.lines().filter(|l| l.contains(",voltage_mean_v,")).collect();
    assert!(!rows.is_empty() && rows.iter().all(|r| r.ends_with(",yes")), "{rows:?}");
    assert!(figure.csv.contains("a.json,b.json,,pulse_current_a,"));
    let same = drawn(&first, &first, "b.json").unwrap();
    assert!(!same.csv.contains(",yes"));
}

#[test]
fn hostile_names_stay_texts() {
    let figure = drawn(&record(), &record(), "=</text><script>\"]]>").unwrap();
    assert!(!figure.svg.contains("<script>"));
    assert!(figure.csv.contains("\"'=</text><script>\"\"]]>\""), "{}", figure.csv);
}

#[test]
fn lines_without_a_common_feed_or_node_are_drawn_or_left_out() {
    let first = record();
    let (mut low, mut empty) = (first.clone(), first.clone());
    low.line.nodes.truncate(1);
    empty.line.nodes.clear();
    let mut high = first.clone();
    high.line.nodes.remove(0);
    assert!(drawn(&low, &high, "b").unwrap().svg.contains("no feed has a setting in both"));
    assert!(drawn(&empty, &first, "b").is_some());
    assert!(drawn(&empty, &empty, "b").is_none());
}

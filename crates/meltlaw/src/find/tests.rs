#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
use super::*;
use crate::line::StandingRange;

/// The worked example (carbon steel 1.2 mm, 92 % Ar + 8 % CO2, 18 mm) with other conditions.
fn line(material: Material, diameter_mm: f64, carbon_dioxide: f64) -> LineRecord {
    let mut line: LineRecord =
        serde_json::from_str(include_str!("../../../../datasets/worked_example/line.json")).unwrap();
    line.wire.material = material;
    line.wire.diameter_mm = diameter_mm;
    line.gas = Some(Gas { argon: 100.0 - carbon_dioxide, carbon_dioxide, ..Gas::default() });
    line
}

fn steel(diameter_mm: f64, carbon_dioxide: f64) -> LineRecord {
    line(Material::CarbonSteel, diameter_mm, carbon_dioxide)
}

fn gas(carbon_dioxide: f64) -> Option<Gas> {
    Some(Gas { argon: 100.0 - carbon_dioxide, carbon_dioxide, ..Gas::default() })
}

fn search(lines: &[LineRecord], wanted: Wanted) -> (Vec<usize>, Vec<(usize, String)>) {
    let lines: Vec<&LineRecord> = lines.iter().collect();
    let found = find(&lines, &wanted);
    let words = |h: &Hit| h.differs.iter().map(|d| d.words.as_str()).collect::<Vec<_>>().join("; ");
    (found.fits.iter().map(|h| h.index).collect(), found.others.iter().map(|h| (h.index, words(h))).collect())
}

#[test]
fn nothing_asked_for_finds_every_line() {
    let lines = [steel(1.2, 8.0), line(Material::Aluminium, 1.2, 0.0)];
    assert_eq!(search(&lines, Wanted::default()).0, [0, 1]);
}

#[test]
fn the_nearest_come_in_the_order_of_the_rule_with_what_differs() {
    let lines = [
        line(Material::StainlessSteel, 1.2, 18.0),
        steel(1.6, 18.0),
        steel(1.0, 8.0),
        steel(1.2, 8.0),
        steel(1.2, 17.2),
    ];
    let wanted = Wanted {
        material: Some(Material::CarbonSteel),
        diameter_mm: Some(1.2),
        gas: gas(18.0),
        gas_tolerance_points: 1.0,
        ..Wanted::default()
    };
    let (fits, others) = search(&lines, wanted);
    assert_eq!(fits, [4]);
    let expected = [
        (3, "8 instead of 18 % CO2"),
        (2, "diameter 1.0 instead of 1.2 mm; 8 instead of 18 % CO2"),
        (1, "diameter 1.6 instead of 1.2 mm"),
        (0, "stainless-steel instead of carbon-steel"),
    ];
    assert_eq!(others, expected.map(|(i, w)| (i, w.to_owned())));
}

#[test]
fn a_tolerance_is_kept_to_the_point_and_no_gas_is_no_match() {
    let mut unknown = steel(1.2, 18.0);
    unknown.gas = None;
    let lines = [unknown, steel(1.2, 16.0), steel(1.2, 15.9)];
    let wanted = Wanted { gas: gas(18.0), gas_tolerance_points: 2.0, ..Wanted::default() };
    let (fits, others) = search(&lines, wanted);
    assert_eq!(fits, [1]);
    assert_eq!(others[0].0, 2);
    assert_eq!(others[1], (0, "gas not stated instead of 82 % Ar + 18 % CO2".to_owned()));
}

#[test]
fn a_feed_is_a_setting_or_the_nearest_that_has_one() {
    let mut short = steel(1.2, 8.0);
    let nodes = short.line.nodes.len();
    short.line.nodes.truncate(nodes - 2);
    let last = short.line.nodes.last().unwrap().wire_feed_m_min;
    let full = steel(1.2, 8.0);
    let end = full.line.nodes.last().unwrap().wire_feed_m_min;
    let mut withdrawn = steel(1.2, 8.0);
    withdrawn.line.standing = vec![standing("withdrawn", [0.0, 20.0])];
    let lines = [withdrawn, short, full];
    let wanted = Wanted { wire_feed_m_min: Some(end), ..Wanted::default() };
    let (fits, others) = search(&lines, wanted);
    assert_eq!(fits, [2]);
    assert_eq!(others[0], (1, format!("no setting at {end:?} m/min, the nearest at {last:?} m/min")));
    assert_eq!(others[1], (0, "no setting at any feed".to_owned()));
}

#[test]
fn confirmed_comes_before_proposed_and_a_contradicted_line_has_no_setting() {
    let said = |state: &str| {
        let mut line = steel(1.2, 8.0);
        line.line.standing = vec![standing(state, [0.0, 20.0])];
        line
    };
    let lines = [said("contradicted"), said("proposed"), said("confirmed")];
    let wanted = Wanted { wire_feed_m_min: Some(6.0), ..Wanted::default() };
    let (fits, others) = search(&lines, wanted);
    assert_eq!(fits, [2, 1]);
    assert_eq!(others, [(0, "no setting at any feed".to_owned())]);
    // Whoever asks for no feed sees it, last.
    assert_eq!(search(&lines, Wanted::default()).0, [2, 1, 0]);
}

#[test]
fn covered_comes_before_extended_and_carried_last() {
    let with = |support: &str| {
        let mut line = steel(1.2, 8.0);
        line.line.nodes.iter_mut().for_each(|node| node.support = support.to_owned());
        line
    };
    let lines = [with("carried"), with("extended"), with("covered")];
    let wanted = Wanted { wire_feed_m_min: Some(6.0), ..Wanted::default() };
    assert_eq!(search(&lines, wanted).0, [2, 1, 0]);
}

#[test]
fn a_line_without_nodes_is_found_by_its_wire_and_has_no_setting() {
    let mut empty = steel(1.2, 8.0);
    empty.line.nodes.clear();
    let wanted = Wanted { wire_feed_m_min: Some(6.0), ..Wanted::default() };
    assert_eq!(search(&[empty.clone()], wanted).1, [(0, "no setting at any feed".to_owned())]);
    assert_eq!(search(&[empty], Wanted::default()).0, [0]);
}

fn standing(state: &str, range: [f64; 2]) -> StandingRange {
    StandingRange { state: state.to_owned(), wire_feed_m_min: range, rule: None, evidence: None, date: None, by: None }
}

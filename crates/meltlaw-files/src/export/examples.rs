//! Lines for the tests of exports: the worked example, changed.

use meltlaw::line::{StandingRange, Unsupported};
use meltlaw::record::LineRecord;

use crate::document::LineDocument;

/// Words that a careless or hostile person may put anywhere.
pub(super) const HOSTILE: [&str; 8] = [
    "=HYPERLINK(\"http://example.invalid\")",
    "-2+3+cmd|' /C calc'!A0",
    "x,=1+1",
    "y;\t@SUM(A1)",
    "a\r\n=2*3",
    "</t></si><f>1+1</f>\u{1}]]>&amp;",
    "say \"no\",\"=1\"",
    "_x003D_1+1",
];

/// Header and rows as any reader of CSV with comments finds them.
pub(super) fn read(csv: &str) -> Vec<std::collections::BTreeMap<String, String>> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(csv.as_bytes());
    reader.deserialize().map(|row| row.expect("a row as long as the header")).collect()
}

/// The worked example (nodes at 4, 6 and 8 m/min), changed.
pub(super) fn changed(change: impl FnOnce(&mut LineRecord)) -> LineDocument {
    let path = format!("{}/../../datasets/worked_example/line.json", env!("CARGO_MANIFEST_DIR"));
    let worked = LineDocument::load(path.as_ref()).expect("the worked example loads");
    let mut body = worked.body().clone();
    change(&mut body);
    LineDocument::new(body, worked.cautions().to_vec(), worked.provenance().clone()).expect("finite numbers")
}

pub(super) fn gap(wire_feed_m_min: [f64; 2]) -> Unsupported {
    Unsupported {
        wire_feed_m_min,
        limits: vec!["data_high".to_owned(), "slopes".to_owned()],
        reason: "nothing was welded there: weld a trial".to_owned(),
    }
}

/// A range of standing with all that may be said of one.
pub(super) fn standing(state: &str, wire_feed_m_min: [f64; 2]) -> StandingRange {
    let said = |word: &str| Some(format!("{word} of {state}"));
    StandingRange {
        state: state.to_owned(),
        wire_feed_m_min,
        rule: said("rule"),
        evidence: said("evidence"),
        date: said("date"),
        by: said("name"),
    }
}

/// What every export must say of a line with one range of each standing.
pub(super) fn standing_words() -> Vec<String> {
    let states = ["proposed", "confirmed", "contradicted", "withdrawn"];
    let more = ["rule", "evidence", "date", "name"];
    states.iter().flat_map(|state| more.iter().map(move |word| format!("{word} of {state}"))).collect()
}

/// A line in which everything happens: a gap within, feeds without a setting on both sides, every standing, hostile
/// words wherever a person may write.
pub(super) fn eventful() -> LineDocument {
    changed(|body| {
        body.name = HOSTILE[0].to_owned();
        body.wire.designation = HOSTILE[5].to_owned();
        body.line.unsupported = vec![gap([2.0, 3.9]), gap([4.5, 5.5]), gap([8.1, 9.0])];
        body.line.unsupported[1].reason = HOSTILE[1].to_owned();
        let states = [("confirmed", [4.0, 5.0]), ("contradicted", [6.4, 6.6]), ("proposed", [6.0, 7.5])];
        body.line.standing = states.map(|(state, range)| standing(state, range)).to_vec();
        body.line.standing.push(standing("withdrawn", [7.9, 8.0]));
        for (range, text) in body.line.standing.iter_mut().zip(&HOSTILE[2..]) {
            range.evidence = range.evidence.take().map(|words| format!("{words}{text}"));
        }
        for (node, text) in body.line.nodes.iter_mut().zip(HOSTILE) {
            node.notes = vec![text.to_owned(), "plain".to_owned()];
        }
    })
}

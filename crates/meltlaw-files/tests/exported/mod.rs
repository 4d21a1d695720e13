//! Lines to export, the feeds to ask them at, and what the evaluator in Rust answers there.
#![allow(dead_code, unreachable_pub, clippy::unwrap_used, reason = "each test takes its part, and may stop")]

use meltlaw::line::{Line, Node, StandingRange};
use meltlaw::line_table::LineTable;
use meltlaw_files::LineDocument;
use meltlaw_line::{Refused, Standing, Status, Support, between};

/// Names of what [`Answer::numbers`] holds: the setting, then the check band.
pub const NUMBERS: [&str; 16] = [
    "pulse_current_a",
    "pulse_time_ms",
    "pulse_frequency_hz",
    "background_current_a",
    "background_time_ms",
    "rise_a_per_ms",
    "fall_a_per_ms",
    "current_mean_a",
    "current_rms_a",
    "voltage_mean_v",
    "next_weld_current_mean_a_low",
    "next_weld_current_mean_a_high",
    "next_weld_voltage_mean_v_low",
    "next_weld_voltage_mean_v_high",
    "next_weld_power_mean_w_low",
    "next_weld_power_mean_w_high",
];

/// What is known of a feed.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    pub status: u8,
    /// 0 where there is none.
    pub support: u8,
    /// 0 where there is none.
    pub standing: u8,
    /// Where there is a setting.
    pub numbers: Option<[f32; 16]>,
}

/// Whole numbers in a fixed disorder.
struct Disorder(u32);

impl Disorder {
    /// Between 0 and 1.
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(self.0 >> 8) / f64::from(1_u32 << 24)
    }
}

pub fn worked_example() -> LineDocument {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../datasets/worked_example");
    LineDocument::load(format!("{folder}/line.json").as_ref()).unwrap()
}

/// The worked example with its line changed; identities no longer hold, which no export asks for.
pub fn changed(change: impl FnOnce(&mut Line)) -> LineDocument {
    let document = worked_example();
    let mut body = document.body().clone();
    change(&mut body.line);
    LineDocument::new(body, document.cautions().to_vec(), document.provenance().clone()).unwrap()
}

/// A node with numbers of its own.
fn node(example: &Node, feed: f64, disorder: &mut Disorder) -> Node {
    let mut node = example.clone();
    let mut about = |value: f64| value * (0.9 + 0.2 * disorder.next());
    node.wire_feed_m_min = feed;
    node.pulse_current_a = about(420.0);
    node.pulse_time_ms = about(2.3);
    node.pulse_frequency_hz = about(15.0 * feed);
    node.background_current_a = about(60.0 + 8.0 * feed);
    node.rise_a_per_ms = about(600.0);
    node.fall_a_per_ms = about(500.0);
    node.voltage_mean_v = about(20.0 + feed);
    for band in
        [&mut node.next_weld.current_mean_a, &mut node.next_weld.voltage_mean_v, &mut node.next_weld.power_mean_w]
    {
        *band = band.map(&mut about);
    }
    node.support = match feed {
        f if f <= 4.0 => "extended",
        f if f < 7.5 => "covered",
        _ => "carried",
    }
    .to_owned();
    node
}

pub fn standing(state: Standing, ends: [f64; 2]) -> StandingRange {
    let told = (state != Standing::Proposed).then(|| "two welds, sections agree".to_owned());
    StandingRange {
        state: state.word().to_owned(),
        wire_feed_m_min: ends,
        rule: told.clone(),
        evidence: told.clone(),
        date: told.as_ref().map(|_| "2026-11-02".to_owned()),
        by: told,
    }
}

/// Nineteen nodes, feeds that single precision does not hold exactly, two gaps, ranges of every standing that meet,
/// overlap and end at nodes.
pub fn long() -> LineDocument {
    changed(|line| {
        let mut disorder = Disorder(7);
        let example = line.nodes[0].clone();
        line.nodes = (0..19).map(|i| node(&example, 3.0 + 0.3 * f64::from(i), &mut disorder)).collect();
        let gap = line.unsupported[0].clone();
        line.unsupported = [[0.0, 3.0], [4.0, 4.1], [6.3, 6.6], [8.4, 12.0]]
            .map(|ends| meltlaw::line::Unsupported { wire_feed_m_min: ends, ..gap.clone() })
            .to_vec();
        line.standing = vec![
            standing(Standing::Withdrawn, [5.1, 5.4]),
            standing(Standing::Confirmed, [3.0, 6.0]),
            standing(Standing::Proposed, [6.0, 8.4]),
            standing(Standing::Contradicted, [7.0, 7.33]),
            standing(Standing::Confirmed, [7.2, 7.6]),
            standing(Standing::Withdrawn, [8.2, 8.3]),
        ];
    })
}

/// A line that confirmation said nothing of and that has no gap.
pub fn plain() -> LineDocument {
    changed(|line| {
        line.unsupported.clear();
        line.standing.clear();
    })
}

/// A single node, inside a range that was said not to have a setting beside it.
pub fn one_node() -> LineDocument {
    changed(|line| {
        line.nodes.truncate(1);
        line.standing = vec![standing(Standing::Confirmed, [4.0, 8.0])];
    })
}

/// Text that would end a comment, a string or a line, or begin something new.
pub const HOSTILE: [&str; 8] = [
    "*/ int injected(void) { return 1; } /*",
    "*) injected : BOOL; (*",
    "\"; #error injected",
    "'; injected := TRUE; '",
    "ends with a backslash \\",
    "trigraph ??/",
    "line\n#include <injected.h>\r\nEND_VAR\u{2028}\"''$'",
    "溶接??/溶 {pragma} // (*(**)*) /*/**/ %s %n $N Ø µ",
];

/// The line with that text wherever a user's may stand.
pub fn hostile(document: &LineDocument) -> LineDocument {
    let mut body = document.body().clone();
    let all = HOSTILE.join(" ");
    body.name = HOSTILE.join("");
    body.wire.designation = all.clone();
    body.gas_reason = Some(all.clone());
    body.line.interpolation.rule = all.clone();
    for (gap, text) in body.line.unsupported.iter_mut().zip(HOSTILE.iter().cycle()) {
        gap.reason = (*text).to_owned();
        gap.limits = vec![all.clone()];
    }
    for (range, text) in body.line.standing.iter_mut().zip(HOSTILE.iter().cycle()) {
        range.rule = Some((*text).to_owned());
        range.evidence = Some(all.clone());
        range.by = Some((*text).to_owned());
    }
    for node in &mut body.line.nodes {
        node.notes = HOSTILE.map(str::to_owned).to_vec();
    }
    let mut provenance = document.provenance().clone();
    provenance.tool = all.clone();
    let cautions = HOSTILE.iter().map(|t| (*t).to_owned()).chain(["long ".repeat(1000)]).collect();
    LineDocument::new(body, cautions, provenance).unwrap()
}

/// The worked example from laws that were carried to what nobody welded, its middle contradicted, one node withdrawn, a
/// gap that was contradicted too.
pub fn carried() -> LineDocument {
    changed(|line| {
        line.nodes.iter_mut().for_each(|node| node.support = "carried".to_owned());
        line.nodes[0].support = "extended".to_owned();
        let gap = line.unsupported[0].clone();
        line.unsupported = vec![meltlaw::line::Unsupported { wire_feed_m_min: [6.5, 6.6], ..gap }];
        line.standing = vec![
            standing(Standing::Contradicted, [4.5, 5.0]),
            standing(Standing::Contradicted, [7.0, 7.5]),
            standing(Standing::Withdrawn, [7.2, 8.0]),
        ];
    })
}

/// Every line that the tests export.
pub fn lines() -> Vec<(&'static str, LineDocument)> {
    let hostile = hostile(&long());
    vec![
        ("worked_example", worked_example()),
        ("long", long()),
        ("plain", plain()),
        ("one_node", one_node()),
        ("carried", carried()),
        ("hostile", hostile),
    ]
}

/// A thousand feeds: nodes and ends of ranges to the bit with their neighbours, what is no number, and between.
pub fn feeds(line: &Line) -> Vec<f32> {
    let mut feeds = vec![f32::NAN, -f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 0.0, -0.0, -5.0, 1e-45, f32::MAX];
    let nodes = line.nodes.iter().map(|n| n.wire_feed_m_min);
    let gaps = line.unsupported.iter().flat_map(|g| g.wire_feed_m_min);
    for feed in nodes.chain(gaps).chain(line.standing.iter().flat_map(|s| s.wire_feed_m_min)) {
        let feed = feed as f32;
        feeds.extend([feed.next_down(), feed, feed.next_up()]);
    }
    let (first, last) = (line.nodes[0].wire_feed_m_min, line.nodes.last().unwrap().wire_feed_m_min);
    let mut disorder = Disorder(11);
    while feeds.len() < 1000 {
        feeds.push((first - 0.5 + (last - first + 1.0) * disorder.next()) as f32);
    }
    feeds
}

/// What the evaluator in Rust says in single precision, its table being the rounded line.
pub fn answers(line: &Line, feeds: &[f32]) -> Vec<Answer> {
    let owned = LineTable::<f32>::of(line);
    let table = owned.as_table();
    table.check().unwrap();
    feeds
        .iter()
        .map(|&feed| {
            let (place, e) = match table.place(feed) {
                Ok(place) => (place, table.evaluate(feed).unwrap()),
                Err(Refused { status, support, standing }) => {
                    let (support, standing) = (support.map_or(0, Support::code), standing.map_or(0, Standing::code));
                    return Answer { status: status.code(), support, standing, numbers: None };
                }
            };
            let low = &line.nodes[place.index];
            let high = line.nodes.get(place.index + 1).unwrap_or(low);
            let band = |of: fn(&Node) -> f64| between(of(low) as f32, of(high) as f32, place.upper_weight);
            let numbers = [
                e.pulse_current_a,
                e.pulse_time_ms,
                e.pulse_frequency_hz,
                e.background_current_a,
                e.background_time_ms,
                e.rise_a_per_ms,
                e.fall_a_per_ms,
                e.current_mean_a,
                e.current_rms_a,
                e.voltage_mean_v,
                band(|n| n.next_weld.current_mean_a[0]),
                band(|n| n.next_weld.current_mean_a[1]),
                band(|n| n.next_weld.voltage_mean_v[0]),
                band(|n| n.next_weld.voltage_mean_v[1]),
                band(|n| n.next_weld.power_mean_w[0]),
                band(|n| n.next_weld.power_mean_w[1]),
            ];
            let (support, standing) = (e.support.code(), e.standing.code());
            Answer { status: Status::Ok.code(), support, standing, numbers: Some(numbers) }
        })
        .collect()
}

/// How many numbers of single precision lie between two, the farther one counted.
pub fn ulps(a: f32, b: f32) -> u32 {
    // Ordered as the numbers are.
    let order = |v: f32| {
        let bits = i64::from(v.to_bits() & 0x7fff_ffff);
        if v.is_sign_negative() { -bits } else { bits }
    };
    if a.is_nan() || b.is_nan() { u32::MAX } else { u32::try_from((order(a) - order(b)).unsigned_abs()).unwrap() }
}

/// Holds other answers against those in Rust: equal status, support and standing, each number within 4 units in the
/// last place (a compiler may keep more digits on the way, or fuse two operations).
pub fn compare(name: &str, feeds: &[f32], expected: &[Answer], found: &[Answer]) {
    assert_eq!(expected.len(), found.len(), "{name}");
    for ((feed, e), f) in feeds.iter().zip(expected).zip(found) {
        let codes = |a: &Answer| [a.status, a.support, a.standing];
        assert_eq!(codes(e), codes(f), "{name} at {feed:?}: status, support, standing");
        assert_eq!(e.numbers.is_some(), f.numbers.is_some(), "{name} at {feed:?}");
        if let (Some(e), Some(f)) = (&e.numbers, &f.numbers) {
            for ((what, e), f) in NUMBERS.iter().zip(*e).zip(*f) {
                let apart = ulps(e, f);
                assert!(apart <= 4, "{name} at {feed:?}: {what} {f:?} lies {apart} units from {e:?}");
            }
        }
    }
}

/// The codes that answers hold, each once.
pub fn met(answers: &[Answer], of: fn(&Answer) -> u8) -> Vec<u8> {
    let mut codes: Vec<u8> = answers.iter().map(of).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
}

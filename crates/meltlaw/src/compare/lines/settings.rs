//! What is set in two lines at one feed. Settings are decisions: no error belongs to them.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Pair;
use crate::line::{Drift, DriftRange, Node};
use crate::record::LineRecord;

/// Settings nearer than this share of each other count as alike: a tenth of the 1 % to which a bench that states
/// nothing else reads currents and pulse times, so no bench can tell them apart.
const ALIKE_RELATIVE: f64 = 1e-3;

/// Whether a setting is another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SettingVerdict {
    /// Nearer than a tenth of a per cent.
    SetAlike,
    /// Another decision.
    SetDifferently,
}

/// One setting in both lines.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SettingChange {
    /// Its name in files.
    pub quantity: String,
    /// In the first line.
    pub first: f64,
    /// In the second.
    pub second: f64,
    /// Second minus first.
    pub difference: f64,
    /// Whether it is another.
    pub verdict: SettingVerdict,
    /// How far the first line's setting may move this way before its process fails; absent where it does not say.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub room: Option<Room>,
}

/// How a change of a setting compares with what the process bears when that setting moves alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Room {
    /// The difference over the room, 1 where the process fails.
    pub used: f64,
    /// What fails first that way.
    pub fails: String,
    /// The node of the first line that tells it, the nearest one.
    pub at_node_m_min: f64,
}

/// Where the readings of one new weld should lie, in both lines.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BandChange {
    /// What is read.
    pub quantity: String,
    /// Band of the first line.
    pub first: [f64; 2],
    /// Band of the second.
    pub second: [f64; 2],
    /// What the second line expects.
    pub expected_by_second: f64,
    /// Whether that lies in the first line's band: an alarm set by the first line stays silent.
    pub inside_first: bool,
}

/// Both lines at one feed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AtFeed {
    /// The feed.
    pub wire_feed_m_min: f64,
    /// What is set.
    pub settings: Vec<SettingChange>,
    /// What follows from the settings, wire and feed without error of its own: drop and melted metal.
    pub follows: Vec<SettingChange>,
    /// Bands for one new weld.
    pub next_weld: Vec<BandChange>,
    /// `covered`, `extended` or `carried`, in the first and the second line.
    pub support: [String; 2],
    /// Standing in the first and the second line.
    pub standing: [String; 2],
}

impl AtFeed {
    /// Values, support and standing; ends of intervals move with the draws.
    pub(super) fn is_same(&self) -> bool {
        self.settings.iter().chain(&self.follows).all(|s| s.difference == 0.0)
            && self.support[0] == self.support[1]
            && self.standing[0] == self.standing[1]
    }
}

/// Name in files, value at a node, how far it may drift there.
type Setting = (&'static str, fn(&Node) -> f64, Option<fn(&Drift) -> &DriftRange>);

const SETTINGS: [Setting; 6] = [
    ("pulse_current_a", |n| n.pulse_current_a, Some(|d| &d.pulse_current_a)),
    ("pulse_time_ms", |n| n.pulse_time_ms, Some(|d| &d.pulse_time_ms)),
    ("pulse_frequency_hz", |n| n.pulse_frequency_hz, Some(|d| &d.pulse_frequency_hz)),
    ("background_current_a", |n| n.background_current_a, Some(|d| &d.background_current_a)),
    ("rise_a_per_ms", |n| n.rise_a_per_ms, None),
    ("fall_a_per_ms", |n| n.fall_a_per_ms, None),
];

const FOLLOWS: [Setting; 2] =
    [("drop_diameter_mm", |n| n.drop_diameter_mm, None), ("melting_rate_kg_h", |n| n.melting_rate_kg_h, None)];

/// What is read, its band, what is expected.
type Band = (&'static str, fn(&Node) -> [f64; 2], fn(&Node) -> f64);

const BANDS: [Band; 3] = [
    ("current_mean_a", |n| n.next_weld.current_mean_a, |n| n.current_mean_a),
    ("voltage_mean_v", |n| n.next_weld.voltage_mean_v, |n| n.voltage_mean_v),
    ("power_mean_w", |n| n.next_weld.power_mean_w, |n| n.power_mean_w),
];

pub(super) fn at_feed(first: &LineRecord, second: &LineRecord, pair: &Pair) -> AtFeed {
    let change = |setting: &Setting| changed(setting, first, pair);
    let band = |(quantity, band, expected): &Band| {
        let (ours, by_second) = (band(&pair.first), expected(&pair.second));
        BandChange {
            quantity: (*quantity).to_owned(),
            first: ours,
            second: band(&pair.second),
            expected_by_second: by_second,
            inside_first: (ours[0]..=ours[1]).contains(&by_second),
        }
    };
    let feed = pair.wire_feed_m_min;
    AtFeed {
        wire_feed_m_min: feed,
        settings: SETTINGS.iter().map(change).collect(),
        follows: FOLLOWS.iter().map(change).collect(),
        next_weld: BANDS.iter().map(band).collect(),
        support: [pair.first.support.clone(), pair.second.support.clone()],
        standing: [first, second].map(|line| line.line.standing_at(feed).word().to_owned()),
    }
}

fn changed((quantity, value, drift): &Setting, first: &LineRecord, pair: &Pair) -> SettingChange {
    let (from, to) = (value(&pair.first), value(&pair.second));
    let difference = to - from;
    let verdict = if difference.abs() <= ALIKE_RELATIVE * from.abs().max(to.abs()) {
        SettingVerdict::SetAlike
    } else {
        SettingVerdict::SetDifferently
    };
    let room = drift.and_then(|of| room(first, pair.wire_feed_m_min, difference, *value, of));
    SettingChange { quantity: (*quantity).to_owned(), first: from, second: to, difference, verdict, room }
}

fn room(
    line: &LineRecord,
    feed: f64,
    difference: f64,
    value: fn(&Node) -> f64,
    of: fn(&Drift) -> &DriftRange,
) -> Option<Room> {
    let away = |n: &&Node| (n.wire_feed_m_min - feed).abs();
    let node = line.line.nodes.iter().min_by(|a, b| away(a).total_cmp(&away(b)))?;
    let range = of(node.drift.as_ref()?);
    let (end, fails) =
        if difference < 0.0 { (range.low, &range.fails_below) } else { (range.high, &range.fails_above) };
    let room = (end - value(node)).abs();
    let used = difference.abs() / room;
    // No room at all leaves no share of it.
    used.is_finite().then(|| Room { used, fails: fails.clone(), at_node_m_min: node.wire_feed_m_min })
}

//! Lines for a wire, a gas, a distance and a feed among many: those that fit, and the nearest of the others with what
//! differs. Each line holds for the wire and gas that were welded: nothing is interpolated between two of them.

use std::cmp::Ordering;

use meltlaw_line::Standing;
use serde::Serialize;

use crate::gas::Gas;
use crate::line::Node;
use crate::line_at::at;
use crate::line_conditions::{ConditionDifference, gas_differences, gas_distance_points};
use crate::line_spans::support_of;
use crate::materials::Material;
use crate::record::LineRecord;

/// Diameters are nominal: half a hundredth covers what rounding an inch size leaves.
pub const DIAMETER_TOLERANCE_MM: f64 = 0.005;
/// A torch is set to about half a millimetre.
pub const CTWD_TOLERANCE_MM: f64 = 0.5;
/// Percentage points by which a component may be off where nothing else is asked for.
pub const USUAL_GAS_TOLERANCE_POINTS: f64 = 1.0;

/// How lines are ranked, in words.
pub const RANKED_BY: &str = "lines that fit: confirmed, proposed, then contradicted; covered before extended before carried at the feed asked for. The others: \
    another material last; then by how far the diameter is off (as a ratio), the gas (its most different component), the \
    wire feed (how far the nearest feed with a setting lies), the contact-tip-to-work distance, in this order";

/// What is looked for; what is `None` may be anything.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Wanted {
    /// Material of the wire.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub material: Option<Material>,
    /// Nominal diameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<f64>,
    /// The gas, all components.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gas: Option<Gas>,
    /// By how many percentage points each component may be off.
    pub gas_tolerance_points: f64,
    /// A feed at which a setting is needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wire_feed_m_min: Option<f64>,
    /// Contact-tip-to-work distance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ctwd_mm: Option<f64>,
}

/// A line among those searched.
#[derive(Debug, Clone, PartialEq)]
pub struct Hit {
    /// Its place among those given.
    pub index: usize,
    /// What differs from what is wanted; empty where it fits.
    pub differs: Vec<ConditionDifference>,
    /// The setting at the feed asked for, where there is one.
    pub setting: Option<Node>,
    /// Why there is none at the feed asked for.
    pub no_setting: Option<String>,
    /// Standing at the feed asked for, else the most cautious of the line.
    pub standing: Standing,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// Lines that fit, best first.
    pub fits: Vec<Hit>,
    /// The others, nearest first.
    pub others: Vec<Hit>,
}

/// Looks through lines; ranked as [`RANKED_BY`] says, ties in the order given.
pub fn find(lines: &[&LineRecord], wanted: &Wanted) -> Found {
    let mut found = Found::default();
    for (index, line) in lines.iter().enumerate() {
        let hit = hit(index, line, wanted);
        if hit.differs.is_empty() { &mut found.fits } else { &mut found.others }.push(hit);
    }
    found.fits.sort_by_key(|h| (h.standing.caution(), h.setting.as_ref().map(support_of)));
    let mut others: Vec<(Distance, Hit)> =
        found.others.into_iter().map(|h| (Distance::of(lines[h.index], wanted), h)).collect();
    others.sort_by(|a, b| a.0.compare(&b.0));
    found.others = others.into_iter().map(|(_, hit)| hit).collect();
    found
}

fn hit(index: usize, line: &LineRecord, wanted: &Wanted) -> Hit {
    let mut differs = Vec::new();
    if let Some(material) = wanted.material.filter(|m| *m != line.wire.material) {
        let found = line.wire.material.word();
        differs.push(ConditionDifference::of_words("wire.material", "", found, material.word()));
    }
    let off = |found: f64, wanted: f64, tolerance: f64| !((found - wanted).abs() <= tolerance + 1e-9);
    if let Some(d) = wanted.diameter_mm.filter(|d| off(line.wire.diameter_mm, *d, DIAMETER_TOLERANCE_MM)) {
        let found = line.wire.diameter_mm;
        differs.push(ConditionDifference::of_numbers("wire.diameter_mm", "diameter", found, d, "mm"));
    }
    if let Some(gas) = &wanted.gas {
        differs.extend(gas_differences(line.gas.as_ref(), gas, wanted.gas_tolerance_points));
    }
    if let Some(ctwd) = wanted.ctwd_mm.filter(|c| off(line.conditions.ctwd_mm, *c, CTWD_TOLERANCE_MM)) {
        let (name, found) = ("contact-tip-to-work distance", line.conditions.ctwd_mm);
        differs.push(ConditionDifference::of_numbers("conditions.ctwd_mm", name, found, ctwd, "mm"));
    }
    let asked = wanted.wire_feed_m_min.map(|feed| (feed, at(line, feed)));
    if let Some((feed, Err(_))) = &asked {
        differs.push(no_setting(line, *feed));
    }
    let (setting, no_setting) = match asked {
        Some((_, Ok(node))) => (Some(node), None),
        Some((_, Err(why))) => (None, Some(why.reason)),
        None => (None, None),
    };
    let standing = match wanted.wire_feed_m_min {
        Some(feed) => line.line.standing_at(feed),
        None => most_cautious(line),
    };
    Hit { index, differs, setting, no_setting, standing }
}

/// The nearest feed with a setting instead of the one asked for.
fn no_setting(line: &LineRecord, wanted: f64) -> ConditionDifference {
    let nearest = nearest_feed(line, wanted);
    match nearest {
        Some(near) => {
            let mut differs = ConditionDifference::of_numbers("wire_feed_m_min", "", near, wanted, "m/min");
            differs.words = format!("no setting at {wanted:?} m/min, the nearest at {near:?} m/min");
            differs
        }
        None => {
            let wanted = format!("{wanted:?} m/min");
            let mut differs = ConditionDifference::of_words("wire_feed_m_min", "", "no setting at any feed", &wanted);
            differs.words = "no setting at any feed".to_owned();
            differs
        }
    }
}

/// The node nearest to a feed at which the line may be used: gaps begin and end at nodes, so a node has a setting unless
/// its standing refuses it.
pub fn nearest_feed(line: &LineRecord, wanted_m_min: f64) -> Option<f64> {
    let usable = |feed: &f64| line.line.standing_at(*feed).refuses().is_none();
    let feeds = line.line.nodes.iter().map(|n| n.wire_feed_m_min).filter(usable);
    feeds.min_by(|a, b| (a - wanted_m_min).abs().total_cmp(&(b - wanted_m_min).abs()))
}

fn most_cautious(line: &LineRecord) -> Standing {
    let said: Vec<Standing> = line.line.nodes.iter().map(|n| line.line.standing_at(n.wire_feed_m_min)).collect();
    // A line that is withdrawn here and there still has settings; one that nothing was said of is proposed.
    for standing in [Standing::Contradicted, Standing::Proposed, Standing::Confirmed, Standing::Withdrawn] {
        if said.contains(&standing) {
            return standing;
        }
    }
    Standing::Proposed
}

/// How far a line is from what is wanted; compared member by member, what was not asked for is 0.
struct Distance {
    material: bool,
    others: [f64; 4],
}

impl Distance {
    fn of(line: &LineRecord, wanted: &Wanted) -> Self {
        let over = |distance: f64, tolerance: f64| if distance <= tolerance + 1e-9 { 0.0 } else { distance };
        let diameter = wanted.diameter_mm.map_or(0.0, |d| {
            if (line.wire.diameter_mm - d).abs() <= DIAMETER_TOLERANCE_MM {
                0.0
            } else {
                (line.wire.diameter_mm / d).ln().abs()
            }
        });
        let gas = wanted.gas.map_or(0.0, |gas| {
            // A gas that is not stated may be any: farther than every stated one.
            let distance = gas_distance_points(line.gas.as_ref(), Some(&gas)).unwrap_or(f64::INFINITY);
            over(distance, wanted.gas_tolerance_points)
        });
        let feed = wanted.wire_feed_m_min.map_or(0.0, |feed| match at(line, feed) {
            Ok(_) => 0.0,
            Err(_) => nearest_feed(line, feed).map_or(f64::INFINITY, |near| (near - feed).abs()),
        });
        let ctwd = wanted.ctwd_mm.map_or(0.0, |c| over((line.conditions.ctwd_mm - c).abs(), CTWD_TOLERANCE_MM));
        Self { material: wanted.material.is_some_and(|m| m != line.wire.material), others: [diameter, gas, feed, ctwd] }
    }

    fn compare(&self, other: &Self) -> Ordering {
        let numbers = self.others.iter().zip(&other.others).map(|(a, b)| a.total_cmp(b));
        std::iter::once(self.material.cmp(&other.material))
            .chain(numbers)
            .find(|o| *o != Ordering::Equal)
            .unwrap_or(Ordering::Equal)
    }
}

#[cfg(test)]
mod tests;

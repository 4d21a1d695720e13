//! How far from the work trials carry a law. Composing a line and extending laws ask here, so that they agree.

use super::Laws;

/// Distances nearer to each other than this are one distance, mm. It is about three standard errors of an extension
/// whose torch height is known within 0.2 mm and whose arc length within 0.3 mm.
const ONE_DISTANCE_MM: f64 = 1.0;

/// A distance in which the trials have a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DistanceRange {
    /// `ctwd_mm` or `extension_mm`.
    pub name: &'static str,
    /// Range of the trials, or the one distance that laws were carried to.
    pub range_mm: [f64; 2],
    /// So far beyond either end is as good as inside.
    pub near_mm: f64,
}

impl DistanceRange {
    /// The range with a share of its width beyond either end.
    pub fn widened(&self, share: f64) -> [f64; 2] {
        let [low, high] = self.range_mm;
        let beyond = (share * (high - low)).max(self.near_mm);
        [low - beyond, high + beyond]
    }

    /// The distance of a torch at a contact-tip-to-work distance with an arc length.
    pub fn of(&self, ctwd_mm: f64, arc_length_mm: f64) -> f64 {
        if self.name == "ctwd_mm" { ctwd_mm } else { ctwd_mm - arc_length_mm }
    }
}

/// The distances that a line is held against: the extension, which is what the laws know, and the
/// contact-tip-to-work distance.
///
/// Where all trials were welded at one contact-tip-to-work distance only the extension judges: it varies with the arc
/// length, and another torch height may give an extension that was welded. Laws that were carried to a
/// contact-tip-to-work distance hold at that distance alone.
pub fn distance_ranges(laws: &Laws) -> Vec<DistanceRange> {
    let range = |name: &str| laws.arc_voltage.range.get(name).copied().filter(|[low, high]| low <= high);
    let carried = laws.carried.as_ref().is_some_and(|c| c.ctwd_mm.is_some());
    let near_mm = if carried { 0.0 } else { ONE_DISTANCE_MM };
    let ctwd = range("ctwd_mm").filter(|range| carried || !is_one_distance(*range));
    let ctwd = ctwd.map(|range_mm| DistanceRange { name: "ctwd_mm", range_mm, near_mm });
    let extension = range("extension_mm");
    let extension =
        extension.map(|range_mm| DistanceRange { name: "extension_mm", range_mm, near_mm: ONE_DISTANCE_MM });
    ctwd.into_iter().chain(extension).collect()
}

/// Whether distances from one end of a range to the other are one.
pub fn is_one_distance([low, high]: [f64; 2]) -> bool {
    high - low <= ONE_DISTANCE_MM
}

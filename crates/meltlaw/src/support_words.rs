//! Why a setting is `covered` or weaker, in words: which variable of the laws lies where in what
//! the trials reach.

use meltlaw_line::Support;

use crate::line::Node;
use crate::record::LineRecord;

/// The support of a setting in words: of a node, of what lies between two, or of a shifted setting.
///
/// `arc_length_mm` is that of the setting; the contact-tip-to-work distance is the line's.
pub fn support_words(record: &LineRecord, setting: &Node, arc_length_mm: f64) -> String {
    if setting.support == Support::Covered.word() {
        return "inside what the trials reach in every variable of the laws".to_owned();
    }
    if setting.support != Support::Extended.word() {
        return carried_words(record);
    }
    let outside: Vec<String> = record
        .line
        .validity
        .iter()
        .filter_map(|(name, validity)| {
            let (what, value, digits) = variable(record, setting, arc_length_mm, name)?;
            let [low, high] = validity.measured;
            let (side, _) = [("below", value < low), ("above", value > high)].into_iter().find(|s| s.1)?;
            let shown = |v: f64| what.shown(v, digits);
            Some(format!("{} {} lies {side} the trials' {} to {}", what.words, shown(value), shown(low), shown(high)))
        })
        .collect();
    if !outside.is_empty() {
        return format!("{}: weld trials there", outside.join("; "));
    }
    if let Some(note) = setting.notes.iter().find(|n| n.starts_with("all trials") || n.starts_with("only totals")) {
        return note.clone();
    }
    "each variable of the laws lies inside the trials' range, but their combination or a neighbouring node does not: weld trials near this feed".to_owned()
}

/// What nobody welded, from which studies it was carried and what to do. A word that is unknown promises the least.
fn carried_words(record: &LineRecord) -> String {
    let Some(carried) = &record.laws.carried else {
        return "nobody has welded this: weld and confirm every setting before use".to_owned();
    };
    format!("{}; weld and confirm every setting before use", carried.sentence())
}

/// How a variable is shown.
struct Shown {
    words: String,
    unit: &'static str,
    /// From the law's variable to what is shown.
    of: Box<dyn Fn(f64) -> f64>,
}

impl Shown {
    fn shown(&self, value: f64, digits: usize) -> String {
        format!("{:.digits$} {}", (self.of)(value), self.unit)
    }
}

fn variable(record: &LineRecord, n: &Node, arc_length_mm: f64, name: &str) -> Option<(Shown, f64, usize)> {
    let same = |words: &str, unit| Shown { words: words.to_owned(), unit, of: Box::new(|v| v) };
    let detachment = &record.laws.detachment;
    let reference = detachment.reference_current_a;
    let log_current = || Some((n.pulse_current_a / reference?).ln());
    Some(match name {
        "current_mean_a" => (same("the mean current", "A"), n.current_mean_a, 0),
        // L·I_rms² at the setting's own extension: amperes are what a bench reads.
        "extension_rms_squared_mm_a2" => {
            let extension = record.conditions.ctwd_mm - arc_length_mm;
            let words = format!("at {extension:.1} mm extension the RMS current");
            let of = Box::new(move |v: f64| (v / extension).sqrt());
            (Shown { words, unit: "A", of }, extension * n.current_rms_a * n.current_rms_a, 0)
        }
        "arc_length_mm" => (same("the arc length", "mm"), arc_length_mm, 1),
        "extension_mm" => (same("the extension", "mm"), record.conditions.ctwd_mm - arc_length_mm, 1),
        "ctwd_mm" => (same("the contact-tip-to-work distance", "mm"), record.conditions.ctwd_mm, 1),
        "detachment_s" => {
            let exponent = detachment.coefficients.get("exponent")?.value?;
            let words = "the pulse time at the reference current".to_owned();
            (Shown { words, unit: "ms", of: Box::new(f64::exp) }, exponent * log_current()? + n.pulse_time_ms.ln(), 2)
        }
        "log_pulse_current" => {
            let reference = reference?;
            let of = Box::new(move |v: f64| reference * v.exp());
            (Shown { words: "the pulse current".to_owned(), unit: "A", of }, log_current()?, 0)
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
    use super::*;

    #[test]
    fn the_words_name_the_variable_and_the_trials_range() {
        let record: LineRecord =
            serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap();
        let mut node = record.line.nodes[1].clone();
        assert!(support_words(&record, &node, 4.0).starts_with("inside what the trials reach"));
        node.support = "extended".to_owned();
        // The trials' arc lengths go from 2.6 to 5.8 mm.
        assert_eq!(
            support_words(&record, &node, 6.0),
            "the arc length 6.0 mm lies above the trials' 2.6 mm to 5.8 mm: weld trials there"
        );
        node.current_mean_a = 110.0;
        let both = support_words(&record, &node, 6.0);
        assert!(both.contains("the mean current 110 A lies below the trials' 125 A to 261 A"), "{both}");
        assert!(support_words(&record, &node, 4.0).contains("mean current"));
        node.current_mean_a = 200.0;
        assert!(support_words(&record, &node, 4.0).contains("combination"));
        node.support = "carried".to_owned();
        let mut record = record;
        record.laws.carried = Some(crate::laws::CarriedTo {
            what: "wire diameter".to_owned(),
            words: "to 1.4 mm from 0.9 and 1.2 mm".to_owned(),
            studies: vec!["thin".to_owned(), "thick".to_owned()],
            ctwd_mm: None,
            mapped: std::collections::BTreeMap::new(),
        });
        assert_eq!(
            support_words(&record, &node, 4.0),
            "nobody has welded this wire diameter: the laws were carried to 1.4 mm from 0.9 and 1.2 mm (studies thin; thick); weld and confirm every setting before use"
        );
    }
}

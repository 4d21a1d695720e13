//! Answers backwards, said plainly.

use super::answers::{Answer, Nearest, RefusedAnswer, Wanted};
use super::curve::Curve;
use crate::record::LineRecord;
use crate::short_number::short_number;

/// Why there is no heat input.
pub(super) const NO_HEAT: &str =
    "the line holds no heat input: state [line].travel_speed_mm_s in the study and develop it again";

/// What an interval of feeds means.
pub(super) fn meaning(wanted: Wanted) -> &'static str {
    match wanted {
        Wanted::CurrentMeanA(_) => {
            "wire feeds that may carry this mean current once the background is trimmed to keep the arc length"
        }
        Wanted::MeltingRateKgH(_) => "wire that the settings at this feed truly melt, as a wire feed",
        Wanted::HeatInputKjMm(_) => "wire feeds whose settings may give this heat input",
    }
}

/// None, one or several.
pub(super) fn found(answers: &[Answer], gaps: &[[f64; 2]]) -> String {
    let mut text = match answers {
        [Answer { constant_over_m_min: Some([low, high]), .. }] => {
            format!("at every wire feed from {} to {} m/min", shown(*low), shown(*high))
        }
        [_] => "at one wire feed".to_owned(),
        several => {
            let stretches = several.iter().filter(|a| a.constant_over_m_min.is_some()).count();
            let of_them = if stretches > 0 { format!(", {stretches} of them over a stretch") } else { String::new() };
            format!("at {} wire feeds{of_them}", several.len())
        }
    };
    for [low, high] in gaps {
        text.push_str(&format!(
            "; perhaps once more between {} and {} m/min, where the line has no setting",
            shown(*low),
            shown(*high)
        ));
    }
    text
}

/// Where the wanted value lies against what the line gives, and the nearest that it does give.
pub(super) fn missed(curve: &Curve<'_>, nearest: Nearest, gaps: &[[f64; 2]], ends: [f64; 2]) -> String {
    let Curve { record, wanted, .. } = *curve;
    let (unit, digits) = match wanted {
        Wanted::CurrentMeanA(_) => ("A", 1),
        Wanted::MeltingRateKgH(_) => ("kg/h", 3),
        Wanted::HeatInputKjMm(_) => ("kJ/mm", 3),
    };
    let come = format!(
        "the nearest it gives is {:.digits$} {unit} at {} m/min",
        nearest.value,
        shown(nearest.wire_feed_m_min)
    );
    let value = short_number(wanted.value());
    if let [[low, high], ..] = gaps {
        return format!(
            "at no wire feed: {value} {unit} falls into the gap from {} to {} m/min, where the line has no setting{}; {come}",
            shown(*low),
            shown(*high),
            why(record, [*low, *high])
        );
    }
    let side = if wanted.value() < nearest.value { "more" } else { "less" };
    format!(
        "at no wire feed: from {} to {} m/min the line gives {side} than {value} {unit} everywhere; {come}",
        shown(ends[0]),
        shown(ends[1])
    )
}

/// Every feed that would give the value once shifted is refused; each reason stands with its feed.
pub(super) fn refused(refused: &[RefusedAnswer]) -> String {
    let feeds: Vec<String> = refused.iter().map(|r| shown(r.wire_feed_m_min)).collect();
    format!("at no wire feed: {} m/min would give it, but the shifted setting cannot be set there", feeds.join(" and "))
}

/// What stands in the way between two feeds.
fn why(record: &LineRecord, [low, high]: [f64; 2]) -> String {
    let within = |r: [f64; 2]| r[1] >= low && r[0] <= high;
    let refused = record.line.refused().filter(|range| within(range.wire_feed_m_min));
    if let Some(range) = refused.max_by_key(|range| range.standing().caution()) {
        return format!(" ({})", range.standing().word());
    }
    let gaps: Vec<String> = record
        .line
        .unsupported
        .iter()
        .filter(|u| within(u.wire_feed_m_min))
        .map(|u| format!(" ({}: {})", u.limits.join(", "), u.reason))
        .collect();
    gaps.concat()
}

/// A feed to a thousandth, without trailing zeros.
fn shown(feed_m_min: f64) -> String {
    let text = format!("{feed_m_min:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

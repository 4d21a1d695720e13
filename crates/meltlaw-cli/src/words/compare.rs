//! A line against the first, on one screen: what else is different, feeds gained and lost, the change at each feed with
//! marks, and what of it is beyond error.

use std::path::PathBuf;

use meltlaw::compare::lines::{
    AtFeed, Consequence, LineComparison, MELTED, Overall, RangeChange, SettingChange, SettingVerdict,
};
use meltlaw_files::spelt_out;
use meltlaw_report::ComparedLines;
use meltlaw_report::numbers::{confidence, feed, fixed, signed};

use super::comparison_table::{BEYOND, SET, scaled, shown, table};
use super::{command, path_as_typed};
use crate::told::{Told, Tone};

/// Letters of the names before what is told.
const START: usize = 22;

/// Everything told about a pair.
pub(crate) fn comparison_lines(pair: &ComparedLines<'_>, width: usize) -> Vec<Told> {
    let c = pair.comparison;
    let mut lines = vec![Told::heading(format!("{} against {}: {}", pair.second_name, pair.first_name, in_a_word(c)))];
    let told = |name: &str, text: String| Told::new(start(' ', name), text);
    if !c.conditions.is_empty() {
        let words: Vec<String> = c.conditions.iter().map(|d| spelt_out(&d.words)).collect();
        lines.push(Told::new(start(BEYOND, "other"), words.join("; ")).toned(Tone::Warning));
    }
    for (name, record) in [(pair.first_name, pair.first), (pair.second_name, pair.second)] {
        if record.line.nodes.is_empty() {
            let reason = record.line.unsupported.first().map_or("it gives no reason", |gap| gap.reason.as_str());
            let text = format!("{name} has no setting at any feed: {}", spelt_out(reason));
            lines.push(Told::new(start(BEYOND, "no line"), text).toned(Tone::Warning));
        }
    }
    let common: Vec<String> = c.common_m_min.iter().map(range).collect();
    lines.push(told(
        "in both",
        if common.is_empty() { "no feed".to_owned() } else { format!("{} m/min", common.join(", ")) },
    ));
    for (name, changes, whose) in [("gained", &c.gained, "the first"), ("lost", &c.lost, "the other")] {
        lines.extend(changes.iter().map(|change| told(name, lacking(change, whose))));
    }
    lines.extend(words_changed(c, |f| &f.support).into_iter().map(|text| told("support", text)));
    lines.extend(words_changed(c, |f| &f.standing).into_iter().map(|text| told("standing", text)));
    if c.feeds.is_empty() {
        return lines;
    }
    if c.overall != Overall::Same {
        lines.push(Told::line(""));
        lines.extend(table(c, width));
        lines.push(Told::line(""));
    }
    lines.extend(set_differently(c));
    lines.extend(c.quantities().into_iter().map(|quantity| consequence_line(c, quantity)));
    if is_set_differently(c) {
        let text = "background, mean current, voltage and power change with what is set and with the wire; melting tells the wire alone";
        lines.push(Told::new(" ".repeat(START), text));
    }
    lines.extend(outside_bands(c));
    lines.push(told(
        "error",
        format!(
            "{}; for each quantity all {} feeds together hold at {}",
            c.relation.words,
            c.feeds_together,
            confidence(c.confidence)
        ),
    ));
    lines
}

/// A mark and a name before what is told.
fn start(mark: char, name: &str) -> String {
    format!("{mark} {name:<0$}", START - 2)
}

fn in_a_word(c: &LineComparison) -> String {
    match c.overall {
        Overall::Same => "nothing differs".to_owned(),
        Overall::Changed if is_set_differently(c) => "set differently, nothing measured beyond error".to_owned(),
        Overall::Changed => "changed, nothing measured beyond error".to_owned(),
        Overall::ChangedBeyondError => {
            let beyond = c.beyond_error();
            format!("changed beyond error {}", places(c, &c.stretches(|place| beyond[place])))
        }
        Overall::NothingInCommon => "no feed has a setting in both".to_owned(),
    }
}

fn is_set_differently(c: &LineComparison) -> bool {
    c.feeds.iter().flat_map(|f| &f.settings).any(|s| s.verdict == SettingVerdict::SetDifferently)
}

fn range([low, high]: &[f64; 2]) -> String {
    if low == high { feed(*low) } else { format!("{} to {}", feed(*low), feed(*high)) }
}

/// `from 6.0 to 9.0 m/min`, `at 4.5 and from 6.0 to 9.0 m/min`; of more stretches how many feeds between which.
fn places(c: &LineComparison, stretches: &[[f64; 2]]) -> String {
    if let [[low, _], _, .., [_, high]] = stretches {
        let inside = |f: &&AtFeed| stretches.iter().any(|[low, high]| (*low..=*high).contains(&f.wire_feed_m_min));
        let count = c.feeds.iter().filter(inside).count();
        return format!("at {count} of {} feeds, {} to {} m/min", c.feeds.len(), feed(*low), feed(*high));
    }
    let word = |[low, high]: &[f64; 2]| {
        if low == high { format!("at {}", feed(*low)) } else { format!("from {} to {}", feed(*low), feed(*high)) }
    };
    let words: Vec<String> = stretches.iter().map(word).collect();
    format!("{} m/min", words.join(" and "))
}

fn lacking(change: &RangeChange, whose: &str) -> String {
    let limits: Vec<String> = change.limits.iter().map(|l| l.replace('_', " ")).collect();
    let limits = if limits.is_empty() { String::new() } else { format!(" ({})", limits.join(", ")) };
    format!("{} m/min; {whose} says: {}{limits}", range(&change.wire_feed_m_min), spelt_out(&change.reason))
}

/// Stretches over which a word of the lines is another.
fn words_changed(c: &LineComparison, of: impl Fn(&AtFeed) -> &[String; 2]) -> Vec<String> {
    let mut pairs: Vec<[String; 2]> = c.feeds.iter().map(|f| of(f).clone()).filter(|[a, b]| a != b).collect();
    pairs.sort();
    pairs.dedup();
    let told = |pair: &[String; 2]| {
        let here = |place: usize| of(&c.feeds[place]) == pair;
        format!("{} instead of {} {}", pair[1], pair[0], places(c, &c.stretches(here)))
    };
    pairs.iter().map(told).collect()
}

/// Each setting that is another: where, by how much at most, and how much of the room it takes.
fn set_differently(c: &LineComparison) -> Vec<Told> {
    let Some(any) = c.feeds.first() else { return Vec::new() };
    let told = any.settings.iter().enumerate().filter_map(|(i, named)| {
        let other = |f: &AtFeed| f.settings[i].verdict == SettingVerdict::SetDifferently;
        let where_it_is = c.stretches(|place| other(&c.feeds[place]));
        let largest = c.feeds.iter().max_by(|a, b| size(&a.settings[i]).total_cmp(&size(&b.settings[i])))?;
        let s = &largest.settings[i];
        if where_it_is.is_empty() {
            return None;
        }
        let (name, unit, factor, digits) = shown(&named.quantity);
        let room = s.room.as_ref().map_or(String::new(), |room| {
            let share = fixed(100.0 * room.used, 0);
            format!(" ({share} % of how far the first line's may move alone, then {})", room.fails.replace('_', " "))
        });
        Some(format!(
            "{name} {}, at most {} {unit} at {}{room}",
            places(c, &where_it_is),
            signed(factor * s.difference, digits),
            feed(largest.wire_feed_m_min)
        ))
    });
    let mut start = start(SET, "set differently");
    told.map(|text| Told::new(std::mem::replace(&mut start, " ".repeat(START)), text)).collect()
}

fn size(s: &SettingChange) -> f64 {
    s.difference.abs()
}

/// A quantity over all feeds: where it is beyond error, or that it nowhere is, with its largest change.
fn consequence_line(c: &LineComparison, quantity: &str) -> Told {
    let (name, unit, _, digits) = shown(quantity);
    let found = c.of(quantity);
    let beyond = |x: &Consequence| x.differs_from_zero == Some(true);
    let stretches = c.stretches(|place| beyond(&found[place]));
    let largest = |chosen: &dyn Fn(&Consequence) -> bool| {
        found.iter().filter(|x| chosen(x)).max_by(|a, b| a.difference.abs().total_cmp(&b.difference.abs()))
    };
    let change = |x: &Consequence| {
        let ends = match x.interval {
            Some([low, high]) => {
                let ends = [low, high].map(|end| scaled(x, end));
                // An end that is told to be off zero must not read as zero.
                let reads_zero =
                    |places: i32| beyond(x) && ends.iter().any(|end| signed(*end, places) == fixed(0.0, places));
                let digits = (digits..digits + 3).find(|places| !reads_zero(*places)).unwrap_or(digits + 3);
                let [low, high] = ends.map(|end| signed(end, digits));
                format!(" ({} {low} to {high})", confidence(c.confidence))
            }
            None => " (error not known)".to_owned(),
        };
        format!("{} {unit}{ends} at {}", signed(scaled(x, x.difference), digits), feed(x.at.wire_feed_m_min))
    };
    let what = if quantity == MELTED { "at equal current and extension " } else { "" };
    match (stretches.is_empty(), largest(&|_| true)) {
        (false, _) => {
            let text = largest(&beyond).map_or(String::new(), change);
            Told::new(start(BEYOND, name), format!("{what}beyond error {}, at most {text}", places(c, &stretches)))
                .toned(Tone::Warning)
        }
        (true, Some(x)) if x.difference == 0.0 => Told::new(start(' ', name), format!("{what}the same at every feed")),
        (true, Some(x)) if x.differs_from_zero.is_none() => {
            Told::new(start(' ', name), format!("{what}error not known, at most {}", change(x)))
        }
        (true, Some(x)) => Told::new(start(' ', name), format!("{what}within error, at most {}", change(x))),
        (true, None) => Told::new(start(' ', name), "not told"),
    }
}

/// Where an alarm that is set by the first line would sound when the other is welded.
fn outside_bands(c: &LineComparison) -> Vec<Told> {
    let Some(any) = c.feeds.first() else { return Vec::new() };
    let outside = any.next_weld.iter().enumerate().filter_map(|(i, band)| {
        let stretches = c.stretches(|place| !c.feeds[place].next_weld[i].inside_first);
        (!stretches.is_empty()).then(|| format!("{} {}", shown(&band.quantity).0, places(c, &stretches)))
    });
    let outside: Vec<String> = outside.collect();
    let start = start(' ', "check table");
    let same = c.feeds.iter().all(|f| f.next_weld.iter().all(|b| b.first == b.second));
    vec![if same {
        Told::new(start, "the bands for a next weld are the same at every feed")
    } else if outside.is_empty() {
        Told::new(start, "what the other line expects lies in the first line's bands for a next weld at every feed")
    } else {
        let text = format!(
            "what the other line expects leaves the first line's bands for a next weld: {}; set alarms anew",
            outside.join("; ")
        );
        Told::new(start, text)
    }]
}

/// What to do with what was found.
pub(crate) fn after_compare(files: &[PathBuf], comparisons: &[LineComparison]) -> String {
    let worst = |c: &LineComparison| {
        let beyond: Vec<&Consequence> = c.comparisons.iter().filter(|x| x.differs_from_zero == Some(true)).collect();
        // The quantity that is told first says most about the wire.
        let first = &beyond.first()?.quantity;
        let beyond = beyond.iter().filter(|x| x.quantity == *first);
        let size = |x: &&&Consequence| x.interval.map_or(0.0, |[low, high]| (2.0 * x.difference / (high - low)).abs());
        beyond.max_by(|a, b| size(a).total_cmp(&size(b))).map(|x| x.at.wire_feed_m_min)
    };
    let found = files[1..].iter().zip(comparisons).find_map(|(file, c)| Some((file, worst(c)?)));
    if let Some((file, at)) = found {
        let show = command(format_args!("meltlaw at {} {at}", path_as_typed(file)));
        return format!(
            "weld {} m/min, where the change stands out most, and see which line the weld agrees with; {show} shows the setting",
            feed(at)
        );
    }
    let changed = files[1..].iter().zip(comparisons).find(|(_, c)| is_set_differently(c));
    match changed.and_then(|(file, c)| Some((file, c.feeds.get(c.feeds.len() / 2)?.wire_feed_m_min))) {
        Some((file, at)) => {
            let show = command(format_args!("meltlaw at {} {at}", path_as_typed(file)));
            format!("what was set otherwise is a decision: look at it with {show} and weld it before use")
        }
        None if comparisons.iter().all(|c| c.overall == Overall::Same) => "nothing: the lines are the same".to_owned(),
        None if comparisons.iter().any(|c| !c.feeds.is_empty()) => {
            "keep the line that welds have confirmed: nothing measured differs beyond error".to_owned()
        }
        None => "ask for feeds that both studies reach, [line].wire_feed_m_min, and develop them again".to_owned(),
    }
}

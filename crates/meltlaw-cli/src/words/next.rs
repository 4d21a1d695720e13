//! What to do next, in a line that can be acted upon: a command where there is one.

use std::path::Path;

use meltlaw::laws::Laws;
use meltlaw::line::Node;
use meltlaw::line_at::at;
use meltlaw::record::LineRecord;
use meltlaw_report::numbers::feed;

use super::diagnosis::warning_count;
use crate::told::HELD;

/// What became of one thing that `at` was asked.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Asked {
    /// A setting, and how well the trials carry it.
    Setting(f64, String),
    /// The line has a setting there, but not shifted as asked for.
    ShiftRefused(f64),
    /// No setting there; of what cannot be had at all, where the line comes nearest.
    Nothing(f64),
}

/// After `at`: what is missing first, then what is least known.
pub(crate) fn after_at(record: &LineRecord, line: &Path, asked: &[Asked]) -> String {
    let line = path_as_typed(line);
    let missing = asked.iter().find_map(|a| if let Asked::Nothing(f) = a { Some(*f) } else { None });
    if let Some(wanted) = missing {
        return match nearest_with_a_setting(record, wanted) {
            Some(near) => format!(
                "{} shows the nearest feed that has a setting",
                command(format_args!("meltlaw at {line} {near}"))
            ),
            None => "the line has no setting at any feed: weld or mend what its reasons name, then develop it again"
                .to_owned(),
        };
    }
    if let Some(f) = asked.iter().find_map(|a| if let Asked::ShiftRefused(f) = a { Some(*f) } else { None }) {
        let own = command(format_args!("meltlaw at {line} {f}"));
        return format!("ask for a smaller shift; {own} shows the line's own setting there");
    }
    let settings: Vec<(f64, &str)> = asked
        .iter()
        .filter_map(|a| if let Asked::Setting(f, support) = a { Some((*f, support.as_str())) } else { None })
        .collect();
    let to_weld: Vec<f64> = settings.iter().map(|s| s.0).filter(|f| !confirmed(record, *f)).collect();
    if to_weld.is_empty() {
        return "these settings are confirmed: qualify the procedure under the code that applies".to_owned();
    }
    let extended: Vec<f64> =
        settings.iter().filter(|(f, s)| *s == "extended" && to_weld.contains(f)).map(|s| s.0).collect();
    if let (Some(carried), true) = (&record.laws.carried, settings.iter().any(|(_, s)| *s == "carried")) {
        return format!(
            "weld {} m/min and hold each weld against its expectations before use: nobody has welded this {}",
            listed(&to_weld),
            carried.what
        );
    }
    let first = extended.first().and_then(|f| nearest_covered(record, *f));
    match first {
        Some(node) => format!(
            "weld {} m/min first, the nearest feed that trials cover; only if it agrees weld {} m/min, where the line is \
             extended beyond the trials",
            feed(node.wire_feed_m_min),
            listed(&extended)
        ),
        None => {
            format!("weld {} m/min and see whether the weld agrees: so far the line is only proposed", listed(&to_weld))
        }
    }
}

/// After `check`, by what was found; `laws` where none stops.
pub(crate) fn after_check(study: &Path, stops: usize, warnings: usize, laws: Option<&Laws>) -> String {
    let study = path_as_typed(study);
    let again = command(format_args!("meltlaw check {study}"));
    let develop = command(format_args!("meltlaw develop {study}"));
    let missing = laws.map(missing_words).unwrap_or_default();
    match (stops, warnings) {
        (0, _) if !missing.is_empty() => {
            format!("a line needs all three laws: weld or mend what is named above for {missing}, then {again}")
        }
        (0, 0) => develop,
        (0, _) => format!("look at what is marked !, then {develop}"),
        _ => format!(
            "mend the rows under stop, or set use = no with a note (nothing is fitted before that); then {again}"
        ),
    }
}

/// After `fit`: on to the line, or what stands in its way.
pub(crate) fn after_fit(laws: &Laws, out: &Path, study: &Path) -> String {
    let (out, study) = (path_as_typed(out), path_as_typed(study));
    let missing = missing_words(laws);
    let warns = laws.by_name().iter().any(|(_, law)| warning_count(law) > 0);
    if missing.is_empty() {
        let look = if warns { "look at what is marked !, then " } else { "" };
        format!("{look}{}", command(format_args!("meltlaw compose {out} {study} --out line.json")))
    } else {
        format!(
            "a line needs all three laws: weld or mend what is named above for {missing}, then {}",
            command(format_args!("meltlaw fit {study} --out {out} --force"))
        )
    }
}

/// A command that is not broken over lines, so that it can be copied.
pub(crate) fn command(words: std::fmt::Arguments<'_>) -> String {
    words.to_string().replace(' ', &HELD.to_string())
}

/// A path as it can be typed after a command: in quotes where a shell would break it. What no terminal shows is spelt
/// out: a name must not steer it.
pub(crate) fn path_as_typed(path: &Path) -> String {
    let text = meltlaw_files::spelt_out(&path.display().to_string());
    let plain = |c: char| c.is_alphanumeric() || "/\\._-+=:,@%~".contains(c);
    match (!text.is_empty() && text.chars().all(plain), cfg!(windows)) {
        (true, _) => text,
        (false, true) => format!("\"{text}\""),
        (false, false) => format!("'{}'", text.replace('\'', r"'\''")),
    }
}

/// Whether a standing says that this feed was confirmed.
fn confirmed(record: &LineRecord, wire_feed: f64) -> bool {
    let here = |s: &&meltlaw::line::StandingRange| (s.wire_feed_m_min[0]..=s.wire_feed_m_min[1]).contains(&wire_feed);
    record.line.standing.iter().find(here).is_some_and(|s| s.state == "confirmed")
}

fn nearest_covered(record: &LineRecord, wire_feed: f64) -> Option<&Node> {
    let away = |n: &&Node| (n.wire_feed_m_min - wire_feed).abs();
    let covered = record.line.nodes.iter().filter(|n| n.support == "covered");
    covered.min_by(|a, b| away(a).total_cmp(&away(b)))
}

/// The nearest feed that has a setting, as it is to be typed; gaps begin and end at nodes, so it is one of them.
fn nearest_with_a_setting(record: &LineRecord, wanted: f64) -> Option<String> {
    let there = |f: &f64| at(record, *f).is_ok();
    // Where nothing is near to what was wanted, the middle of the line is as good to look at as any.
    let middle = record.line.nodes.get(record.line.nodes.len() / 2)?.wire_feed_m_min;
    let wanted = if wanted.is_finite() { wanted } else { middle };
    let away = |f: &f64| (f - wanted).abs();
    let nodes = record.line.nodes.iter().map(|n| n.wire_feed_m_min);
    let near = nodes.filter(there).min_by(|a, b| away(a).total_cmp(&away(b)))?;
    let short = format!("{near:.2}");
    let short = short.trim_end_matches('0').trim_end_matches('.');
    // Rounded it may fall into a gap.
    let fits = short.parse().is_ok_and(|f: f64| there(&f));
    Some(if fits { short.to_owned() } else { near.to_string() })
}

/// Feeds in m/min, each once.
fn listed(feeds: &[f64]) -> String {
    let mut words: Vec<String> = feeds.iter().map(|f| feed(*f)).collect();
    words.dedup();
    and(&words)
}

/// The laws that could not be fitted.
fn missing_words(laws: &Laws) -> String {
    and(&laws.missing().iter().map(|name| name.replace('_', " ")).collect::<Vec<_>>())
}

/// `2.8`, `2.8 and 3.1`, `2.8, 3.1 and 9.2`.
fn and(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use meltlaw::line::StandingRange;

    fn record() -> LineRecord {
        let text = include_str!("../../../../datasets/worked_example/line.json");
        meltlaw_files::LineDocument::from_json(text, "line.json").unwrap().body().clone()
    }

    fn after(record: &LineRecord, asked: &[Asked]) -> String {
        after_at(record, Path::new("line.json"), asked).replace(HELD, " ")
    }

    #[test]
    fn a_feed_without_a_setting_leads_to_the_nearest_that_has_one() {
        let record = record();
        let last = record.line.nodes.last().unwrap().wire_feed_m_min;
        let next = after(&record, &[Asked::Setting(6.0, "covered".to_owned()), Asked::Nothing(99.0)]);
        let typed = next.split(' ').nth(3).unwrap();
        assert!((typed.parse::<f64>().unwrap() - last).abs() < 0.005, "{next}");
        assert!(at(&record, typed.parse().unwrap()).is_ok(), "{next}");
        let mut empty = record;
        empty.line.nodes.clear();
        assert!(after(&empty, &[Asked::Nothing(6.0)]).starts_with("the line has no setting at any feed"));
    }

    #[test]
    fn a_rounded_feed_is_only_named_where_it_has_a_setting() {
        let mut record = record();
        let nodes = record.line.nodes.len();
        // Rounded up to 9.13, it would lie beyond the last node.
        record.line.nodes[nodes - 1].wire_feed_m_min = 9.1287;
        assert_eq!(nearest_with_a_setting(&record, 99.0).unwrap(), "9.1287");
    }

    #[test]
    fn an_extended_setting_asks_for_the_covered_one_first() {
        let mut record = record();
        record.line.nodes.iter_mut().for_each(|n| n.support = "covered".to_owned());
        let first = feed(record.line.nodes[0].wire_feed_m_min);
        let next = after(&record, &[Asked::Setting(1.0, "extended".to_owned())]);
        assert!(next.starts_with(&format!("weld {first} m/min first")) && next.contains("weld 1.0 m/min"), "{next}");
        record.line.nodes.iter_mut().for_each(|n| n.support = "extended".to_owned());
        let next = after(&record, &[Asked::Setting(1.0, "extended".to_owned())]);
        assert!(next.starts_with("weld 1.0 m/min and see"), "{next}");
    }

    #[test]
    fn confirmed_settings_need_no_further_weld() {
        let mut record = record();
        let asked = [Asked::Setting(6.0, "covered".to_owned())];
        assert!(after(&record, &asked).contains("only proposed"));
        record.line.standing = vec![StandingRange {
            state: "confirmed".to_owned(),
            wire_feed_m_min: [0.0, 20.0],
            rule: None,
            evidence: None,
            date: None,
            by: None,
        }];
        assert!(after(&record, &asked).contains("confirmed: qualify"));
    }

    #[cfg(unix)]
    #[test]
    fn a_path_that_a_shell_would_break_stands_in_quotes() {
        assert_eq!(path_as_typed(Path::new("result/line.json")), "result/line.json");
        assert_eq!(path_as_typed(Path::new("my line.json")), "'my line.json'");
        assert_eq!(path_as_typed(Path::new("it's.json")), r"'it'\''s.json'");
        assert_eq!(path_as_typed(Path::new("Prüfung.toml")), "Prüfung.toml");
    }
}

//! What diagnosis says about a law, a line each: warnings, other forms, influential trials, surprise. All
//! details are in the laws file and with `--json`.

use meltlaw::laws::{FitTest, FittedLaw};
use meltlaw_report::numbers::{feed, percent, signed, significant};

use crate::told::{Told, Tone};

/// Warnings written out before the rest is only counted.
const WARNINGS_SHOWN: usize = 3;
/// Trials named in a line.
const TRIALS_SHOWN: usize = 4;
/// Trials named as influential.
const INFLUENTIAL_SHOWN: usize = 3;

/// Everything that diagnosis says about a law; nothing where it was not fitted.
pub(super) fn lines(law: &FittedLaw) -> Vec<Told> {
    let mut lines = warnings(law);
    lines.extend([forms(law), influence(law), surprise(law)].into_iter().flatten());
    lines
}

pub(super) fn warnings(law: &FittedLaw) -> Vec<Told> {
    let mut lines = Vec::new();
    let made = law.tests.values().filter(|t| t.was_made()).count();
    let (warns, asks): (Vec<_>, Vec<_>) =
        law.tests.iter().filter(|(_, t)| t.warns || asks(t)).partition(|(_, t)| t.warns);
    for (start, tone, found) in [("! warning    ", Tone::Warning, warns), ("  look at    ", Tone::Plain, asks)] {
        for (test, t) in found.iter().take(WARNINGS_SHOWN) {
            let trials = if t.trials.iter().all(|trial| t.reading.seen.contains(trial.as_str())) {
                String::new()
            } else {
                named(&t.trials)
            };
            let text = format!("{}: {}{trials} – {}", test.replace('_', " "), t.reading.seen, t.reading.action);
            lines.push(Told::new(start, text).toned(tone));
        }
        if found.len() > WARNINGS_SHOWN {
            lines.push(Told::new(start, format!("{} more with --json", found.len() - WARNINGS_SHOWN)).toned(tone));
        }
    }
    for p in law.plausibility.iter().filter(|p| !p.inside) {
        let text = format!("{}: {}, expected {} – {}", p.name, p.reading.seen, p.reading.expected, p.reading.action);
        lines.push(Told::new("! physics    ", text).toned(Tone::Warning));
    }
    for d in law.diagnostics.iter().filter(|d| !d.flags.is_empty()).take(TRIALS_SHOWN) {
        lines.push(Told::new("! trial      ", format!("{}: {}", d.trial, d.flags.join("; "))).toned(Tone::Warning));
    }
    let more = law.diagnostics.iter().filter(|d| !d.flags.is_empty()).count().saturating_sub(TRIALS_SHOWN);
    if more > 0 {
        lines.push(Told::new("! trial      ", format!("{more} more stand out (all with --json)")).toned(Tone::Warning));
    }
    if lines.is_empty() && made > 0 {
        lines.push(Told::new("  tests      ", format!("{made} made, nothing stands out")));
    }
    lines
}

/// How many tests warn.
pub(super) fn warning_count(law: &FittedLaw) -> usize {
    law.tests.values().filter(|t| t.warns).count()
        + law.plausibility.iter().filter(|p| !p.inside).count()
        + law.diagnostics.iter().filter(|d| !d.flags.is_empty()).count()
}

/// How many tests ask for something without warning.
pub(super) fn request_count(law: &FittedLaw) -> usize {
    law.tests.values().filter(|t| !t.warns && asks(t)).count()
}

/// A test that was made and asks for something without warning.
fn asks(test: &FitTest) -> bool {
    test.was_made() && test.reading.asks()
}

fn named(trials: &[String]) -> String {
    match trials.len() {
        0 => String::new(),
        n if n > TRIALS_SHOWN => format!(" ({} and {} more)", trials[..TRIALS_SHOWN].join(", "), n - TRIALS_SHOWN),
        _ => format!(" ({})", trials.join(", ")),
    }
}

/// The form that foretells left-out welds best and what it would do.
fn forms(law: &FittedLaw) -> Option<Told> {
    let density = |form: &str| law.candidates.iter().find(|c| c.form == form)?.leave_one_out_log_density;
    let used = density(&law.form)?;
    let tried = law.candidates.iter().filter(|c| c.leave_one_out_log_density.is_some()).count();
    let best = law
        .candidates
        .iter()
        .filter_map(|c| Some((c, c.leave_one_out_log_density?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let text = if best.0.form == law.form || best.1 <= used {
        format!("of {tried} forms the one used ({}) foretells left-out welds best", law.form.replace('_', " "))
    } else {
        let effect = best.0.line_effect.as_ref().map_or(String::new(), |e| {
            let errors =
                e.standard_errors.map_or(String::new(), |s| format!(" ({} standard errors)", significant(s, 2)));
            let size = significant(e.value.abs(), 2);
            format!(
                "; it would move the line by up to {size} {}{errors}, at {} m/min",
                e.unit,
                feed(e.at_wire_feed_m_min)
            )
        });
        format!(
            "{} foretells a left-out weld {} better than the form used ({}){effect}; shown, not used",
            best.0.form.replace('_', " "),
            percent((best.1 - used).exp_m1()),
            law.form.replace('_', " ")
        )
    };
    Some(Told::new("  forms      ", text))
}

/// The trials whose omission would move a coefficient most.
fn influence(law: &FittedLaw) -> Option<Told> {
    let mut moved: Vec<(&str, &str, f64)> = law
        .diagnostics
        .iter()
        .filter_map(|d| {
            let changes = d.without_it.iter().filter_map(|(key, change)| {
                let error = law.coefficients.get(key)?.standard_error.filter(|e| *e > 0.0)?;
                Some((d.trial.as_str(), key.as_str(), change / error))
            });
            changes.filter(|c| c.2.is_finite()).max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()))
        })
        .collect();
    moved.sort_by(|a, b| b.2.abs().total_cmp(&a.2.abs()));
    let largest = moved.first()?.2.abs();
    let trials: Vec<String> = moved
        .iter()
        .take(INFLUENTIAL_SHOWN)
        .map(|(trial, key, change)| {
            format!("without {trial} {key} {} se", signed(*change, if largest < 0.1 { 2 } else { 1 }))
        })
        .collect();
    let judged = if largest < 1.0 { "" } else { "; above 1 the law hangs on that weld: weld it again" };
    Some(Told::new("  influence  ", format!("{}{judged}", trials.join(", "))))
}

/// The least expected weld, as one in so many.
fn surprise(law: &FittedLaw) -> Option<Told> {
    let known: Vec<(&str, f64)> =
        law.diagnostics.iter().filter_map(|d| Some((d.trial.as_str(), d.surprise?))).collect();
    let (trial, probability) = known.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let welds = known.len();
    // Chance alone brings one so rare in one study of twenty.
    let judged = if probability * 20.0 * welds as f64 <= 1.0 { "look at its record" } else { "as chance brings it" };
    let once = if probability < 1e-6 { "over a million".to_owned() } else { significant(1.0 / probability, 2) };
    Some(Told::new(
        "  surprise   ",
        format!("{trial} is the least expected weld: once in {once} welds, among {welds}: {judged}"),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screen::Screen;
    use meltlaw::laws::{LineEffect, Reading};

    fn lines_of(told: &[Told]) -> Vec<String> {
        told.iter().flat_map(|t| t.laid_out(Screen::PIPE)).collect()
    }

    /// The burn-off law of the worked example.
    fn law() -> FittedLaw {
        let text = include_str!("../../../../datasets/worked_example/laws.json");
        let document: serde_json::Value = serde_json::from_str(text).unwrap();
        serde_json::from_value(document["laws"]["burn_off"].clone()).unwrap()
    }

    fn test(warns: bool, action: &str) -> FitTest {
        FitTest {
            statistic: Some(4.1),
            p_value: Some(1e-5),
            effect: Some(0.12),
            unit: "m/min".to_owned(),
            reading: Reading::new("no trend", "0.12 m/min from first to last", action),
            warns,
            trials: ["B01", "B02", "B03", "B04", "B05"].map(str::to_owned).to_vec(),
            reason: None,
        }
    }

    #[test]
    fn a_quiet_law_says_so_in_one_line() {
        let mut law = law();
        law.tests.clear();
        law.plausibility.clear();
        law.tests.insert("drift".to_owned(), test(false, "nothing"));
        law.diagnostics.iter_mut().for_each(|d| d.flags.clear());
        assert_eq!(lines_of(&warnings(&law)), ["  tests      1 made, nothing stands out"]);
    }

    #[test]
    fn warnings_come_first_with_their_trials_and_many_are_counted() {
        let mut law = law();
        law.tests.clear();
        for name in ["drift", "blocks", "outliers", "tip_wear"] {
            law.tests.insert(name.to_owned(), test(true, "look at probe and tip"));
        }
        law.tests.insert("a_form".to_owned(), test(false, "try another form"));
        let lines = lines_of(&warnings(&law));
        assert!(
            lines[0].starts_with("! warning    blocks: 0.12 m/min from first to last (B01, B02, B03, B04 and 1 more)")
        );
        let at = |text: &str| lines.iter().position(|l| l.contains(text)).unwrap();
        assert!(at("1 more with --json") < at("look at    a form"));
        assert!(lines.iter().all(|l| l.chars().count() <= 100), "{lines:?}");
    }

    #[test]
    fn another_form_is_named_with_what_it_would_do() {
        let mut law = law();
        law.candidates.iter_mut().for_each(|c| c.leave_one_out_log_density = Some(-1.6));
        let other = law.candidates.iter_mut().find(|c| c.form != law.form).unwrap();
        // e^0.05 − 1 = 5.1 %.
        other.leave_one_out_log_density = Some(-1.55);
        other.line_effect = Some(LineEffect {
            value: -0.12,
            unit: "m/min".to_owned(),
            at_wire_feed_m_min: 9.0,
            standard_errors: Some(2.3),
        });
        let text = lines_of(&[forms(&law).unwrap()]).join(" ");
        assert!(text.contains("foretells a left-out weld 5\u{a0}% better than the form used (proportional)"), "{text}");
        assert!(
            text.split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
                .contains("0.12 m/min (2.3 standard errors), at 9.0 m/min"),
            "{text}"
        );
    }

    #[test]
    fn influence_and_surprise_name_trials_in_words_of_the_bench() {
        let mut law = law();
        assert_eq!((influence(&law), surprise(&law)), (None, None));
        let error = law.coefficients["alpha_mm_per_a_s"].standard_error.unwrap();
        law.diagnostics[3].without_it.insert("alpha_mm_per_a_s".to_owned(), -1.5 * error);
        law.diagnostics.iter_mut().for_each(|d| d.surprise = Some(0.4));
        law.diagnostics[3].surprise = Some(1.0 / 5000.0);
        let [moves, odd] = [influence(&law), surprise(&law)].map(|t| lines_of(&[t.unwrap()]).join(" "));
        assert!(moves.contains("alpha_mm_per_a_s −1.5 se; above 1 the law hangs on that weld"), "{moves}");
        // 39 trials in twenty studies are 780, fewer than 5000.
        assert!(odd.contains("once in 5000 welds, among 39: look at its record"), "{odd}");
    }
}

//! What the figures of a law say of themselves: what good trials look like, what these show, what to do.
//!
//! Where the record holds a test of what a figure shows, its judgement is taken over and no second one is
//! formed: figure and test must never disagree. Where it holds none, a figure tells what it shows and says
//! that nobody judged it.

pub(super) mod course;
pub(super) mod fit;
pub(super) mod forms;
pub(super) mod influence;
pub(super) mod leverage;
pub(super) mod profiles;

use meltlaw::laws::{FitTest, FittedLaw, Reading};

use super::diagnosed::{Diagnosed, Point, shortened};
use super::trial_influence::Moved;
use crate::numbers::{MINUS, fixed};
use crate::words;

/// Names written out before the rest is only counted.
const NAMES_SHOWN: usize = 4;

/// The text alternative of a drawing: what is drawn, then what it shows.
pub(super) fn described(drawn: &str, reading: &Reading) -> String {
    format!("{drawn} {}.", words::capital(reading.seen.trim_end_matches('.')))
}

/// A test of the law that was made.
fn made<'a>(law: &'a FittedLaw, test: &str) -> Option<&'a FitTest> {
    law.tests.get(test).filter(|t| t.was_made())
}

/// What the named tests ask for, each with its name where several do.
fn asked(law: &FittedLaw, tests: &[&str]) -> Option<String> {
    let asking: Vec<(&str, &FitTest)> =
        tests.iter().filter_map(|name| Some((*name, made(law, name)?))).filter(|(_, t)| t.reading.asks()).collect();
    match asking.as_slice() {
        [] => None,
        [(_, test)] => Some(test.reading.action.clone()),
        several => {
            let each: Vec<String> =
                several.iter().map(|(name, t)| format!("{}: {}", words::test(name), t.reading.action)).collect();
            Some(each.join("; "))
        }
    }
}

/// What to do where no test asks for anything.
fn nothing(law: &FittedLaw, tests: &[&str]) -> String {
    if tests.iter().any(|name| law.tests.contains_key(*name)) {
        "nothing".to_owned()
    } else {
        "nothing by this figure alone; the record holds no test of it".to_owned()
    }
}

/// What a test saw, with the coefficients' letters, the true minus and probabilities held together.
fn said(law: &FittedLaw, test: &FitTest) -> String {
    let named = law.coefficient_order.iter().fold(test.reading.seen.clone(), |text, key| {
        let (symbol, _) = words::coefficient(key);
        // A name that is a plain word may stand for itself.
        if symbol.is_empty() || !key.contains('_') { text } else { text.replace(key.as_str(), symbol) }
    });
    true_minus(named.trim_end_matches('.')).replace("p = ", "p\u{a0}=\u{a0}")
}

/// A hyphen before a number, where a number may begin, is a minus.
fn true_minus(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let begins = |place: usize| place == 0 || matches!(letters[place - 1], ' ' | '(' | '[');
    let number = |place: usize| letters.get(place + 1).is_some_and(char::is_ascii_digit);
    let turned = letters.iter().enumerate();
    turned.map(|(place, c)| if *c == '-' && begins(place) && number(place) { MINUS } else { *c }).collect()
}

/// Change of a coefficient, in its standard errors, from which the law hangs on a weld.
const HANGS: f64 = 1.0;

/// Trials that move a coefficient by its standard error or more.
fn hangs_on<'a>(trials: &[Moved<'a>]) -> Vec<&'a str> {
    trials.iter().filter(|m| m.largest().1.abs() >= HANGS).map(|m| m.trial).collect()
}

/// What to do about trials that the law hangs on.
fn weld_again(trials: &[&str]) -> String {
    let it = if trials.len() == 1 { "it" } else { "them" };
    format!("weld {} again: the law hangs on {it}", name_list(trials.iter().copied()))
}

/// `1 trial`, `5 trials`.
fn counted(trials: usize) -> String {
    if trials == 1 { "1 trial".to_owned() } else { format!("{trials} trials") }
}

/// `B01, B02 and 3 more`.
fn name_list<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let all: Vec<String> = names.into_iter().map(|n| shortened(n, 40)).collect();
    if all.len() > NAMES_SHOWN {
        format!("{} and {} more", all[..NAMES_SHOWN].join(", "), all.len() - NAMES_SHOWN)
    } else {
        words::listed(&all)
    }
}

/// A coefficient by its letter and what it is.
fn coefficient(key: &str) -> String {
    match words::coefficient(key) {
        ("", _) => shortened(&words::plain(key), 40),
        (symbol, meaning) => format!("{symbol} ({})", meaning.split(':').next().unwrap_or(meaning)),
    }
}

/// Trials beyond the limit that a figure draws, as the test of the outliers judges them.
struct Outlying {
    seen: String,
    /// What the test asks for, and of which trials.
    action: Option<(String, Vec<String>)>,
}

fn outlying(seen: &Diagnosed<'_>, residuals: &[(&Point<'_>, f64)]) -> Outlying {
    let limit = seen.outlier_limit();
    let beyond: Vec<&str> =
        residuals.iter().filter(|(_, t)| limit.is_some_and(|l| t.abs() > l)).map(|(p, _)| p.trial()).collect();
    let lies = if beyond.len() == 1 { "lies" } else { "lie" };
    let names = name_list(beyond.iter().copied());
    let within = limit.map_or_else(
        || "with so few trials no limit can be drawn".to_owned(),
        |l| format!("no trial lies beyond ± {} standard errors, the limit for outliers", fixed(l, 1)),
    );
    match made(seen.law, "outliers") {
        Some(test) if test.reading.asks() => {
            let trials: Vec<String> = test.trials.clone();
            let which = if trials.is_empty() {
                said(seen.law, test)
            } else {
                format!("standing out by the test of the outliers: {}", name_list(trials.iter().map(String::as_str)))
            };
            Outlying { seen: which, action: Some((test.reading.action.clone(), trials)) }
        }
        Some(_) if beyond.is_empty() => Outlying { seen: within, action: None },
        // The test of the counts goes by their likelihood, in which a rare drop lies less far off than here.
        Some(_) => Outlying {
            seen: format!(
                "{names} {lies} beyond the limit, but the test of the outliers, made on all trials together, names none"
            ),
            action: None,
        },
        None if beyond.is_empty() => Outlying { seen: within, action: None },
        None => Outlying {
            seen: format!("{names} {lies} beyond the limit"),
            action: Some((format!("look at the record of {names}"), beyond.iter().map(|n| (*n).to_owned()).collect())),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_begins_a_number_is_a_minus() {
        assert_eq!(
            true_minus("-0.08 m/min (from -1 to +1) on 2026-08-02, R-12, tip - 3"),
            "−0.08 m/min (from −1 to +1) on 2026-08-02, R-12, tip - 3"
        );
    }

    #[test]
    fn many_names_are_counted() {
        assert_eq!(name_list(["a", "b"]), "a and b");
        assert_eq!(name_list(["a", "b", "c", "d", "e"]), "a, b, c, d and 1 more");
    }
}

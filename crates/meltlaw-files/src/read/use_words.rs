//! The words with which tables say whether a trial is used.

/// Yes in the common languages of Europe; accents may be missing.
const YES: &[&str] = &[
    "yes",
    "1",
    "true",
    "y",
    "ja",
    "j",
    "oui",
    "sí",
    "sì",
    "si",
    "sim",
    "tak",
    "ano",
    "áno",
    "igen",
    "da",
    "да",
    "nai",
    "ναι",
    "kyllä",
    "taip",
    "jah",
    "jā",
    "wahr",
    "vrai",
    "vero",
    "verdadero",
    "verdadeiro",
];
/// No, likewise.
const NO: &[&str] = &[
    "no", "0", "false", "n", "nein", "non", "não", "nao", "nie", "ne", "не", "nem", "nu", "ochi", "oxi", "όχι", "οχι",
    "nej", "nei", "nee", "ei", "nē", "falsch", "faux", "falso",
];
/// A tick. In a column of ticks alone a blank cell is a no.
const TICKS: &[&str] = &["x", "✓", "✔", "☑"];

/// Whether a word of a `use` column says yes; `None` where it says neither.
pub(crate) fn says_yes(word: &str) -> Option<bool> {
    let word = word.trim().to_lowercase();
    let is = |words: &[&str]| words.contains(&word.as_str());
    if is(YES) || is_tick(&word) { Some(true) } else { is(NO).then_some(false) }
}

/// Whether a word is a mark that ticks a row.
pub(crate) fn is_tick(word: &str) -> bool {
    TICKS.contains(&word.trim().to_lowercase().as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_two_words_of_a_language_say_yes_and_no() {
        for (yes, no) in [
            ("yes", "no"),
            ("ja", "nein"),
            ("oui", "non"),
            ("sí", "no"),
            ("sim", "não"),
            ("sì", "no"),
            ("tak", "nie"),
            ("ano", "ne"),
            ("igen", "nem"),
            ("da", "ne"),
            ("da", "nu"),
            ("nai", "ochi"),
            ("ναι", "όχι"),
            ("ja", "nej"),
            ("ja", "nee"),
            ("1", "0"),
            ("TRUE", "FALSE"),
            ("X", "No"),
        ] {
            assert_eq!((says_yes(yes), says_yes(no)), (Some(true), Some(false)), "{yes} {no}");
        }
        assert_eq!(says_yes("maybe"), None);
    }

    #[test]
    fn no_word_says_both() {
        assert!(YES.iter().all(|word| !NO.contains(word) && !TICKS.contains(word)));
    }
}

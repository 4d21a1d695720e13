//! Words in and words out: which text may stand as a name, how found text is shown, and which known
//! word is nearest to an unknown one.

use super::limits::LONGEST_NAME;

/// Longest piece of found text in a message.
const LONGEST_QUOTE: usize = 60;

/// What is wrong with a name, designation or trial identifier, if anything.
pub(crate) fn name_fault(text: &str) -> Option<String> {
    if text.trim().is_empty() {
        return Some("nothing but blanks".to_owned());
    }
    let long = text.chars().count();
    if long > LONGEST_NAME {
        return Some(format!("{long} characters"));
    }
    one_line_fault(text)
}

/// What keeps a text from being one line, if anything.
pub(crate) fn one_line_fault(text: &str) -> Option<String> {
    text.chars().find(|&c| breaks_a_line(c)).map(|c| match c {
        '\n' | '\r' | '\u{2028}' | '\u{2029}' => format!("{} with a line break", quoted(text)),
        _ => format!("{} with the unseen character U+{:04X}", quoted(text), u32::from(c)),
    })
}

/// What a name must be, for messages.
pub(crate) const A_NAME: &str = "one line of at most 120 characters without control or text direction characters";

/// Control characters, line and paragraph separators, and the characters that override or isolate the
/// direction of text (Unicode Standard Annex 9), with which one name can be made to look like another.
fn breaks_a_line(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Found text as it may be shown on a terminal: in quotation marks, short, unseen characters spelt out.
pub(crate) fn quoted(text: &str) -> String {
    let short: String = text.chars().take(LONGEST_QUOTE).collect();
    let more = if short.len() < text.len() { "…" } else { "" };
    format!("\"{}{more}\"", spelt_out(&short))
}

/// Text with its unseen characters spelt out.
pub fn spelt_out(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if breaks_a_line(c) {
            shown.extend(c.escape_default());
        } else {
            shown.push(c);
        }
    }
    shown
}

/// Chemical signs that people write where the study wants the gas's name.
const SIGNS: [(&str, &str); 6] = [
    ("ar", "argon"),
    ("co2", "carbon_dioxide"),
    ("he", "helium"),
    ("o2", "oxygen"),
    ("h2", "hydrogen"),
    ("n2", "nitrogen"),
];

/// The candidate most like a word, whatever the case.
pub(crate) fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let candidates: Vec<&str> = candidates.into_iter().collect();
    let sign = SIGNS.iter().find(|(sign, _)| word.eq_ignore_ascii_case(sign)).map(|(_, name)| *name);
    let named = candidates.iter().copied().find(|candidate| Some(*candidate) == sign);
    named.or_else(|| likeness(word, candidates).map(|(_, candidate)| candidate))
}

/// The candidate that a word is likely a misspelling of.
pub(crate) fn misspelt<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Four letters in five alike: `wire_fed_m_min` is, `layer` for `power` is not. Chosen by trying.
    likeness(word, candidates).filter(|(alike, _)| *alike >= 0.8).map(|(_, candidate)| candidate)
}

fn likeness<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<(f64, &'a str)> {
    let word: String = word.chars().take(LONGEST_NAME).collect::<String>().to_lowercase();
    let mut best: Option<(f64, &str)> = None;
    for candidate in candidates {
        let alike = strsim::normalized_damerau_levenshtein(&word, &candidate.to_lowercase());
        if best.is_none_or(|(most, _)| alike > most) {
            best = Some((alike, candidate));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_one_short_line_and_may_hold_markup() {
        assert_eq!(name_fault("<b>B01</b> & co."), None);
        assert_eq!(name_fault("Größe Ω 1,2 mm"), None);
        assert_eq!(name_fault("a\nb").as_deref(), Some("\"a\\nb\" with a line break"));
        assert_eq!(name_fault("a\u{202E}b").as_deref(), Some("\"a\\u{202e}b\" with the unseen character U+202E"));
        assert_eq!(name_fault(&"x".repeat(120)), None);
        assert_eq!(name_fault(&"x".repeat(121)).as_deref(), Some("121 characters"));
        assert_eq!(name_fault("  ").as_deref(), Some("nothing but blanks"));
    }

    #[test]
    fn the_nearest_word_is_found_whatever_the_case() {
        assert_eq!(nearest("Diamter_mm", ["material", "diameter_mm"]), Some("diameter_mm"));
        assert_eq!(nearest("CO2", ["argon", "carbon_dioxide"]), Some("carbon_dioxide"));
        assert_eq!(misspelt("wire_fed_m_min", ["wire_feed_m_min"]), Some("wire_feed_m_min"));
        assert_eq!(misspelt("layer", ["power"]), None);
    }
}

//! Numbers in text: which decimal mark a file uses, decided once, and what may stand in a cell.

use super::request::{DecimalMark, ThousandsMark};

/// What a file's texts say about its decimal mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Evidence {
    point: usize,
    comma: usize,
    /// Texts such as `1.234`, which may be a thousand or a fraction.
    either: usize,
}

/// The decimal mark that a file uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Decided {
    /// This one.
    Mark(DecimalMark),
    /// Nothing but texts such as `1.234`.
    Either,
}

impl Evidence {
    /// Takes one text into account.
    pub(crate) fn add(&mut self, text: &str) {
        let digits = text.trim_start_matches(['+', '-']);
        let points = digits.matches('.').count();
        let commas = digits.matches(',').count();
        if !digits.bytes().all(|b| matches!(b, b'0'..=b'9' | b'.' | b',' | b'e' | b'E' | b'+' | b'-')) {
            return;
        }
        match (points, commas) {
            (1, 0) if may_be_thousands(digits, '.') => self.either += 1,
            (0, 1) if may_be_thousands(digits, ',') => self.either += 1,
            (1, 0) => self.point += 1,
            (0, 1) => self.comma += 1,
            // `1.234,5`: the last mark is the decimal one; the cell itself will be refused.
            (1.., 1) if digits.rfind(',') > digits.rfind('.') => self.comma += 1,
            (1, 1..) if digits.rfind('.') > digits.rfind(',') => self.point += 1,
            // `1.234.567` counts for the other mark.
            (2.., 0) => self.comma += 1,
            (0, 2..) => self.point += 1,
            _ => {}
        }
    }

    /// The mark; where marks are mixed, the commoner one, so that the rarer ones are the bad cells.
    pub(crate) const fn decide(self) -> Decided {
        match (self.point, self.comma) {
            (0, 0) if self.either > 0 => Decided::Either,
            (point, comma) if comma > point => Decided::Mark(DecimalMark::Comma),
            _ => Decided::Mark(DecimalMark::Point),
        }
    }
}

/// One to three digits, the mark, three digits and nothing else; `0.234` is no thousand.
fn may_be_thousands(digits: &str, mark: char) -> bool {
    digits.split_once(mark).is_some_and(|(whole, rest)| {
        let all_digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        (1..=3).contains(&whole.len())
            && !whole.starts_with('0')
            && rest.len() == 3
            && all_digits(whole)
            && all_digits(rest)
    })
}

/// Why a text is no number: what to do about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum NotANumber {
    /// `12,5` in a file with points, or the reverse.
    OtherMark,
    /// `1.234,5`, `1 234`, `1'234`.
    Thousands,
    /// `NA`, `-`, `NaN` and the like.
    WordForMissing,
    /// `12 %`.
    PerCent,
    /// Too large, or too small to differ from zero.
    OutOfReach,
    /// `12.5 A`.
    WithUnit,
    /// Anything else.
    Text,
}

impl NotANumber {
    /// What to do, for messages.
    pub(crate) const fn advice(self, mark: DecimalMark) -> &'static str {
        match (self, mark) {
            (Self::OtherMark, DecimalMark::Point) => {
                "write it with a decimal point, or state decimal = \",\" if the whole file uses commas"
            }
            (Self::OtherMark, DecimalMark::Comma) => {
                "write it with a decimal comma, or state decimal = \".\" if the whole file uses points"
            }
            (Self::Thousands, _) => "write it without marks between the thousands",
            (Self::WordForMissing, _) => "leave the cell blank if the value is missing",
            (Self::PerCent, _) => "write the plain number in the column's unit",
            (Self::WithUnit, _) => "write the number alone; the column's name carries the unit",
            (Self::OutOfReach | Self::Text, _) => "correct the cell, or leave it blank if the value is missing",
        }
    }
}

/// A number from trimmed text. Digits, one decimal mark, an exponent; nothing else.
pub(crate) fn parse(text: &str, mark: DecimalMark) -> Result<f64, NotANumber> {
    if is_plain(text, mark.character()) {
        let value: f64 = text.replace(mark.character(), ".").parse().map_err(|_| NotANumber::Text)?;
        let significand = text.split(['e', 'E']).next().unwrap_or_default();
        let vanished = value == 0.0 && significand.bytes().any(|b| (b'1'..=b'9').contains(&b));
        return if value.is_finite() && !vanished { Ok(value) } else { Err(NotANumber::OutOfReach) };
    }
    Err(diagnose(text, mark))
}

/// A number's text without its marks between thousands; `None` where they stand anywhere but between groups of three
/// digits before the decimal mark.
pub(crate) fn ungrouped(text: &str, thousands: ThousandsMark, decimal: DecimalMark) -> Option<String> {
    let end = text.find([decimal.character(), 'e', 'E']).unwrap_or(text.len());
    let (whole, rest) = text.split_at(end);
    let unsigned = whole.strip_prefix(['+', '-']).unwrap_or(whole);
    let groups: Vec<&str> = unsigned.split(|c| thousands.is(c)).collect();
    let in_threes =
        groups.len() == 1 || ((1..=3).contains(&groups[0].len()) && groups[1..].iter().all(|group| group.len() == 3));
    let stray = rest.chars().any(|c| thousands.is(c));
    (in_threes && !stray).then(|| whole.chars().filter(|&c| !thousands.is(c)).collect::<String>() + rest)
}

fn is_plain(text: &str, mark: char) -> bool {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (significand, exponent) = match unsigned.split_once(['e', 'E']) {
        Some((significand, exponent)) => (significand, Some(exponent.strip_prefix(['+', '-']).unwrap_or(exponent))),
        None => (unsigned, None),
    };
    let all_digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    let (whole, fraction) = significand.split_once(mark).unwrap_or((significand, ""));
    let has_digit = !whole.is_empty() || !fraction.is_empty();
    has_digit && all_digits(whole) && all_digits(fraction) && exponent.is_none_or(|e| !e.is_empty() && all_digits(e))
}

fn diagnose(text: &str, mark: DecimalMark) -> NotANumber {
    let other = if mark == DecimalMark::Point { ',' } else { '.' };
    let lower = text.to_lowercase();
    let grouped = |c: char| matches!(c, '.' | ',' | '\'' | '’' | '_') || c.is_whitespace();
    let starts_with_digit = text.trim_start_matches(['+', '-']).starts_with(|c: char| c.is_ascii_digit());
    if matches!(
        lower.as_str(),
        "na" | "n/a" | "n.a." | "nan" | "#n/a" | "null" | "none" | "-" | "--" | "–" | "—" | "?" | "missing"
    ) {
        NotANumber::WordForMissing
    } else if text.ends_with('%') {
        NotANumber::PerCent
    } else if is_plain(text, other) {
        if may_be_thousands(text.trim_start_matches(['+', '-']), other) {
            NotANumber::Thousands
        } else {
            NotANumber::OtherMark
        }
    } else if starts_with_digit && text.chars().all(|c| c.is_ascii_digit() || grouped(c)) && !looks_like_a_date(text) {
        NotANumber::Thousands
    } else if starts_with_digit
        && text
            .trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c == ',')
            .trim_start()
            .starts_with(char::is_alphabetic)
    {
        NotANumber::WithUnit
    } else {
        NotANumber::Text
    }
}

/// `12.11.2026`: two points whose last part is no group of three.
fn looks_like_a_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('.').collect();
    parts.len() == 3 && parts[2].len() != 3
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decided(texts: &[&str]) -> Decided {
        let mut evidence = Evidence::default();
        texts.iter().for_each(|t| evidence.add(t));
        evidence.decide()
    }

    #[test]
    fn one_clear_cell_settles_the_unclear_ones() {
        assert_eq!(decided(&["1.234", "12"]), Decided::Either);
        assert_eq!(decided(&["1,234"]), Decided::Either);
        assert_eq!(decided(&["1.234", "1,234"]), Decided::Either);
        assert_eq!(decided(&["1.234", "12.5"]), Decided::Mark(DecimalMark::Point));
        assert_eq!(decided(&["1.234", "0.234"]), Decided::Mark(DecimalMark::Point));
        assert_eq!(decided(&["1.234", "1234.567"]), Decided::Mark(DecimalMark::Point));
        assert_eq!(decided(&["1.234", "12,5"]), Decided::Mark(DecimalMark::Comma));
        assert_eq!(decided(&["1.234.567"]), Decided::Mark(DecimalMark::Comma));
        assert_eq!(decided(&["1,234.5"]), Decided::Mark(DecimalMark::Point));
        assert_eq!(decided(&["12", "abc", ""]), Decided::Mark(DecimalMark::Point));
        assert_eq!(decided(&["12.5", "13.5", "14,5"]), Decided::Mark(DecimalMark::Point));
    }

    #[test]
    fn numbers_are_digits_one_mark_and_an_exponent() {
        for (text, value) in [
            ("12.5", 12.5),
            ("-0.5", -0.5),
            (".5", 0.5),
            ("5.", 5.0),
            ("+1e3", 1000.0),
            ("2.5E-3", 0.0025),
            ("0e0", 0.0),
        ] {
            assert_eq!(parse(text, DecimalMark::Point), Ok(value), "{text}");
        }
        assert_eq!(parse("12,5", DecimalMark::Comma), Ok(12.5));
    }

    #[test]
    fn stated_marks_between_thousands_are_dropped_where_they_group_by_three() {
        use ThousandsMark::{Apostrophe, Comma, Point, Space};
        for (text, thousands, decimal, plain) in [
            ("1.234,5", Point, DecimalMark::Comma, Some("1234,5")),
            ("-12.345.678", Point, DecimalMark::Comma, Some("-12345678")),
            ("1.234", Point, DecimalMark::Comma, Some("1234")),
            ("12,5", Point, DecimalMark::Comma, Some("12,5")),
            ("1,234.5e3", Comma, DecimalMark::Point, Some("1234.5e3")),
            ("1\u{202f}234.5", Space, DecimalMark::Point, Some("1234.5")),
            ("1\u{2019}234", Apostrophe, DecimalMark::Point, Some("1234")),
            ("12.5", Point, DecimalMark::Comma, None),
            ("1.23.456", Point, DecimalMark::Comma, None),
            ("1.234,5.6", Point, DecimalMark::Comma, None),
            ("1234.567", Point, DecimalMark::Comma, None),
        ] {
            assert_eq!(ungrouped(text, thousands, decimal).as_deref(), plain, "{text}");
        }
    }

    #[test]
    fn everything_else_is_refused_with_the_fitting_advice() {
        use NotANumber::{OtherMark, OutOfReach, PerCent, Text, Thousands, WithUnit, WordForMissing};
        for (text, why) in [
            ("12,5", OtherMark),
            ("1,234", Thousands),
            ("1,234.5", Thousands),
            ("1 234", Thousands),
            ("1'234", Thousands),
            ("NaN", WordForMissing),
            ("n/a", WordForMissing),
            ("-", WordForMissing),
            ("12 %", PerCent),
            ("1e999", OutOfReach),
            ("1e-999", OutOfReach),
            ("12.5 A", WithUnit),
            ("182.5A", WithUnit),
            ("inf", Text),
            ("-inf", Text),
            ("abc", Text),
            ("0x1F", WithUnit),
            ("12.11.2026", Text),
            ("2026-11-12", Text),
            ("١٢", Text),
            ("1e", WithUnit),
            ("--5", Text),
            ("e5", Text),
            (".", Text),
        ] {
            assert_eq!(parse(text, DecimalMark::Point), Err(why), "{text}");
        }
    }
}

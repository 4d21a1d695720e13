//! The name that a line has in a program: a prefix of every name in C, the name of the function block in a PLC.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::structured_text::is_reserved;

/// An identifier that both C and IEC 61131-3 take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prefix(String);

/// Why a text is no such identifier.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PrefixError {
    /// Nothing.
    #[error("found an empty text, needed a name such as line_g3si1_12")]
    Empty,
    /// Too long.
    #[error(
        "found {found} characters, needed at most {} so that every compiler tells all names apart",
        Prefix::LONGEST
    )]
    TooLong {
        /// How many there are.
        found: usize,
    },
    /// Not a letter at its beginning.
    #[error("found {0:?} as the first character, needed a letter a to z or A to Z")]
    BadStart(char),
    /// A character that identifiers do not have.
    #[error("found {0:?}, needed letters a to z or A to Z, digits and underscores only")]
    BadCharacter(char),
    /// Underscores that C++ or IEC 61131-3 keeps to itself.
    #[error("found an underscore at the end or two in a row, needed single underscores between letters or digits")]
    BadUnderscore,
    /// A word of the language.
    #[error("found {0:?}, which is a word of IEC 61131-3 itself; put something before or after it")]
    Reserved(String),
}

impl Prefix {
    /// The longest: IEC 61131-3 in its plainest form takes 32 characters, and C tells names apart by their first 63,
    /// of which the longest of ours takes 31.
    pub const LONGEST: usize = 32;

    /// As it is written in names of functions, types and tables.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// In capitals, for macros and enumerators.
    pub(super) fn capitals(&self) -> String {
        self.0.to_ascii_uppercase()
    }
}

impl FromStr for Prefix {
    type Err = PrefixError;

    fn from_str(text: &str) -> Result<Self, PrefixError> {
        let first = text.chars().next().ok_or(PrefixError::Empty)?;
        if !first.is_ascii_alphabetic() {
            return Err(PrefixError::BadStart(first));
        }
        if let Some(bad) = text.chars().find(|c| !c.is_ascii_alphanumeric() && *c != '_') {
            return Err(PrefixError::BadCharacter(bad));
        }
        if text.ends_with('_') || text.contains("__") {
            return Err(PrefixError::BadUnderscore);
        }
        if text.len() > Self::LONGEST {
            return Err(PrefixError::TooLong { found: text.len() });
        }
        if is_reserved(text) {
            return Err(PrefixError::Reserved(text.to_owned()));
        }
        Ok(Self(text.to_owned()))
    }
}

impl Default for Prefix {
    fn default() -> Self {
        Self("synergic_line".to_owned())
    }
}

impl fmt::Display for Prefix {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_of_both_languages_pass_and_others_are_told_why_not() {
        for good in ["synergic_line", "L12", "Line_G3Si1_12", &"a".repeat(32), Prefix::default().as_str()] {
            assert_eq!(good.parse::<Prefix>().map(|p| p.0), Ok(good.to_owned()));
        }
        let why = |text: &str| text.parse::<Prefix>().expect_err("no identifier");
        assert_eq!(why(""), PrefixError::Empty);
        assert_eq!(why("1line"), PrefixError::BadStart('1'));
        assert_eq!(why("_line"), PrefixError::BadStart('_'));
        assert_eq!(why("größe"), PrefixError::BadCharacter('ö'));
        assert_eq!(why("a;b"), PrefixError::BadCharacter(';'));
        assert_eq!(why("a\nb"), PrefixError::BadCharacter('\n'));
        assert_eq!(why("a__b"), PrefixError::BadUnderscore);
        assert_eq!(why("line_"), PrefixError::BadUnderscore);
        assert_eq!(why(&"a".repeat(33)), PrefixError::TooLong { found: 33 });
        assert_eq!(why("While"), PrefixError::Reserved("While".to_owned()));
        assert!(why(&"a".repeat(33)).to_string().contains("at most 32"));
    }
}

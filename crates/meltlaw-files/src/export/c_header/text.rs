//! Text that C and C++ take as a comment or a string, whatever a user wrote.

use super::super::ascii::ascii;

/// ASCII text in which no comment begins or ends and no line is joined to the next.
pub(super) fn in_comment(text: &str) -> String {
    // A trigraph may stand for the backslash that joins two lines.
    let mut text = text.replace('\\', "(backslash)");
    while text.contains("??") {
        text = text.replace("??", "? ?");
    }
    text.replace("*/", "* /").replace("/*", "/ *")
}

/// The text as a string literal, cut where it is longer than every compiler must take (C99, 5.2.4.1).
pub(super) fn string(text: &str) -> String {
    const LONGEST: usize = 4000;
    let text = ascii(text);
    let mut literal = String::from("\"");
    for letter in text.chars().take(LONGEST) {
        // `\?` keeps `??/` and its kin from being read as another character.
        if ['\\', '"', '?'].contains(&letter) {
            literal.push('\\');
        }
        literal.push(letter);
    }
    if text.len() > LONGEST {
        literal.push_str(" ...");
    }
    literal.push('"');
    literal
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_comment_ends_it() {
        for hostile in ["a */ b", "*/*/*", "/*/", "/**/", "x \\", "??/", "????/", "*\\/", "?\\?/"] {
            let tame = in_comment(hostile);
            assert!(!tame.contains("*/") && !tame.contains("/*"), "{tame}");
            assert!(!tame.contains("??") && !tame.contains('\\'), "{tame}");
        }
        assert_eq!(in_comment("1/2 * 3"), "1/2 * 3");
    }

    #[test]
    fn nothing_in_a_string_ends_it() {
        assert_eq!(string("a\"; b\\ ??/ \n#include"), r#""a\"; b\\ \?\?/  #include""#);
        assert_eq!(string("溶接/"), r#""\?\?/""#);
        assert_eq!(string(&"x".repeat(5000)).len(), 4006);
    }
}

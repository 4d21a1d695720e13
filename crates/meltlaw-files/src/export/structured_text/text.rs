//! Text that IEC 61131-3 takes as a comment or a string, whatever a user wrote.

use super::super::ascii::ascii;

/// The longest string that every controller holds.
pub(super) const LONGEST_STRING: usize = 80;

/// ASCII text in which no comment begins or ends: some dialects nest comments, some know those of C, some read what
/// stands in braces.
pub(super) fn in_comment(text: &str) -> String {
    let mut text = text.replace(['{', '['], "(").replace(['}', ']'], ")");
    for (end, apart) in [("*)", "* )"), ("(*", "( *"), ("*/", "* /"), ("/*", "/ *"), ("//", "/ /")] {
        // `(((*` and `///` hold an end again after one turn.
        while text.contains(end) {
            text = text.replace(end, apart);
        }
    }
    text
}

/// The text as a string literal of at most [`LONGEST_STRING`] characters between its quotes, with `...` where it was
/// cut. Quotes and the dollar sign stand as their codes, so that a dialect without them cannot take one for the end.
pub(super) fn string(text: &str) -> String {
    let coded = |letter: char| match letter {
        '\'' | '"' | '$' => format!("${:02X}", u32::from(letter)),
        _ => letter.to_string(),
    };
    let letters: Vec<String> = ascii(text).chars().map(coded).collect();
    let whole = letters.concat();
    if whole.len() <= LONGEST_STRING {
        return format!("'{whole}'");
    }
    let mut cut = String::new();
    for letter in letters {
        if cut.len() + letter.len() > LONGEST_STRING - 3 {
            break;
        }
        cut.push_str(&letter);
    }
    format!("'{cut}...'")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_comment_ends_or_nests_it() {
        for hostile in ["a *) b", "(*)", "(((*", "*)*)*)", "/**/", "// x", "///", "{pragma}", "(*[*(*]", "[*"] {
            let tame = in_comment(hostile);
            for mark in ["*)", "(*", "*/", "/*", "//", "{", "}"] {
                assert!(!tame.contains(mark), "{hostile} gave {tame}");
            }
        }
    }

    #[test]
    fn nothing_in_a_string_ends_it() {
        assert_eq!(string("it's $1 \"x\"\n"), "'it$27s $241 $22x$22 '");
        assert_eq!(string(&"x".repeat(80)).len(), 82);
        assert_eq!(string(&"x".repeat(81)), format!("'{}...'", "x".repeat(77)));
        assert_eq!(string(&"'".repeat(100)), format!("'{}...'", "$27".repeat(25)));
    }
}

//! Text for a LaTeX document and for BibTeX, which counts braces even behind a backslash.

/// The text with every letter that means something to TeX or BibTeX written out; control characters and those that turn
/// the direction of writing become blanks. Other letters stay: LaTeX reads UTF-8.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' => out.push_str("\\textbackslash{}"),
            '{' => out.push_str("\\textbraceleft{}"),
            '}' => out.push_str("\\textbraceright{}"),
            '~' => out.push_str("\\textasciitilde{}"),
            '^' => out.push_str("\\textasciicircum{}"),
            '<' => out.push_str("\\textless{}"),
            '>' => out.push_str("\\textgreater{}"),
            '|' => out.push_str("\\textbar{}"),
            // Active in some languages, and the other delimiter of BibTeX.
            '"' => out.push_str("\\char34{}"),
            '$' | '&' | '#' | '_' | '%' => out.extend(['\\', c]),
            _ if c.is_control() || turns(c) => out.push(' '),
            _ => out.push(c),
        }
    }
    out
}

/// Bidirectional controls, and the two line ends that are no control characters.
const fn turns(c: char) -> bool {
    matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_of_a_user_reaches_tex() {
        assert_eq!(escaped("50 % & #1_a $x$"), "50 \\% \\& \\#1\\_a \\$x\\$");
        assert_eq!(
            escaped("\\input{/etc/passwd}"),
            "\\textbackslash{}input\\textbraceleft{}/etc/passwd\\textbraceright{}"
        );
        assert_eq!(escaped("a\nb\u{202e}c"), "a b c");
        assert_eq!(escaped("Ø 1,2 mm, \"hart\""), "Ø 1,2 mm, \\char34{}hart\\char34{}");
    }

    #[test]
    fn braces_balance_whatever_stands_inside() {
        for text in ["}}}", "{", "},\n@book{x, title={", "\\}", "^^M"] {
            let escaped = escaped(text);
            let depths = escaped.chars().scan(0_i32, |depth, c| {
                *depth += i32::from(c == '{') - i32::from(c == '}');
                Some(*depth)
            });
            let depths: Vec<i32> = depths.collect();
            assert!(depths.iter().all(|d| *d >= 0) && depths.last() == Some(&0), "{escaped}");
        }
    }
}

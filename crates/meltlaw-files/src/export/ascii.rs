//! Words for files that hold ASCII only.

/// The text in ASCII: the trade's signs by their usual stand-ins, other letters as `?`, control characters as blanks.
pub(super) fn ascii(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '–' | '—' | '−' | '‐' | '\u{2011}' => out.push('-'),
            '·' | '×' => out.push('*'),
            '²' => out.push_str("^2"),
            '³' => out.push_str("^3"),
            'Ø' | 'ø' => out.push('d'),
            'µ' | 'μ' => out.push('u'),
            '±' => out.push_str("+/-"),
            '≤' => out.push_str("<="),
            '≥' => out.push_str(">="),
            '°' => out.push_str(" deg"),
            '‘' | '’' => out.push('\''),
            '“' | '”' => out.push('"'),
            '\u{a0}' | '\u{202f}' | '\u{2009}' => out.push(' '),
            'ä' => out.push_str("ae"),
            'ö' => out.push_str("oe"),
            'ü' => out.push_str("ue"),
            'ß' => out.push_str("ss"),
            _ if letter.is_control() => out.push(' '),
            _ if letter.is_ascii() => out.push(letter),
            _ => out.push('?'),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_have_stand_ins_and_the_rest_is_marked() {
        assert_eq!(ascii("1.2 mm ± 0.01, A²·s – größer\n≥ 3°, 溶接"), "1.2 mm +/- 0.01, A^2*s - groesser >= 3 deg, ??");
    }
}

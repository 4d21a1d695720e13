//! Facts as lines of a comment that nobody needs to scroll.

use super::ascii::ascii;
use super::facts::Fact;

/// Width of a comment's text.
const WIDTH: usize = 100;

/// Each fact as `about: words` in ASCII, broken at blanks; what follows the first line of a fact is set in. `tame` takes
/// out of a text what would end the comment.
pub(super) fn comment_lines(facts: &[Fact], tame: impl Fn(&str) -> String) -> Vec<String> {
    let mut lines = Vec::new();
    for fact in facts {
        let text = tame(&ascii(&format!("{}: {}", fact.about, fact.words)));
        let mut line = String::new();
        for word in text.split(' ').filter(|w| !w.is_empty()) {
            if !line.trim().is_empty() && line.len() + 1 + word.len() > WIDTH {
                lines.push(std::mem::replace(&mut line, "   ".to_owned()));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_facts_are_broken_at_blanks_and_nothing_is_lost() {
        let words = "word ".repeat(60) + &"x".repeat(150) + " Ø\nend";
        let lines = comment_lines(&[Fact { about: "note", words: words.clone() }], str::to_owned);
        assert!(lines.iter().all(|l| l.len() <= WIDTH || l.trim().len() == 150), "{lines:?}");
        let joined: Vec<&str> = lines.iter().flat_map(|l| l.split_whitespace()).collect();
        let expected = format!("note: {} d end", words.trim_end_matches(" Ø\nend"));
        assert_eq!(joined, expected.split_whitespace().collect::<Vec<_>>());
    }
}
